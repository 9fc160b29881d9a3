// A driver who works such a field, and a receiver that records the way.

package zones_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/nmea"
	"liftbench/sections"
)

// stop is a place on the planned way.
type stop struct {
	at      orb.Point
	reverse bool
	slow    bool
	on      bool // in work
}

// driver plans a way.
type driver struct {
	rng     *rand.Rand
	t       *truth
	radiusM float64
	way     []stop
}

// plan returns the way of a whole day.
func plan(rng *rand.Rand, t *truth) []stop {
	d := &driver{rng: rng, t: t, radiusM: 5 + 2*rng.Float64()}
	if rng.IntN(3) > 0 {
		d.rounds()
		d.blocks()
	} else {
		d.blocks()
		d.rounds()
	}
	return d.way
}

// line appends a straight line to a place, a point every 0.2 m.
func (d *driver) line(to orb.Point, on bool) {
	if len(d.way) == 0 {
		d.way = append(d.way, stop{at: to})
		return
	}
	from := d.way[len(d.way)-1].at
	n := int(math.Hypot(to[0]-from[0], to[1]-from[1])/0.2) + 1
	for i := 1; i <= n; i++ {
		u := float64(i) / float64(n)
		d.way = append(d.way, stop{at: orb.Point{from[0] + u*(to[0]-from[0]), from[1] + u*(to[1]-from[1])}, on: on})
	}
}

// arc turns by an angle, positive to the right, from a heading.
func (d *driver) arc(heading *float64, radiusM, byRad float64, reverse, on bool) {
	n := int(math.Abs(byRad)*radiusM/0.2) + 1
	back := 1.0
	if reverse {
		back = -1
	}
	at := d.way[len(d.way)-1].at
	for range n {
		*heading += byRad / float64(n) / 2
		step := math.Abs(byRad) * radiusM / float64(n) * back
		at = orb.Point{at[0] + step*math.Sin(*heading), at[1] + step*math.Cos(*heading)}
		*heading += byRad / float64(n) / 2
		d.way = append(d.way, stop{at, reverse, true, on})
	}
}

func bearingOf(a, b orb.Point) float64 { return math.Atan2(b[0]-a[0], b[1]-a[1]) }

// follow drives a line of many corners: sharp ones are rounded, or turned with
// reversing.
func (d *driver) follow(l orb.LineString, on, reversing bool) {
	for i := 1; i < len(l); i++ {
		if i == len(l)-1 {
			d.line(l[i], on)
			break
		}
		in, out := bearingOf(l[i-1], l[i]), bearingOf(l[i], l[i+1])
		by := math.Remainder(out-in, 2*math.Pi)
		if math.Abs(by) < 0.15 {
			d.line(l[i], on)
			continue
		}
		if reversing && math.Abs(by) > 1 {
			// On past the corner, back in an arc, and along the new side: the arc
			// ends on the new side's line.
			r := d.radiusM
			tan := r * math.Tan(math.Abs(by)/2)
			d.line(toward(l[i], l[i-1], -1), on)
			d.line(toward(l[i], l[i-1], -d.radiusM), false)
			// Straight back to where the new side's line can be reached by an arc.
			back := toward(l[i], l[i-1], tan)
			d.back(back)
			h := in
			d.arc(&h, r, by, false, false)
			d.back(toward(l[i], l[i+1], 0.5))
			continue
		}
		r := d.radiusM
		tan := r * math.Tan(math.Abs(by)/2)
		if most := 0.45 * min(dist(l[i-1], l[i]), dist(l[i], l[i+1])); tan > most {
			r, tan = r*most/tan, most
		}
		d.line(toward(l[i], l[i-1], tan), on)
		h := in
		d.arc(&h, r, by, false, on)
	}
}

func (d *driver) back(to orb.Point) {
	from := len(d.way)
	d.line(to, false)
	for i := from; i < len(d.way); i++ {
		d.way[i].reverse, d.way[i].slow = true, true
	}
}

func dist(a, b orb.Point) float64 { return math.Hypot(b[0]-a[0], b[1]-a[1]) }

// toward is m from a on the way to b.
func toward(a, b orb.Point, m float64) orb.Point {
	k := m / dist(a, b)
	return orb.Point{a[0] + k*(b[0]-a[0]), a[1] + k*(b[1]-a[1])}
}

// rounds drives the headland, and around the hole.
func (d *driver) rounds() {
	t := d.t
	reversing := d.rng.IntN(4) == 0
	order := make([]int, t.rounds)
	for i := range order {
		order[i] = i
	}
	if d.rng.IntN(4) == 0 {
		slices.Reverse(order)
	}
	clockwise := d.rng.IntN(2) == 0
	start := d.rng.IntN(len(t.outline) - 1)
	inSide := d.rng.Float64() // begins in the middle of a side
	for i, k := range order {
		// From one round into the next there is a bend to the side.
		d.around(moved(t.outline, (float64(k)+0.5)*t.widthM), start, inSide, float64(i)*(2*t.widthM+12), clockwise, reversing)
	}
	if t.hole != nil {
		start := d.rng.IntN(len(t.hole) - 1)
		for k := range t.holeRuns {
			d.around(moved(t.hole, -(float64(k)+0.5)*t.widthM), start, 0.5, float64(k)*(2*t.widthM+12), clockwise, false)
		}
	}
}

// around drives a ring once, a little more than whole. It begins beginM farther on
// than the place that start and inSide name.
func (d *driver) around(r orb.Ring, start int, inSide, beginM float64, clockwise, reversing bool) {
	n := len(r) - 1
	var l orb.LineString
	first := orb.Point{r[start][0] + inSide*(r[start+1][0]-r[start][0]), r[start][1] + inSide*(r[start+1][1]-r[start][1])}
	l = append(l, first)
	for i := 1; i <= n; i++ {
		l = append(l, r[(start+i)%n])
	}
	l = append(l, first)
	if clockwise {
		l.Reverse()
	}
	for beginM > 0 { // it begins farther on
		if m := dist(l[0], l[1]); m <= beginM+1 {
			beginM -= m
			l = append(l[1:], l[1])
			continue
		}
		l[0] = toward(l[0], l[1], beginM)
		l = append(l, l[0])
		break
	}
	l = append(l, toward(l[0], l[1], min(3, dist(l[0], l[1])/2)))
	d.reach(l[0], bearingOf(l[0], l[1]))
	d.follow(l, true, reversing)
}

// piece is a part of a pass that is to be driven.
type piece struct {
	line orb.LineString
	row  int
}

// blocks drives the passes, block by block.
func (d *driver) blocks() {
	for i := range d.t.blocks {
		b := &d.t.blocks[i]
		var open [][]piece // chains of pieces side by side
		var chains [][]piece
		for row, l := range b.lines {
			pieces := d.inside(l, b.ring)
			var next [][]piece
			used := make([]bool, len(pieces))
			for _, chain := range open {
				last := chain[len(chain)-1]
				hit := -1
				for k, p := range pieces {
					if !used[k] && beside2(last.line, p) {
						hit = k
						break
					}
				}
				if hit < 0 {
					chains = append(chains, chain)
					continue
				}
				used[hit] = true
				next = append(next, append(chain, piece{pieces[hit], row}))
			}
			for k, p := range pieces {
				if !used[k] {
					next = append(next, []piece{{p, row}})
				}
			}
			open = next
		}
		chains = append(chains, open...)
		skip := 1
		if d.rng.IntN(3) == 0 {
			skip = 2 + d.rng.IntN(2) // rows are left out and driven on the way back
		}
		for _, chain := range chains {
			d.chain(chain, skip)
		}
	}
}

// inside returns the parts of a line within a ring, longer than 8 m. Points in the
// hole are left out.
func (d *driver) inside(l orb.LineString, ring orb.Ring) []orb.LineString {
	box := ring.Bound()
	in := func(p orb.Point) bool { return box.Contains(p) && planar.RingContains(ring, p) }
	var out []orb.LineString
	var now orb.LineString
	length := 0.0
	flush := func() {
		if length > 8 {
			out = append(out, now)
		}
		now, length = nil, 0
	}
	for i := 1; i < len(l); i++ {
		if !(orb.MultiPoint{l[i-1], l[i]}).Bound().Intersects(box) {
			flush()
			continue
		}
		n := int(dist(l[i-1], l[i])/0.25) + 1
		for k := range n {
			p := toward(l[i-1], l[i], dist(l[i-1], l[i])*float64(k)/float64(n))
			if !in(p) {
				flush()
				continue
			}
			if d.t.holeBody != nil && planar.RingContains(d.t.holeBody, p) {
				continue // driven around
			}
			if len(now) > 0 {
				length += dist(now[len(now)-1], p)
			}
			now = append(now, p)
		}
	}
	flush()
	return out
}

// beside2 reports whether two pieces overlap along the rows.
func beside2(a, b orb.LineString) bool {
	dir := bearingOf(a[0], a[len(a)-1])
	s, c := math.Sincos(dir)
	at := func(p orb.Point) float64 { return p[0]*s + p[1]*c }
	return min(at(a[len(a)-1]), at(b[len(b)-1]))-max(at(a[0]), at(b[0])) > 5
}

// chain drives pieces that lie side by side.
func (d *driver) chain(chain []piece, skip int) {
	var order []piece
	for k := range skip {
		list := []piece{}
		for i := k; i < len(chain); i += skip {
			list = append(list, chain[i])
		}
		if k%2 == 1 {
			slices.Reverse(list)
		}
		order = append(order, list...)
	}
	up := d.rng.IntN(2) == 0
	const run = 2.5 // straight on before the turn, m
	for i, p := range order {
		l := p.line.Clone()
		if !up {
			l.Reverse()
		}
		up = !up
		in := toward(l[0], l[1], -run)
		out := toward(l[len(l)-1], l[len(l)-2], -run)
		if i == 0 {
			d.reach(in, bearingOf(l[0], l[1]))
		} else {
			d.turn(in, bearingOf(l[0], l[1]))
		}
		d.line(l[0], false)
		for k, x := range l[1:] {
			if dist(l[k], x) > 2 {
				d.detour(l[k], x) // around the hole, and on along the same row
				continue
			}
			d.line(x, true)
		}
		d.line(out, false)
	}
}

// detour drives around the hole on its innermost round, tools lifted.
func (d *driver) detour(from, to orb.Point) {
	r := moved(d.t.hole, -(float64(d.t.holeRuns)-0.4)*d.t.widthM)
	n := len(r) - 1
	at := func(p orb.Point) int { // the corner after the nearest edge
		best, k := math.Inf(1), 0
		for i := range n {
			if m := planar.DistanceFromSegment(r[i], r[i+1], p); m < best {
				best, k = m, i
			}
		}
		return k + 1
	}
	a, b := at(from), at(to)
	ways := [2]orb.LineString{{from}, {from}}
	for i := a; (i-b)%n != 0; i++ {
		ways[0] = append(ways[0], r[i%n])
	}
	for i := a - 1 + n; (i-b+1)%n != 0; i-- {
		ways[1] = append(ways[1], r[i%n])
	}
	shortest := ways[0]
	if planar.Length(append(ways[1].Clone(), to)) < planar.Length(append(ways[0].Clone(), to)) {
		shortest = ways[1]
	}
	d.follow(append(shortest, to), false, false)
}

// reach drives to a place so that it heads there as told, with no turn tighter than
// the tractor's: along an arc, a straight line and an arc, the shortest of the four
// such ways (Dubins 1957, Am. J. Math. 79(3):497-516).
func (d *driver) reach(to orb.Point, heading float64) {
	if len(d.way) == 0 {
		d.way = append(d.way, stop{at: toward(to, orb.Point{to[0] + math.Sin(heading), to[1] + math.Cos(heading)}, -20)})
		d.line(to, false)
		return
	}
	if last := d.way[len(d.way)-1].at; d.meetsHole(last, to) {
		d.transit(toward(to, d.t.hole.Bound().Center(), -15)) // from outside
	}
	n, r := len(d.way), d.radiusM
	at, h := d.way[n-1].at, bearingOf(d.way[n-2].at, d.way[n-1].at)
	centre := func(p orb.Point, h, side float64) orb.Point {
		return orb.Point{p[0] + side*r*math.Cos(h), p[1] - side*r*math.Sin(h)}
	}
	positive := func(a float64) float64 { return math.Mod(math.Mod(a, 2*math.Pi)+2*math.Pi, 2*math.Pi) }
	best := math.Inf(1)
	var first, straightM, last float64 // radians, positive to the right
	for _, s1 := range []float64{1, -1} {
		for _, s2 := range []float64{1, -1} {
			a, b := centre(at, h, s1), centre(to, heading, s2)
			m, along := dist(a, b), bearingOf(a, b)
			if s1 != s2 {
				if m < 2*r {
					continue
				}
				along += s1 * math.Asin(2*r/m)
				m = math.Sqrt(m*m - 4*r*r)
			}
			t1, t2 := positive(s1*(along-h)), positive(s2*(heading-along))
			// What is all but a whole turn is rounding.
			if t1 > 2*math.Pi-1e-9 {
				t1 = 0
			}
			if t2 > 2*math.Pi-1e-9 {
				t2 = 0
			}
			length := r*(t1+t2) + m
			if try := (&driver{t: d.t, way: []stop{{at: at}}}); d.t.hole != nil {
				h := h
				try.arc(&h, r, s1*t1, false, false)
				p := try.way[len(try.way)-1].at
				try.line(orb.Point{p[0] + m*math.Sin(h), p[1] + m*math.Cos(h)}, false)
				try.arc(&h, r, s2*t2, false, false)
				for _, p := range try.way {
					if planar.RingContains(d.t.hole, p.at) {
						length += 1000 // rather a long way
					}
				}
			}
			if length < best {
				best, first, straightM, last = length, s1*t1, m, s2*t2
			}
		}
	}
	d.arc(&h, r, first, false, false)
	p := d.way[len(d.way)-1].at
	d.line(orb.Point{p[0] + straightM*math.Sin(h), p[1] + straightM*math.Cos(h)}, false)
	d.arc(&h, r, last, false, false)
	d.line(to, false)
}

// meetsHole reports whether a straight line leads over what is to be driven around.
func (d *driver) meetsHole(from, to orb.Point) bool {
	for k := range 200 {
		if d.t.hole != nil && planar.RingContains(d.t.hole, toward(from, to, dist(from, to)*float64(k)/200)) {
			return true
		}
	}
	return false
}

// transit drives to a place, around the hole where that is in the way.
func (d *driver) transit(to orb.Point) {
	if len(d.way) > 0 && d.t.hole != nil {
		from := d.way[len(d.way)-1].at
		wide := moved(d.t.hole, -(float64(d.t.holeRuns)-0.4)*d.t.widthM)
		for k := range 200 {
			p := toward(from, to, dist(from, to)*float64(k)/200)
			if planar.RingContains(wide, p) {
				q := toward(from, to, dist(from, to))
				for j := 199; j > k; j-- {
					if q = toward(from, to, dist(from, to)*float64(j)/200); planar.RingContains(wide, q) {
						break
					}
				}
				d.line(p, false)
				d.detour(p, q)
				break
			}
		}
	}
	d.line(to, false)
}

// turn turns round to a place and a heading that is about opposite.
func (d *driver) turn(to orb.Point, heading float64) {
	n := len(d.way)
	at, h := d.way[n-1].at, bearingOf(d.way[n-6].at, d.way[n-1].at)
	s, c := math.Sincos(h)
	dx, dy := to[0]-at[0], to[1]-at[1]
	ahead, aside := dx*s+dy*c, dx*c-dy*s
	if ahead > 0 {
		d.line(orb.Point{at[0] + ahead*s, at[1] + ahead*c}, false)
	}
	side := 1.0
	if aside < 0 {
		side = -1
	}
	w, r := math.Abs(aside), d.radiusM
	if w >= 2*r {
		d.arc(&h, r, side*math.Pi/2, false, false)
		p := d.way[len(d.way)-1].at
		d.line(orb.Point{p[0] + (w-2*r)*math.Sin(h), p[1] + (w-2*r)*math.Cos(h)}, false)
		d.arc(&h, r, side*math.Pi/2, false, false)
	} else {
		a := math.Acos((r + w/2) / (2 * r))
		d.arc(&h, r, -side*a, false, false)
		d.arc(&h, r, side*(math.Pi+2*a), false, false)
		d.arc(&h, r, -side*a, false, false)
	}
	d.line(to, false)
}

// receiver is what records the way.
type receiver struct {
	rateHz   float64
	quality  nmea.Quality
	whiteM   float64 // from fix to fix
	wanderM  float64 // within a minute or so
	steeredM float64 // how the driver keeps to the line, over 15 m or so
}

// record drives the way and returns fixes, and the changes of the work state of
// a machine that lifts lateS after the border and drops earlyS before it.
func record(rng *rand.Rand, way []stop, rc receiver, lateS float64) ([]nmea.Fix, []sections.WorkChange) {
	const lat0, lon0 = 51.4, 9.7
	// Radii of curvature of WGS 84 at that latitude.
	sin := math.Sin(lat0 * radPerDeg)
	w := math.Sqrt(1 - 0.00669437999014*sin*sin)
	meridianM, normalM := 6378137*(1-0.00669437999014)/(w*w*w), 6378137/w
	start := int64(1_780_000_000e9)
	t, next := 0.0, 0.0
	speed := 2.0 + 1.5*rng.Float64()
	slow := 1.4
	var fixes []nmea.Fix
	var changes []sections.WorkChange
	var wanderE, wanderN, steer float64
	limits := braking(way, speed, slow)
	v := speed
	on := false
	for i := 1; i < len(way); i++ {
		a, b := &way[i-1], &way[i]
		d := dist(a.at, b.at)
		if d == 0 {
			continue
		}
		v = min(v+0.6*d/v, limits[i])
		if a.reverse != b.reverse {
			t += 1.5 // stands while the gear is changed
			v = crawlMps
		}
		dt := d / v
		if b.on != on {
			on = b.on
			changes = append(changes, sections.WorkChange{TimeNs: start + int64((t+lateS)*1e9), On: on})
		}
		for ; next <= t+dt; next += 1 / rc.rateHz {
			u := max(0, (next-t)/dt)
			k := math.Exp(-1 / rc.rateHz / 60)
			wanderE = wanderE*k + rc.wanderM*math.Sqrt(1-k*k)*rng.NormFloat64()
			wanderN = wanderN*k + rc.wanderM*math.Sqrt(1-k*k)*rng.NormFloat64()
			k = math.Exp(-v / rc.rateHz / 15)
			steer = steer*k + rc.steeredM*math.Sqrt(1-k*k)*rng.NormFloat64()
			h := bearingOf(a.at, b.at)
			s, c := math.Sincos(h)
			e := a.at[0] + u*(b.at[0]-a.at[0]) + wanderE + rc.whiteM*rng.NormFloat64() + steer*c
			n := a.at[1] + u*(b.at[1]-a.at[1]) + wanderN + rc.whiteM*rng.NormFloat64() - steer*s
			f := nmea.EmptyFix()
			f.TimeNs = start + int64(math.Round(next*1000))*1e6
			f.LatDeg = lat0 + n/meridianM/radPerDeg
			f.LonDeg = lon0 + e/(normalM*math.Cos(lat0*radPerDeg))/radPerDeg
			f.Quality, f.Dated = rc.quality, true
			if f.SpeedMps = 0; next >= t { // at a stop no course is given
				f.SpeedMps, f.CourseDeg = v, math.Mod(h/radPerDeg+360, 360)
			}
			fixes = append(fixes, f)
		}
		t += dt
	}
	slices.SortStableFunc(changes, func(a, b sections.WorkChange) int { return cmp.Compare(a.TimeNs, b.TimeNs) })
	return fixes, changes
}

const crawlMps = 0.3 // on the last decimetres before a stop, and the first after it

// braking is how fast the way may be driven to each stop of the plan: no one brakes
// harder than 1.2 m/s² (common practice, no source) before a turn or a change of
// gear.
func braking(way []stop, speedMps, slowMps float64) []float64 {
	limits := make([]float64, len(way))
	next := crawlMps
	for i := len(way) - 1; i > 0; i-- {
		limit := speedMps
		if way[i].slow {
			limit = slowMps
		}
		if i+1 < len(way) && way[i+1].reverse != way[i].reverse {
			limit = crawlMps
		}
		if i+1 < len(way) {
			limit = min(limit, math.Sqrt(next*next+2*1.2*dist(way[i].at, way[i+1].at)))
		}
		limits[i], next = limit, limit
	}
	return limits
}

// geodetic converts a place of the generator.
func geodetic(p orb.Point) (lat, lon float64) {
	const lat0, lon0 = 51.4, 9.7
	sin := math.Sin(lat0 * radPerDeg)
	w := math.Sqrt(1 - 0.00669437999014*sin*sin)
	meridianM, normalM := 6378137*(1-0.00669437999014)/(w*w*w), 6378137/w
	return lat0 + p[1]/meridianM/radPerDeg, lon0 + p[0]/(normalM*math.Cos(lat0*radPerDeg))/radPerDeg
}
