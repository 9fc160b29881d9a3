// What was driven around: small rounds with nothing driven inside.

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

const (
	smallM = 400.0 // the longest way around a keep-out
	leastR = 1.0   // m, the smallest keep-out by half its width

	nextM = 30.0 // and three widths: the way to a round, and from it to the next

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
			if math.Abs(aside) > 0.5*widthM || ahead < 0 || ahead > 3 || math.Abs(lines.Turned(dir, p[j].dir)) > headingOff {
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
	if sharp := w.sharpened(from, to); sharp != nil && polygon.Crossing(orb.Polygon{sharp}) == nil {
		if a := planar.Area(sharp); a >= 0.98*r.areaM2 && a < 1.4*r.areaM2 {
			r.ring, r.areaM2 = sharp, a
		}
	}
	return r, true
}

const (
	bendM    = 1.5 // the direction at a point of a keep-out's round is that over so much before and after it
	bendRad  = 4 * radPerDeg
	straight = 2.5            // m, the shortest side between two corners
	atCorner = 12 * radPerDeg // sides that differ by less bend into each other
)

// sharpened returns the round from one point of the way to another with its straight
// sides carried on to where they meet; nil if it has fewer than three.
func (w *way) sharpened(from, to int) orb.Ring {
	var sides []orb.LineString
	var now orb.LineString
	flush := func() {
		if len(now) >= 3 && lines.Between(now[0], now[len(now)-1]) >= straight {
			sides = append(sides, now)
		}
		now = nil
	}
	p := w.points
	for i := from; i < to; i++ {
		a, b := w.back(i+1, bendM)-1, w.ahead(i, bendM)
		if a < 0 || p[a].run != p[i].run || b >= len(p) || p[b].run != p[i].run {
			continue
		}
		if bend := lines.Turned(lines.Bearing(p[a].at, p[i].at), lines.Bearing(p[i].at, p[b].at)); math.Abs(bend) > bendRad {
			flush()
			continue
		}
		now = append(now, p[i].at)
	}
	flush()
	// It begins in the middle of a side, as a rule: the parts of that side are one.
	for len(sides) > 3 {
		first, last := sides[0], sides[len(sides)-1]
		if math.Abs(lines.Turned(lines.DirAt(last, len(last)-1), lines.DirAt(first, 0))) > atCorner {
			break
		}
		// The longer one says more.
		if lines.Between(first[0], first[len(first)-1]) < lines.Between(last[0], last[len(last)-1]) {
			sides[0] = last
		}
		sides = sides[:len(sides)-1]
	}
	if len(sides) < 3 {
		return nil
	}
	var out orb.LineString
	for i, a := range sides {
		b := sides[(i+1)%len(sides)]
		da, asideA := lines.Fit(a)
		db, asideB := lines.Fit(b)
		if math.Abs(lines.Turned(da, db)) < atCorner {
			out = append(out, a[len(a)-1], b[0])
			continue
		}
		end := func(l orb.LineString, dir, aside float64) orb.Point {
			q := l[len(l)-1]
			return orb.Point{q[0] + aside*math.Cos(dir), q[1] - aside*math.Sin(dir)}
		}
		pa, pb := end(a, da, asideA), end(b, db, asideB)
		// pa + u·(sin da, cos da) lies on b's line.
		det := math.Sin(da)*math.Cos(db) - math.Cos(da)*math.Sin(db)
		u := ((pb[0]-pa[0])*math.Cos(db) - (pb[1]-pa[1])*math.Sin(db)) / det
		x := orb.Point{pa[0] + u*math.Sin(da), pa[1] + u*math.Cos(da)}
		if lines.Between(x, a[len(a)-1]) > lines.CarriedM/2 || lines.Between(x, b[0]) > lines.CarriedM/2 {
			return nil
		}
		out = append(out, x)
	}
	return offset.RingOf(out)
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
	mine, ways := slices.Clone(taken), slices.Clone(taken)
	for _, r := range loops {
		if w.sharedM(mine, &r) > sharedMost*w.lengthM(&r) {
			continue
		}
		if w.anythingIn(&r, ways, deepM) {
			continue
		}
		// Of the loops that are almost this one, that which closes best.
		for _, q := range loops {
			both := min(q.to, r.to) - max(q.from, r.from)
			if both*10 > 7*max(q.to-q.from, r.to-r.from) && q.seamM < r.seamM-0.05*widthM && q.areaM2 > 0.95*r.areaM2 && w.sharedM(mine, &q) <= sharedMost*w.lengthM(&q) && !w.anythingIn(&q, ways, deepM) {
				r = q
			}
		}
		for i := r.from; i < r.to; i++ {
			mine[i] = true
		}
		for i := w.back(r.from+1, nextM+3*widthM); i < w.ahead(r.to-1, nextM+3*widthM); i++ {
			ways[i] = true
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
// what mine has: rounds, and the ways to and from them.
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
