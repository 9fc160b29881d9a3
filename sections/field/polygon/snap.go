// This file makes borders that two polygons are meant to share exactly the same, so
// that no sliver remains between them.

package polygon

import (
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
)

// NoiseM is the distance in metres below which two places are taken for the same.
const NoiseM = 1e-6

// corner is one vertex of one polygon.
type corner struct {
	at      orb.Point
	polygon int
}

// Snap changes the polygons so that borders less than tolM apart become the same. A
// vertex within tolM of a vertex of an earlier polygon moves there. An edge that passes
// within tolM of another polygon's vertex gets a vertex there.
func Snap(shapes []orb.MultiPolygon, tolM float64) {
	s := snapper{tolM: tolM, cells: map[[2]int64][]corner{}}
	polygon := 0
	for _, mp := range shapes {
		for _, p := range mp {
			for _, r := range p {
				s.join(r, polygon)
			}
			polygon++
		}
	}
	if polygon < 2 {
		return
	}
	sort.SliceStable(s.all, func(i, j int) bool { return s.all[i].at[0] < s.all[j].at[0] })
	polygon = 0
	for _, mp := range shapes {
		for _, p := range mp {
			for j := range p {
				p[j] = s.split(p[j], polygon)
			}
			polygon++
		}
	}
}

// snapper knows the vertices of all polygons.
type snapper struct {
	tolM  float64
	cells map[[2]int64][]corner // by square with sides of 4 tolM
	all   []corner              // sorted by x before split is called
}

// join moves the vertices of a ring onto those of earlier polygons, and remembers them.
func (s *snapper) join(r orb.Ring, polygon int) {
	for i := range r[:len(r)-1] {
		from := r[i]
		cx, cy := int64(math.Floor(from[0]/(4*s.tolM))), int64(math.Floor(from[1]/(4*s.tolM)))
		best := s.tolM
	search:
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				for _, c := range s.cells[[2]int64{cx + dx, cy + dy}] {
					if c.polygon == polygon {
						continue
					}
					if d := exact.Hypot(c.at[0]-from[0], c.at[1]-from[1]); d < best {
						r[i], best = c.at, d
						if d == 0 {
							break search
						}
					}
				}
			}
		}
		k := [2]int64{cx, cy}
		s.cells[k] = append(s.cells[k], corner{r[i], polygon})
		s.all = append(s.all, corner{r[i], polygon})
	}
	r[len(r)-1] = r[0]
}

// split returns the ring with new vertices where those of other polygons lie on its
// edges.
func (s *snapper) split(r orb.Ring, polygon int) orb.Ring {
	type stop struct {
		t  float64
		at orb.Point
	}
	var stops []stop
	out := make(orb.Ring, 0, len(r))
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		out = append(out, a)
		dx, dy := b[0]-a[0], b[1]-a[1]
		length := exact.Hypot(dx, dy)
		lo, hi := min(a[0], b[0])-s.tolM, max(a[0], b[0])+s.tolM
		yLo, yHi := min(a[1], b[1])-s.tolM, max(a[1], b[1])+s.tolM
		first, _ := slices.BinarySearchFunc(s.all, lo, func(c corner, x float64) int {
			if c.at[0] < x {
				return -1
			}
			return 1
		})
		stops = stops[:0]
		for _, c := range s.all[first:] {
			if c.at[0] > hi {
				break
			}
			if c.polygon == polygon || c.at[1] < yLo || c.at[1] > yHi || c.at == a || c.at == b {
				continue
			}
			px, py := c.at[0]-a[0], c.at[1]-a[1]
			along := (float64(px*dx) + float64(py*dy)) / length
			if along <= s.tolM || along >= length-s.tolM || math.Abs(float64(px*dy)-float64(py*dx)) > s.tolM*length {
				continue
			}
			stops = append(stops, stop{along, c.at})
		}
		sort.Slice(stops, func(i, j int) bool { return stops[i].t < stops[j].t })
		for _, st := range stops {
			if st.at != out[len(out)-1] {
				out = append(out, st.at)
			}
		}
	}
	return append(out, r[0])
}
