// This file measures the distance to the nearest edge where ClearanceM, which
// knows no more than whole cells, is too coarse.

package field

import "math"

// DistanceM returns the distance from a point to the nearest edge of any zone,
// or withinM where none is nearer. The cost grows with the number of cells
// (CellM) and edges that lie within withinM.
func (f *Field) DistanceM(eastM, northM, withinM float64) float64 {
	g := &f.grid
	if len(g.cells) == 0 || !(withinM > 0) {
		return max(withinM, 0)
	}
	squared := withinM * withinM
	west, east := index((eastM-withinM-g.x0)*g.perM, g.nx), index((eastM+withinM-g.x0)*g.perM, g.nx)
	south, north := index((northM-withinM-g.y0)*g.perM, g.ny), index((northM+withinM-g.y0)*g.perM, g.ny)
	for iy := south; iy <= north; iy++ {
		for _, c := range g.cells[iy*g.nx+west : iy*g.nx+east+1] {
			if c.ref >= 0 {
				continue
			}
			b := &g.busy[^c.ref]
			for _, r := range g.runs[b.first:b.last] {
				for i := r.first; i < r.last; i++ {
					squared = min(squared, g.edges[i].squaredM2(eastM, northM))
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
