// Ground worked already, on parallel lines across it: exact along each line,
// summed from line to line.

package score

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/sections/field"
)

const (
	finestHatchM = 0.03
	mostLines    = 1 << 18 // 6 MB while nothing is worked
	mostCuts     = 1 << 17 // of the way in work, by lines: 2 MB where no pass touches another
	mostM        = 1e6
)

// hatch is the plane, cut by lines. Its points are orb.Point{metres along a
// line, number of the line}: between two lines the number is no whole one.
//
// A piece of ground that no line cuts twice differs from the sum of its cuts,
// times gapM, by less than gapM times the longest cut. For an overlap of length
// l between two passes, at an angle φ to the lines, that is gapM/(l·sin φ) of it
// at most; many of them, some too large and some too small, are summed up far better.
type hatch struct {
	sin, cos float64 // of the lines' bearing
	gapM     float64 // from line to line
	firstM   float64 // of line 0, to the right of the lines' bearing
	lines    [][]stretch
	workedM  float64 // length of all stretches

	zones         *field.Field
	againOutsideM float64 // length of what was worked again outside them

	low   int // line of marks[0]
	marks []marks
}

// stretch is worked ground on a line. Those of a line are in order and apart.
type stretch struct{ fromM, toM float64 }

// mark is where a side of a polygon crosses a line.
type mark struct {
	atM float64
	yM  float64 // of the place in the machine's frame
}

// marks are those of one polygon on one line: two, four if it crosses itself.
type marks struct {
	n  int
	at [4]mark
}

// newHatch covers the ground that s saw worked.
func newHatch(s *survey, zones *field.Field) (*hatch, error) {
	w, h := s.hi[0]-s.lo[0], s.hi[1]-s.lo[1]
	if !(w >= 0 && h >= 0 && w < mostM && h < mostM) {
		return nil, fmt.Errorf("the worked ground spans %g m by %g m; expected less than %g m each way", w, h, mostM)
	}
	bearing, acrossM := s.bearing()
	g := &hatch{zones: zones}
	g.sin, g.cos = math.Sincos(bearing)
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range [4]orb.Point{s.lo, {s.lo[0], s.hi[1]}, s.hi, {s.hi[0], s.lo[1]}} {
		right := p[0]*g.cos - p[1]*g.sin
		low, high = min(low, right), max(high, right)
	}
	g.gapM = max(finestHatchM, (high-low)/(mostLines-1), acrossM/mostCuts)
	g.firstM = low
	g.lines = make([][]stretch, int((high-low)/g.gapM)+1)
	return g, nil
}

// m2 returns the area of stretches of a length.
func (g *hatch) m2(lengthM float64) float64 { return lengthM * g.gapM }

// point returns where a place of the plane is.
func (g *hatch) point(eastM, northM float64) orb.Point {
	return orb.Point{eastM*g.sin + northM*g.cos, (eastM*g.cos - northM*g.sin - g.firstM) / g.gapM}
}

// fill adds what the bar sweeps between two of its points, on its way through
// places at which they are left and right, and tells again what was worked before.
//
// As long as both go on across the lines, neither back, a line is cut once.
func (g *hatch) fill(left, right []orb.Point, again *repeats) {
	for from := 0; from+1 < len(left); {
		to, way := from+1, across(left, right, from)
		for way != 0 && to+1 < len(left) && across(left, right, to) == way {
			to++
		}
		g.polygon(left[from:to+1], right[from:to+1], again)
		from = to
	}
}

// across returns 1 when both ends go to lines with higher numbers from place k
// to the next, -1 when both go to lower ones, otherwise 0.
func across(left, right []orb.Point, k int) int {
	l, r := left[k+1][1]-left[k][1], right[k+1][1]-right[k][1]
	switch {
	case l > 0 && r > 0:
		return 1
	case l < 0 && r < 0:
		return -1
	}
	return 0
}

// polygon adds a polygon that no line cuts more than twice, or a quadrilateral
// of any kind (even-odd).
func (g *hatch) polygon(left, right []orb.Point, again *repeats) {
	end := len(left) - 1
	l0, r0, l1, r1 := left[0][1], right[0][1], left[end][1], right[end][1]
	g.low = max(0, ceil(min(l0, r0, l1, r1)))
	high := min(len(g.lines), ceil(max(l0, r0, l1, r1)))
	if high <= g.low {
		return
	}
	g.marks = slices.Grow(g.marks[:0], high-g.low)[:high-g.low]
	clear(g.marks)
	g.side(left[0], right[0], again.leftM, again.rightM)
	for k := range end {
		g.side(left[k], left[k+1], again.leftM, again.leftM)
		g.side(right[k], right[k+1], again.rightM, again.rightM)
	}
	g.side(left[end], right[end], again.leftM, again.rightM)
	for i := range g.marks {
		m := &g.marks[i]
		order(&m.at[0], &m.at[1])
		if m.n == 4 { // order the outer, then the inner pairs
			order(&m.at[2], &m.at[3])
			order(&m.at[0], &m.at[2])
			order(&m.at[1], &m.at[3])
			order(&m.at[1], &m.at[2])
			g.add(g.low+i, &m.at[2], &m.at[3], again)
		}
		g.add(g.low+i, &m.at[0], &m.at[1], again)
	}
}

func order(a, b *mark) {
	if b.atM < a.atM {
		*a, *b = *b, *a
	}
}

func ceil(v float64) int { return int(math.Ceil(v)) }

// side marks the lines that the side from p to q crosses, a line through its
// lower end included. It is the same, bit for bit, from q to p, so that
// polygons on both sides of it only touch.
func (g *hatch) side(p, q orb.Point, yp, yq float64) {
	if p[1] > q[1] {
		p, q, yp, yq = q, p, yq, yp
	}
	slope, turn := (q[0]-p[0])/(q[1]-p[1]), (yq-yp)/(q[1]-p[1])
	first, last := max(g.low, ceil(p[1])), min(g.low+len(g.marks), ceil(q[1]))
	for line := first; line < last; line++ {
		up := float64(line) - p[1]
		m := &g.marks[line-g.low]
		m.at[m.n] = mark{atM: p[0] + up*slope, yM: yp + up*turn}
		m.n++
	}
}

// add adds the ground between two marks on a line.
func (g *hatch) add(line int, a, b *mark, again *repeats) {
	if a.atM >= b.atM {
		return
	}
	list := g.lines[line]
	first := sort.Search(len(list), func(i int) bool { return list[i].toM >= a.atM-abutM })
	all, last := stretch{a.atM, b.atM}, first
	g.workedM += b.atM - a.atM
	for ; last < len(list) && list[last].fromM <= b.atM+abutM; last++ {
		s := list[last]
		if from, to := max(a.atM, s.fromM), min(b.atM, s.toM); from < to {
			g.workedM -= to - from
			g.againOutsideM += g.outsideM(line, from, to)
			again.add(a, b, from, to)
		}
		all = stretch{min(all.fromM, s.fromM), max(all.toM, s.toM)}
	}
	if first == last {
		if list == nil {
			list = make([]stretch, 0, 8) // as many passes, or more
		}
		g.lines[line] = slices.Insert(list, first, all)
		return
	}
	list[first] = all
	g.lines[line] = slices.Delete(list, first+1, last)
}

// outsideM returns the length of a stretch of a line outside the zones.
func (g *hatch) outsideM(line int, fromM, toM float64) float64 {
	// The inverse of point.
	right := g.firstM + float64(line)*g.gapM
	e, n := right*g.cos, -right*g.sin
	return (toM - fromM) * (1 - g.zones.Share(e+fromM*g.sin, n+fromM*g.cos, e+toM*g.sin, n+toM*g.cos, everyZone))
}
