// The plan of the ground: where each section worked, and where it ought not to
// have or did not.

package figure

import (
	"image/color"
	"math"

	"github.com/paulmach/orb"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"liftbench/sections/field"
	"liftbench/sections/score"
)

// groundLooks is how each kind of ground is drawn: told apart by its outline
// and its hatch as well as by its colour.
var groundLooks = []struct {
	ground score.Ground
	name   string
	fill   color.NRGBA
	hatch  vg.Length // between lines; 0 = none
	rising bool
	edge   bool
}{
	{score.Worked, "worked", faded(workColor, 0x48), 0, false, false},
	{score.Miss, "missed", faded(missColor, 0xD0), 3, true, true},
	{score.AcrossRows, "across the rows", faded(lateColor, 0xB0), 3, false, true},
	{score.Overrun, "overrun", faded(lateColor, 0xF0), 0, false, true},
}

// Ground draws the zones of a field, north up, and the strips that were worked,
// missed or overrun.
func Ground(title string, f *field.Field, strips []score.Strip) string {
	const margin, footer = 10, 26
	box := f.Bound()
	for i := range strips {
		box = box.Union(strips[i].Ring.Bound())
	}
	wide, high := max(box.Max[0]-box.Min[0], 1), max(box.Max[1]-box.Min[1], 1)
	perM := min((widthPt-2*margin)/wide, 460/high)
	s := newSheet(vg.Length(high*perM + keyHeight + footer + margin))
	left := (widthPt - wide*perM) / 2
	at := func(east, north float64) vg.Point {
		return vg.Point{X: vg.Length(left + (east-box.Min[0])*perM), Y: vg.Length(footer + (north-box.Min[1])*perM)}
	}
	x, y := s.Min.X+8, s.Max.Y-keyHeight/2
	sty := textStyle(smallTextPt)
	sty.YAlign = draw.YCenter
	for _, look := range groundLooks {
		var area, lines vg.Path
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
		s.SetColor(look.fill)
		s.Fill(area)
		if look.edge {
			s.SetLineStyle(draw.LineStyle{Color: lineColor, Width: 0.3})
			s.Stroke(area)
		}
		if len(lines) > 0 {
			s.SetLineStyle(draw.LineStyle{Color: lineColor, Width: 0.4})
			s.Stroke(lines)
		}
		// Its key.
		swatch := orb.Ring{{0, 0}, {14, 0}, {14, 9}, {0, 9}, {0, 0}}
		key := func(e, n float64) vg.Point { return vg.Point{X: x + vg.Length(e), Y: y + vg.Length(n-4.5)} }
		var box, hatch vg.Path
		addRing(&box, swatch, key)
		s.SetColor(look.fill)
		s.Fill(box)
		s.SetLineStyle(draw.LineStyle{Color: lineColor, Width: 0.4})
		if look.edge {
			s.Stroke(box)
		}
		if look.hatch > 0 {
			addHatch(&hatch, swatch, key, look.hatch, look.rising)
			s.Stroke(hatch)
		}
		s.FillText(sty, vg.Point{X: x + 18, Y: y}, look.name)
		x += 18 + sty.Width(look.name) + 12
	}
	drawZones(s.Canvas, f, at)
	drawScale(s.Canvas, perM, "")
	return s.element(title)
}

// finePt is the length below which a piece of an outline is not drawn.
const finePt = 0.3

// addRing adds a ring to a path, without the points that could not be seen.
func addRing(path *vg.Path, ring orb.Ring, at func(e, n float64) vg.Point) {
	var last vg.Point
	for i, q := range ring {
		p := at(q[0], q[1])
		switch {
		case i == 0:
			path.Move(p)
		case math.Hypot(float64(p.X-last.X), float64(p.Y-last.Y)) < finePt:
			continue
		default:
			path.Line(p)
		}
		last = p
	}
	path.Close()
}

// addHatch adds lines at 45° across a ring: pieces between each two of their
// meetings with it.
func addHatch(path *vg.Path, ring orb.Ring, at func(e, n float64) vg.Point, apart vg.Length, rising bool) {
	sign := vg.Length(1)
	if rising {
		sign = -1
	}
	// Along a line x + sign·y = c.
	lo, hi := vg.Length(math.Inf(1)), vg.Length(math.Inf(-1))
	pts := make([]vg.Point, len(ring))
	for i, q := range ring {
		pts[i] = at(q[0], q[1])
		c := pts[i].X + sign*pts[i].Y
		lo, hi = min(lo, c), max(hi, c)
	}
	for c := vg.Length(math.Ceil(float64(lo/apart))) * apart; c < hi; c += apart {
		var meets []vg.Point
		for i := 1; i < len(pts); i++ {
			a, b := pts[i-1], pts[i]
			ca, cb := a.X+sign*a.Y-c, b.X+sign*b.Y-c
			if (ca < 0) != (cb < 0) {
				u := ca / (ca - cb)
				meets = append(meets, vg.Point{X: a.X + u*(b.X-a.X), Y: a.Y + u*(b.Y-a.Y)})
			}
		}
		for i := 1; i < len(meets); i++ { // few: by insertion
			for j := i; j > 0 && meets[j].X < meets[j-1].X; j-- {
				meets[j], meets[j-1] = meets[j-1], meets[j]
			}
		}
		for i := 0; i+1 < len(meets); i += 2 {
			path.Move(meets[i])
			path.Line(meets[i+1])
		}
	}
}
