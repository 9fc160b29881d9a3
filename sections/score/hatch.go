// This file remembers what ground has been worked: as stretches of parallel lines that lie
// across it. Areas are exact along each line and summed from line to line.

package score

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/field"
)

const (
	finestHatchM = 0.03    // smallest distance between lines
	mostLines    = 1 << 18 // 6 MB as long as nothing is worked
	mostCuts     = 1 << 17 // how often lines cut the ways in work: 2 MB if no pass touches another
	mostM        = 1e6     // largest extent of worked ground
)

// hatch is the plane with parallel lines across it. Its points are
// orb.Point{metres along a line, number of the line}; between two lines the number has a
// fraction.
//
// The area of a piece of ground is taken as the sum of the stretches that lines cut from
// it, times gapM. If no line cuts it twice, the error is less than gapM times the longest
// stretch: for an overlap of length l between two passes at an angle φ to the lines, at
// most gapM/(l·sin φ) of its area. In the sum of many overlaps most of the error cancels.
type hatch struct {
	sin, cos float64 // of the lines' bearing
	gapM     float64 // distance from line to line
	firstM   float64 // distance of line 0 from the origin, to the right of the lines' bearing
	lines    [][]stretch
	workedM  float64 // sum of the lengths of all stretches

	zones         *field.Field
	againOutsideM float64 // length that was worked again outside all zones

	// For the polygon that is being added:
	low   int     // number of the first line that cuts it
	marks []marks // of that line and the next ones
}

// stretch is worked ground on a line. The stretches of a line are in order and do not
// touch.
type stretch struct{ fromM, toM float64 }

// mark is where a side of a polygon crosses a line.
type mark struct {
	atM float64
	yM  float64 // of the same place in the machine's frame
}

// marks are the marks of one polygon on one line: two, or four if it crosses itself.
type marks struct {
	n  int
	at [4]mark
}

// newHatch returns a hatch that covers all worked ground, of which none is filled yet.
func newHatch(s *survey, zones *field.Field) (*hatch, error) {
	w, h := s.hi[0]-s.lo[0], s.hi[1]-s.lo[1]
	if !(w >= 0 && h >= 0 && w < mostM && h < mostM) {
		return nil, fmt.Errorf("the worked ground spans %g m by %g m; expected less than %g m each way", w, h, mostM)
	}
	bearing, acrossM := s.bearing()
	g := &hatch{zones: zones}
	g.sin, g.cos = exact.Sincos(bearing)
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range [4]orb.Point{s.lo, {s.lo[0], s.hi[1]}, s.hi, {s.hi[0], s.lo[1]}} {
		right := float64(p[0]*g.cos) - float64(p[1]*g.sin)
		low, high = min(low, right), max(high, right)
	}
	g.gapM = max(finestHatchM, (high-low)/(mostLines-1), acrossM/mostCuts)
	g.firstM = low
	g.lines = make([][]stretch, int((high-low)/g.gapM)+1)
	return g, nil
}

// m2 returns the area for a sum of lengths of stretches.
func (g *hatch) m2(lengthM float64) float64 { return float64(lengthM * g.gapM) }

// point converts a place on the plane to a point of the hatch.
func (g *hatch) point(eastM, northM float64) orb.Point {
	return orb.Point{float64(eastM*g.sin) + float64(northM*g.cos), (float64(eastM*g.cos) - float64(northM*g.sin) - g.firstM) / g.gapM}
}

// fill adds the ground between two points of the bar as it moves from place to place;
// left and right are where they are at each. What had been worked before goes to again.
//
// The way is added in parts in which neither point turns back across the lines, so that
// the sides of a part meet each line once.
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

// across returns 1 if both points go to lines with higher numbers from place k to the
// next, -1 if both go to lower ones, and 0 otherwise.
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

// polygon adds a polygon, which must be one whose border no line meets more than twice, or
// any quadrilateral. Of a quadrilateral that crosses itself both parts are added.
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

// side marks the lines that cross the side from p to q, also one through the end with the
// lower number. The marks from q to p are the same bit for bit, so that polygons on both
// sides of it touch without overlap. yp and yq are the y of p and q in the machine's frame.
func (g *hatch) side(p, q orb.Point, yp, yq float64) {
	if p[1] > q[1] {
		p, q, yp, yq = q, p, yq, yp
	}
	slope, turn := (q[0]-p[0])/(q[1]-p[1]), (yq-yp)/(q[1]-p[1])
	first, last := max(g.low, ceil(p[1])), min(g.low+len(g.marks), ceil(q[1]))
	for line := first; line < last; line++ {
		up := float64(line) - p[1]
		m := &g.marks[line-g.low]
		m.at[m.n] = mark{atM: p[0] + float64(up*slope), yM: yp + float64(up*turn)}
		m.n++
	}
}

// add adds the ground between two marks on a line. Where it had been worked before, that
// goes to again.
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
			list = make([]stretch, 0, 8) // as many as there are passes, at most
		}
		g.lines[line] = slices.Insert(list, first, all)
		return
	}
	list[first] = all
	g.lines[line] = slices.Delete(list, first+1, last)
}

// outsideM returns the length of a stretch of a line outside the zones.
func (g *hatch) outsideM(line int, fromM, toM float64) float64 {
	// The inverse of point:
	right := g.firstM + float64(float64(line)*g.gapM)
	e, n := float64(right*g.cos), float64(-right*g.sin)
	return (toM - fromM) * (1 - g.zones.Share(e+float64(fromM*g.sin), n+float64(fromM*g.cos), e+float64(toM*g.sin), n+float64(toM*g.cos), everyZone))
}
