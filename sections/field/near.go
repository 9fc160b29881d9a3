// This file computes the distance to the nearest edge. ClearanceM is faster, but knows
// it only to whole cells.

package field

import "math"

// DistanceM returns the distance from a point to the nearest edge of any zone, but
// withinM if that is smaller. The time grows with the square of withinM.
func (f *Field) DistanceM(eastM, northM, withinM float64) float64 {
	g := &f.grid
	if len(g.cells) == 0 || !(withinM > 0) {
		return max(withinM, 0)
	}
	// A cell knows all edges within reachM, and so those of all cells that are at
	// most this many rows and columns away: others in between need not be asked.
	around := int(reachM / math.Sqrt2 * g.perM)
	stride := 2*around + 1
	squared := withinM * withinM
	ix, iy := g.column(eastM), g.row(northM)
	cells := int(withinM*g.perM) + 1
	first := func(i int) int { return max(i-(cells+stride-1)/stride*stride, i%stride) }
	for y := first(iy); y <= min(iy+cells+stride, g.ny-1); y += stride {
		for x := first(ix); x <= min(ix+cells+stride, g.nx-1); x += stride {
			for i := g.cells[y*g.nx+x].content; ; i++ {
				c := &g.contents[i]
				for _, b := range g.blocks[c.first:c.last] {
					for id := b.first; id < b.last; id++ {
						squared = min(squared, g.edges[id].squaredM2(eastM, northM))
					}
				}
				if !c.more {
					break
				}
			}
		}
	}
	return math.Sqrt(squared)
}

// squaredM2 is the square of the distance from the point x to the edge. The edge's
// nearest point is p + t·(q - p), where t = (x - p)·(q - p) / |q - p|², but at least 0
// and at most 1.
func (e *edge) squaredM2(x, y float64) float64 {
	dx, dy := e.qx-e.px, e.qy-e.py
	rx, ry := x-e.px, y-e.py
	if dot := float64(rx*dx) + float64(ry*dy); dot > 0 {
		t := min(dot/(float64(dx*dx)+float64(dy*dy)), 1)
		rx, ry = rx-float64(t*dx), ry-float64(t*dy)
	}
	return float64(rx*rx) + float64(ry*ry)
}
