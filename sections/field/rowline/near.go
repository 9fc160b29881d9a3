// This file finds the place on the line that is nearest to a point.
//
// The direction runs from vertex to vertex as the point between them does, so the rows
// beside the line have no corners either: a point X belongs to the place P(t) of a chord
// where (X - P(t))·T(t) = 0, with P and T both linear in t.

package rowline

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
)

// index knows for each cell of a grid from which vertices to look for the nearest place
// on the line: one for each stretch of the line that may be nearest to a point of the
// cell.
type index struct {
	e0, n0, perM float64
	columns      int
	rows         int
	start        []int32 // of each cell in seeds; one more than cells
	seeds        []int32
}

const (
	leastCellM = 4.0
	mostLevels = 7 // of squares in squares: 16 384 cells
	// fewVertices that follow each other are looked through from the nearest on.
	fewVertices = 32
)

// Over returns the line with an index for the places in the box, and a little beyond.
func (l *Line) Over(box orb.Bound) *Line {
	x := *l
	across := max(box.Max[0]-box.Min[0], box.Max[1]-box.Min[1]) + 2*leastCellM
	levels := 0
	for ; leastCellM*float64(int(1)<<levels) < across && levels < mostLevels; levels++ {
	}
	n := 1 << levels
	cellM := max(leastCellM, across/float64(n))
	x.index = index{e0: box.Min[0] - leastCellM, n0: box.Min[1] - leastCellM, perM: 1 / cellM, columns: n, rows: n}
	cells := make([][]int32, n*n)
	x.quarter(cells, 0, 0, n, cellM, []stretch{{0, int32(len(x.vertices) - 1)}})
	for _, seeds := range cells {
		x.index.start = append(x.index.start, int32(len(x.index.seeds)))
		x.index.seeds = append(x.index.seeds, seeds...)
	}
	x.index.start = append(x.index.start, int32(len(x.index.seeds)))
	return &x
}

// stretch is vertices that follow each other.
type stretch struct{ first, last int32 }

// quarter finds the seeds of the square of n by n cells at column, row. Of the
// stretches given those vertices stay that may be nearest to some point of the square: no
// further from its middle than the nearest, and its diagonal.
func (l *Line) quarter(cells [][]int32, column, row, n int, cellM float64, may []stretch) {
	half := float64(float64(n) * cellM / 2)
	e, m := l.index.e0+float64(float64(column)*cellM)+float64(half), l.index.n0+float64(float64(row)*cellM)+float64(half)
	awayM2 := func(i int32) float64 {
		v := &l.vertices[i]
		return float64((v.e-e)*(v.e-e)) + float64((v.n-m)*(v.n-m))
	}
	best := math.Inf(1)
	for _, s := range may {
		for i := s.first; i <= s.last; i++ {
			best = min(best, awayM2(i))
		}
	}
	most := math.Sqrt(best) + float64(2*math.Sqrt2*half)
	most *= most
	var kept []stretch
	var seeds []int32
	for _, s := range may {
		in, least := false, 0.0
		for i := s.first; i <= s.last; i++ {
			d := awayM2(i)
			switch {
			case d > most:
				in = false
			case !in:
				in, least = true, d
				kept, seeds = append(kept, stretch{i, i}), append(seeds, i)
			default:
				k := len(kept) - 1
				kept[k].last = i
				if d < least {
					least, seeds[k] = d, i
				}
			}
		}
	}
	if n == 1 || len(kept) == 1 && kept[0].last-kept[0].first < fewVertices {
		for r := row; r < row+n; r++ {
			for c := column; c < column+n; c++ {
				cells[r*l.index.columns+c] = seeds
			}
		}
		return
	}
	n /= 2
	for _, c := range [4][2]int{{0, 0}, {n, 0}, {0, n}, {n, n}} {
		l.quarter(cells, column+c[0], row+c[1], n, cellM, kept)
	}
}

// Near returns a place as the rows see it. Of an equal distance from two places of the
// line either may be taken.
func (l *Line) Near(eastM, northM float64) Foot {
	x := &l.index
	var best Foot
	leastM2 := math.Inf(1)
	if x.columns == 0 {
		for i := range l.vertices {
			l.from(i, eastM, northM, &best, &leastM2)
		}
		return best
	}
	column := cellOf((eastM-x.e0)*x.perM, x.columns)
	row := cellOf((northM-x.n0)*x.perM, x.rows)
	k := row*x.columns + column
	for _, i := range x.seeds[x.start[k]:x.start[k+1]] {
		l.from(int(i), eastM, northM, &best, &leastM2)
	}
	return best
}

// cellOf is the number of a cell; of a place beyond the grid, that of the nearest.
func cellOf(at float64, n int) int {
	if !(at > 0) {
		return 0
	}
	return int(min(at, float64(n-1)))
}

// ahead is how far ahead of vertex i a place lies, as the row runs there.
func (l *Line) ahead(i int, e, n float64) float64 {
	v := &l.vertices[i]
	return float64((e-v.e)*v.sin) + float64((n-v.n)*v.cos)
}

// from looks along the line, from vertex i on, for the nearest place, and takes it if
// it is nearer than leastM2, a square.
func (l *Line) from(i int, e, n float64, best *Foot, leastM2 *float64) {
	last := len(l.vertices) - 1
	a := l.ahead(i, e, n)
	b := a
	for steps := 0; ; steps++ {
		if a >= 0 {
			if i == last {
				if !l.closed {
					l.beyond(i, e, n, a, best, leastM2)
					return
				}
				i = 0
			}
			if b = l.ahead(i+1, e, n); b <= 0 || steps > last {
				break
			}
			i, a = i+1, b
			continue
		}
		if i == 0 {
			if !l.closed {
				l.beyond(i, e, n, a, best, leastM2)
				return
			}
			i = last
		}
		i, b = i-1, a
		if a = l.ahead(i, e, n); a >= 0 {
			break
		}
	}
	l.take(i, e, n, a, best, leastM2)
}

// beyond takes a place that lies ahead of the first vertex or after the last.
func (l *Line) beyond(i int, e, n, ahead float64, best *Foot, leastM2 *float64) {
	v := &l.vertices[i]
	de, dn := e-v.e, n-v.n
	if d := float64(de*de) + float64(dn*dn); d < *leastM2 {
		*leastM2 = d
		*best = Foot{StationM: v.s + ahead, RightM: float64(de*v.cos) - float64(dn*v.sin), Sin: v.sin, Cos: v.cos}
	}
}

// take takes the place on chord i, where the place is ahead of its first vertex by a.
func (l *Line) take(i int, e, n, a float64, best *Foot, leastM2 *float64) {
	p, q := &l.vertices[i], &l.vertices[i+1]
	de, dn, ds, dc := q.e-p.e, q.n-p.n, q.sin-p.sin, q.cos-p.cos
	// a + h·t - g·t² = 0; h is negative but beyond the centre of a bend.
	h := float64((e-p.e)*ds) + float64((n-p.n)*dc) - float64(de*p.sin) - float64(dn*p.cos)
	g := float64(de*ds) + float64(dn*dc)
	t := 0.5
	if r := math.Sqrt(max(0, float64(h*h)+float64(4*g*a))) - h; r > 0 {
		t = max(0, min(2*a/r, 1))
	}
	sin, cos := p.sin+float64(t*ds), p.cos+float64(t*dc)
	size := exact.Hypot(sin, cos)
	sin, cos = sin/size, cos/size
	xe, xn := e-p.e-float64(t*de), n-p.n-float64(t*dn)
	d := float64(xe*xe) + float64(xn*xn)
	if !(d < *leastM2) {
		return
	}
	*leastM2 = d
	right := float64(xe*cos) - float64(xn*sin)
	perM := (float64(q.sin*p.cos) - float64(q.cos*p.sin)) / (q.s - p.s)
	if wide := 1 - float64(right*perM); wide*tightestPerM > math.Abs(perM) {
		perM /= wide
	} else if perM != 0 {
		perM = math.Copysign(tightestPerM, perM)
	}
	*best = Foot{StationM: p.s + float64(t*(q.s-p.s)), RightM: right, Sin: sin, Cos: cos, CurvaturePerM: perM}
}
