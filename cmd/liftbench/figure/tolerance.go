// Place errors crossing by crossing, beside a tolerance that was agreed.

package figure

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
)

// Checked is one crossing of the bar.
type Checked struct {
	ErrorsM []float64 // of the sections that moved; positive = late
	Failed  bool      // some section did not move, or moved where none was due
}

// ToleranceWords are the words of the figure, in the language of its page.
type ToleranceWords struct {
	Title                   string
	Crossing, PlaceError    string // along the axes
	Within, Outside, Failed string // what the marks mean
	Nothing                 string // where there is no crossing
}

// Tolerance draws the place errors of each crossing, in order, between two dashed lines
// at the tolerance. The axis holds every error.
func Tolerance(l language.Language, words *ToleranceWords, list []Checked, limitM float64) string {
	p := newPlot(words.Crossing, words.PlaceError)
	reach := 1.25 * limitM * 100
	for _, c := range list {
		for _, e := range c.ErrorsM {
			reach = max(reach, 1.08*math.Abs(e)*100)
		}
	}
	n := len(list)
	p.x.min, p.x.max = 0.4, max(float64(n), 1)+0.6
	p.y.min, p.y.max = -reach, reach
	step := max(1, int(math.Ceil(float64(n)/20)))
	for i := step; i <= n; i += step {
		p.x.ticks = append(p.x.ticks, tick{float64(i), strconv.Itoa(i)})
	}
	if n == 0 {
		p.x.ticks = []tick{}
	}
	for _, m := range []float64{limitM, -limitM} {
		p.add(level(m * 100))
	}
	var within, outside, failed path
	p.add(func(s *sheet, in *dataArea) {
		s.line(pen{color: greyColor, widthPt: 0.8}, orb.Point{in.Min[0], in.atY(0)}, orb.Point{in.Max[0], in.atY(0)})
		for i, c := range list {
			x := float64(i + 1)
			for _, e := range c.ErrorsM {
				at := in.at(x, e*100)
				if math.Abs(e) <= limitM {
					within.circle(at, 2)
				} else {
					outside.ring(by(at, -3, -3), by(at, 3, -3), by(at, 3, 3), by(at, -3, 3))
				}
			}
			if c.Failed {
				at := in.at(x, p.y.max)
				failed.line(by(at, -3.5, -7), by(at, 3.5, 0))
				failed.line(by(at, -3.5, 0), by(at, 3.5, -7))
			}
		}
		drawChecked(s, within, outside, failed)
	})
	s := newSheet(wordsIn(l), plotHeight)
	p.draw(s, inset(s.bound(), 0, rightPt, 0, keyHeight))
	at := orb.Point{8, s.heightPt - keyHeight/2}
	var key [3]path
	for i, k := range []struct {
		marks path
		name  string
	}{{within, words.Within}, {outside, words.Outside}, {failed, words.Failed}} {
		if len(k.marks) == 0 {
			continue
		}
		switch i {
		case 0:
			key[i].circle(at, 3)
		case 1:
			key[i].ring(by(at, -4, -4), by(at, 4, -4), by(at, 4, 4), by(at, -4, 4))
		case 2:
			key[i].line(by(at, -4, -4), by(at, 4, 4))
			key[i].line(by(at, -4, 4), by(at, 4, -4))
		}
		name := small(k.name, by(at, 8, 0), startsAt, centerAt)
		s.write(name)
		at = by(name.at, name.width()+14, 0)
	}
	drawChecked(s, key[0], key[1], key[2])
	if n == 0 {
		s.write(large(words.Nothing, s.bound().Center(), middleAt, centerAt))
	}
	return s.element(words.Title)
}

// drawChecked draws marks: circles within the tolerance, squares outside, and saltires
// where a section failed.
func drawChecked(s *sheet, within, outside, failed path) {
	if len(within) > 0 {
		s.fill(faded(workColor, 0xB0), within)
	}
	if len(outside) > 0 {
		s.fill(faded(lateColor, 0xC0), outside)
	}
	if len(failed) > 0 {
		s.stroke(pen{color: missColor, widthPt: 1.6}, failed)
	}
}
