// Days made up to hold one thing or another, and what is said of each.

package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score"
)

// usual is a day on which everything can be told apart.
func clearDay(seed uint64) shape {
	return shape{seed: seed, transitions: 240, sections: 6, kmh: 4, spreadKmh: 5, noiseM: 0.0143, lightM: 0.003}
}

// told adds the setpoints of a day: each lead before its actual transition, less
// what the machine took longer.
func withSetpoints(in evidence.Day, slow func(e *score.Event) float64) evidence.Day {
	for _, e := range in.Actual {
		if e.Kind == score.Paired {
			late := leadAloneS(&in, e.On) + slow(&e)
			e.ActualNs -= int64(math.Round(late * 1e9))
			e.TimeErrorS -= late
			e.PlaceErrorM -= late * e.SpeedMps
			in.Setpoint = append(in.Setpoint, e)
		}
	}
	return in
}

// With setpoint and actual, what was commanded late and what was slow are two
// things.
func TestSetpointAndActual(t *testing.T) {
	none := func(*score.Event) float64 { return 0 }
	for _, tc := range []struct {
		name  string
		fault fault
		slow  func(*score.Event) float64
		want  []Cause
		move  string
		size  float64
	}{
		{"nothing wrong", fault{}, none, nil, "", 0},
		{"lifts commanded late", fault{liftS: 0.2}, none, []Cause{CommandTiming}, "lift", 0.2},
		{"drops commanded early", fault{dropS: -0.15}, none, []Cause{CommandTiming}, "drop", -0.15},
		{"position late", fault{latencyS: 0.15}, none, []Cause{Latency}, "", 0.15},
		{"bar elsewhere", fault{bothM: 0.2}, none, []Cause{Geometry}, "", 0.2},
		{"lifts slow", fault{liftS: 0.2}, func(e *score.Event) float64 {
			if e.On {
				return 0
			}
			return 0.2
		}, []Cause{MachineSlow}, "lift", 0.2},
		{"all slow", fault{latencyS: 0.2}, func(e *score.Event) float64 { return 0.2 }, []Cause{MachineSlow}, "", 0.2},
		{"pump short", fault{flowS: 0.03}, func(e *score.Event) float64 {
			if e.On {
				return 0
			}
			return 0.03 * float64(e.Together)
		}, []Cause{FlowShortage}, "", 0.03},
		{"one valve sticks", fault{slow: 4, slowS: 0.25}, func(e *score.Event) float64 {
			if e.Section == 3 {
				return 0.25
			}
			return 0
		}, []Cause{SlowSection}, "", 0.25},
	} {
		t.Run(tc.name, func(t *testing.T) {
			d, err := Run(withSetpoints(closedForm(clearDay(6), tc.fault), tc.slow))
			if err != nil {
				t.Fatal(err)
			}
			if len(d.Causes) != len(tc.want) || len(besideClockDoubt(d)) != 0 {
				t.Fatalf("causes %+v, doubts %+v; want %v", d.Causes, d.CannotTell, tc.want)
			}
			for i, f := range d.Causes {
				if f.Cause != tc.want[i] || f.Move != tc.move || math.Abs(f.Size-tc.size) > 0.02 {
					t.Errorf("%s %s %.3f; want %s %s %.3f", f.Cause, f.Move, f.Size, tc.want[i], tc.move, tc.size)
				}
				if tc.want[i] == SlowSection && f.Section != 4 {
					t.Errorf("section %d; want 4", f.Section)
				}
			}
		})
	}
}

// besideClockDoubt returns the doubts of a day without the one that every latency has: it
// may be the clock.
func besideClockDoubt(d *Diagnosis) []Doubt {
	return slices.DeleteFunc(slices.Clone(d.CannotTell), func(q Doubt) bool {
		return slices.Equal(q.Between, []Cause{Latency, ClockOffset}) && d.Causes[0].Cause == Latency
	})
}

// Where the data cannot separate two causes, both are named, with the drive
// that would tell, and no number.
func TestCannotTell(t *testing.T) {
	slow, one := clearDay(3), clearDay(4)
	slow.spreadKmh = 0.1
	one.square = true
	lifts := closedForm(clearDay(3), fault{liftM: 0.3})
	lifts.Actual = slices.DeleteFunc(lifts.Actual, func(e score.Event) bool { return e.On })
	for _, tc := range []struct {
		name  string
		in    evidence.Day
		want  []Cause
		drive string
	}{
		{"one speed", closedForm(slow, fault{liftS: 0.3}), []Cause{LiftTiming, LiftGeometry}, "two speeds"},
		{"lifts alone", lifts, []Cause{LiftGeometry, Geometry, WrongBorder}, "lifts and drops both"},
		{"all sections at once", closedForm(one, fault{liftS: 0.3}), []Cause{LiftTiming, FlowShortage}, "one section at a time"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			d, err := Run(tc.in)
			if err != nil {
				t.Fatal(err)
			}
			if len(d.Causes) != 0 || len(d.CannotTell) != 1 {
				t.Fatalf("causes %+v, doubts %+v; want one doubt", d.Causes, d.CannotTell)
			}
			q := d.CannotTell[0]
			for _, c := range tc.want {
				if !strings.Contains(fmt.Sprint(q.Between), string(c)) {
					t.Errorf("between %v; want %s among them", q.Between, c)
				}
			}
			if !strings.Contains(q.Drive, tc.drive) {
				t.Errorf("drive %q; want %q", q.Drive, tc.drive)
			}
			if tc.name == "one speed" && d.Lift.TimeErrorS != nil {
				t.Errorf("lift time error %g; want none", *d.Lift.TimeErrorS)
			}
		})
	}
}

// A pump that gives more than it should makes nothing late: no shortage.
func TestPlentyOfFlow(t *testing.T) {
	d, err := Run(closedForm(clearDay(5), fault{flowS: -0.03}))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range d.Causes {
		if f.Cause == FlowShortage {
			t.Errorf("%+v", f)
		}
	}
}

// Lifts and drops that are off by times of their own keep intervals of their own:
// the same choice in other words (both by one time, one of them by more) is no
// second opinion.
func TestTwoOfAFamily(t *testing.T) {
	d, err := Run(closedForm(clearDay(3), fault{liftS: 0.3, dropS: 0.15}))
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Causes) != 2 {
		t.Fatalf("causes %+v; want two", d.Causes)
	}
	for _, f := range d.Causes {
		if f.CI95[1]-f.CI95[0] > 0.03 {
			t.Errorf("%s %g in %v", f.Cause, f.Size, f.CI95)
		}
	}
}

// A position error that wanders makes neighbours alike as their headings are.
func TestWander(t *testing.T) {
	in := closedForm(clearDay(3), fault{})
	a := analyse(&in, evidence.Whole, &evidence.Reception{})
	up, down := false, false
	for r := 1; r < len(a.rows); r++ {
		c := a.alikeness(r-1, r)
		up, down = up || c > 0.1, down || c < -0.1
	}
	if !up || !down {
		t.Errorf("alike: %v, opposite: %v; want both on passes up and down", up, down)
	}
}

// A section that is late by another time each way is one cause, with both.
func TestSlowBothWays(t *testing.T) {
	in := closedForm(clearDay(7), fault{slow: 2, slowS: 0.2})
	for i := range in.Actual {
		if e := &in.Actual[i]; e.Section == 1 && e.On {
			e.TimeErrorS += 0.1
			e.ActualNs += 1e8
			e.PlaceErrorM += 0.1 * e.SpeedMps
		}
	}
	d, err := Run(in)
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Causes) != 1 || d.Causes[0].Section != 2 || d.Causes[0].Move != "" || !strings.Contains(d.Causes[0].Evidence, "lifts 200 ms, drops 300 ms") {
		t.Errorf("%+v; want one cause that says both", d.Causes)
	}
}

// A day that cannot be diagnosed says why.
func TestRefused(t *testing.T) {
	good := closedForm(clearDay(1), fault{})
	pick := func(n int, change func(*score.Event)) evidence.Day {
		in := good
		in.Actual = append([]score.Event{}, good.Actual[:n]...)
		for i := range in.Actual {
			change(&in.Actual[i])
		}
		return in
	}
	same := func(*score.Event) {}
	for _, tc := range []struct {
		name string
		in   evidence.Day
		want string
	}{
		{"no machine", evidence.Day{}, "no machine"},
		{"nothing", evidence.Day{Machine: good.Machine}, "no transitions: no section crossed a border or changed its work state"},
		{"only borders", pick(20, func(e *score.Event) { e.Kind = score.Missed }), "no transitions: no section changed its work state at any of the 20 crossings"},
		{"only hands", pick(20, func(e *score.Event) { e.Kind = score.Spurious }), "none of the 20 lifts and drops is within 10 s of a crossing"},
		{"one", pick(1, same), "one transition near a border; expected at least two"},
		{"another machine", pick(20, func(e *score.Event) { e.Section = 9 }), "transition 1 is of section 10; this machine has sections 1 to 6"},
		{"fixes astray", evidence.Day{Machine: good.Machine, Actual: good.Actual, Fixes: []evidence.Fix{{TimeNs: 2}, {TimeNs: 1}}}, "fix 2 is 1 ns before"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			d, err := Run(tc.in)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("%+v, error %v; want %q", d, err, tc.want)
			}
		})
	}
}

// Few transitions, whatever they are, end in an answer without false certainty.
func TestFew(t *testing.T) {
	all := closedForm(clearDay(2), fault{liftS: 0.4})
	for n := 2; n <= 40; n++ {
		in := all
		in.Actual = all.Actual[:n]
		d, err := Run(in)
		if err != nil {
			t.Fatalf("%d transitions: %v", n, err)
		}
		if n < 5*6 && len(d.Causes) > 0 {
			t.Errorf("%d transitions, %d crossings: %+v; want no cause of so few", n, (n+5)/6, d.Causes)
		}
	}
}

// Later by the same time at every transition is a time error larger by as much,
// and nothing else; the order of events is nothing.
func TestShiftAndOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := clearDay(rapid.Uint64Range(1, 1000).Draw(t, "seed"))
		by := rapid.Float64Range(-0.3, 0.3).Draw(t, "seconds")
		in := closedForm(s, fault{})
		later := in
		later.Actual = nil
		for _, e := range in.Actual {
			e.TimeErrorS += by
			e.PlaceErrorM += by * e.SpeedMps
			e.ActualNs += int64(by * 1e9)
			later.Actual = append(later.Actual, e)
		}
		rng := rand.New(rand.NewPCG(s.seed, 1))
		rng.Shuffle(len(later.Actual), func(i, j int) {
			later.Actual[i], later.Actual[j] = later.Actual[j], later.Actual[i]
		})
		// The fits move with it where nothing that is neither was found on either day.
		a, errA := Run(in)
		b, errB := Run(later)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		if len(a.Causes)+len(a.CannotTell) > 0 || len(b.CannotTell) > 0 || len(b.Causes) > 1 {
			t.Skip("a drive with something found by chance")
		}
		for _, f := range [2][2]*Fit{{&a.Lift, &b.Lift}, {&a.Drop, &b.Drop}} {
			if f[0].Count != f[1].Count {
				t.Skip("another crossing was left out")
			}
			if d := *f[1].TimeErrorS - *f[0].TimeErrorS - by; math.Abs(d) > 1e-6 {
				t.Errorf("Δt moved by %g; want %g", *f[1].TimeErrorS-*f[0].TimeErrorS, by)
			}
			if d := *f[1].PlaceErrorM - *f[0].PlaceErrorM; math.Abs(d) > 1e-6 {
				t.Errorf("Δx moved by %g; want 0", d)
			}
		}
	})
}

// Left and right exchanged, a day has the same causes, of the mirrored sections,
// and a heading error of the other sign for yaw rates of the same one.
func TestMirrored(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := clearDay(rapid.Uint64Range(1, 1000).Draw(t, "seed"))
		in := closedForm(s, fault{slow: 2, slowS: 0.2})
		mirror := in
		mirror.Actual = nil
		for _, e := range in.Actual {
			e.Section = int16(s.sections-1) - e.Section
			e.EastM = -e.EastM
			e.YawRateRadPerS = -e.YawRateRadPerS
			mirror.Actual = append(mirror.Actual, e)
		}
		a, errA := Run(in)
		b, errB := Run(mirror)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		if len(a.Causes) != len(b.Causes) {
			t.Fatalf("%d causes, mirrored %d", len(a.Causes), len(b.Causes))
		}
		for i := range a.Causes {
			p, q := a.Causes[i], b.Causes[i]
			if p.Section != 0 {
				p.Section = s.sections + 1 - p.Section
			}
			if p.Cause != q.Cause || p.Section != q.Section || math.Abs(p.Size-q.Size) > 1e-9 {
				t.Errorf("%s section %d %g, mirrored %s section %d %g", p.Cause, p.Section, p.Size, q.Cause, q.Section, q.Size)
			}
		}
	})
}

// The same day, asked again, gets the same answer.
func TestSameAgain(t *testing.T) {
	for _, f := range []fault{{}, {liftS: 0.2, dropM: 0.2}, {borderM: 0.3}, {coldS: 0.4, tauS: 400}, {floatM: 0.3}, {byHand: 0.3}} {
		in := closedForm(clearDay(9), f)
		a, _ := Run(in)
		b, _ := Run(in)
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%+v: %+v, again %+v", f, a, b)
		}
	}
}

// The band is the interval of the line itself.
func TestBand(t *testing.T) {
	d, err := Run(closedForm(clearDay(1), fault{liftS: 0.2, liftM: 0.1}))
	if err != nil {
		t.Fatal(err)
	}
	x, ci, ok := d.Lift.Band(0)
	if !ok || x != *d.Lift.PlaceErrorM || math.Abs(ci[0]-d.Lift.PlaceErrorCI[0]) > 1e-12 || math.Abs(ci[1]-d.Lift.PlaceErrorCI[1]) > 1e-12 {
		t.Errorf("at standstill %g %v; want Δx, %g %v", x, ci, *d.Lift.PlaceErrorM, *d.Lift.PlaceErrorCI)
	}
	_, near, _ := d.Lift.Band(6.5 / 3.6)
	if near[1]-near[0] > (ci[1]-ci[0])/2 {
		t.Errorf("band of %g m among the speeds driven, %g m at standstill", near[1]-near[0], ci[1]-ci[0])
	}
	if _, _, ok := new(Fit).Band(1); ok {
		t.Error("a band around an unknown line")
	}
}

// Ten thousand transitions, the search for their clock included; the budget is 2 s.
func BenchmarkRun(b *testing.B) {
	s := clearDay(1)
	s.transitions = 10_000
	three := fault{liftS: 0.2, coldS: 0.3, tauS: 4000, borderM: 0.2}
	for _, c := range []struct {
		name          string
		fault         fault
		shape         func(*shape)
		clockS, gridS float64
	}{
		{"healthy", fault{}, func(*shape) {}, 0, 0},
		{"three causes", three, func(*shape) {}, 0, 0},
		{"three causes and a driver who brakes", three, func(s *shape) { s.braking = true }, 0, 0},
		{"a short pump, setpoints too", fault{flowS: 0.1, dropS: 0.2}, func(s *shape) { s.told = true }, 0, 0},
		{"a short pump, setpoints too, and a driver who brakes", fault{flowS: 0.1, dropS: 0.2}, func(s *shape) { s.told, s.braking = true, true }, 0, 0},
		{"a short pump and a slow section, setpoints too", fault{flowS: 0.1, slow: 2, slowS: 0.3}, func(s *shape) { s.told = true }, 0, 0},
		{"one section", fault{liftS: 0.2}, func(s *shape) { s.sections = 1 }, 0, 0},
		{"three causes, clock 2 s ahead", three, func(*shape) {}, 2, 0},
		{"three causes, clock 18 s ahead", three, func(*shape) {}, 18, 0},
		{"three causes, clock 18 s ahead, sampled at 0.2 s", three, func(*shape) {}, 18, 0.2},
	} {
		b.Run(c.name, func(b *testing.B) {
			s := s
			c.shape(&s)
			in := closedForm(s, c.fault)
			in.Actual = byAnotherClock(in.Actual, c.clockS, c.gridS)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// byAnotherClock records events by a clock that is ahead, and on a grid. Those that are then
// further than ten seconds from their crossing have none.
func byAnotherClock(events []score.Event, aheadS, gridS float64) (out []score.Event) {
	for _, e := range events {
		if e.Kind != score.Paired {
			out = append(out, e)
			continue
		}
		e.ActualNs += int64(aheadS * 1e9)
		if q := int64(gridS * 1e9); q > 0 {
			e.ActualNs = (e.ActualNs + q - 1) / q * q
		}
		was := e.TimeErrorS
		if e.TimeErrorS = float64(e.ActualNs-e.IdealNs) * 1e-9; math.Abs(e.TimeErrorS) < 10 {
			e.PlaceErrorM += (e.TimeErrorS - was) * e.SpeedMps
			out = append(out, e)
			continue
		}
		missed := e
		missed.Kind, missed.ActualNs, missed.TimeErrorS, missed.PlaceErrorM = score.Missed, 0, math.NaN(), math.NaN()
		e.Kind, e.IdealNs, e.TimeErrorS, e.PlaceErrorM = score.Spurious, 0, math.NaN(), math.NaN()
		out = append(out, missed, e)
	}
	return out
}

// In a bend the outer end of the bar is faster: a time error tilts a crossing as a
// heading error does, and is no part of that.
func TestHeadingBesideTime(t *testing.T) {
	s := clearDay(4)
	s.turning = true
	for _, f := range []fault{{latencyS: 0.4}, {latencyS: 0.4, headingS: 0.3}, {liftS: -0.3, headingS: 0.3}} {
		d, err := Run(closedForm(s, f))
		if err != nil {
			t.Fatal(err)
		}
		seen := false
		for _, c := range d.Causes {
			if c.Cause == HeadingError {
				seen = true
				if f.headingS == 0 || !inside(f.headingS, c.CI95) {
					t.Errorf("%+v: heading error %g s, %v", f, c.Size, c.CI95)
				}
			}
		}
		if seen != (f.headingS != 0) {
			t.Errorf("%+v: heading error found %t", f, seen)
		}
	}
}

// A section that is late leaves the pump to the others, and rises alone.
func TestSlowSectionBesideShortPump(t *testing.T) {
	s := clearDay(5355)
	s.transitions = 400
	f := fault{slow: 3, slowS: 0.6, flowS: 0.06}
	d, err := Run(closedForm(s, f))
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, c := range d.Causes {
		want := map[Cause]float64{SlowSection: f.slowS, FlowShortage: f.flowS}[c.Cause]
		if !inside(want, c.CI95) {
			t.Errorf("%s %g, %v; want %g", c.Cause, c.Size, c.CI95, want)
		}
		found++
	}
	if found != 2 {
		t.Errorf("%d causes; want a slow section and a flow shortage", found)
	}
}

// braked is a day of drivers who brake for turns.
func braked(seed uint64) shape {
	s := clearDay(seed)
	s.braking = true
	return s
}

// A driver who brakes makes a late lift no place error, and a place error no late
// lift, however large. (The column of a time error that follows the driver's way
// from ideal to actual hangs on the error of the position; the speed of the ideal
// instant does not.)
func TestBrakingDriver(t *testing.T) {
	for _, tc := range []struct {
		name  string
		fault fault
		want  Cause
		size  float64
	}{
		{"nothing wrong", fault{}, "", 0},
		{"lifts late", fault{liftS: 0.6}, LiftTiming, 0.6},
		{"lifts very late", fault{liftS: 6}, LiftTiming, 6},
		{"lifts early", fault{liftS: -3}, LiftTiming, -3},
		{"drops late", fault{dropS: 1.6}, DropTiming, 1.6},
		{"drops early", fault{dropS: -0.8}, DropTiming, -0.8},
		{"position old", fault{latencyS: 1}, Latency, 1},
		{"bar elsewhere", fault{bothM: 0.5}, Geometry, 0.5},
		{"lifts by a place", fault{liftM: -0.5}, LiftGeometry, -0.5},
		{"drops by a place", fault{dropM: 0.5}, DropGeometry, 0.5},
	} {
		t.Run(tc.name, func(t *testing.T) {
			const drives = 40
			inside, sum, squares, others := 0, 0.0, 0.0, 0
			for seed := range uint64(drives) {
				d, err := Run(closedForm(braked(seed), tc.fault))
				if err != nil {
					t.Fatal(err)
				}
				for _, c := range d.Causes {
					if c.Cause != tc.want {
						others++
						continue
					}
					sum += c.Size - tc.size
					squares += (c.Size - tc.size) * (c.Size - tc.size)
					if c.CI95[0] <= tc.size && tc.size <= c.CI95[1] {
						inside++
					}
				}
			}
			if others > 2 { // one drive in fifty has a false cause
				t.Errorf("%d other causes in %d drives", others, drives)
			}
			if tc.want == "" {
				return
			}
			if inside < 34 { // of 38 expected, fewer come by chance once in a hundred
				t.Errorf("%g is in its interval in %d of %d drives", tc.size, inside, drives)
			}
			// No bias: the mean error is within three of its standard errors.
			if mean, se := sum/drives, math.Sqrt(squares)/drives; math.Abs(mean) > 3*se {
				t.Errorf("off by %.4f on average, standard error %.4f", mean, se)
			}
		})
	}
}

// A lead that is off, by whatever is legal, is no hand's work; a hand at work
// beside it is seen all the same.
func TestHandBesideLead(t *testing.T) {
	for _, lateS := range []float64{-9.5, -3, 1.6, 4, 9.5} {
		d, err := Run(closedForm(clearDay(8), fault{liftS: lateS, byHand: 0.2}))
		if err != nil {
			t.Fatal(err)
		}
		seen := map[Cause]float64{}
		for _, c := range d.Causes {
			seen[c.Cause] = c.Size
		}
		if math.Abs(seen[LiftTiming]-lateS) > 0.02 || !(seen[ByHand] > 0.1 && seen[ByHand] < 0.3) || len(seen) != 2 {
			t.Errorf("lifts %g s late beside a hand: %v", lateS, seen)
		}
	}
}

// With setpoint and actual of a driver who brakes, what was commanded late, what
// was slow and what is a place are still three things.
func TestBrakingDriverTold(t *testing.T) {
	for _, tc := range []struct {
		name   string
		fault  fault
		want   Cause
		size   float64
		within float64
	}{
		{"nothing wrong", fault{}, "", 0, 0},
		{"lifts commanded late", fault{liftS: 0.6}, CommandTiming, 0.6, 0.015},
		{"drops commanded early", fault{dropS: -3}, CommandTiming, -3, 0.015},
		{"position old", fault{latencyS: 0.4}, Latency, 0.4, 0.015},
		{"bar elsewhere", fault{bothM: 0.5}, Geometry, 0.5, 0.02},
		{"lifts by a place", fault{liftM: 0.3}, LiftGeometry, 0.3, 0.02},
		{"a valve sticks", fault{slow: 4, slowS: 0.6}, SlowSection, 0.6, 0.002},
		{"pump short", fault{flowS: 0.06}, FlowShortage, 0.06, 0.005},
		{"cold", fault{coldS: 0.6, tauS: 400}, ColdOil, 0.6, 0.01},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := braked(6)
			s.told = true
			d, err := Run(closedForm(s, tc.fault))
			if err != nil {
				t.Fatal(err)
			}
			if tc.want == "" && len(d.Causes) == 0 {
				return
			}
			if len(d.Causes) != 1 || d.Causes[0].Cause != tc.want || math.Abs(d.Causes[0].Size-tc.size) > tc.within || len(besideClockDoubt(d)) > 0 {
				t.Errorf("causes %+v, doubts %+v; want %s %g", d.Causes, d.CannotTell, tc.want, tc.size)
			}
		})
	}
}

// A time and a place at once: the speed is followed over the place, not over all
// of the way from ideal to actual.
func TestBrakingDriverBoth(t *testing.T) {
	for _, f := range []fault{{liftM: 0.5, liftS: 0.6}, {liftM: 0.5, liftS: -0.4}, {dropM: -0.4, dropS: 0.8}} {
		const drives = 40
		inside, found, sum, squares := 0, 0.0, 0.0, 0.0
		for seed := range uint64(drives) {
			s := braked(seed)
			s.kmh = 3
			d, err := Run(closedForm(s, f))
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range d.Causes {
				want := map[Cause]float64{LiftTiming: f.liftS, DropTiming: f.dropS, LiftGeometry: f.liftM, DropGeometry: f.dropM}[c.Cause]
				if c.CI95[0] <= want && want <= c.CI95[1] {
					inside++
				}
				if c.Unit == "m" {
					found++
					sum += c.Size - want
					squares += (c.Size - want) * (c.Size - want)
				}
			}
		}
		mean, se := sum/found, math.Sqrt(squares)/found
		if inside < 70 || math.Abs(mean) > 3*se { // of 76 expected, fewer come by chance once in a hundred
			t.Errorf("%+v: %d of %d sizes in their intervals, place off by %.4f on average, standard error %.4f", f, inside, 2*drives, mean, se)
		}
	}
}
