// This file measures the distance to the nearest edge where ClearanceM, which
// knows no more than whole cells, is too coarse.

package field

import "math"

// DistanceM returns the distance from a point to the nearest edge of any zone,
// or withinM where none is nearer. The cost grows with the square of withinM.
func (f *Field) DistanceM(eastM, northM, withinM float64) float64 {
	g := &f.grid
	if len(g.cells) == 0 || !(withinM > 0) {
		return max(withinM, 0)
	}
	// A cell knows all edges within reachM, so those of all cells at most this
	// many rows and columns away.
	around := int(reachM / math.Sqrt2 * g.perM)
	stride := 2*around + 1
	squared := withinM * withinM
	ix, iy := g.column(eastM), g.row(northM)
	cells := int(withinM*g.perM) + 1
	first := func(i int) int { return max(i-(cells+stride-1)/stride*stride, i%stride) }
	for y := first(iy); y <= min(iy+cells+stride, g.ny-1); y += stride {
		for x := first(ix); x <= min(ix+cells+stride, g.nx-1); x += stride {
			for i := g.cells[y*g.nx+x].place; ; i++ {
				p := &g.places[i]
				for _, b := range g.blocks[p.first:p.last] {
					for id := b.first; id < b.last; id++ {
						squared = min(squared, g.edges[id].squaredM2(eastM, northM))
					}
				}
				if !p.more {
					break
				}
			}
		}
	}
	return math.Sqrt(squared)
}

// squaredM2 is the square of the distance from a point to the edge: to its
// nearest point p + t·(q - p), with t = (x - p)·(q - p) / |q - p|² kept to 0…1.
func (e *edge) squaredM2(x, y float64) float64 {
	dx, dy := e.qx-e.px, e.qy-e.py
	rx, ry := x-e.px, y-e.py
	if dot := rx*dx + ry*dy; dot > 0 {
		t := min(dot/(dx*dx+dy*dy), 1)
		rx, ry = rx-t*dx, ry-t*dy
	}
	return rx*rx + ry*ry
}
