// Passes and the directions of the rows along which they were driven.

package zones

import (
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/replay/zones/lines"
)

const (
	curvedAt = 4.0 // degrees from one third of a pass to another: its rows are curved
	fewest   = 2   // passes that make a block
)

// Pass is one pass of the body.
type Pass struct {
	FromNs, ToNs int64
	Line         orb.LineString
	// BearingRad is the direction from its beginning to its end.
	BearingRad float64
	stroke     int
}

// block is passes that lie side by side.
type block struct {
	passes   []int // numbers of strokes
	lengthM  float64
	bearing  float64 // of the rows, 0 to π
	seRad    float64 // standard error of it
	curved   bool
	turnsRad float64 // between the ends of a pass: the largest, where they are curved
}

// blocks groups the strokes that are free into blocks of passes.
func (w *way) blocks(pairs []pair, free []bool, widthM float64) []block {
	parent := make([]int, len(w.strokes))
	for i := range parent {
		parent[i] = i
	}
	var root func(i int) int
	root = func(i int) int {
		if parent[i] != i {
			parent[i] = root(parent[i])
		}
		return parent[i]
	}
	linked := make([]bool, len(w.strokes))
	for _, p := range pairs {
		if !free[p.a] || !free[p.b] || p.asideM > 2.2*widthM || p.asideM < 0.4*widthM {
			continue
		}
		shorter := min(w.strokes[p.a].lengthM, w.strokes[p.b].lengthM)
		// Both strokes are sampled, hence the half.
		if float64(p.samples)*sampleM/2 < 0.35*shorter || shorter < 1.5*widthM {
			continue
		}
		parent[root(p.a)] = root(p.b)
		linked[p.a], linked[p.b] = true, true
	}
	groups := map[int]int{}
	var out []block
	for k := range w.strokes {
		if !linked[k] {
			continue
		}
		g, ok := groups[root(k)]
		if !ok {
			g = len(out)
			groups[root(k)] = g
			out = append(out, block{})
		}
		out[g].passes = append(out[g].passes, k)
		out[g].lengthM += w.strokes[k].lengthM
	}
	total := 0.0
	for _, b := range out {
		total += b.lengthM
	}
	out = slices.DeleteFunc(out, func(b block) bool {
		return len(b.passes) < fewest || b.lengthM < 0.04*total
	})
	for i := range out {
		w.direct(&out[i], widthM)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].lengthM > out[j].lengthM })
	return out
}

// direct finds the direction of a block's rows.
func (w *way) direct(b *block, widthM float64) {
	longest := 0.0
	for _, k := range b.passes {
		longest = max(longest, w.strokes[k].lengthM)
	}
	var c2, s2, weight, curvedM, lengthM float64
	var dirs, weights []float64
	for _, k := range b.passes {
		s := &w.strokes[k]
		if s.lengthM < longest/3 {
			continue // its direction says less, and it may be a piece
		}
		from, to := w.ahead(s.from, 2*settlesM), w.back(s.to, 2*settlesM)
		if to-from < 6 {
			continue
		}
		dir, _ := lines.Fit(w.line(from, to))
		// The error of a fitted direction falls with the length to the power of 1.5.
		k3 := s.lengthM * s.lengthM * s.lengthM
		c2 += k3 * math.Cos(2*dir)
		s2 += k3 * math.Sin(2*dir)
		weight += k3
		dirs, weights = append(dirs, dir), append(weights, k3)
		if turns := w.bends(from, to); turns > curvedAt*radPerDeg {
			curvedM += s.lengthM
			b.turnsRad = max(b.turnsRad, turns)
		}
		lengthM += s.lengthM
	}
	b.bearing = math.Mod(math.Atan2(s2, c2)/2+math.Pi, math.Pi)
	sum := 0.0
	for i, d := range dirs {
		e := lines.Tilted(b.bearing, d)
		sum += weights[i] * e * e
	}
	if n := float64(len(dirs)); n > 1 && weight > 0 {
		b.seRad = math.Sqrt(sum / weight / (n - 1))
	}
	b.curved = curvedM > lengthM/2
}

// bends returns how far the directions of a stretch's parts lie apart.
func (w *way) bends(from, to int) float64 {
	const parts = 4
	start, length := w.points[from].alongM, w.points[to-1].alongM-w.points[from].alongM
	if length < 20 {
		return 0
	}
	var lo, hi, first float64
	i := from
	for k := range parts {
		j := i
		for j < to && w.points[j].alongM <= start+length*float64(k+1)/parts {
			j++
		}
		if j-i < 2 {
			return 0
		}
		dir, _ := lines.Fit(w.line(i, j))
		if k == 0 {
			first = dir
		}
		t := lines.Turned(first, dir)
		lo, hi = min(lo, t), max(hi, t)
		i = j
	}
	return hi - lo
}
