// The plan of the ground: where each section worked, and where it ought not to
// have or did not.

package figure

import (
	"image/color"
	"math"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/field"
	"liftbench/sections/score"
)

// groundLook is how a kind of ground is drawn. Kinds differ in outline and
// hatch as well as in colour.
type groundLook struct {
	ground score.Ground
	name   func(language.Texts) string
	fill   color.NRGBA
	hatch  float64 // points between lines; 0 = none
	rising bool
	edge   bool
}

var groundLooks = []groundLook{
	{score.Worked, func(t language.Texts) string { return t.Text("worked") }, faded(workColor, 0x48), 0, false, false},
	{score.Miss, func(t language.Texts) string { return t.Text("ground missed") }, faded(missColor, 0xD0), 3, true, true},
	{score.AcrossRows, func(t language.Texts) string { return t.Text("across") }, faded(lateColor, 0xB0), 3, false, true},
	{score.Overrun, func(t language.Texts) string { return t.Text("overrun") }, faded(lateColor, 0xF0), 0, false, true},
}

// Ground draws the zones of a field, north up, and the strips that were worked,
// missed or overrun.
func Ground(l language.Language, title string, f *field.Field, strips []score.Strip) string {
	const margin, footer = 10, 26
	box := f.Bound()
	for i := range strips {
		box = box.Union(strips[i].Ring.Bound())
	}
	wide, high := max(box.Max[0]-box.Min[0], 1), max(box.Max[1]-box.Min[1], 1)
	perM := min((widthPt-2*margin)/wide, 460/high)
	s := newSheet(wordsIn(l), high*perM+keyHeight+footer+margin)
	left := (widthPt - wide*perM) / 2
	at := func(p orb.Point) orb.Point {
		return orb.Point{left + (p[0]-box.Min[0])*perM, footer + (p[1]-box.Min[1])*perM}
	}
	keyAt := orb.Point{8, s.heightPt - keyHeight/2}
	for i := range groundLooks {
		look := &groundLooks[i]
		var area, lines path
		for i := range strips {
			if strips[i].Ground == look.ground {
				addRing(&area, strips[i].Ring, at)
				if look.hatch > 0 {
					addHatch(&lines, strips[i].Ring, at, look.hatch, look.rising)
				}
			}
		}
		if len(area) == 0 {
			continue
		}
		look.draw(s, 0.3, area, lines)
		// The legend.
		swatch := orb.Ring{{0, 0}, {14, 0}, {14, 9}, {0, 9}, {0, 0}}
		inKey := func(p orb.Point) orb.Point { return by(keyAt, p[0], p[1]-4.5) }
		var box, hatch path
		addRing(&box, swatch, inKey)
		if look.hatch > 0 {
			addHatch(&hatch, swatch, inKey, look.hatch, look.rising)
		}
		look.draw(s, 0.4, box, hatch)
		name := small(look.name(s.words), by(keyAt, 18, 0), startsAt, centerAt)
		s.write(name)
		keyAt = by(name.at, name.width()+12, 0)
	}
	drawZones(s, f, at)
	drawScale(s, perM, meters)
	return s.element(title)
}

// draw draws ground in this look, with its hatch.
func (l *groundLook) draw(s *sheet, edgePt float64, area, hatch path) {
	edge := pen{}
	if l.edge {
		edge = pen{color: lineColor, widthPt: edgePt}
	}
	s.shapes = append(s.shapes, shape{outline: area, fill: l.fill, pen: edge})
	if len(hatch) > 0 {
		s.stroke(pen{color: lineColor, widthPt: 0.4}, hatch)
	}
}

// finePt is the length below which a piece of an outline is not drawn.
const finePt = 0.3

// addRing adds a ring to a path, without points too close together to be seen.
func addRing(p *path, ring orb.Ring, at func(orb.Point) orb.Point) {
	var seen []orb.Point
	for _, q := range ring {
		next := at(q)
		if n := len(seen); n == 0 || math.Hypot(next[0]-seen[n-1][0], next[1]-seen[n-1][1]) >= finePt {
			seen = append(seen, next)
		}
	}
	if n := len(seen); n > 1 && seen[n-1] == seen[0] {
		seen = seen[:n-1]
	}
	p.ring(seen...)
}

// addHatch adds lines at 45° across a ring: between each two points in which a
// line meets the ring, a piece.
func addHatch(p *path, ring orb.Ring, at func(orb.Point) orb.Point, apart float64, rising bool) {
	sign := 1.0
	if rising {
		sign = -1
	}
	// Along a line x + sign·y = c.
	lo, hi := math.Inf(1), math.Inf(-1)
	pts := make([]orb.Point, len(ring))
	for i, q := range ring {
		pts[i] = at(q)
		c := pts[i][0] + sign*pts[i][1]
		lo, hi = min(lo, c), max(hi, c)
	}
	for c := math.Ceil(lo/apart) * apart; c < hi; c += apart {
		var meets []orb.Point
		for i := 1; i < len(pts); i++ {
			a, b := pts[i-1], pts[i]
			ca, cb := a[0]+sign*a[1]-c, b[0]+sign*b[1]-c
			if (ca < 0) != (cb < 0) {
				u := ca / (ca - cb)
				meets = append(meets, by(a, u*(b[0]-a[0]), u*(b[1]-a[1])))
			}
		}
		for i := 1; i < len(meets); i++ { // few: by insertion
			for j := i; j > 0 && meets[j][0] < meets[j-1][0]; j-- {
				meets[j], meets[j-1] = meets[j-1], meets[j]
			}
		}
		for i := 0; i+1 < len(meets); i += 2 {
			p.line(meets[i], meets[i+1])
		}
	}
}
