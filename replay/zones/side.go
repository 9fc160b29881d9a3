// Sides of a round: smoothed strokes, carried on beyond their ends until they
// meet, because a tractor rounds the corners that a border has.

package zones

import (
	"math"

	"github.com/paulmach/orb"
)

const smoothM = 6.0 // half the stretch over which a side is smoothed

// smoothed returns a line through points of the way: at each metre a parabola,
// fitted to the points within smoothM by least squares.
func (w *way) smoothed(from, to int) orb.LineString {
	p := w.points[from:to]
	if len(p) < 2 {
		return w.line(from, to)
	}
	start, end := p[0].alongM, p[len(p)-1].alongM
	n := max(1, int(end-start))
	out := make(orb.LineString, 0, n+1)
	lo, hi := 0, 0
	for i := 0; i <= n; i++ {
		s := start + (end-start)*float64(i)/float64(n)
		for p[lo].alongM < s-smoothM {
			lo++
		}
		for hi < len(p) && p[hi].alongM <= s+smoothM {
			hi++
		}
		out = append(out, parabolaAt(p[lo:hi], s))
	}
	return out
}

// parabolaAt fits x and y as parabolas of the way driven and returns their
// values at alongM.
func parabolaAt(p []point, alongM float64) orb.Point {
	if len(p) < 5 {
		return lineAt(p, alongM)
	}
	var m [5]float64
	var x, y [3]float64
	x0, y0 := p[0].at[0], p[0].at[1]
	for i := range p {
		u := (p[i].alongM - alongM) / smoothM
		k := 1.0
		for d := range 5 {
			m[d] += k
			if d < 3 {
				x[d] += k * (p[i].at[0] - x0)
				y[d] += k * (p[i].at[1] - y0)
			}
			k *= u
		}
	}
	// The first row of the inverse of [m0 m1 m2; m1 m2 m3; m2 m3 m4].
	a, b, c := m[2]*m[4]-m[3]*m[3], m[2]*m[3]-m[1]*m[4], m[1]*m[3]-m[2]*m[2]
	det := m[0]*a + m[1]*b + m[2]*c
	if math.Abs(det) < 1e-9*m[0]*m[0]*m[0] {
		return lineAt(p, alongM)
	}
	return orb.Point{x0 + (a*x[0]+b*x[1]+c*x[2])/det, y0 + (a*y[0]+b*y[1]+c*y[2])/det}
}

// lineAt interpolates a few points.
func lineAt(p []point, alongM float64) orb.Point {
	for i := 1; i < len(p); i++ {
		a, b := &p[i-1], &p[i]
		if alongM <= b.alongM || i == len(p)-1 {
			u := 0.0
			if d := b.alongM - a.alongM; d > 0 {
				u = min(max((alongM-a.alongM)/d, 0), 1)
			}
			return orb.Point{a.at[0] + u*(b.at[0]-a.at[0]), a.at[1] + u*(b.at[1]-a.at[1])}
		}
	}
	return p[0].at
}
