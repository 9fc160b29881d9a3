// Which rings of a shape are holes in which.

package shapefile

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// nested makes polygons of rings: a ring inside an odd number of others is a hole in the
// smallest of them. The description has outer rings clockwise and holes
// counter-clockwise (page 8), but files with either are about, so the direction is not looked at.
func nested(rings []orb.Ring) orb.MultiPolygon {
	bounds, areas := make([]orb.Bound, len(rings)), make([]float64, len(rings))
	for i, r := range rings {
		bounds[i], areas[i] = r.Bound(), math.Abs(planar.Area(r))
	}
	parent, depth := make([]int, len(rings)), make([]int, len(rings))
	for i := range rings {
		parent[i] = -1
		for k := range rings {
			if k == i || areas[k] <= areas[i] || len(rings[i]) == 0 || !holds(bounds[k], bounds[i]) || !inside(rings[k], rings[i]) {
				continue
			}
			depth[i]++
			if parent[i] < 0 || areas[k] < areas[parent[i]] {
				parent[i] = k
			}
		}
	}
	var out orb.MultiPolygon
	place := make([]int, len(rings))
	for i := range rings {
		if depth[i]%2 == 0 {
			place[i] = len(out)
			out = append(out, orb.Polygon{rings[i]})
		}
	}
	for i := range rings {
		if depth[i]%2 == 1 {
			out[place[parent[i]]] = append(out[place[parent[i]]], rings[i])
		}
	}
	return out
}

// holds reports whether one box lies in another.
func holds(outer, inner orb.Bound) bool {
	return outer.Contains(inner.Min) && outer.Contains(inner.Max)
}

// inside reports whether a ring lies in another that it does not cross. It may touch it, so
// most of a few of its points decide.
func inside(outer, inner orb.Ring) bool {
	const few = 9
	in := 0
	for i := range few {
		// The middle of an edge touches the other ring less often than a corner.
		k := i * len(inner) / few
		a, b := inner[k], inner[(k+1)%len(inner)]
		if planar.RingContains(outer, orb.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}) {
			in++
		}
	}
	return in > few/2
}
