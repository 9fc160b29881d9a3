// The whole drive: which zones, which passes, how from one to the next.

package drive

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sim/drive/hand"
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
	params, err := params.Complete(m)
	if err != nil {
		return nil, err
	}
	bodies, err := bodyZones(f, params.Zones)
	if err != nil && !(params.Headland != NoHeadland && len(params.Zones) == 0 && headlandAlone(f)) {
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
	if pl.err != nil {
		return nil, pl.err
	}
	pl.finish()

	var steering *hand.Wander
	if params.SteerSigmaM > 0 {
		steering = hand.New(params.SteerSigmaM, params.Seed)
	}
	speeds := profile(pl.path, params.AccelMps2, params.DecelMps2, params.PauseS)
	speeds = halt(speeds, stopsOn(speeds, &params), &params)
	pl.out.Track = follow(pl.path, speeds, params.StartNs, m, steering)
	return &pl.out, nil
}

// headlandAlone reports whether all body zones are left.
func headlandAlone(f *field.Field) bool {
	any := false
	for i := range f.Zones {
		if z := &f.Zones[i]; z.Kind == field.Body {
			any = true
			if !z.Unworked {
				return false
			}
		}
	}
	return any
}

// bodyZones returns the indices of the body zones of those names, or of all
// that are not left.
func bodyZones(f *field.Field, names []string) ([]int, error) {
	var all []int
	var have []string
	for i := range f.Zones {
		if f.Zones[i].Kind == field.Body && !f.Zones[i].Unworked {
			all = append(all, i)
			have = append(have, fmt.Sprintf("%q", f.Zones[i].Name))
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("the field has no body zone that is worked; expected at least one to drive passes in")
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

	gate sections.Gate

	pace pace
	path path
	// The lane that is being driven, and from which station: it ends where the
	// next turn begins.
	on      *lane
	onFromM float64
	// cornered says that the path ends with the corner into the next side of
	// a round.
	cornered bool
	out      Drive
	err      error // of Params.Stop
}

func newPlanner(f *field.Field, m *sections.Machine, s Params) *planner {
	pl := &planner{f: f, m: m, s: s, bar: barOf(m), pace: newPace(&s)}
	pl.gate = sections.Gate{Field: f, Machine: m, CosRowTolerance: exact.Cos(alongRad), MinWorkRadiusM: straightRadiusM}
	pl.spacing = pl.bar.widthM() - s.OverlapM
	pl.wheel = newWheel(s.MinRadiusM, s.sharpness())
	headland := false
	for i := range f.Zones {
		switch z := &f.Zones[i]; z.Kind {
		case field.Body:
			pl.bodies = append(pl.bodies, rowsOf(z))
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
	r := rowsOf(z)
	if z.Line != nil && z.Line.Closed() {
		pl.workRoundsOf(i, r)
		return
	}
	if r.torn {
		pl.err = fmt.Errorf("zone %q reaches beyond the centre of a bend of its row line, where rows meet; expected a line that bends less, or the zone divided", z.Name)
		return
	}
	all := pl.lanes(z, r)
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
		if pl.stopped() {
			return
		}
		l := all[j]
		if l.dir != dir {
			l = l.reversed(pl.m)
		}
		dir = -dir
		l.pace = pl.pace.next()
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
	if use.alongM > strayedM {
		pl.warn("zone %q: a turn runs %.0f m along the rows of zones that are worked: there the sections drop as on a pass; leave those zones, or skip fewer passes", z.Name, use.alongM)
	}
	if use.overCrop > 0 {
		pl.warn("zone %q: %d of %d turns sweep over the zone with the tools up", z.Name, use.overCrop, len(sequence)-1)
	}
}

// stopped asks whether to go on.
func (pl *planner) stopped() bool {
	if pl.s.Stop != nil && pl.err == nil {
		pl.err = pl.s.Stop()
	}
	return pl.err != nil
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
	from := pl.on.lastM + straightAfterM
	for _, j := range [2]int{sequence[0], len(all) - 1 - sequence[0]} {
		for _, d := range [2]float64{1, -1} {
			l := all[j]
			if d < 0 {
				l = l.reversed(pl.m)
			}
			if _, _, cost := pl.join(pl.on.at(from), from-pl.on.leftM, l.at(l.firstM-pl.s.StraightBeforeM), l.enterM-l.firstM+pl.s.StraightBeforeM); cost < best {
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
		v := l.pace * pl.s.HeadlandMps
		runUp := v * v / (2 * pl.s.AccelMps2)
		pl.onFromM = l.firstM - l.stationsOf(max(pl.s.StraightBeforeM, pl.s.SteadyBeforeM+runUp), l.firstM)
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
	v := pl.on.pace * pl.s.HeadlandMps
	runOut := v * v / (2 * pl.s.DecelMps2)
	pl.path = pl.on.append(pl.path, pl.onFromM, pl.on.lastM+pl.on.stationsOf(max(straightAfterM, runOut), pl.on.lastM), &pl.s)
	pl.path.unwind()
}
