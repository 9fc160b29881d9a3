// What was driven around: small rounds with nothing driven inside.

package zones

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/replay/zones/offset"
	"liftbench/sections/field/polygon"
)

const (
	smallM = 400.0 // the longest way around a keep-out
	leastR = 1.0   // m, the smallest keep-out by half its width

	roundness = 0.4 // 4π·area/length² of a keep-out's round, 1 = a circle
)

// small finds short loops of the way that lie within the body and may go around
// something.
func (w *way) small(body orb.MultiPolygon, widthM float64) []round {
	var all []round
	p := w.points
	for i := 0; i < len(p); i = max(i+1, w.ahead(i, 3)) {
		if !planar.MultiPolygonContains(body, p[i].at) {
			continue
		}
		dir := w.onward(i, 2.5)
		s, c := math.Sincos(dir)
		for j := i; j < len(p) && p[j].alongM-p[i].alongM < smallM; j++ {
			if p[j].alongM-p[i].alongM < math.Pi*(widthM+2*leastR) {
				continue
			}
			dx, dy := p[j].at[0]-p[i].at[0], p[j].at[1]-p[i].at[1]
			ahead, aside := dx*s+dy*c, dx*c-dy*s
			if math.Abs(aside) > 0.5*widthM || ahead < 0 || ahead > 3 || math.Abs(turned(dir, p[j].dir)) > headingOff {
				continue
			}
			if r, ok := w.around(i, j+1, math.Abs(aside), widthM); ok && within(r.ring, body) {
				all = append(all, r)
			}
			break
		}
	}
	return all
}

// around makes a small round of points[from:to].
func (w *way) around(from, to int, seamM, widthM float64) (round, bool) {
	length := w.points[to-1].alongM - w.points[from].alongM
	raw := offset.RingOf(w.coarseBy(from, to, 1))
	if raw == nil {
		return round{}, false
	}
	// Half its width, as of a circle, must leave room for something.
	if 2*planar.Area(raw)/length < widthM/2+leastR || polygon.Crossing(orb.Polygon{raw}) != nil {
		return round{}, false
	}
	// Two passes and the turns between them are a loop too, but a long one.
	if 4*math.Pi*planar.Area(raw)/(length*length) < roundness {
		return round{}, false
	}
	r := round{from: from, to: to, ring: raw, areaM2: planar.Area(raw), seamM: seamM}
	parts := w.sides(from, to, widthM)
	driven := 0.0
	for _, p := range parts {
		driven += w.points[p.to-1].alongM - w.points[p.from].alongM
		r.strokes = append(r.strokes, p.stroke)
	}
	if len(parts) >= 3 && driven > 0.35*length {
		// Where it begins in the middle of a side, the parts of that side are one.
		a, b := &w.points[parts[0].from], &w.points[parts[len(parts)-1].to-1]
		sharp := w.ring(parts, math.Abs(turned(b.dir, a.dir)) > 15*radPerDeg)
		if sharp != nil && polygon.Crossing(orb.Polygon{sharp}) == nil {
			if a := planar.Area(sharp); a >= r.areaM2*0.98 && a < 1.35*r.areaM2 {
				r.ring, r.areaM2 = sharp, a
			}
		}
	}
	return r, true
}

func (w *way) coarseBy(from, to int, m float64) orb.LineString {
	var l orb.LineString
	for i := from; i < to; i = max(i+1, w.ahead(i, m)) {
		l = append(l, w.points[i].at)
	}
	return l
}

// keepOuts chooses, of small loops, those with nothing but each other inside:
// for each thing driven around its rounds, innermost first.
func (w *way) keepOuts(loops []round, taken []bool, widthM float64) [][]round {
	deepM := max(1.5, 0.45*widthM)
	sort.SliceStable(loops, func(i, j int) bool {
		a, b := &loops[i], &loops[j]
		return cmp.Or(cmp.Compare(math.Round(a.areaM2), math.Round(b.areaM2)), cmp.Compare(a.seamM, b.seamM)) < 0
	})
	var out [][]round
	mine := slices.Clone(taken)
	for _, r := range loops {
		if w.sharedM(mine, &r) > sharedMost*w.lengthM(&r) {
			continue
		}
		if w.anythingIn(&r, mine, deepM) {
			continue
		}
		// Of the loops that are almost this one, that which closes best.
		for _, q := range loops {
			both := min(q.to, r.to) - max(q.from, r.from)
			if both*10 > 7*max(q.to-q.from, r.to-r.from) && q.seamM < r.seamM-0.05*widthM && q.areaM2 > 0.95*r.areaM2 && w.sharedM(mine, &q) <= sharedMost*w.lengthM(&q) && !w.anythingIn(&q, mine, deepM) {
				r = q
			}
		}
		for i := r.from; i < r.to; i++ {
			mine[i] = true
		}
		placed := false
		for k := range out {
			if planar.RingContains(r.ring, out[k][0].ring[0]) {
				out[k] = append(out[k], r)
				placed = true
				break
			}
		}
		if !placed {
			out = append(out, []round{r})
		}
	}
	return out
}

// anythingIn reports whether anything was driven more than deepM within a loop but
// what mine has.
func (w *way) anythingIn(r *round, mine []bool, deepM float64) bool {
	inside := 0
	box := r.ring.Bound()
	for i := 0; i < len(w.points); i += 3 {
		if !box.Contains(w.points[i].at) || mine[i] || i >= r.from-4 && i < r.to+4 {
			continue
		}
		if planar.RingContains(r.ring, w.points[i].at) && planar.DistanceFrom(orb.LineString(r.ring), w.points[i].at) > deepM {
			if inside++; inside > 3 {
				return true
			}
		}
	}
	return false
}

// within reports whether nearly all of a ring lies in ground.
func within(r orb.Ring, ground orb.MultiPolygon) bool {
	out := 0
	for _, p := range r {
		if !planar.MultiPolygonContains(ground, p) {
			out++
		}
	}
	return out*20 <= len(r)
}
