// Polygons seen along a row bearing: where does a strip of ground meet them?

package drive

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/field/rowline"
)

// rows is a set of polygons in row coordinates: u along the rows, v across
// them to the right.
type rows struct {
	bearingRad float64
	sin, cos   float64
	vMin, vMax float64
	// Of rows that bend u and v are along their line and beside it; its points are at
	// these stations. torn: u is not in order across the polygons.
	line     *rowline.Line
	stations []float64
	torn     bool
	binM     float64
	bins     [][]edge // by v; an edge is in every bin it touches
}

// edge runs from (u0, v0) to (u1, v1), v0 ≤ v1.
type edge struct{ u0, v0, u1, v1 float64 }

func newRows(polygons orb.MultiPolygon, bearingRad float64) *rows {
	r := &rows{bearingRad: bearingRad}
	r.sin, r.cos = exact.Sincos(bearingRad)
	var edges []edge
	for _, polygon := range polygons {
		for _, ring := range polygon {
			for i := range ring {
				a, b := ring[i], ring[(i+1)%len(ring)]
				u0, v0 := r.uv(a[0], a[1])
				u1, v1 := r.uv(b[0], b[1])
				if v0 > v1 {
					u0, v0, u1, v1 = u1, v1, u0, v0
				}
				edges = append(edges, edge{u0, v0, u1, v1})
			}
		}
	}
	r.index(edges)
	return r
}

// index sorts the edges into bins.
func (r *rows) index(edges []edge) {
	if len(edges) == 0 {
		return
	}
	r.vMin, r.vMax = math.Inf(1), math.Inf(-1)
	for _, e := range edges {
		r.vMin, r.vMax = min(r.vMin, e.v0), max(r.vMax, e.v1)
	}
	r.binM = max((r.vMax-r.vMin)/1000, 0.5)
	r.bins = make([][]edge, r.bin(r.vMax)+1)
	for _, e := range edges {
		for b := r.bin(e.v0); b <= r.bin(e.v1); b++ {
			r.bins[b] = append(r.bins[b], e)
		}
	}
}

func (r *rows) uv(eastM, northM float64) (u, v float64) {
	if r.line != nil {
		f := r.line.Near(eastM, northM)
		return f.StationM, f.RightM
	}
	return float64(eastM*r.sin) + float64(northM*r.cos), float64(eastM*r.cos) - float64(northM*r.sin)
}

// place is where a heading along the rows, or, where against is π, against them, goes
// through.
func (r *rows) place(u, v, againstRad float64) place {
	if r.line != nil {
		e, n, sin, cos, _ := r.line.At(u, v)
		return place{e, n, exact.Atan2(sin, cos) + againstRad}
	}
	headingRad := r.bearingRad + againstRad
	return place{float64(u*r.sin) + float64(v*r.cos), float64(u*r.cos) - float64(v*r.sin), headingRad}
}

func (r *rows) bin(v float64) int { return int((v - r.vMin) / r.binM) }

// extent returns the lowest and the highest u at which the polygons meet the
// strip from v0 to v1, and whether they meet it at all.
func (r *rows) extent(v0, v1 float64) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	v0, v1 = max(v0, r.vMin), min(v1, r.vMax)
	if v0 > v1 || len(r.bins) == 0 {
		return 0, 0, false
	}
	for b := r.bin(v0); b <= r.bin(v1); b++ {
		for _, e := range r.bins[b] {
			// The part of the edge within the strip.
			a, z := max(e.v0, v0), min(e.v1, v1)
			if a > z {
				continue
			}
			ua, uz := e.u0, e.u1
			if e.v1 > e.v0 {
				slope := (e.u1 - e.u0) / (e.v1 - e.v0)
				ua, uz = e.u0+float64((a-e.v0)*slope), e.u0+float64((z-e.v0)*slope)
			}
			lo, hi = min(lo, ua, uz), max(hi, ua, uz)
		}
	}
	return lo, hi, lo <= hi
}

// beyond returns how far the point lies past the polygons' last border along
// the rows, either way; negative between the first and the last.
func (r *rows) beyond(eastM, northM float64) float64 {
	u, v := r.uv(eastM, northM)
	lo, hi, ok := r.extent(v, v)
	if !ok {
		return math.Inf(1)
	}
	return max(lo-u, u-hi)
}

// distanceM returns how far the point is from the nearest border of the polygons.
func (r *rows) distanceM(eastM, northM float64) float64 {
	if len(r.bins) == 0 {
		return math.Inf(1)
	}
	u, v := r.uv(eastM, northM)
	squared := math.Inf(1)
	from := min(max(r.bin(min(max(v, r.vMin), r.vMax)), 0), len(r.bins)-1)
	// A bin that lies k bins farther out than the first begins k-1 bins away from v.
	for k := 0; k < len(r.bins); k++ {
		if away := float64(float64(k-1) * r.binM); k > 0 && float64(away*away) > squared {
			break
		}
		for _, b := range [2]int{from - k, from + k} {
			if b < 0 || b >= len(r.bins) || k == 0 && b != from {
				continue
			}
			for i := range r.bins[b] {
				squared = min(squared, r.bins[b][i].squaredM2(u, v))
			}
		}
	}
	return math.Sqrt(squared)
}

// squaredM2 is the square of the distance from a point to the edge.
func (e *edge) squaredM2(u, v float64) float64 {
	du, dv := e.u1-e.u0, e.v1-e.v0
	ru, rv := u-e.u0, v-e.v0
	if dot := float64(ru*du) + float64(rv*dv); dot > 0 {
		t := min(dot/(float64(du*du)+float64(dv*dv)), 1)
		ru, rv = ru-float64(t*du), rv-float64(t*dv)
	}
	return float64(ru*ru) + float64(rv*rv)
}

// longestEdgeBearing is the direction of the longest edge of the polygons'
// outer rings.
func longestEdgeBearing(polygons orb.MultiPolygon) float64 {
	var longest, bearing float64
	for _, polygon := range polygons {
		if len(polygon) == 0 {
			continue
		}
		for i, a := range polygon[0] {
			b := polygon[0][(i+1)%len(polygon[0])]
			if d := exact.Hypot(b[0]-a[0], b[1]-a[1]); d > longest {
				longest, bearing = d, exact.Atan2(b[0]-a[0], b[1]-a[1])
			}
		}
	}
	return bearing
}
