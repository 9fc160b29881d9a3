// What holds of any machine, field, drive and reception.

package sim_test

import (
	"bytes"
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"sync"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim"
	"liftbench/sim/campaign"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// check checks a property on 40 drives beside other properties, the same ones each time:
// on 400 with LIFTBENCH_CAMPAIGN=ci. With LIFTBENCH_CAMPAIGN=full it draws 2000 new ones;
// -rapid.checks and -rapid.seed say how many and which.
func check(t *testing.T, property func(*rapid.T)) {
	setChecks.Do(func() {
		drives, seed := strconv.Itoa(campaign.Times(40, 400, 2000)), "1"
		if campaign.Full() {
			seed = "0" // another each time
		}
		for name, value := range map[string]string{"rapid.checks": drives, "rapid.seed": seed} {
			if f := flag.Lookup(name); f.Value.String() == f.DefValue {
				flag.Set(name, value)
			}
		}
	})
	t.Parallel()
	rapid.Check(t, property)
}

var setChecks sync.Once

// world is a drawn drive: a four-cornered body with crop rows, in places a
// keep-out pole, ditch or tramline in it and a headland around it, worked or not,
// driven from end to end, in places with stops. In every other world driver,
// receiver and lifts err as they typically do.
type world struct {
	machine *sections.Machine
	zones   []field.Zone
	field   *field.Field
	track   motion.Track
	set     sections.Settings
	h       hydraulics.Params
	errs    bool
}

// What typically errs, by the names of what is set: standard deviations of the driver's
// line, of his speed from pass to pass, of position and velocity, of the offset after
// a spell with a float solution, of dead times and flows; and how cold the oil is.
// The numbers are those of the conditions called typical, whose reasons stand
// beside them.
const (
	steerSigmaM      = 0.02
	passSpeedSigma   = 0.04
	positionSigmaM   = 0.0143
	velocitySigmaMps = 0.02
	refixSigmaM      = 0.02 / math.Sqrt2
	deadSigmaNs      = 15e6
	flowSigma        = 0.08
	coldDegC         = 15
)

// sizeM is about how wide and long a body is.
const sizeM = 36.0

func drawWorld(t *rapid.T) *world {
	corner := func(name string, e, n float64) orb.Point {
		return orb.Point{
			e + rapid.Float64Range(-6, 6).Draw(t, name+".east"),
			n + rapid.Float64Range(-6, 6).Draw(t, name+".north"),
		}
	}
	body := orb.Ring{corner("sw", 0, 0), corner("se", sizeM, 0), corner("ne", sizeM, sizeM), corner("nw", 0, sizeM)}
	w := &world{h: lift(), set: sections.DefaultSettings()}
	w.zones = []field.Zone{{
		Name: "body", RowBearingRad: rapid.Float64Range(-3, 3).Draw(t, "bearing"),
		Polygons: orb.MultiPolygon{{append(body, body[0])}},
	}}
	if rapid.Bool().Draw(t, "headland") {
		w.zones = append(w.zones, strips(body, rapid.Float64Range(6, 12).Draw(t, "strip"))...)
	}
	if rapid.Bool().Draw(t, "pole") {
		e, n := rapid.Float64Range(10, 25).Draw(t, "pole.east"), rapid.Float64Range(10, 25).Draw(t, "pole.north")
		w.zones = append(w.zones, field.Zone{Name: "pole", Kind: field.KeepOut, RowBearingRad: math.NaN(),
			Polygons: orb.MultiPolygon{{{{e, n}, {e + 3, n + 1}, {e + 1, n + 4}, {e, n}}}}})
	}
	if rapid.Bool().Draw(t, "drilled") {
		w.zones[0].Drill = field.Drill{Known: true, At: orb.Point{rapid.Float64Range(0, 30).Draw(t, "row.east"), 10}, WidthM: rapid.SampledFrom([]float64{0, 3, 6}).Draw(t, "drill")}
	}
	if rapid.Bool().Draw(t, "ditch") {
		n := rapid.Float64Range(5, 30).Draw(t, "ditch.north")
		w.zones = append(w.zones, band("ditch", -20, n, sizeM+20, n+rapid.Float64Range(-8, 8).Draw(t, "ditch.slant"), rapid.Float64Range(0.3, 4).Draw(t, "ditch.wide")))
	}
	if rapid.Bool().Draw(t, "tramline") {
		b := w.zones[0].RowBearingRad
		e := rapid.Float64Range(10, 25).Draw(t, "tramline.east")
		w.zones = append(w.zones, band("tramline", e-60*math.Sin(b), sizeM/2-60*math.Cos(b), e+60*math.Sin(b), sizeM/2+60*math.Cos(b), rapid.Float64Range(0.4, 0.8).Draw(t, "tramline.wide")))
	}
	if rapid.Bool().Draw(t, "left") {
		for i := range w.zones {
			w.zones[i].Unworked = w.zones[i].Kind == field.Headland
		}
	}
	w.field = fieldOf(t, w.zones)

	mount := sections.Mount(rapid.IntRange(0, 2).Draw(t, "mount"))
	x := rapid.Float64Range(-5, -1.5).Draw(t, "x")
	if mount == sections.FrontRigid {
		x = -x
	}
	w.machine = bar(mount, x, rapid.IntRange(6, 9).Draw(t, "sections"), 1)
	if mount == sections.Trailed {
		w.machine.HitchBehindM, w.machine.DrawbarM = 0.8, 3
	}
	w.errs = rapid.Bool().Draw(t, "errors")
	w.set.Rule = sections.EdgeRule(rapid.IntRange(0, 2).Draw(t, "rule"))
	w.set.LiftLead, w.set.DropLead = sim.Leads(&w.h, len(w.machine.Sections), true)
	if rapid.Bool().Draw(t, "worked ground left") {
		w.set.WorkedGround, w.set.RowSpacingM = sections.LeaveWorked, 0.5
	}
	w.drive(t)
	return w
}

// band is a keep-out so wide, to the right of the line from one point to another.
func band(name string, e0, n0, e1, n1, wideM float64) field.Zone {
	l := math.Hypot(e1-e0, n1-n0)
	e, n := (n1-n0)/l*wideM, (e0-e1)/l*wideM
	return field.Zone{Name: name, Kind: field.KeepOut, RowBearingRad: math.NaN(),
		Polygons: orb.MultiPolygon{{{{e0, n0}, {e0 + e, n0 + n}, {e1 + e, n1 + n}, {e1, n1}, {e0, n0}}}}}
}

// strips are the four of a headland widthM wide or more beside the edges of a body,
// each with rows along its edge.
func strips(body orb.Ring, widthM float64) []field.Zone {
	out := make([]orb.Point, 4)
	for k, p := range body[:4] {
		side := func(x float64) float64 { return math.Copysign(widthM, x-sizeM/2) }
		out[k] = orb.Point{p[0] + side(p[0]), p[1] + side(p[1])}
	}
	var zones []field.Zone
	for k := range out {
		n := (k + 1) % 4
		a, b := body[k], body[n]
		zones = append(zones, field.Zone{
			Name: "headland " + string(rune('1'+k)), Kind: field.Headland, RowBearingRad: math.Atan2(b[0]-a[0], b[1]-a[1]),
			Polygons: orb.MultiPolygon{{{a, out[k], out[n], b, a}}},
		})
	}
	return zones
}

// drive draws a driver and lets him work the field.
func (w *world) drive(t *rapid.T) {
	stops := rapid.SampledFrom([]float64{0, 0, 60, 200}).Draw(t, "stops an hour")
	p := drive.Params{
		StopsPerH: stops, StopS: rapid.SampledFrom([]float64{1, 3, 10, 40}).Draw(t, "for"),
		BrakeMps2: rapid.Float64Range(0.3, 1).Draw(t, "brake"), StartMps2: rapid.Float64Range(0.3, 1).Draw(t, "start"),
		StartNs:    startNs,
		WorkMps:    rapid.Float64Range(1.5, 4).Draw(t, "work"),
		BorderMps:  rapid.Float64Range(1, 3).Draw(t, "border"),
		SkipPasses: rapid.IntRange(0, 2).Draw(t, "skip"),
		// Of a drill, or anywhere.
		RowSpacingM: rapid.SampledFrom([]float64{0, 0.25, 0.5}).Draw(t, "row spacing"),
		Seed:        rapid.Uint64().Draw(t, "seed"),
	}
	if w.errs {
		p.SteerSigmaM, p.PassSpeedSigma = steerSigmaM, passSpeedSigma
	}
	d, err := drive.Plan(w.field, w.machine, p)
	if err != nil {
		t.Fatal(err)
	}
	w.track = d.Track
}

func fieldOf(t rapid.TB, zones []field.Zone) *field.Field {
	f, err := field.New(plane, nil, zones)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// drawFaults is a reception with gaps, silences and spells without a fix; and where
// there are errors, noise, late arrivals, and spells with a float solution.
func drawFaults(t *rapid.T, w *world) receiver.Params {
	p := receiver.Params{
		RateHz:    rapid.SampledFrom([]float64{2, 5, 10, 20}).Draw(t, "rate"),
		LostShare: rapid.Float64Range(0, 0.3).Draw(t, "lost"),
		Seed:      rapid.Uint64().Draw(t, "seed"),
	}
	seconds := float64(w.track[len(w.track)-1].TimeNs-startNs) * 1e-9
	for range rapid.IntRange(0, 4).Draw(t, "faults") {
		from := rapid.Float64Range(0, seconds).Draw(t, "from")
		p.Faults = append(p.Faults, receiver.Fault{
			FromS: from, ToS: from + rapid.Float64Range(0.1, 8).Draw(t, "for"),
			Kind: receiver.FaultKind(rapid.IntRange(1, 2).Draw(t, "kind")),
		})
	}
	if !w.errs {
		return p
	}
	p.LatencyNs, p.JitterNs, p.Stamp = 100e6, 30e6, receiver.UnixStamp
	p.SigmaM, p.CorrelationS, p.WhiteShare = positionSigmaM, 60, 0.1
	p.VelocitySigmaMps, p.RefixSigmaM = velocitySigmaMps, refixSigmaM
	if rapid.Bool().Draw(t, "float") {
		from := rapid.Float64Range(0, seconds).Draw(t, "from")
		p.Faults = append(p.Faults, receiver.Fault{FromS: from, ToS: from + rapid.Float64Range(1, 30).Draw(t, "for"), Kind: receiver.Float})
	}
	return p
}

// misplaced is by how much a fix is off: its antenna's place, in m, and its velocity,
// in m/s. Of a fix without position, nothing.
func (w *world) misplaced(f *nmea.Fix, cursor *int) (m, mps float64) {
	if !f.HasPosition() {
		return 0, 0
	}
	p := w.track.At(f.TimeNs, cursor)
	sin, cos := math.Sincos(p.HeadingRad)
	x, y := w.machine.AntennaXM, w.machine.AntennaYM
	e, n := w.field.Plane.ToPlane(f.LatDeg, f.LonDeg)
	m = math.Hypot(e-p.EastM-x*sin-y*cos, n-p.NorthM-x*cos+y*sin)
	if math.IsNaN(f.SpeedMps) || math.IsNaN(f.CourseDeg) {
		return m, 0
	}
	fwd, right := p.SpeedMps-p.YawRateRadPerS*y, p.YawRateRadPerS*x
	cs, cc := math.Sincos(f.CourseDeg * math.Pi / 180)
	return m, math.Hypot(f.SpeedMps*cs-fwd*sin-right*cos, f.SpeedMps*cc-fwd*cos+right*sin)
}

// fixes are what the receiver says of the drive, before it is rounded to
// sentences.
func (w *world) fixes(t rapid.TB, p receiver.Params) []nmea.Fix {
	r, err := receiver.New(w.track, &w.field.Plane, w.machine, p)
	if err != nil {
		t.Fatal(err)
	}
	var all []nmea.Fix
	for r.Scan() {
		all = append(all, *r.Fix())
	}
	return all
}

// bench is a bench of the drawn machine, with lifts or without.
func (w *world) bench(t rapid.TB, bank *hydraulics.Bank) *sim.Bench {
	c, err := sections.New(w.machine, w.field, w.set)
	if err != nil {
		t.Fatal(err)
	}
	return sim.NewBench(c, w.set, bank)
}

// drawBank draws lifts, some of their sections slow to begin or short of flow; where
// there are errors, all a little, and cold.
func drawBank(t *rapid.T, w *world) (*hydraulics.Bank, []hydraulics.Fault, []hydraulics.Deviation) {
	faults, deviations := make([]hydraulics.Fault, len(w.machine.Sections)), make([]hydraulics.Deviation, len(w.machine.Sections))
	bank, err := hydraulics.New(w.h, len(faults))
	if err != nil {
		t.Fatal(err)
	}
	if w.errs {
		spread := hydraulics.Spread{LiftDeadNs: deadSigmaNs, DropDeadNs: deadSigmaNs, Flow: flowSigma, Seed: rapid.Uint64().Draw(t, "spread")}
		deviations = spread.Draw(len(faults))
		for i, d := range deviations {
			if err := bank.SetDeviation(i, d); err != nil {
				t.Fatal(err)
			}
		}
		if err := bank.Warm(hydraulics.Warming{FromDegC: coldDegC, TimeConstantS: 600}); err != nil {
			t.Fatal(err)
		}
	}
	for range rapid.IntRange(0, 3).Draw(t, "faulty lifts") {
		i := rapid.IntRange(0, len(faults)-1).Draw(t, "section")
		faults[i] = hydraulics.Fault{
			ExtraDeadNs: rapid.Int64Range(0, 1e9).Draw(t, "extra dead time"),
			FlowLoss:    rapid.Float64Range(0, 0.7).Draw(t, "flow loss"),
		}
		if err := bank.SetFault(i, faults[i]); err != nil {
			t.Fatal(err)
		}
	}
	return bank, faults, deviations
}

// decide returns the setpoints of the whole drive.
func (w *world) decide(t rapid.TB, fixes []nmea.Fix) []sections.Setpoint {
	b := w.bench(t, nil)
	for i := range fixes {
		b.Fix(&fixes[i])
	}
	return b.Setpoints
}

// takesEffectNs is when a setpoint lifts or drops the tool, alone.
func (w *world) takesEffectNs(s sections.Setpoint) int64 {
	if s.On {
		return s.DueNs + w.set.DropLead.AloneNs()
	}
	return s.DueNs + w.set.LiftLead.AloneNs()
}

// No section is put to work where the whole of it lies outside all zones. As a
// setpoint is given the pose is extrapolated from the newest fix; a driver who
// brakes or swerves at 1 m/s² meanwhile comes out ½·a·t² from there. Where the
// receiver errs, so does the tool: by as much as the fixes of the past two seconds do at
// worst, by their error of velocity for as long, and by what that turns the bar.
// Positions that jump away and back farther than the machine could have driven are refused, and change
// nothing. One that it could have driven is believed; what follows is judged again 2 s after a true one is.
func TestNoWorkOutsideAllZones(t *testing.T) {
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		fixes := w.fixes(t, drawFaults(t, w))
		jumped := make([]bool, len(fixes))
		for range rapid.IntRange(0, 5).Draw(t, "jumps") {
			k := rapid.IntRange(0, len(fixes)-1).Draw(t, "at")
			if k > 20 && k+2 < len(fixes) {
				by := rapid.Float64Range(1e-4, 1e-2).Draw(t, "by")
				fixes[k].LatDeg += by
				fixes[k+1].LonDeg -= by
				jumped[k], jumped[k+1] = true, true
			}
		}
		b := w.bench(t, nil)
		cursor, newestNs := 0, startNs
		off := make([]struct{ m, mps float64 }, len(fixes))
		since, misledNs := 0, int64(0) // until then nothing is judged
		for i := range fixes {
			if w.errs {
				off[i].m, off[i].mps = w.misplaced(&fixes[i], &cursor)
			}
			for fixes[since].TimeNs < fixes[i].TimeNs-2e9 {
				since++
			}
			had, accepted := len(b.Setpoints), b.Controller.Counts().Accepted
			b.Fix(&fixes[i])
			believed := b.Controller.Counts().Accepted > accepted
			switch {
			case jumped[i] && believed:
				misledNs = math.MaxInt64
			case jumped[i]:
				off[i].m, off[i].mps = 0, 0
			case believed && misledNs == math.MaxInt64:
				misledNs = fixes[i].TimeNs + 2e9
			}
			for _, s := range b.Setpoints[had:] {
				if !s.On || fixes[i].TimeNs < misledNs {
					continue
				}
				at := w.takesEffectNs(s)
				p := w.track.At(at, &cursor)
				f := w.machine.Frame(&p)
				le, ln, re, rn := w.machine.Line(int(s.Section), &f)
				if w.field.Share(le, ln, re, rn, ^field.Mask(0)) > 0 {
					continue
				}
				half := w.machine.Sections[s.Section].WidthM / 2
				away := w.field.DistanceM((le+re)/2, (ln+rn)/2, 10) - half
				old := float64(at-newestNs) * 1e-9
				most := 0.02 + 0.5*old*old
				if w.errs {
					m, mps := 0.0, 0.0
					for _, o := range off[since : i+1] {
						m, mps = max(m, o.m), max(mps, o.mps)
					}
					most += m + mps*(old+w.machine.ReachM()/max(p.SpeedMps, 0.5))
				}
				if away > most {
					t.Fatalf("section %d works from %d on, %.3f m outside all zones; the fix was %.3f s old: want %.3f m at most", s.Section+1, at, away, old, most)
				}
			}
			if believed {
				newestNs = fixes[i].TimeNs
			}
		}
	})
}

// No setpoint is given for an instant that is past, none of a section comes
// before one that was given earlier, each is the opposite of the one before,
// and each is carried out, within dead time and stroke as its lift has them, with its
// deviation and the coldest oil, unless
// another takes its place. So is every lift followed by a drop, or the end.
func TestEverySetpointIsCarriedOut(t *testing.T) {
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		fixes := w.fixes(t, drawFaults(t, w))
		bank, faults, deviations := drawBank(t, w)
		h := w.h
		if w.errs {
			h.OilTempDegC = coldDegC // as slow as they get
		}
		b := w.bench(t, bank)
		last := make([]sections.Setpoint, len(w.machine.Sections))
		for i := range fixes {
			had, before := len(b.Setpoints), bank.NowNs()
			b.Fix(&fixes[i])
			for _, s := range b.Setpoints[had:] {
				l := &last[s.Section]
				if s.DueNs < before || s.DueNs < l.DueNs || s.On == l.On {
					t.Fatalf("%+v after %+v, given after %d", s, *l, before)
				}
				*l = s
			}
		}
		b.Finish()
		for i := range last {
			var told []sections.Setpoint
			for _, s := range b.Setpoints {
				if int(s.Section) == i {
					told = append(told, s)
				}
			}
			var done []sections.WorkChange
			on := false
			for _, c := range b.Changes {
				if int(c.Section) == i {
					if c.On == on {
						t.Fatalf("section %d changes to what it is: %+v", i+1, c)
					}
					on = c.On
					done = append(done, c)
				}
			}
			for k, s := range told {
				deadNs, takesNs, offNs := h.DropDeadNs, h.DropTimeNs(), deviations[i].DropDeadNs
				if !s.On {
					deadNs, takesNs, offNs = h.LiftDeadNs, h.LiftTimeNs(len(last)), deviations[i].LiftDeadNs
				}
				strokeNs := float64(takesNs-deadNs) / ((1 - faults[i].FlowLoss) * min(1, 1+deviations[i].Flow))
				untilNs := s.DueNs + deadNs + max(offNs, -deadNs) + faults[i].ExtraDeadNs + int64(math.Ceil(strokeNs))
				state := false
				for _, c := range done {
					if c.TimeNs <= untilNs {
						state = c.On
					}
				}
				if state != s.On && (k+1 == len(told) || told[k+1].DueNs > untilNs) {
					t.Fatalf("%+v is not carried out up to %d: %+v", s, untilNs, done)
				}
			}
			if on != last[i].On {
				t.Fatalf("section %d ends in work %v; told %v", i+1, on, last[i].On)
			}
		}
	})
}

// Where pass lies beside pass, what was passed is the zone, whatever the
// reception made of it: worked - overrun + miss = passed = zone; and what was
// worked is the ground worked once and that worked again. A driver who strays from his
// line passes as much more or less along both sides of the zone. The lines on which that is
// measured run along the edges of a ditch square to the passes: half their distance
// may be off on both of its sides.
func TestAreasAddUp(t *testing.T) {
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		// As wide as so many passes, so that the last one overlaps no other.
		widthM := float64(len(w.machine.Sections) * rapid.IntRange(2, 5).Draw(t, "passes"))
		w.zones = slices.DeleteFunc(w.zones, func(z field.Zone) bool { return z.Kind == field.Headland })
		body := &w.zones[0]
		body.RowBearingRad, body.Drill = 0, field.Drill{}
		for k, e := range []float64{0, widthM, widthM, 0, 0} {
			body.Polygons[0][0][k][0] = e
		}
		w.field = fieldOf(t, w.zones)
		w.drive(t)
		bank, _, _ := drawBank(t, w)
		b := w.bench(t, bank)
		for _, f := range w.fixes(t, drawFaults(t, w)) {
			b.Fix(&f)
		}
		b.Finish()
		r, err := score.Run(w.track, b.Controller.Gate(), b.Changes, nil, score.Options{})
		if err != nil {
			t.Fatal(err)
		}
		strayM := 0.0
		if w.errs {
			strayM = 3 * steerSigmaM
		}
		a := r.Area
		for _, c := range []struct {
			name      string
			got, want float64
			more      float64
		}{
			{"worked - overrun + miss is passed", a.WorkedM2 - a.OverrunM2 + a.MissM2, a.PassedM2, 0},
			{"passed is the zone", a.PassedM2, r.ZoneM2, strayM * 2 * (sizeM + 12)},
			{"worked is once and again", r.WorkedOnceM2 + a.RepeatM2, a.WorkedM2, r.HatchM * widthM},
		} {
			if math.Abs(c.got-c.want) > 0.001*r.ZoneM2+c.more {
				t.Fatalf("%s: %.3f m², %.3f m²; %+v", c.name, c.got, c.want, r)
			}
		}
	})
}

// A straight drive run backwards in time, the machine turned about, drops where
// it lifted and lifts where it dropped, at the mirrored instants.
func TestTimeReversal(t *testing.T) {
	check(t, func(rt *rapid.T) {
		f := between(t, -20, 30, rapid.Float64Range(-0.45, 0.45).Draw(rt, "slant"))
		n := rapid.IntRange(1, 8).Draw(rt, "sections")
		m := bar(sections.RearRigid, rapid.Float64Range(-5, 5).Draw(rt, "x"), n, rapid.Float64Range(0.3, 1.2).Draw(rt, "width"))
		back := *m
		back.Sections = make([]sections.Section, n)
		for i, s := range m.Sections {
			back.Sections[n-1-i] = sections.Section{XM: -s.XM, YM: -s.YM, WidthM: s.WidthM}
		}
		v := rapid.Float64Range(1, 4).Draw(rt, "speed")
		heading := rapid.Float64Range(-0.4, 0.4).Draw(rt, "heading")
		sin, cos := math.Sincos(heading)
		const half = 70.0
		w := &world{machine: m, field: f, set: sections.DefaultSettings()}
		w.set.Rule = sections.EdgeRule(rapid.IntRange(0, 2).Draw(rt, "rule"))
		lead := sections.Lead{MoveNs: rapid.Int64Range(0, 800e6).Draw(rt, "lead")}
		w.set.LiftLead, w.set.DropLead = lead, lead
		w.track = drive.Straight(startNs, -half*sin, -half*cos, heading, v, 2*half)
		there := w.decide(rt, w.fixes(rt, receiver.Params{}))
		w.machine = &back
		w.track = drive.Straight(startNs, half*sin, half*cos, heading+math.Pi, v, 2*half)
		again := w.decide(rt, w.fixes(rt, receiver.Params{}))

		if len(there) != 2*n || len(again) != 2*n {
			rt.Fatalf("%d and %d setpoints; want %d", len(there), len(again), 2*n)
		}
		endNs := startNs + int64(math.Round(2*half/v*1e9))
		for _, s := range there {
			k := slices.IndexFunc(again, func(r sections.Setpoint) bool { return int(r.Section) == n-1-int(s.Section) && r.On != s.On })
			if k < 0 {
				rt.Fatalf("no counterpart of %+v in %+v", s, again)
			}
			if off := w.takesEffectNs(again[k]) - startNs - (endNs - w.takesEffectNs(s)); math.Abs(float64(off)) > 1e6 {
				rt.Fatalf("%+v and %+v are %d ns off", s, again[k], off)
			}
		}
	})
}

// alike checks that two worlds decide the same, setpoint by setpoint, to within
// a distance at the speed of the drive.
func alike(t *rapid.T, w *world, got, want []sections.Setpoint, withinM float64) {
	if len(got) != len(want) {
		t.Fatalf("%d setpoints; want %d", len(got), len(want))
	}
	cursor := 0
	for i := range got {
		g, s := got[i], want[i]
		p := w.track.At(s.DueNs, &cursor)
		off := math.Abs(p.SpeedMps) * math.Abs(float64(g.DueNs-s.DueNs)) * 1e-9
		if g.Section != s.Section || g.On != s.On || g.Reason != s.Reason || off > withinM {
			t.Fatalf("setpoint %d: %+v; want %+v within %g m, it is %g m off", i, g, s, withinM, off)
		}
	}
}

// Turning the world and moving it, fixes and their errors too, moves no transition by
// more than 1 mm.
func TestWorldTurnedAndMoved(t *testing.T) {
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		turn := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "turn")
		east, north := rapid.Float64Range(-300, 300).Draw(t, "east"), rapid.Float64Range(-300, 300).Draw(t, "north")
		sin, cos := math.Sincos(turn)
		move := func(e, n float64) (float64, float64) { return e*cos + n*sin + east, n*cos - e*sin + north }
		moved := *w
		moved.zones = slices.Clone(w.zones)
		for i := range moved.zones {
			z := &moved.zones[i]
			z.RowBearingRad += turn
			z.Drill.At[0], z.Drill.At[1] = move(z.Drill.At[0], z.Drill.At[1])
			z.Polygons = z.Polygons.Clone()
			for _, r := range z.Polygons[0] {
				for k := range r {
					r[k][0], r[k][1] = move(r[k][0], r[k][1])
				}
			}
		}
		moved.field = fieldOf(t, moved.zones)
		fixes := w.fixes(t, drawFaults(t, w))
		there := slices.Clone(fixes)
		for i := range there {
			f := &there[i]
			f.LatDeg, f.LonDeg = w.field.Plane.ToGeodetic(move(w.field.Plane.ToPlane(f.LatDeg, f.LonDeg)))
			f.CourseDeg = math.Mod(f.CourseDeg+turn*180/math.Pi+360, 360)
		}
		alike(t, w, moved.decide(t, there), w.decide(t, fixes), 0.001)
	})
}

// Positions that are off by a hundredth of a micrometre, each otherwise, move no transition by
// more than 1 mm.
func TestHardlyMovedPositions(t *testing.T) {
	const offDeg = 1e-13 // 0.01 µm
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		fixes := w.fixes(t, drawFaults(t, w))
		moved := slices.Clone(fixes)
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "off"), 0))
		for i := range moved {
			moved[i].LatDeg += offDeg * rng.NormFloat64()
			moved[i].LonDeg += offDeg * rng.NormFloat64()
		}
		alike(t, w, w.decide(t, moved), w.decide(t, fixes), 0.001)
	})
}

// Vertices on straight edges change nothing but the last step in which the
// controller halves the time to a crossing, 12 µs.
func TestVerticesOnStraightEdges(t *testing.T) {
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		more := *w
		more.zones = slices.Clone(w.zones)
		for i := range more.zones {
			z := &more.zones[i]
			ring := z.Polygons[0][0]
			var dense orb.Ring
			for k := 1; k < len(ring); k++ {
				a, b := ring[k-1], ring[k]
				n := rapid.IntRange(1, 12).Draw(t, "pieces")
				for j := range n {
					u := float64(j) / float64(n)
					dense = append(dense, orb.Point{a[0] + u*(b[0]-a[0]), a[1] + u*(b[1]-a[1])})
				}
			}
			z.Polygons = orb.MultiPolygon{{append(dense, dense[0])}}
		}
		more.field = fieldOf(t, more.zones)
		fixes := w.fixes(t, drawFaults(t, w))
		alike(t, w, more.decide(t, fixes), w.decide(t, fixes), 4*12e-6+1e-6)
	})
}

// A log split anywhere, and gone on with from a saved state, gives the same
// decisions bit for bit.
func TestSplitAnywhere(t *testing.T) {
	check(t, func(t *rapid.T) {
		w := drawWorld(t)
		fixes := w.fixes(t, drawFaults(t, w))
		whole := w.bench(t, nil)
		at := rapid.IntRange(0, len(fixes)-1).Draw(t, "split")
		for i := range fixes[:at] {
			whole.Fix(&fixes[i])
		}
		// A bench of its own, the schedule's as it was, with a new controller.
		split := *whole
		split.Setpoints = slices.Clone(whole.Setpoints)
		split.Controller = w.bench(t, nil).Controller
		split.Decider = split.Controller
		if err := split.Controller.Restore(whole.Controller.AppendState(nil)); err != nil {
			t.Fatal(err)
		}
		for i := at; i < len(fixes); i++ {
			whole.Fix(&fixes[i])
		}
		for i := at; i < len(fixes); i++ {
			split.Fix(&fixes[i])
		}
		if !slices.Equal(split.Setpoints, whole.Setpoints) {
			t.Fatalf("split at %d:\n%v\nwhole:\n%v", at, split.Setpoints, whole.Setpoints)
		}
		if !bytes.Equal(split.Controller.AppendState(nil), whole.Controller.AppendState(nil)) {
			t.Fatal("states differ at the end")
		}
	})
}
