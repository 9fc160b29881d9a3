// The whole drive: which zones, which passes, how from one to the next.

package drive

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// Drive is a planned drive.
type Drive struct {
	Track  motion.Track
	Passes []Pass
	// HeadlandNeededM is the widest strip beside a zone, square to its border,
	// that bar and tractor take up in the turns between its passes.
	HeadlandNeededM float64
	// Warnings say, in a sentence each, what a driver would not do.
	Warnings []string
}

// Pass is one pass line of a Drive, in the order driven: the turning point's
// path from where the first section enters the zone to where the last is out.
type Pass struct {
	Zone     int // index into the field's zones
	From, To orb.Point
}

// Plan drives the field with the machine. Errors say which setting cannot be
// driven; a drive that would leave the field, or run over the crop with the
// tools up, is planned all the same and says so in Warnings.
//
// Keep-out zones and gaps of a concave zone are driven through: lifting over
// them is the controller's task.
func Plan(f *field.Field, m *sections.Machine, params Params) (*Drive, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	params, err := params.complete(m)
	if err != nil {
		return nil, err
	}
	bodies, err := bodyZones(f, params.Zones)
	if err != nil {
		return nil, err
	}
	pl := newPlanner(f, m, params)
	work := func() {
		for _, i := range bodies {
			pl.workZone(i)
		}
	}
	switch params.Headland {
	case NoHeadland:
		work()
	case HeadlandFirst:
		err = pl.workHeadland()
		work()
	case HeadlandLast:
		work()
		err = pl.workHeadland()
	}
	if err != nil {
		return nil, err
	}
	pl.finish()

	var hand *wander
	if params.SteerSigmaM > 0 {
		hand = newWander(params.SteerSigmaM, params.Seed)
	}
	speeds := profile(pl.path, params.AccelMps2, params.DecelMps2)
	pl.out.Track = follow(pl.path, speeds, params.StartNs, params.PauseS, m, hand)
	return &pl.out, nil
}

// bodyZones returns the indices of the body zones of those names, or of all.
func bodyZones(f *field.Field, names []string) ([]int, error) {
	var all []int
	var have []string
	for i := range f.Zones {
		if f.Zones[i].Kind == field.Body {
			all = append(all, i)
			have = append(have, fmt.Sprintf("%q", f.Zones[i].Name))
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("the field has no body zone; expected at least one to drive passes in")
	}
	if len(names) == 0 {
		return all, nil
	}
	var out []int
	for _, name := range names {
		found := false
		for _, i := range all {
			if f.Zones[i].Name == name {
				out, found = append(out, i), true
			}
		}
		if !found {
			return nil, fmt.Errorf("no body zone %q in the field; it has %s", name, strings.Join(have, ", "))
		}
	}
	return out, nil
}

// planner is a drive in the making.
type planner struct {
	f       *field.Field
	m       *sections.Machine
	s       Params
	bar     bar
	spacing float64
	wheel   wheel
	bodies  []*rows          // every body zone
	limit   orb.MultiPolygon // what must not be left; nil when the field does not say
	fence   *rows            // limit, seen along the first body zone

	path path
	// The lane that is being driven, and from which station: it ends where the
	// next turn begins.
	on      *lane
	onFromM float64
	// cornered says that the path ends with the corner into the next side of
	// a round.
	cornered bool
	out      Drive
}

func newPlanner(f *field.Field, m *sections.Machine, s Params) *planner {
	pl := &planner{f: f, m: m, s: s, bar: barOf(m)}
	pl.spacing = pl.bar.widthM() - s.OverlapM
	pl.wheel = newWheel(s.MinRadiusM, s.sharpness())
	headland := false
	for i := range f.Zones {
		switch z := &f.Zones[i]; z.Kind {
		case field.Body:
			pl.bodies = append(pl.bodies, newRows(z.Polygons, zoneBearing(z)))
		case field.Headland:
			headland = true
		}
	}
	switch {
	case f.Boundary != nil:
		pl.limit = f.Boundary
	case headland:
		for i := range f.Zones {
			pl.limit = append(pl.limit, f.Zones[i].Polygons...)
		}
	}
	pl.fence = newRows(pl.limit, pl.bodies[0].bearingRad)
	return pl
}

// sharpness is the change of curvature along the path, 1/m², when the wheels
// go to full lock in SteerTimeS at TurnMps.
func (p *Params) sharpness() float64 {
	return 1 / (p.MinRadiusM * p.TurnMps * p.SteerTimeS)
}

func zoneBearing(z *field.Zone) float64 {
	if math.IsNaN(z.RowBearingRad) {
		return longestEdgeBearing(z.Polygons)
	}
	return z.RowBearingRad
}

// workZone drives the passes of zone i.
func (pl *planner) workZone(i int) {
	z := &pl.f.Zones[i]
	r := newRows(z.Polygons, zoneBearing(z))
	all := lanes(z, r, pl.m, pl.spacing)
	if len(all) == 0 {
		return
	}
	sequence := order(len(all), pl.s.SkipPasses)
	first, dir := pl.firstLane(all, sequence)
	if first != sequence[0] { // begin at the other side: the same order mirrored
		for k := range sequence {
			sequence[k] = len(all) - 1 - sequence[k]
		}
	}
	limit := newRows(pl.limit, r.bearingRad)
	var use turnUse
	for k, j := range sequence {
		l := all[j]
		if l.dir != dir {
			l = l.reversed(pl.m)
		}
		dir = -dir
		if k > 0 {
			pl.turnTo(&l, limit, &use)
		}
		pl.drive(&l)
		pl.out.Passes = append(pl.out.Passes, Pass{
			Zone: i, From: point(l.at(l.enterM)), To: point(l.at(l.leftM)),
		})
	}
	if z.Kind == field.Body {
		pl.out.HeadlandNeededM = max(pl.out.HeadlandNeededM, use.needM)
	}
	if use.outside > 0 {
		pl.warn("zone %q: %d of %d turns leave the field, by up to %.1f m; the turns need a headland of %.1f m: widen it, turn tighter or otherwise, or skip passes",
			z.Name, use.outside, len(sequence)-1, use.outsideM, use.needM)
	}
	if use.overCrop > 0 {
		pl.warn("zone %q: %d of %d turns sweep over the zone with the tools up", z.Name, use.overCrop, len(sequence)-1)
	}
}

func point(p place) orb.Point { return orb.Point{p.eastM, p.northM} }

func (pl *planner) warn(format string, args ...any) {
	pl.out.Warnings = append(pl.out.Warnings, fmt.Sprintf(format, args...))
}

// firstLane chooses on which side of a zone to begin and in which direction:
// that which is nearest to drive to.
func (pl *planner) firstLane(all []lane, sequence []int) (index int, dir float64) {
	index, dir = sequence[0], 1
	if pl.on == nil {
		return index, dir
	}
	best := math.Inf(1)
	from := pl.on.at(pl.on.lastM + straightAfterM)
	for _, j := range [2]int{sequence[0], len(all) - 1 - sequence[0]} {
		for _, d := range [2]float64{1, -1} {
			l := all[j]
			if d < 0 {
				l = l.reversed(pl.m)
			}
			if _, _, cost := pl.join(from, l.at(l.firstM-pl.s.StraightBeforeM)); cost < best {
				best, index, dir = cost, j, d
			}
		}
	}
	return index, dir
}

// drive makes l the lane being driven. Where no turn led to it, it is joined
// from the lane before, or the drive begins on it, far enough ahead to be up
// to speed at the border.
func (pl *planner) drive(l *lane) {
	switch {
	case pl.on == nil:
		runUp := pl.s.HeadlandMps * pl.s.HeadlandMps / (2 * pl.s.AccelMps2)
		pl.onFromM = l.firstM - max(pl.s.StraightBeforeM, runUp)
	case pl.on != l:
		pl.joinTo(l)
	}
	pl.on = l
}

// finish drives out of the last lane and stops.
func (pl *planner) finish() {
	if pl.on == nil {
		return
	}
	runOut := pl.s.HeadlandMps * pl.s.HeadlandMps / (2 * pl.s.DecelMps2)
	pl.path = pl.on.append(pl.path, pl.onFromM, pl.on.lastM+max(straightAfterM, runOut), &pl.s)
	pl.path.unwind()
}

// turnUse is what the turns of one zone take up.
type turnUse struct {
	needM    float64 // beside the zone, square to its border
	outsideM float64 // beyond the limit
	outside  int     // turns that leave the limit
	overCrop int     // turns that sweep over the zone
}

// furthestTurnM is how far past the border the driver looks for room.
const furthestTurnM = 40.0

// turnTo drives from the current lane to the next, in the opposite direction,
// by the first kind of turn that can be driven clear of the zone, as near to
// the border as it can.
func (pl *planner) turnTo(l *lane, limit *rows, use *turnUse) {
	a := pl.on
	turn, leaveM, enterM, clear := pl.chooseTurn(a, l)
	if !clear {
		use.overCrop++
	}
	pl.path = a.append(pl.path, pl.onFromM, leaveM, &pl.s)
	pl.path = append(pl.path, turn...)
	pl.on, pl.onFromM = l, enterM

	var furthest orb.Point
	furthestM, outsideM := 0.0, 0.0
	sweep(turn, pl.m, func(p *motion.Pose) {
		outline(p, pl.m, pl.bar, func(e, n float64) {
			if d := l.rows.beyond(e, n); !math.IsInf(d, 0) && d > furthestM {
				furthestM, furthest = d, orb.Point{e, n}
			}
			if len(limit.bins) > 0 {
				d := limit.beyond(e, n)
				if math.IsInf(d, 1) {
					d = planar.DistanceFrom(pl.limit, orb.Point{e, n})
				}
				outsideM = max(outsideM, d)
			}
		})
	})
	if furthestM > 0 {
		use.needM = max(use.needM, planar.DistanceFrom(l.zone.Polygons, furthest))
	}
	if outsideM > 0.01 {
		use.outside++
		use.outsideM = max(use.outsideM, outsideM)
	}
}

// chooseTurn returns the turn from lane a to lane b, the stations at which it
// leaves a and meets b, and whether it is clear of the zone.
func (pl *planner) chooseTurn(a, b *lane) (turn path, leaveM, enterM float64, clear bool) {
	side, apart := toRight, a.dir*(b.v-a.v)
	if apart < 0 {
		side, apart = toLeft, -apart
	}
	kinds := []func(from, to place) (path, bool){
		pl.uTurn(side), pl.wideTurn(side, apart), pl.bulb,
	}
	if pl.s.Turn == Fishtail {
		kinds = []func(from, to place) (path, bool){
			pl.uTurn(side), pl.wideTurn(side, apart), pl.fishtail(side), pl.bulb,
		}
	}
	leave0, enter0 := a.lastM+straightAfterM, b.firstM-pl.s.StraightBeforeM
	// Seen along a, b is met at -enter0. A level turn begins and ends as far out.
	out := max(leave0, -enter0)
	for _, kind := range kinds {
		for more := 0.0; more <= furthestTurnM; more += sweepStepM {
			for _, s := range [2][2]float64{{leave0, enter0}, {out, -out}} {
				leaveM, enterM = s[0]+more, s[1]-more
				if turn, ok := kind(a.at(leaveM), b.at(enterM)); ok && pl.clear(turn, b.rows) {
					return turn, leaveM, enterM, true
				}
			}
		}
	}
	turn, _ = pl.shortest(a.at(out), b.at(-out))
	return turn, out, -out, false
}

// uTurn turns through half a circle in all, with a straight between.
func (pl *planner) uTurn(side float64) func(from, to place) (path, bool) {
	return func(from, to place) (path, bool) {
		p, ok := pl.wheel.turnStraightTurn(from, to, side, side, pl.s.TurnMps)
		return p, ok && p.turnedRad() < math.Pi+1e-6
	}
}

// wideTurn is one turn by half a circle, at the radius that ends on the pass
// apart metres away. It leaves and meets the passes at one level.
func (pl *planner) wideTurn(side, apartM float64) func(from, to place) (path, bool) {
	narrow, wide := pl.s.MinRadiusM, apartM/2
	if 2*pl.wheel.sideM > apartM {
		return func(_, _ place) (path, bool) { return nil, false }
	}
	w := pl.wheel
	for range 60 { // sideM grows with the radius; it is more than the radius
		r := (narrow + wide) / 2
		if w = newWheel(r, pl.s.sharpness()); 2*w.sideM > apartM {
			wide = r
		} else {
			narrow = r
		}
	}
	return func(from, to place) (path, bool) {
		p := w.turn(nil, from, side, math.Pi, pl.s.TurnMps)
		d, _ := toward(p.end(), to)
		return p, d < 1e-6
	}
}

func (pl *planner) fishtail(side float64) func(from, to place) (path, bool) {
	return func(from, to place) (path, bool) {
		return pl.wheel.turnBackTurn(from, to, side, pl.s.TurnMps)
	}
}

func (pl *planner) bulb(from, to place) (path, bool) {
	left, okL := pl.wheel.threeTurns(from, to, toLeft, pl.s.TurnMps)
	right, okR := pl.wheel.threeTurns(from, to, toRight, pl.s.TurnMps)
	if okL && (!okR || left.lengthM() <= right.lengthM()) {
		return left, true
	}
	return right, okR
}

// shortest is the shortest path of up to three pieces, of any kind.
func (pl *planner) shortest(from, to place) (path, float64) {
	var best path
	bestM := math.Inf(1)
	consider := func(p path, ok bool) {
		if !ok {
			return
		}
		if l := p.lengthM(); l < bestM {
			best, bestM = p, l
		}
	}
	for _, s1 := range [2]float64{toLeft, toRight} {
		for _, s2 := range [2]float64{toLeft, toRight} {
			consider(pl.wheel.turnStraightTurn(from, to, s1, s2, pl.s.TurnMps))
		}
		consider(pl.wheel.threeTurns(from, to, s1, pl.s.TurnMps))
	}
	return best, bestM
}

// clear reports whether bar and tractor stay off the ground between the first
// and the last border of r along the rows.
func (pl *planner) clear(p path, r *rows) bool {
	ok := true
	sweep(p, pl.m, func(pose *motion.Pose) {
		if !ok {
			return
		}
		outline(pose, pl.m, pl.bar, func(e, n float64) {
			if ok && r.beyond(e, n) < -1e-6 {
				ok = false
			}
		})
	})
	return ok
}
