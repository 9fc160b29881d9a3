// Rounds: stretches of the way that come back to where they began, around the
// field or around something in it.

package zones

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/replay/zones/lines"
	"liftbench/replay/zones/offset"
	"liftbench/sections/field/polygon"
)

// round is one time around.
type round struct {
	from, to int      // points of the way
	ring     orb.Ring // its line, counter-clockwise, with sharp corners
	areaM2   float64
	seamM    float64 // how far beside its beginning it ends
	comes    bool    // it passes beside its beginning, and does not only lead there
}

const (
	beginsM    = 15.0 // a round is looked for from points so far apart
	onwardM    = 5.0
	mostSides  = 80
	headingOff = 35 * radPerDeg // two ways go the same way within this
)

// part is a stretch of a stroke that may be a side of a round.
type part struct{ from, to int }

// sides returns the parts of strokes within points[from:to], without those that
// only repeat their neighbour, as at corners that were turned with reversing.
func (w *way) sides(from, to int, widthM float64) []part {
	var out []part
	first, _ := slices.BinarySearchFunc(w.strokes, from, func(s stroke, at int) int { return cmp.Compare(s.to, at+1) })
	for k := first; k < len(w.strokes) && w.strokes[k].from < to; k++ {
		s := &w.strokes[k]
		p := part{max(s.from, from), min(s.to, to)}
		// Wheels are being turned at the ends of a stroke, not where it is cut.
		if p.from == s.from {
			p.from = w.ahead(p.from, settlesM)
		}
		if p.to == s.to {
			p.to = w.back(p.to, settlesM)
		}
		if p.to-p.from >= 2 && w.points[p.to-1].alongM-w.points[p.from].alongM >= 3 {
			out = append(out, p)
		}
	}
	return w.unrepeated(out, widthM)
}

// ahead and back step along the way.
func (w *way) ahead(i int, m float64) int {
	for s := w.points[i].alongM + m; i+1 < len(w.points) && w.points[i].alongM < s; {
		i++
	}
	return i
}

func (w *way) back(to int, m float64) int {
	for s := w.points[to-1].alongM - m; to > 1 && w.points[to-1].alongM > s; {
		to--
	}
	return to
}

// unrepeated drops short parts that lie on the line of the side before or after
// them, and pieces of manoeuvres that lie between two sides that meet without
// them.
func (w *way) unrepeated(in []part, widthM float64) []part {
	shortM := max(20, 2.5*widthM)
	for changed := true; changed && len(in) > 3; {
		changed = false
		for i := range in {
			p := in[i]
			if w.points[p.to-1].alongM-w.points[p.from].alongM > shortM {
				continue
			}
			drop := false
			for _, q := range []part{in[(i+len(in)-1)%len(in)], in[(i+1)%len(in)]} {
				if w.onLine(p, q, 0.35*widthM) && w.points[q.to-1].alongM-w.points[q.from].alongM >= w.points[p.to-1].alongM-w.points[p.from].alongM {
					drop = true
				}
			}
			if drop {
				in = slices.Delete(in, i, i+1)
				changed = true
				break
			}
		}
	}
	return in
}

// onLine reports whether a part lies within asideM of another one, or of where
// that goes on.
func (w *way) onLine(p, q part, asideM float64) bool {
	l := w.line(q.from, q.to)
	if len(l) < 2 {
		return false
	}
	back := l.Clone()
	back.Reverse()
	back = lines.CarriedOn(back)
	back.Reverse()
	long := append(append(back, l...), lines.CarriedOn(l)...)
	for _, x := range w.line(p.from, p.to) {
		if planar.DistanceFrom(long, x) > asideM {
			return false
		}
	}
	return true
}

// ring joins the sides of a round. close tells how its end meets its beginning:
// directly, or at a corner as elsewhere.
func (w *way) ring(parts []part, atCorner bool) orb.Ring {
	n := len(parts)
	sides := make([]orb.LineString, n)
	for i, p := range parts {
		sides[i] = w.smoothed(p.from, p.to)
	}
	type joint struct {
		x      orb.Point
		ia, ib int
		ok     bool
	}
	joints := make([]joint, n) // after line i
	for i := range n {
		next := (i + 1) % n
		if n == 1 {
			continue
		}
		a, b := sides[i], sides[next]
		angle := math.Abs(lines.Turned(lines.DirAt(a, len(a)-1), lines.DirAt(b, 0)))
		// A round that ends beside its beginning may bend there, towards the next
		// round; where what it repeats was left out, its sides meet at a corner.
		if angle < 12*radPerDeg || next == 0 && !atCorner && angle < headingOff {
			continue
		}
		j := &joints[i]
		j.x, j.ia, j.ib, j.ok = lines.Meet(a, b)
	}
	var out orb.LineString
	for i, l := range sides {
		from, to := 0, len(l)
		if before := &joints[(i+n-1)%n]; before.ok {
			from = min(before.ib, len(l))
		}
		if after := &joints[i]; after.ok {
			to = max(after.ia, from)
		}
		out = append(out, l[from:min(to, len(l))]...)
		switch after := &joints[i]; {
		case after.ok:
			out = append(out, after.x)
		case i+1 < n && w.points[parts[i].from].run == w.points[parts[i+1].from].run:
			// Bent too little to be a corner: as it was driven.
			out = append(out, w.line(parts[i].to, parts[i+1].from)...)
		}
	}
	return offset.RingOf(out)
}

// loops finds every stretch of the way that may be a round, from each stroke on.
func (w *way) loops(widthM float64) []round {
	var all []round
	for k := range w.strokes {
		s := &w.strokes[k]
		for start := w.ahead(s.from, settlesM); start < s.to; start = w.ahead(start, beginsM) {
			if r, ok := w.abreast(start, k, widthM); ok {
				all = append(all, r)
			}
			all = append(all, w.gapped(start, k, widthM)...)
			if start+1 >= s.to || start == w.ahead(start, beginsM) {
				break
			}
		}
		all = append(all, w.corners(k, widthM)...)
	}
	return all
}

// abreast follows the way from a point until it passes beside it again.
func (w *way) abreast(start, k int, widthM float64) (round, bool) {
	from := &w.points[start]
	dir := w.onward(start, onwardM)
	s, c := math.Sincos(dir)
	for m := k; m < min(k+mostSides, len(w.strokes)); m++ {
		st := &w.strokes[m]
		for i := max(st.from, start); i < st.to; i++ {
			p := &w.points[i]
			if p.alongM-from.alongM < 6*widthM+30 {
				continue
			}
			dx, dy := p.at[0]-from.at[0], p.at[1]-from.at[1]
			ahead, aside := dx*s+dy*c, dx*c-dy*s
			if math.Abs(aside) > 1.6*widthM || ahead < 0 || ahead > 3 || math.Abs(lines.Turned(dir, p.dir)) > headingOff {
				continue
			}
			r, ok := w.tried(start, i+1, math.Abs(aside), false, widthM)
			r.comes = true
			return r, ok
		}
	}
	return round{}, false
}

// onward is the direction in which the way goes on from a point: unlike that at the
// point, it has nothing of how the tractor came there.
func (w *way) onward(i int, m float64) float64 {
	return lines.Bearing(w.points[i].at, w.points[w.ahead(i, m)].at)
}

// corners returns the rounds that begin with stroke k and end at a corner with
// it.
func (w *way) corners(k int, widthM float64) []round {
	first := &w.strokes[k]
	begin := w.onward(w.ahead(first.from, settlesM), onwardM)
	return w.closing(first.from, k, widthM, func(end *point) (seamM float64, atCorner, ok bool) {
		angle := math.Abs(lines.Turned(end.dir, begin))
		return 0, true, angle > 15*radPerDeg && angle < 165*radPerDeg
	})
}

// gapped returns the rounds that begin at a point of stroke k and end with a
// stroke that leads to that point, or a little beyond, on the same line: the driver
// turned off before the round was whole.
func (w *way) gapped(start, k int, widthM float64) []round {
	at := w.points[start].at
	begin := w.onward(start, onwardM)
	s, c := math.Sincos(begin)
	return w.closing(start, k, widthM, func(end *point) (seamM float64, atCorner, ok bool) {
		seamM = math.Abs((end.at[0]-at[0])*c - (end.at[1]-at[1])*s)
		return seamM, false, seamM < 0.4*widthM && math.Abs(lines.Turned(end.dir, begin)) < 15*radPerDeg
	})
}

// closing returns the rounds from a point of stroke k to the ends of later strokes
// near it that close them.
func (w *way) closing(start, k int, widthM float64, closes func(end *point) (seamM float64, atCorner, ok bool)) []round {
	var all []round
	from := &w.points[start]
	for m := k + 2; m < min(k+mostSides, len(w.strokes)); m++ {
		end := &w.points[w.strokes[m].to-1]
		if lines.Between(end.at, from.at) > 4*widthM+10 || end.alongM-from.alongM < 6*widthM+30 {
			continue
		}
		if seamM, atCorner, ok := closes(end); ok {
			if r, ok := w.tried(start, w.strokes[m].to, seamM, atCorner, widthM); ok {
				all = append(all, r)
			}
		}
	}
	return all
}

// tried makes a round of points[from:to] if they can be one.
func (w *way) tried(from, to int, seamM float64, atCorner bool, widthM float64) (round, bool) {
	// Quickly by the points themselves.
	length := w.points[to-1].alongM - w.points[from].alongM
	rough := orb.Ring{}
	for i := from; i < to; i = max(i+1, w.ahead(i, 2)) {
		rough = append(rough, w.points[i].at)
	}
	rough = append(rough, rough[0])
	area := math.Abs(planar.Area(rough))
	if area < 0.4*widthM*length || area < length*length/60 {
		return round{}, false
	}
	parts := w.sides(from, to, widthM)
	if len(parts) == 0 {
		return round{}, false
	}
	driven := 0.0
	for _, p := range parts {
		driven += w.points[p.to-1].alongM - w.points[p.from].alongM
	}
	ring := w.ring(parts, atCorner)
	if ring == nil || driven < 0.5*planar.Length(orb.LineString(ring)) {
		return round{}, false
	}
	if polygon.Crossing(orb.Polygon{ring}) != nil || !w.crossDriven(parts, ring) {
		return round{}, false
	}
	if w.drivenShare(from, to, ring, max(3, widthM/2)) < mostlyDriven {
		return round{}, false
	}
	r := round{from: from, to: to, ring: ring, areaM2: planar.Area(ring), seamM: seamM}
	return r, true
}

// mostlyDriven is the least share of a round that was driven: the rest are corners that
// were cut, and where it does not quite close.
const mostlyDriven = 0.88

// drivenShare is the share of a ring that lies within nearM of points[from:to].
func (w *way) drivenShare(from, to int, ring orb.Ring, nearM float64) float64 {
	all := lines.Distances(orb.Ring(w.coarse(from, to)), ring)
	near := 0
	for _, d := range all {
		if d <= nearM {
			near++
		}
	}
	return float64(near) / float64(max(len(all), 1))
}

// crossDriven reports whether a ring has sides across its longest one: without,
// it is two passes and the turns between them.
func (w *way) crossDriven(parts []part, ring orb.Ring) bool {
	longest := parts[0]
	span := func(p part) float64 { return w.points[p.to-1].alongM - w.points[p.from].alongM }
	for _, p := range parts {
		if span(p) > span(longest) {
			longest = p
		}
	}
	s, c := math.Sincos(lines.Bearing(w.points[longest.from].at, w.points[longest.to-1].at))
	driven, lo, hi := 0.0, math.Inf(1), math.Inf(-1)
	for _, p := range ring {
		x := p[0]*c - p[1]*s
		lo, hi = min(lo, x), max(hi, x)
	}
	for _, p := range parts {
		a, b := w.points[p.from].at, w.points[p.to-1].at
		driven += math.Abs((b[0]-a[0])*c - (b[1]-a[1])*s)
	}
	return driven > 0.7*(hi-lo) // of twice that, less the corners
}

// rounds chooses, of all loops, those around the whole field: outermost first.
// What lies outside a round must belong to rounds farther out.
func (w *way) rounds(loops []round, widthM float64, worked func(from, to int) float64) []round {
	left := slices.Clone(loops)
	sort.SliceStable(left, func(i, j int) bool { return left[i].areaM2 > left[j].areaM2 })
	taken := make([]bool, len(w.points))
	var out []round
	for i := range left {
		r := left[i]
		if w.sharedM(taken, &r) > sharedMost*w.lengthM(&r) || !w.fits(taken, &r, out, widthM) || worked(r.from, r.to) < 0.5 {
			continue
		}
		nearest := math.Inf(1)
		for _, o := range out {
			nearest = min(nearest, apart(o.ring, r.ring))
		}
		if len(out) > 0 && (nearest < 0.4*widthM || nearest > 2.5*widthM) {
			continue
		}
		// Of the loops that share most of their way with this one, that which closes best
		// and has the least of others.
		for _, q := range left[i+1:] {
			if q.areaM2 < 0.8*left[i].areaM2 {
				break
			}
			both := min(q.to, left[i].to) - max(q.from, left[i].from)
			if both*2 > max(q.to-q.from, left[i].to-left[i].from) && w.flaw(taken, &q, widthM) < w.flaw(taken, &r, widthM)-0.1 && w.fits(taken, &q, out, widthM) {
				r = q
			}
		}
		for j := r.from; j < r.to; j++ {
			taken[j] = true
		}
		out = append(out, r)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].areaM2 > out[j].areaM2 })
	return out
}

// sharedMost is the most of a round that may be in others already.
const sharedMost = 0.03

func (w *way) lengthM(r *round) float64 { return w.points[r.to-1].alongM - w.points[r.from].alongM }

// sharedM is how much of a round is in others already.
func (w *way) sharedM(taken []bool, r *round) float64 {
	both := 0.0
	for i := r.from + 1; i < r.to; i++ {
		if taken[i] {
			both += w.points[i].alongM - w.points[i-1].alongM
		}
	}
	return both
}

// flaw is how badly a round closes: widths to the side of its beginning, tens of metres
// that others have too, hundreds of metres that were not driven, and that it only leads
// to where it began, which the way to something else may do as well.
func (w *way) flaw(taken []bool, r *round, widthM float64) float64 {
	flaw := r.seamM/widthM + w.sharedM(taken, r)/10 + lines.Between(w.points[r.from].at, w.points[r.to-1].at)/100
	if !r.comes {
		flaw += 0.3
	}
	return flaw
}

// fits reports whether a round goes around the field: nine tenths of what is driven
// besides lie within it or, as turns and ways lie on the headland too, half of it where
// the round runs a width beside another one nearly all along.
func (w *way) fits(taken []bool, r *round, others []round, widthM float64) bool {
	if w.enclosed(taken, r) >= 0.9 {
		return true
	}
	if w.enclosed(taken, r) < 0.5 {
		return false
	}
	for i := range others {
		all := lines.Distances(others[i].ring, r.ring)
		along := 0
		for _, d := range all {
			if d > 0.6*widthM && d < 1.5*widthM {
				along++
			}
		}
		if along*10 >= 9*len(all) {
			return true
		}
	}
	return false
}

const (
	turnsM   = 20.0 // the longest straight way within a turn that is taken for no pass
	runsOutM = 8.0  // how far a pass goes on beyond its border before it turns
)

// enclosed is the share, of what no round has and r has not, that lies within r. Turns
// and the ends of passes do not count: they lie on the headland, or beyond it.
func (w *way) enclosed(taken []bool, r *round) float64 {
	inside, all := 0, 0
	for _, s := range w.strokes {
		if s.lengthM < turnsM {
			continue
		}
		for i := w.ahead(s.from, runsOutM); i < w.back(s.to, runsOutM); i += 8 {
			if taken[i] || i >= r.from && i < r.to {
				continue
			}
			all++
			if planar.RingContains(r.ring, w.points[i].at) {
				inside++
			}
		}
	}
	return float64(inside) / float64(max(all, 1))
}

// apart is the median distance from points of one ring to another.
func apart(a, b orb.Ring) float64 { return median(lines.Distances(a, b)) }
