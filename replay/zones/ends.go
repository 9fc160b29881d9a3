// The body where no round was driven: from where passes were lifted and dropped,
// or, where that is not recorded, from where their turns began.

package zones

import (
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/sections/field/polygon"
)

// turnsSureM is how far beyond the border a turn may begin: a straight run of some
// metres, a tool behind or in front (common practice, no source).
const turnsSureM = 10

// end is where a pass begins or ends, along the rows and across them.
type end struct {
	asideM, alongM float64
	lift           bool
}

// byEnds is the part of the body of a block of which only the ends of passes are
// known.
func (s *search) byEnds(b *block) (orb.MultiPolygon, Border, error) {
	sin, cos := math.Sincos(b.bearing)
	var low, high []end
	source := Turns
	if len(s.work) > 0 {
		source = Lifts
	}
	for _, k := range b.passes {
		st := s.w.strokes[k]
		from, to := st.from, st.to-1
		if source == Lifts {
			var ok bool
			if from, to, ok = s.worked(st); !ok {
				continue
			}
		}
		place := func(i int, lift bool) end {
			at, dir := s.w.points[i].at, s.w.points[i].dir
			if source == Lifts {
				at = s.changed(i, lift)
			}
			// Where the tools are, ahead of the turning point.
			e := at[0] + s.day.ToolM*math.Sin(dir)
			n := at[1] + s.day.ToolM*math.Cos(dir)
			return end{e*cos - n*sin, e*sin + n*cos, lift}
		}
		a, z := place(from, false), place(to, true)
		if a.alongM > z.alongM {
			a, z = z, a
		}
		low, high = append(low, a), append(high, z)
	}
	if len(low) < fewest {
		return nil, Border{}, nil
	}
	lowLine, lowSureM := smoothEnds(low)
	highLine, highSureM := smoothEnds(high)
	sure := max(lowSureM, highSureM)
	if source == Turns {
		sure = max(sure, turnsSureM)
	}
	// Half a width beyond the outermost passes.
	widen := func(l []end) []end {
		first, last := l[0], l[len(l)-1]
		first.asideM -= s.WidthM / 2
		last.asideM += s.WidthM / 2
		return append(append([]end{first}, l...), last)
	}
	var ring orb.Ring
	add := func(e end) {
		ring = append(ring, orb.Point{e.asideM*cos + e.alongM*sin, e.alongM*cos - e.asideM*sin})
	}
	for _, e := range widen(lowLine) {
		add(e)
	}
	highLine = widen(highLine)
	slices.Reverse(highLine)
	for _, e := range highLine {
		add(e)
	}
	ring = append(ring, ring[0])
	if ring.Orientation() == orb.CW {
		ring.Reverse()
	}
	if polygon.Crossing(orb.Polygon{ring}) != nil {
		ground, err := s.swaths(b)
		return ground, Border{source, max(sure, turnsSureM)}, err
	}
	s.told(low, high, lowLine, highLine)
	return orb.MultiPolygon{{ring}}, Border{source, sure}, nil
}

// worked returns the first and the last point of a pass in work: from the drop
// near its beginning to the lift near its end.
func (s *search) worked(st stroke) (from, to int, ok bool) {
	const beyondM = 25
	p := s.w.points
	lo, hi := st.from, st.to-1
	for lo > 0 && p[lo-1].run == p[lo].run && p[st.from].alongM-p[lo].alongM < beyondM {
		lo--
	}
	for hi+1 < len(p) && p[hi+1].run == p[hi].run && p[hi].alongM-p[st.to-1].alongM < beyondM {
		hi++
	}
	from, to = -1, -1
	// The longest stretch in work that reaches into the pass, over gaps shorter
	// than a third of it.
	for i := lo; i <= hi; i++ {
		if !s.work.at(p[i].timeNs) {
			if i >= st.to {
				break // what is worked after the turn is the next pass's
			}
			continue
		}
		if from < 0 && i < (st.from+st.to)/2+1 {
			// A drop must be seen: work that began before is another pass's.
			if i > lo || lo == 0 {
				from = i
			} else {
				for i <= hi && s.work.at(p[i].timeNs) {
					i++
				}
				continue
			}
		}
		if from >= 0 {
			to = i
		}
	}
	if from < 0 || to <= from || to == hi || p[to].alongM-p[from].alongM < 0.3*st.lengthM {
		return 0, 0, false
	}
	return from, to, true
}

// changed is where the turning point was when the machine was lifted after point i of
// the way, or dropped before it.
func (s *search) changed(i int, lift bool) orb.Point {
	p := s.w.points
	a, b := i-1, i
	if lift {
		a, b = i, i+1
	}
	if a < 0 || b >= len(p) || p[a].run != p[b].run {
		return p[i].at
	}
	timeNs, ok := s.work.changeIn(p[a].timeNs, p[b].timeNs)
	if !ok {
		return p[i].at
	}
	u := float64(timeNs-p[a].timeNs) / float64(p[b].timeNs-p[a].timeNs)
	return orb.Point{p[a].at[0] + u*(p[b].at[0]-p[a].at[0]), p[a].at[1] + u*(p[b].at[1]-p[a].at[1])}
}

// smoothEnds fits the ends of passes by a line through three neighbours to each side
// (Theil and Sen), in order across the rows. The line lies midway between lifts and
// drops, however many there are of each: late ones are off to opposite sides. It is sure
// to sureM (95 %): if only lifts are late, or only drops, the border is half of what
// parts them farther in or out.
func smoothEnds(list []end) (line []end, sureM float64) {
	sort.SliceStable(list, func(i, j int) bool { return list[i].asideM < list[j].asideM })
	out := make([]end, 0, len(list))
	var off, apart []float64
	for i, e := range list {
		from, to := max(0, i-3), min(len(list), i+4)
		var slopes []float64
		for a := from; a < to; a++ {
			for b := a + 1; b < to; b++ {
				if d := list[b].asideM - list[a].asideM; d > 0.5 && list[a].lift == list[b].lift {
					slopes = append(slopes, (list[b].alongM-list[a].alongM)/d)
				}
			}
		}
		slope := median(slopes)
		var lifts, drops []float64
		for a := from; a < to; a++ {
			rest := list[a].alongM - slope*(list[a].asideM-e.asideM)
			if list[a].lift {
				lifts = append(lifts, rest)
			} else {
				drops = append(drops, rest)
			}
		}
		lift, drop := median(lifts), median(drops)
		if len(lifts) == 0 {
			lift = drop
		}
		if len(drops) == 0 {
			drop = lift
		}
		fit := e
		fit.alongM = (lift + drop) / 2
		apart = append(apart, math.Abs(lift-drop)/2)
		if e.lift {
			off = append(off, math.Abs(e.alongM-lift))
		} else {
			off = append(off, math.Abs(e.alongM-drop))
		}
		if n := len(out); n == 0 || fit.asideM-out[n-1].asideM > 0.5 {
			out = append(out, fit)
		}
	}
	return out, median(apart) + z95*(1.4826*median(off)+0.1)
}

// told says how lifts lie against drops, which a wrong border cannot change.
func (s *search) told(low, high, lowLine, highLine []end) {
	if len(s.work) == 0 {
		return
	}
	var lifts, drops []float64
	for k, list := range [][]end{low, high} {
		line, out := lowLine, -1.0
		if k == 1 {
			line, out = highLine, 1
		}
		for _, e := range list {
			for _, f := range line {
				if math.Abs(e.asideM-f.asideM) > 0.5 {
					continue
				}
				// The pass that rises along the rows lifts at its high end.
				if d := out * (e.alongM - f.alongM); e.lift {
					lifts = append(lifts, d)
				} else {
					drops = append(drops, d)
				}
				break
			}
		}
	}
	if len(lifts) < 3 || len(drops) < 3 {
		return
	}
	// The median of n values of a normal distribution varies by 1.25·σ/√n; σ from the
	// median deviation.
	variance := func(list []float64) float64 {
		middle := median(list)
		off := make([]float64, len(list))
		for i, x := range list {
			off[i] = math.Abs(x - middle)
		}
		sd := 1.25 * 1.4826 * median(off)
		return sd * sd / float64(len(list))
	}
	by := median(lifts) - median(drops)
	sureM := z95 * math.Sqrt(variance(lifts)+variance(drops))
	where, come := "out", "late"
	if by < 0 {
		where, come = "in", "early"
	}
	const why = "at each end of the rows those who drive out lift and those who drive in drop"
	if math.Abs(by) < sureM {
		s.unsure("Lifts and drops lie equally far out, to ± %.1f m (medians of %d and %d): %s, so they are not all late, nor all early, by half of that.", sureM, len(lifts), len(drops), why)
		return
	}
	s.unsure("Lifts lie %.1f ± %.1f m farther %s than drops (medians of %d and %d): %s, so each comes half of that too %s, wherever the border is, or the tools are not where the machine file has them.",
		math.Abs(by), sureM, where, len(lifts), len(drops), why, come)
}
