// Two runs of one drive over each other: the same lifts and drops, then and now.

package figure

import (
	"image/color"
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/field"
)

// Twin is one lift or drop in two runs.
type Twin struct {
	NowM, BeforeM float64   // place errors, positive = late; MissedM = missed
	At            orb.Point // where it ought to have been, east and north in metres
}

// MissedM is the place error that stands for a lift or drop that was missed.
const MissedM = 2

// unequalM is by how much two place errors differ that are drawn as different: what a
// result keeps, a millimetre.
const unequalM = 0.0005

// worseM is how much farther off a twin is now than before, in metres; below 0: nearer.
func (t *Twin) worseM() float64 { return math.Abs(t.NowM) - math.Abs(t.BeforeM) }

// legend is one entry of a key: a mark and what it means.
type legend struct {
	mark func(at orb.Point, r float64) shape
	name string
}

// dot and hollow are the marks of now and before.
func dot(at orb.Point, r float64) shape {
	var p path
	p.circle(at, r)
	return shape{outline: p, fill: faded(workColor, 0xC0)}
}

func hollow(at orb.Point, r float64) shape {
	var p path
	p.ring(by(at, -r, -r), by(at, r, -r), by(at, r, r), by(at, -r, r))
	return shape{outline: p, pen: pen{color: lateColor, widthPt: 1}}
}

// pointing returns a triangle that points up or down.
func pointing(up float64, c color.NRGBA) func(orb.Point, float64) shape {
	return func(at orb.Point, r float64) shape {
		var p path
		p.ring(by(at, 0, up*r), by(at, 0.866*r, -up*r/2), by(at, -0.866*r, -up*r/2))
		return shape{outline: p, fill: faded(c, 0xC0)}
	}
}

func alike(at orb.Point, r float64) shape {
	var p path
	p.circle(at, r/2)
	return shape{outline: p, pen: pen{color: greyColor, widthPt: 0.7}}
}

// keyOf draws a key along the top of the sheet.
func keyOf(s *sheet, list ...legend) {
	at := orb.Point{8, s.heightPt - keyHeight/2}
	for _, l := range list {
		s.shapes = append(s.shapes, l.mark(at, 4))
		name := small(l.name, by(at, 8, 0), startsAt, centerAt)
		s.write(name)
		at = by(name.at, name.width()+14, 0)
	}
}

// Twins draws the place errors of two runs over each other, crossing by crossing and
// within a crossing from the left: now a dot, before a square, and a line between the two where they
// differ. first is the number of the first crossing. The axis holds every error.
func Twins(title string, crossings [][]Twin, first int) string {
	words := wordsIn(language.English)
	p := newPlot("crossing", words.Text("place error"))
	reach := 5.0
	for _, c := range crossings {
		for i := range c {
			reach = max(reach, 108*math.Abs(c[i].NowM), 108*math.Abs(c[i].BeforeM))
		}
	}
	n := len(crossings)
	p.x.min, p.x.max = float64(first)-0.6, float64(first+max(n, 1))-0.4
	p.y.min, p.y.max = -reach, reach
	step := max(1, int(math.Ceil(float64(n)/20)))
	p.x.ticks = []tick{}
	for i := first + step - 1; i < first+n; i += step {
		p.x.ticks = append(p.x.ticks, tick{float64(i), strconv.Itoa(i)})
	}
	p.add(level(0))
	r := max(1.2, min(3, 100/float64(max(n, 1))))
	p.add(func(s *sheet, in *dataArea) {
		var between path
		var marks []shape
		for i, c := range crossings {
			for k := range c {
				// Side by side within most of the crossing's room.
				x := float64(first+i) + 0.8*((float64(k)+0.5)/float64(len(c))-0.5)
				now, before := in.at(x, 100*c[k].NowM), in.at(x, 100*c[k].BeforeM)
				if math.Abs(c[k].NowM-c[k].BeforeM) > unequalM {
					between.line(before, now)
				}
				marks = append(marks, hollow(before, r), dot(now, r))
			}
		}
		if len(between) > 0 {
			s.stroke(pen{color: lineColor, widthPt: 0.7}, between)
		}
		s.shapes = append(s.shapes, marks...)
	})
	s := newSheet(words, plotHeight)
	p.draw(s, inset(s.bound(), 0, rightPt, 0, keyHeight))
	keyOf(s, legend{dot, "now"}, legend{hollow, "baseline"})
	return s.element(title)
}

// TwinsOnPlan draws a field, north up, and where on it two runs differ: a triangle
// that points up is farther off now, one that points down nearer; the larger, the more.
func TwinsOnPlan(title string, f *field.Field, crossings [][]Twin) string {
	const margin, footer, leastPt, mostPt, mostM = 10, 26, 2.5, 7, 0.5
	box := f.Bound()
	wide, high := max(box.Max[0]-box.Min[0], 1), max(box.Max[1]-box.Min[1], 1)
	perM := min((widthPt-2*margin)/wide, 340/high)
	s := newSheet(wordsIn(language.English), high*perM+keyHeight+footer+margin)
	left := (widthPt - wide*perM) / 2
	at := func(p orb.Point) orb.Point {
		return orb.Point{left + (p[0]-box.Min[0])*perM, footer + (p[1]-box.Min[1])*perM}
	}
	drawZones(s, f, at)
	farther, nearer := pointing(1, lateColor), pointing(-1, earlyColor)
	var same, other []shape
	for _, c := range crossings {
		for i := range c {
			x := c[i].worseM()
			size := leastPt + (mostPt-leastPt)*min(math.Abs(x)/mostM, 1)
			switch {
			case x > unequalM:
				other = append(other, farther(at(c[i].At), size))
			case x < -unequalM:
				other = append(other, nearer(at(c[i].At), size))
			default:
				same = append(same, alike(at(c[i].At), 3))
			}
		}
	}
	s.shapes = append(append(s.shapes, same...), other...)
	keyOf(s, legend{farther, "farther off than the baseline"}, legend{nearer, "nearer"}, legend{alike, "alike"})
	drawScale(s, perM, func(length string) string { return meters(length) + "; larger mark = greater difference" })
	return s.element(title)
}
