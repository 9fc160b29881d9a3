// Faulty drives from the bench: a driver, a receiver, our controller and the
// hydraulics on a field with uneven borders.

package diagnose

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

const halfM = 25.0 // from the field's middle to its borders

// The layout of a drive whose passes are straight, and of one that crosses its
// borders in bends and so needs room.
var (
	straightOn = layout{laneM: 12, beyondM: 14}
	inBends    = layout{laneM: 24, beyondM: 20}
)

type layout struct {
	laneM   float64 // from pass to pass: a half circle of half of it
	beyondM float64 // of a pass beyond the borders
}

// passM is how long a pass is.
func (l layout) passM() float64 { return 2 * (halfM + l.beyondM) }

// hoist is a lift with long dead times, of which a lead can be off by 0.6 s
// both ways, and a stroke of a third of a second.
func hoist() hydraulics.Params {
	return hydraulics.Params{
		LiftDeadNs: 650e6, DropDeadNs: 650e6,
		BoreM: 0.032, StrokeM: 0.16,
		RaisedM: 0.02, WorkingDepthM: 0.03, EffectiveDepthM: 0.02,
		PumpFlowM3PerS: 800e-3 / 60, ValveFlowM3PerS: 4e-3 / 60, PressurePa: 180e5,
		LiftForceN: 1200, DropForceN: 1500,
		HoseLengthM: 6, HoseBoreM: 0.008, OrificeM: 0.0025, OrificeCd: 0.62,
		OilVG: 46, OilTempDegC: 50,
	}
}

// end is how the border lies at one end of a pass, and how it is crossed.
type end struct {
	slope     float64
	perM      float64 // curvature of the crossing, positive = to the right of a drive to the north
	shiftEast float64 // of the crossing from the lane, by the bend
}

// ends are those of each pass: south and north.
type ends [][2]end

// fieldOf is a field whose borders have a slope of their own at each pass; out
// shifts the northern end of a pass outward, all the southern ends.
func fieldOf(tb testing.TB, l layout, s ends, north func(pass int) float64, south float64) *field.Field {
	var ring orb.Ring
	edge := l.laneM/2 - 1
	for k := range s {
		for _, dx := range [2]float64{-edge, edge} {
			ring = append(ring, orb.Point{float64(k)*l.laneM + dx, -halfM + (dx-s[k][0].shiftEast)*s[k][0].slope - south})
		}
	}
	for k := len(s) - 1; k >= 0; k-- {
		for _, dx := range [2]float64{edge, -edge} {
			ring = append(ring, orb.Point{float64(k)*l.laneM + dx, halfM + (dx-s[k][1].shiftEast)*s[k][1].slope + north(k)})
		}
	}
	ring = append(ring, ring[0])
	f, err := field.New(geodesy.NewPlane(52.3, 9.8), nil, []field.Zone{{Name: "body", RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{{ring}}}})
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

// bendM is how long the tractor is in a bend before and after the middle of a
// border: longer than a lead, what a heading lags, and a slanting border take.
const bendM = 9.0

// tightestM is the radius of the tightest bend in which a border is crossed.
const tightestM = 15.0

// bend is how far east of the lane, and how far along it from where it is left
// to the middle, a crossing is whose border lies in the second of three arcs:
// one way, back twice as long, and the first way again. It has the lane's
// heading there, and is on the lane again after it.
func bend(perM float64) (eastM, alongM float64) {
	if perM == 0 {
		return 0, 0
	}
	a := bendM * perM
	return -2 * (1 - math.Cos(a)) / perM, 2 * math.Sin(a) / perM
}

// bow is a piece of a path: straight, or an arc to the right.
type bow struct {
	fromM       float64 // along the path
	east, north float64
	headingRad  float64
	perM        float64
	endsHereM   float64 // along the path
}

// at is the pose atM along the path, on the bow.
func (b *bow) at(atM, mps float64, timeNs int64) motion.Pose {
	d := atM - b.fromM
	h := b.headingRad + b.perM*d
	p := motion.Pose{TimeNs: timeNs, HeadingRad: h, ToolHeadingRad: h, SpeedMps: mps, YawRateRadPerS: mps * b.perM}
	sin, cos := math.Sincos(b.headingRad)
	if b.perM == 0 {
		p.EastM, p.NorthM = b.east+d*sin, b.north+d*cos
		return p
	}
	sinH, cosH := math.Sincos(h)
	p.EastM, p.NorthM = b.east+(cos-cosH)/b.perM, b.north+(sinH-sin)/b.perM
	return p
}

// upAndDown is a drive of passes with half circles between them, each at a
// speed of its own. It returns the instants in ns at which each pass begins, is half
// done and ends.
func upAndDown(l layout, lie ends, speeds []float64, driver *foot) (track motion.Track, passes [][3]int64) {
	var path []bow
	toM := 0.0
	here := motion.Pose{}
	arc := func(lengthM, perM float64) {
		b := bow{fromM: toM, east: here.EastM, north: here.NorthM, headingRad: here.HeadingRad, perM: perM, endsHereM: toM + lengthM}
		path = append(path, b)
		toM += lengthM
		here = b.at(toM, 0, 0)
	}
	starts := make([]float64, len(speeds)) // along the path
	for k := range speeds {
		starts[k] = toM
		x, y, turn := float64(k)*l.laneM, halfM+l.beyondM, 2/l.laneM
		heading := here.HeadingRad
		order := [2]end{lie[k][0], lie[k][1]}
		here = motion.Pose{EastM: x, NorthM: -y, HeadingRad: heading}
		if k%2 == 1 {
			here.NorthM, turn = y, -turn
			order = [2]end{lie[k][1], lie[k][0]}
		}
		borderM, fromM := l.beyondM, 0.0 // a border's middle, the end of the last bend
		for _, e := range order {
			perM := e.perM * math.Cos(here.HeadingRad)
			if perM != 0 {
				_, alongM := bend(perM)
				arc(borderM-alongM-fromM, 0)
				arc(bendM, -perM)
				arc(2*bendM, perM)
				arc(bendM, -perM)
				fromM = borderM + alongM
			}
			borderM += 2 * halfM
		}
		arc(l.passM()-fromM, 0)
		if k+1 < len(speeds) {
			arc(math.Pi/math.Abs(turn), turn)
		}
	}
	way := driver.passes(l, starts, toM, speeds)
	at := func(atM float64) int64 { return dayNs + int64(way.when(atM)*1e9) }
	const stepNs = 100e6
	for i := range path {
		b := &path[i]
		from, to := at(b.fromM), at(b.endsHereM)
		if i > 0 {
			from += 1e6 // the turning begins at once, a millisecond later
		}
		n := max(1, (to-from)/stepNs)
		for j := range n + 1 {
			ns := from + (to-from)*j/n
			atM, mps := way.at(float64(ns-dayNs) * 1e-9)
			track = append(track, b.at(atM, mps, ns))
		}
	}
	for k := range starts {
		endM := toM
		if k+1 < len(starts) {
			endM = starts[k+1] - math.Pi*l.laneM/2
		}
		passes = append(passes, [3]int64{at(starts[k]), at((starts[k] + endM) / 2), at(endM)})
	}
	return track, passes
}

// How a driver on the bench brakes. The controller foresees what the tractor did
// up to the command, a lead of a second before the border: a driver who begins to
// brake by a in that time makes it early by a·t²/2, 20 cm for 0.4 m/s², on a
// sound machine. So he holds his speed until the last section crosses, give or
// take as long as makes less than a centimetre, and has had it for some time
// before the first one does.
const (
	holdS           = 3.0 // before the first section drops
	earlyS, reactS  = 0.2, 0.5
	slantM, behindM = 2.5, 2.2 // of a border across the bar; of the bar
	bendsM          = 1.0      // that a bent crossing is longer than a straight one, at most
)

// passes are the speeds of a whole path, of which passes begin at starts.
func (f *foot) passes(l layout, starts []float64, endM float64, speeds []float64) *run {
	knots := []knot{{0, speeds[0]}}
	for k, v := range speeds {
		if f == nil {
			if k > 0 {
				knots = append(knots, knot{starts[k] - 0.01, speeds[k-1]}, knot{starts[k], v})
			}
			continue
		}
		if k+1 == len(speeds) {
			break
		}
		next := speeds[k+1]
		turn := f.turnShare * min(v, next)
		passEndM := starts[k+1] - math.Pi*l.laneM/2
		brakeM := passEndM - l.beyondM + slantM + behindM + v*(f.rng.Float64()*(earlyS+reactS)-earlyS)
		slowM := brakeM + (v*v-turn*turn)/(2*f.mps2)
		fastM := starts[k+1] + l.beyondM - slantM + behindM - bendsM - holdS*next
		pushM := fastM - (next*next-turn*turn)/(2*f.mps2)
		if slowM >= pushM { // no room for all of it: the turn is faster
			// v² - 2·a·(x - brakeM) = next² - 2·a·(fastM - x)
			x := (brakeM+fastM)/2 + (v*v-next*next)/(4*f.mps2)
			x = max(brakeM+0.5, min(x, fastM-0.5))
			turn = math.Sqrt(max(v*v*0.25, v*v-2*f.mps2*(x-brakeM)))
			slowM, pushM = x-0.1, x+0.1
		}
		knots = append(knots, knot{brakeM, v}, knot{slowM, turn}, knot{pushM, turn}, knot{fastM, next})
	}
	return runOf(append(knots, knot{endM, speeds[len(speeds)-1]})...)
}

// onBench is a drive on the bench, and its fault as it came out: of a pump that
// is short, what each further section that was on its way up really added,
// against the same drive with a pump that is not; of an antenna taken for being
// elsewhere, the line through its heading errors over yaw rate. (Noise lets sections start one
// after another where they should start at once, and the first then have the
// pump to themselves for a moment.)
func onBench(tb testing.TB, s shape, f fault, smooth bool) (evidence.Day, fault) {
	in := benched(tb, s, f, smooth, false)
	f.headingS = headingOf(in.Actual, s.aheadM(&f))
	if f.flowS == 0 {
		return in, f
	}
	type lift struct {
		section int16
		nth     int
	}
	was, n := map[lift]score.Event{}, map[int16]int{}
	for _, e := range benched(tb, s, f, smooth, true).Actual {
		if !e.On && e.IdealNs != 0 {
			was[lift{e.Section, n[e.Section]}] = e
			n[e.Section]++
		}
	}
	clear(n)
	var lifts []score.Event
	for _, e := range in.Actual {
		if !e.On && e.IdealNs != 0 {
			lifts = append(lifts, e)
		}
	}
	slowS := make([]float64, s.sections)
	if f.slow > 0 {
		slowS[f.slow-1] = f.slowS
	}
	others := besideBySteps(lifts, slowS, f.flowS, float64(in.LiftStrokeNs)*1e-9)
	xy, xx := 0.0, 0.0
	for i, e := range lifts {
		o := was[lift{e.Section, n[e.Section]}]
		n[e.Section]++
		if e.Kind == score.Paired && o.Kind == score.Paired {
			x := e.SpeedMps * others[i]
			xy += x * e.SpeedMps * (e.TimeErrorS - o.TimeErrorS)
			xx += x * x
		}
	}
	if xx > 0 {
		f.flowS = xy / xx
	}
	return in, f
}

// besideBySteps is how many others rise beside each lift, on average over its
// way to the effective depth, from a pump that feeds one: in small steps. slowS is
// how much later each section begins.
func besideBySteps(lifts []score.Event, slowS []float64, moveS, wholeS float64) []float64 {
	const stepS = 0.5e-3
	at := make([]float64, len(lifts))
	order := make([]int, len(lifts))
	for i, e := range lifts {
		at[i] = float64(e.IdealNs-lifts[0].IdealNs)*1e-9 - moveS + slowS[e.Section]
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(at[a], at[b]) })
	out, way := make([]float64, len(lifts)), make([]float64, len(lifts))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && at[order[to]]-at[order[to-1]] < float64(to-from+1)*wholeS {
			to++
		}
		some := order[from:to] // nobody else is near
		for t, left := at[some[0]], len(some); left > 0; t += stepS {
			rising := 0.0
			for _, i := range some {
				if at[i] <= t && way[i] < wholeS {
					rising++
				}
			}
			for _, i := range some {
				if at[i] > t || way[i] >= wholeS {
					continue
				}
				step := stepS / rising
				out[i] += (rising - 1) * max(0, min(step, moveS-way[i])) / moveS
				if way[i] += step; way[i] >= wholeS {
					left--
				}
			}
		}
		from = to
	}
	return out
}

// aheadM is how much too far forward the antenna is taken for being, so that
// the heading error at the middle of the speeds is the fault's.
func (s *shape) aheadM(f *fault) float64 { return -f.headingS * (s.kmh + s.spreadKmh/2) / 3.6 }

// headingOf is the size of the heading errors -ω·aheadM/v as a line over ω through
// zero.
func headingOf(events []score.Event, aheadM float64) float64 {
	xy, xx := 0.0, 0.0
	for _, e := range events {
		if e.Kind == score.Paired && e.YawRateRadPerS != 0 {
			xy -= e.YawRateRadPerS * e.YawRateRadPerS * aheadM / e.SpeedMps
			xx += e.YawRateRadPerS * e.YawRateRadPerS
		}
	}
	if xx == 0 {
		return 0
	}
	return xy / xx
}

// benched is one such drive. With smooth it is scored as a log is, against
// the track of its own positions; otherwise against the true one.
func benched(tb testing.TB, s shape, f fault, smooth, ample bool) evidence.Day {
	rng := rand.New(rand.NewPCG(s.seed, 78))
	passes := max(1, (s.transitions+s.sections)/(2*s.sections))
	lie, speeds := make(ends, passes), make([]float64, passes)
	for k := range passes {
		speeds[k] = (s.kmh + s.spreadKmh*rng.Float64()) / 3.6
		for e := range lie[k] {
			if rng.IntN(2) == 0 {
				lie[k][e].slope = float64(1 - 2*rng.IntN(2))
			}
			if s.turning {
				lie[k][e].perM = (2*rng.Float64() - 1) / tightestM
				lie[k][e].shiftEast, _ = bend(lie[k][e].perM)
			}
		}
	}
	l := straightOn
	if s.turning {
		l = inBends
	}
	track, driven := upAndDown(l, lie, speeds, footOf(&s))

	h := hoist()
	if f.flowS > 0 {
		// The pump feeds one section: each further one adds its stroke to the
		// effective depth.
		h.StrokeM = 0.04
		if !ample {
			h.PumpFlowM3PerS = h.ValveFlowM3PerS
		}
		travel := h.RaisedM + h.WorkingDepthM
		rod := h.ValveFlowM3PerS / (math.Pi / 4 * h.BoreM * h.BoreM)
		h.EffectiveDepthM = h.WorkingDepthM - f.flowS*rod*travel/h.StrokeM
	}
	known := h
	if f.pumpLMin > 0 {
		const lMin = 1e-3 / 60
		h.ValveFlowM3PerS, h.PumpFlowM3PerS = 8*lMin, f.pumpLMin*lMin
		known = h
		known.PumpFlowM3PerS = 40 * lMin
	}
	machine := barOf(s.sections)
	set := sections.DefaultSettings()
	set.LiftLead, set.DropLead = sim.Leads(&known, s.sections, f.aware)
	in := evidence.Day{Machine: machine, Settings: set, LiftStrokeNs: h.FullLiftTimeNs(1) - h.LiftDeadNs}

	// What the controller of the day was told.
	told := set
	told.LiftLead.DeadNs -= int64(f.liftS * 1e9)
	told.DropLead.DeadNs -= int64(f.dropS * 1e9)
	// A place error of lifts alone is half a bar too far back, half a border too
	// far out; of drops alone a border too far in.
	believed := *machine
	believed.Sections = append([]sections.Section{}, machine.Sections...)
	// The antenna is taken for being further forward than it is: the heading is
	// then wrong by -ω·aheadM/v, and the tools are where they are on the straight.
	aheadM := s.aheadM(&f)
	believed.AntennaXM += aheadM
	for i := range believed.Sections {
		believed.Sections[i].XM += aheadM - f.bothM - (f.liftM+f.dropM)/2
	}
	outM := (f.liftM - f.dropM) / 2
	truth := fieldOf(tb, l, lie, func(int) float64 { return 0 }, 0)
	mapped := fieldOf(tb, l, lie, func(k int) float64 {
		if 3*k >= 2*passes {
			return outM + f.borderM
		}
		return outM
	}, outM)
	ctl, err := sections.New(&believed, mapped, told)
	if err != nil {
		tb.Fatal(err)
	}
	bank, err := hydraulics.New(h, s.sections)
	if err != nil {
		tb.Fatal(err)
	}
	p := receiver.Params{
		LatencyNs: 100e6, SigmaM: s.noiseM, CorrelationS: 60, WhiteShare: 0.1, VelocitySigmaMps: 0.02,
		FloatSigmaM: f.floatM, Seed: s.seed,
	}
	if f.floatM > 0 {
		for k := 4; k < passes; k += 5 {
			p.Faults = append(p.Faults, receiver.Fault{FromS: float64(driven[k][0]-dayNs) * 1e-9, ToS: float64(driven[k][2]-dayNs) * 1e-9, Kind: receiver.Float})
		}
	}
	rec, err := receiver.New(track, &truth.Plane, machine, p)
	if err != nil {
		tb.Fatal(err)
	}
	bench := sim.NewBench(ctl, told, bank)
	var samples []motion.Sample
	nextS := -1.0
	for rec.Scan() {
		fix := *rec.Fix()
		fix.ArrivalNs = 0
		in.Fixes = append(in.Fixes, evidence.FixOf(&fix))
		e, n := truth.Plane.ToPlane(fix.LatDeg, fix.LonDeg)
		samples = append(samples, motion.SampleOf(&fix, e, n))
		now := float64(fix.TimeNs-dayNs) * 1e-9
		if now >= nextS && (f.coldS > 0 || f.slow > 0) {
			nextS = now + 5
			for i := range s.sections {
				extra := f.coldS * math.Exp(-(now-(l.beyondM/speeds[0]))/max(f.tauS, 1))
				if i+1 == f.slow {
					extra += f.slowS
				}
				if err := bank.SetFault(i, hydraulics.Fault{ExtraDeadNs: int64(extra * 1e9)}); err != nil {
					tb.Fatal(err)
				}
			}
		}
		fix.TimeNs += int64(f.latencyS * 1e9) // older than it is taken for
		bench.Fix(&fix)
	}
	bench.Finish()
	changes := bench.Changes
	if f.byHand > 0 {
		changes = handled(changes, driven, s.sections, f.byHand, rng)
	}
	if smooth {
		track = motion.Smooth(samples, machine.Antenna())
	}
	gate := &sections.Gate{Field: truth, Machine: machine, Rule: set.Rule, CosRowTolerance: math.Cos(set.RowToleranceRad), MinWorkRadiusM: set.MinWorkRadiusM}
	res, err := score.Run(track, gate, changes, nil, score.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	in.Actual = res.Events
	if s.told {
		var told []sections.WorkChange
		for _, p := range bench.Setpoints {
			told = append(told, sections.WorkChange{TimeNs: p.DueNs, Section: p.Section, On: p.On})
		}
		slices.SortStableFunc(told, func(a, b sections.WorkChange) int {
			return cmp.Or(cmp.Compare(a.TimeNs, b.TimeNs), cmp.Compare(a.Section, b.Section))
		})
		if res, err = score.Run(track, gate, told, nil, score.Options{}); err != nil {
			tb.Fatal(err)
		}
		in.Setpoint = res.Events
	}
	return in
}

// handled adds a lift and a drop of all sections by hand in the middle of a
// share of the passes.
func handled(changes []sections.WorkChange, passes [][3]int64, n int, share float64, rng *rand.Rand) []sections.WorkChange {
	var out []sections.WorkChange
	next := 0
	for _, pass := range passes {
		if rng.Float64() >= share {
			continue
		}
		mid := pass[1]
		for ; next < len(changes) && changes[next].TimeNs < mid; next++ {
			out = append(out, changes[next])
		}
		for _, m := range []struct {
			after int64
			on    bool
		}{{0, false}, {3e9, true}} {
			for i := range n {
				out = append(out, sections.WorkChange{TimeNs: mid + m.after, Section: int16(i), On: m.on})
			}
		}
	}
	return append(out, changes[next:]...)
}

// The pump in closed form is the pump in small steps.
func TestOthersInSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends := rapid.SliceOfN(rapid.Float64Range(0, 3), 1, 8).Draw(t, "ends")
		slices.Sort(ends)
		var lifts []score.Event
		for i, end := range ends {
			lifts = append(lifts, score.Event{Section: int16(i), Kind: score.Paired, IdealNs: int64(end * 1e9), SpeedMps: 2})
		}
		const moveS, wholeS = 0.2, 0.7
		in := evidence.Day{Machine: barOf(8), Actual: lifts, Settings: sections.Settings{LiftLead: sections.Lead{MoveNs: moveS * 1e9}}, LiftStrokeNs: wholeS * 1e9}
		moves := in.Moves(evidence.Whole, evidence.SlowS{})
		in.Sharing(evidence.Whole, evidence.SlowS{}, moves).SetOthers(moves, evidence.OneFed)
		for i, want := range besideBySteps(lifts, make([]float64, len(lifts)), moveS, wholeS) {
			if got := moves[i].Others; !(math.Abs(got-want) <= 0.05) {
				t.Errorf("lift %d has %g others beside it, in small steps %g", i, got, want)
			}
		}
	})
}
