// The body divided among blocks of passes of several directions.

package zones

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/replay/zones/lines"
	"liftbench/replay/zones/offset"
	"liftbench/sections/field/polygon"
)

const (
	sameRowsRad = 2.5 * radPerDeg // blocks whose rows run alike within this are one
	acrossRad   = 15 * radPerDeg  // passes cross at more than this
	endM        = 12.0            // about the end of a pass, where the border is looked for
)

// joined makes one block of those whose straight rows run alike, as on both sides
// of something that was driven around.
func (w *way) joined(blocks []block, widthM float64) []block {
	var out []block
	for _, b := range blocks {
		found := false
		for i := range out {
			o := &out[i]
			if !o.curved && !b.curved && math.Abs(lines.Tilted(o.bearing, b.bearing)) < sameRowsRad {
				o.passes = append(o.passes, b.passes...)
				slices.Sort(o.passes)
				o.lengthM += b.lengthM
				w.direct(o, widthM)
				found = true
				break
			}
		}
		if !found {
			out = append(out, b)
		}
	}
	return out
}

// uncrossed drops from each block the strokes that cross passes of a larger one:
// they were ways across the field.
func (w *way) uncrossed(blocks []block) []block {
	var out []block
	for _, b := range blocks {
		b.passes = slices.DeleteFunc(b.passes, func(k int) bool {
			s := w.strokes[k]
			l := w.coarse(w.ahead(s.from, endM), w.back(s.to, endM))
			crossed := 0
			for _, larger := range out {
				for _, m := range larger.passes {
					t := w.strokes[m]
					if _, _, ok := meets(l, w.coarse(w.ahead(t.from, endM), w.back(t.to, endM))); ok {
						crossed++
					}
				}
			}
			return crossed >= 2
		})
		if len(b.passes) >= fewest {
			out = append(out, b)
		}
	}
	return out
}

// coarse returns the way with a point every few metres.
func (w *way) coarse(from, to int) orb.LineString {
	var l orb.LineString
	for i := from; i < to; i = max(i+1, w.ahead(i, 4)) {
		l = append(l, w.points[i].at)
	}
	if to-1 > from {
		l = append(l, w.points[to-1].at)
	}
	return l
}

// meets returns where a line first crosses another, and how far along.
func meets(l, other orb.LineString) (p orb.Point, alongM float64, ok bool) {
	if !l.Bound().Intersects(other.Bound()) {
		return
	}
	sum := 0.0
	for i := 1; i < len(l); i++ {
		best := math.Inf(1)
		for j := 1; j < len(other); j++ {
			if x, crossed := lines.Crossing(l[i-1], l[i], other[j-1], other[j]); crossed {
				if d := lines.Between(l[i-1], x); d < best {
					best, p, ok = d, x, true
				}
			}
		}
		if ok {
			return p, sum + best, true
		}
		sum += lines.Between(l[i-1], l[i])
	}
	return
}

// endsAt counts the pass ends of block y near which a pass of x crosses, and
// returns the pass that most of them come to first.
func (w *way) endsAt(x, y *block) (count, pass int) {
	first := map[int]int{}
	pass = -1
	for _, k := range y.passes {
		s := w.strokes[k]
		for _, l := range w.ends(s) {
			at, best := -1, math.Inf(1)
			for _, m := range x.passes {
				t := w.strokes[m]
				if _, alongM, ok := meets(l, w.coarse(t.from, t.to)); ok && alongM < best {
					at, best = m, alongM
				}
			}
			if at >= 0 {
				count++
				first[at]++
			}
		}
	}
	for _, m := range x.passes {
		if first[m] > 0 && (pass < 0 || first[m] > first[pass]) {
			pass = m
		}
	}
	return count, pass
}

// ends returns the two ends of a stroke, from inside to beyond, straight on.
func (w *way) ends(s stroke) []orb.LineString {
	half := min(endM, s.lengthM/2)
	last := w.coarse(w.back(s.to, half)-1, s.to)
	first := w.coarse(s.from, w.ahead(s.from, half)+1)
	first.Reverse()
	for i, l := range []orb.LineString{last, first} {
		a, b := l[0], l[len(l)-1]
		if d := lines.Between(a, b); d > 0 {
			l = append(l, orb.Point{b[0] + (b[0]-a[0])/d*endM, b[1] + (b[1]-a[1])/d*endM})
		}
		if i == 0 {
			last = l
		} else {
			first = l
		}
	}
	return []orb.LineString{last, first}
}

// divide gives each block its part of the body, and says how sure the borders
// between them are.
func (s *search) divide(blocks []block, body orb.MultiPolygon, border Border) ([]Block, error) {
	parts := make([]orb.MultiPolygon, len(blocks))
	borders := make([]Border, len(blocks))
	for i := range parts {
		parts[i], borders[i] = body, border
	}
	for i := range blocks {
		for j := range i {
			x, y := i, j
			nx, pass := s.w.endsAt(&blocks[i], &blocks[j])
			if ny, other := s.w.endsAt(&blocks[j], &blocks[i]); ny > nx {
				x, y, nx, pass = j, i, ny, other
			}
			var ground orb.MultiPolygon
			var err error
			if nx >= 3 {
				ground = s.beyond(&blocks[x], &blocks[y], pass)
			} else {
				// The smaller one, as far as its passes go.
				x, y = i, j
				if ground, err = s.swaths(&blocks[x]); err != nil {
					return nil, err
				}
				for _, k := range []int{x, y} {
					borders[k] = Border{Passes, max(borders[k].SureM, s.WidthM)}
				}
				s.unsure("Where the rows at %.1f° end and those at %.1f° begin was not driven along: that border is where the passes lie, and ragged by a width.",
					blocks[y].bearing/radPerDeg, blocks[x].bearing/radPerDeg)
			}
			if parts[x], parts[y], err = s.shared(parts[x], parts[y], ground, &blocks[x], &blocks[y]); err != nil {
				return nil, err
			}
		}
	}
	var out []Block
	for i, b := range blocks {
		out = append(out, s.block(b, parts[i], borders[i]))
	}
	return out, nil
}

// beyond returns all ground on the side of block x of the outer edge of one of
// its passes, towards block y.
func (s *search) beyond(x, y *block, pass int) orb.MultiPolygon {
	st := s.w.strokes[pass]
	l := s.w.smoothed(s.w.ahead(st.from, settlesM), s.w.back(st.to, settlesM))
	l = append(l, lines.CarriedOn(l)...)
	l.Reverse()
	l = append(l, lines.CarriedOn(l)...)
	// Which side is y's?
	left, right := 0, 0
	for _, k := range y.passes {
		t := s.w.strokes[k]
		for i := t.from; i < t.to; i += 8 {
			if lines.Aside(l, s.w.points[i].at) > 0 {
				right++
			} else {
				left++
			}
		}
	}
	if right < left {
		l.Reverse() // y lies to the right now
	}
	l = offset.Straightened(l)
	edge := lines.Beside(l, s.WidthM/2)
	n := len(edge)
	a, b := lines.Far(edge[1], edge[0]), lines.Far(edge[n-2], edge[n-1])
	nx, ny := b[1]-a[1], -(b[0] - a[0])
	d := math.Hypot(nx, ny)
	nx, ny = nx/d*2*lines.FarM, ny/d*2*lines.FarM
	ring := orb.Ring{a}
	ring = append(ring, edge...)
	ring = append(ring, b, orb.Point{b[0] - nx, b[1] - ny}, orb.Point{a[0] - nx, a[1] - ny}, a)
	if ring.Orientation() == orb.CW {
		ring.Reverse()
	}
	return orb.MultiPolygon{{ring}}
}

// swaths is the ground that a block's passes covered.
func (s *search) swaths(b *block) (orb.MultiPolygon, error) {
	var all orb.MultiPolygon
	for _, k := range b.passes {
		st := s.w.strokes[k]
		l := offset.Straightened(s.w.smoothed(s.w.ahead(st.from, settlesM), s.w.back(st.to, settlesM)))
		// A little wider, so that no gaps are left between passes.
		r := orb.Ring(lines.Beside(l, -0.55*s.WidthM))
		back := lines.Beside(l, 0.55*s.WidthM)
		back.Reverse()
		r = append(append(r, back...), r[0])
		if r.Orientation() == orb.CW {
			r.Reverse()
		}
		if polygon.Crossing(orb.Polygon{r}) == nil {
			all = append(all, orb.Polygon{r})
		}
	}
	return polygon.Union(all)
}

// shared takes ground from y's part for x. Pieces that it cuts off, in which
// passes of the other block lie, go to that one.
func (s *search) shared(px, py, ground orb.MultiPolygon, x, y *block) (orb.MultiPolygon, orb.MultiPolygon, error) {
	all, err := offset.Common(px, py) // what both may have
	if err != nil {
		return nil, nil, err
	}
	in, err := offset.Common(all, ground)
	if err != nil {
		return nil, nil, err
	}
	out, err := offset.Without(all, ground)
	if err != nil {
		return nil, nil, err
	}
	var toX, toY orb.MultiPolygon
	for _, p := range in {
		if s.driven(x, p) >= s.driven(y, p) {
			toX = append(toX, p)
		} else {
			toY = append(toY, p)
		}
	}
	for _, p := range out {
		if s.driven(y, p) >= s.driven(x, p) {
			toY = append(toY, p)
		} else {
			toX = append(toX, p)
		}
	}
	if px, err = offset.Without(px, toY); err != nil {
		return nil, nil, err
	}
	if py, err = offset.Without(py, toX); err != nil {
		return nil, nil, err
	}
	return px, py, nil
}

// driven counts points of a block's passes in a polygon.
func (s *search) driven(b *block, p orb.Polygon) int {
	n := 0
	for _, k := range b.passes {
		st := s.w.strokes[k]
		for i := st.from; i < st.to; i += 6 {
			if planar.PolygonContains(p, s.w.points[i].at) {
				n++
			}
		}
	}
	return n
}
