// The score's parts one by one: the bar's box, books, surveys, sleeves, and
// what a drive is refused for.

package score

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// Reach, box and edges of a bar, by looking at every end of every section.
func TestBarBesideItsEnds(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 82))
	for k := range 300 {
		m := &sections.Machine{HitchBehindM: 0.5 + rng.Float64(), DrawbarM: 3}
		hitch := 0.0
		if k%2 == 1 {
			m.Mount, hitch = sections.Trailed, m.HitchBehindM
		}
		for i := range 1 + k%5 {
			m.Sections = append(m.Sections, sections.Section{XM: 8 * (rng.Float64() - 0.5), YM: 3*float64(i) - 4 + rng.Float64(), WidthM: 0.5 + rng.Float64()})
		}
		b := newBar(m)
		reach, radius := 0.0, 0.0
		loX, hiX, loY, hiY := 1e9, -1e9, 1e9, -1e9
		for _, s := range m.Sections {
			for _, y := range []float64{s.YM - s.WidthM/2, s.YM + s.WidthM/2} {
				reach = max(reach, math.Hypot(hitch+s.XM, y))
				loX, hiX, loY, hiY = min(loX, s.XM), max(hiX, s.XM), min(loY, y), max(hiY, y)
			}
		}
		for _, s := range m.Sections {
			for _, y := range []float64{s.YM - s.WidthM/2, s.YM + s.WidthM/2} {
				radius = max(radius, math.Hypot(s.XM-(loX+hiX)/2, y-(loY+hiY)/2))
			}
		}
		near(t, "reach", b.reachM, reach, 1e-12)
		near(t, "radius", b.radiusM, radius, 1e-12)
		near(t, "middle x", b.midXM, (loX+hiX)/2, 1e-12)
		near(t, "middle y", b.midYM, (loY+hiY)/2, 1e-12)
		if b.hitchM != hitch || b.leftM != m.Sections[0].YM || b.rightM != m.Sections[len(m.Sections)-1].YM {
			t.Errorf("hitch %g, from %g to %g", b.hitchM, b.leftM, b.rightM)
		}
	}
}

// A jump is more than a metre and twice the way at the faster of both speeds.
func TestJumpBounds(t *testing.T) {
	for _, tc := range []struct {
		va, vb, wayM float64
		want         bool
	}{
		{0, 0, 0.99, false}, {0, 0, 1.01, true}, {2, 1, 4.9, false}, {2, 1, 5.1, true}, {1, -2, 4.9, false}, {1, -2, 5.1, true},
	} {
		for _, dir := range [][2]float64{{1, 0}, {0, -1}, {0.6, 0.8}} {
			a := motion.Pose{TimeNs: startNs, EastM: 5, NorthM: -3, SpeedMps: tc.va}
			b := motion.Pose{TimeNs: startNs + 1e9, EastM: 5 + tc.wayM*dir[0], NorthM: -3 + tc.wayM*dir[1], SpeedMps: tc.vb}
			if got := Jumps(&a, &b); got != tc.want {
				t.Errorf("%+v towards %v: a jump %v", tc, dir, got)
			}
		}
	}
}

// Each square metre is booked once: in work inside, outside, across rows, or
// missed; half a line decides what a strip is.
func TestBook(t *testing.T) {
	for _, tc := range []struct {
		on             bool
		in, all, fresh float64
		want           Areas
		ground         Ground
	}{
		{true, 1, 1, 1, Areas{PassedM2: 8, WorkedM2: 8}, Worked},
		{true, 0.5, 0.5, 0.5, Areas{PassedM2: 4, WorkedM2: 8, OverrunM2: 4}, Worked},
		{true, 0.25, 0.75, 0.25, Areas{PassedM2: 2, WorkedM2: 8, OverrunM2: 6, AcrossRowsM2: 4}, AcrossRows},
		{true, 0.25, 0.5, 0.25, Areas{PassedM2: 2, WorkedM2: 8, OverrunM2: 6, AcrossRowsM2: 2}, AcrossRows},
		{true, 0.25, 0.25, 0.25, Areas{PassedM2: 2, WorkedM2: 8, OverrunM2: 6}, Overrun},
		{false, 0.5, 1, 0.5, Areas{PassedM2: 4, MissM2: 4}, Miss},
		{false, 0.25, 1, 0.25, Areas{PassedM2: 2, MissM2: 2}, passedBy},
		// Worked before: all of it, or half.
		{false, 1, 1, 0, Areas{}, passedBy},
		{false, 1, 1, 0.5, Areas{PassedM2: 4, MissM2: 4}, Miss},
		{true, 1, 1, 0, Areas{PassedM2: 8, WorkedM2: 8}, Worked},
	} {
		l := lane{on: tc.on}
		if l.book(8, tc.in, tc.all, tc.fresh); l.area != tc.want {
			t.Errorf("%+v: %+v", tc, l.area)
		}
		if got := l.ground(tc.in, tc.all, tc.fresh); got != tc.ground {
			t.Errorf("%+v: %v", tc, got)
		}
	}
	// A section at y on a calm way: the bar's way less y times its turn.
	l := lane{on: true, yM: 2, widthM: 3, known: true, in: 1, all: 1, since: odometer{10, 0.5}}
	l.settle(odometer{16, 1})
	near(t, "worked on a calm way", l.area.WorkedM2, 3*(6-2*0.5), 1e-12)
	if l.since != (odometer{16, 1}) {
		t.Errorf("settled up to %+v", l.since)
	}
	l.known = false
	if l.settle(odometer{20, 2}); l.since != (odometer{20, 2}) || math.Abs(l.area.WorkedM2-15) > 1e-12 {
		t.Errorf("unknown: %+v", l.area)
	}
}

// ∫|speed| of a section, with the sign of its speed changing on the way, in
// small steps.
func TestSweptBesideSmallSteps(t *testing.T) {
	rng := rand.New(rand.NewPCG(91, 92))
	for range 200 {
		m := rearBar(4, 1, -2)
		b := newBar(m)
		from := motion.Pose{TimeNs: startNs, SpeedMps: 4 * (rng.Float64() - 0.5), YawRateRadPerS: rng.Float64() - 0.5}
		to := motion.Pose{TimeNs: startNs + 1e9, NorthM: 1, SpeedMps: 4 * (rng.Float64() - 0.5), YawRateRadPerS: rng.Float64() - 0.5}
		var l leg
		sa, sb := b.station(&from), b.station(&to)
		l.set(&b, &sa, &sb)
		y := 6 * (rng.Float64() - 0.5)
		t0, t1 := startNs+rng.Int64N(400e6), startNs+500e6+rng.Int64N(500e6)
		sum, way, turn := 0.0, 0.0, 0.0
		const n = 20_000
		for i := range n {
			u := (float64(t0-startNs) + (float64(i)+0.5)/n*float64(t1-t0)) * 1e-9
			v := from.SpeedMps + u*(to.SpeedMps-from.SpeedMps)
			w := from.YawRateRadPerS + u*(to.YawRateRadPerS-from.YawRateRadPerS)
			h := float64(t1-t0) * 1e-9 / n
			sum += math.Abs(v-y*w) * h
			way += v * h
			turn += w * h
		}
		near(t, "swept", l.swept(y, t0, t1), sum, 1e-6)
		gain := l.travel(t0, t1)
		near(t, "way", gain.along, way, 1e-9)
		near(t, "turn", gain.turn, turn, 1e-9)
		ends := []float64{from.SpeedMps - b.leftM*from.YawRateRadPerS, from.SpeedMps - b.rightM*from.YawRateRadPerS, to.SpeedMps - b.leftM*to.YawRateRadPerS, to.SpeedMps - b.rightM*to.YawRateRadPerS}
		forward, back := 0, 0
		for _, v := range ends {
			if v > 0 {
				forward++
			} else {
				back++
			}
		}
		want := 0.0
		if back == 0 {
			want = 1
		} else if forward == 0 {
			want = -1
		}
		if got := l.sign(&b); got != want {
			t.Errorf("speeds %v: sign %g; want %g", ends, got, want)
		}
	}
}

// The survey is the box of all ways in work, by as much wider as the bar
// reaches and a metre, and the lines' bearing is not that of any way.
func TestSurvey(t *testing.T) {
	m := rearBar(4, 1, -2) // its ends are √8 from the turning point
	b := newBar(m)
	track := newDrive(10, 20, 0).along(30, 2, 0).track
	reach := math.Sqrt(8) + 1
	on := make([]lane, 4)
	on[1].on = true
	s := newSurvey(track, &b, on, nil)
	for i, want := range [4]float64{10 - reach, 20 - reach, 10 + reach, 50 + reach} {
		near(t, "corner", [4]float64{s.lo[0], s.lo[1], s.hi[0], s.hi[1]}[i], want, 1e-9)
	}
	rad, across := s.bearing()
	near(t, "way across the lines", across, 30*math.Abs(math.Sin(rad-1.5*deg)), 1e-9)
	if math.Abs(math.Abs(math.Sin(rad))-1) > 0.01 {
		t.Errorf("lines at %g rad for a way to the north; want them square", rad)
	}
	// In work from 5 s to 10 s: on the legs that touch it, from 10 m to 20 m on.
	moves := []sections.WorkChange{{TimeNs: startNs + 5e9, Section: 2, On: true}, {TimeNs: startNs + 10e9, Section: 2}}
	s = newSurvey(track, &b, make([]lane, 4), moves)
	near(t, "south", s.lo[1], 29.8-reach, 0.01)
	near(t, "north", s.hi[1], 40-reach+2*reach, 0.01)
	s = newSurvey(track, &b, make([]lane, 4), nil)
	if s.lo != (orb.Point{10, 20}) || s.hi != s.lo {
		t.Errorf("nothing in work: %v to %v", s.lo, s.hi)
	}
	// There and back is one heading; 60 classes of 3 degrees.
	var w survey
	for _, h := range []float64{0.01, 0.01 + math.Pi, 0.01 - math.Pi, 0.01 + 6*math.Pi} {
		w.drive(h, 2)
	}
	w.drive(-1*deg, 5)
	if w.wayM[0] != 8 || w.wayM[59] != 5 {
		t.Errorf("ways by heading: %v", w.wayM)
	}
}

// A sleeve holds what a line passes within 5 mm, from its start to the newest
// point, and no way back.
func TestSleeve(t *testing.T) {
	for _, tc := range []struct {
		name   string
		points []orb.Point
		held   int
	}{
		{"straight", []orb.Point{{0, 1}, {0, 2}, {0, 30}}, 3},
		{"4 mm aside on the way", []orb.Point{{0, 1}, {0.004, 2}, {0, 4}}, 3},
		{"9 mm aside and back to the line", []orb.Point{{0, 1}, {0.009, 2}, {0, 400}}, 2},
		{"the same to the left", []orb.Point{{0, 1}, {-0.009, 2}, {0, 400}}, 2},
		{"11 mm aside", []orb.Point{{0, 1}, {0.011, 2}}, 1},
		{"an arc of 100 m, 1 m by 1 m", []orb.Point{{0.005, 1}, {0.02, 2}, {0.045, 3}, {0.08, 4}, {0.125, 5}}, 2},
		{"back by 4 mm", []orb.Point{{0, 1}, {0, 0.996}, {0, 3}}, 3},
		{"back by 6 mm", []orb.Point{{0, 1}, {0, 0.994}}, 1},
		{"behind the start", []orb.Point{{0, 1}, {0, -1}}, 1},
		{"4 mm about the start", []orb.Point{{0.004, 0}, {-0.004, 0}, {0, 0.004}, {1, 0}}, 4},
	} {
		s := sleeve{}
		n := 0
		for _, p := range tc.points {
			if !s.holds(p) {
				break
			}
			n++
		}
		if n != tc.held {
			t.Errorf("%s: holds %d points; want %d", tc.name, n, tc.held)
		}
	}
}

// Sums over sections and directions, and the words of kinds and grounds.
func TestSums(t *testing.T) {
	a := Areas{1, 2, 3, 4, 5, 6}
	a.add(&Areas{10, 20, 30, 40, 50, 60})
	if a != (Areas{11, 22, 33, 44, 55, 66}) {
		t.Errorf("%+v", a)
	}
	lift, drop := Tally([]Event{
		{Kind: Paired, TimeErrorS: 0.2, PlaceErrorM: -0.4}, {Kind: Paired, TimeErrorS: -0.1, PlaceErrorM: 0.1}, {Kind: Missed},
		{On: true, Kind: Spurious}, {On: true, Kind: Start}, {On: true, Kind: Missed}, {On: true, Kind: Missed},
	})
	if lift.Count != 3 || lift.Paired != 2 || lift.Missed != 1 || lift.Spurious != 0 || drop.Count != 2 || drop.Missed != 2 || drop.Spurious != 1 || drop.TimeErrorS != nil {
		t.Errorf("lifts %+v, drops %+v", lift, drop)
	}
	near(t, "mean", lift.TimeErrorS.Mean, 0.05, 1e-12)
	near(t, "worst", lift.PlaceErrorM.MaxAbs, 0.4, 1e-12)
	for n, rank := range map[int]int{1: 1, 19: 19, 20: 19, 21: 20, 40: 38, 100: 95, 101: 96} {
		var list []float64
		for i := range n {
			list = append(list, float64(i+1)*math.Pow(-1, float64(i)))
		}
		if s := spread(list); s.P95Abs != float64(rank) || s.MaxAbs != float64(n) {
			t.Errorf("of 1 to %d: 95 %% are within %g, worst %g; want %d", n, s.P95Abs, s.MaxAbs, rank)
		}
	}
	for k, want := range map[Kind]string{Paired: "paired", Missed: "missed", Spurious: "spurious", Start: "start"} {
		if k.String() != want {
			t.Errorf("kind %d is %q", k, k)
		}
	}
	for g, want := range map[Ground]string{Worked: "worked", Overrun: "overrun", AcrossRows: "across_rows", Miss: "miss"} {
		if g.String() != want {
			t.Errorf("ground %d is %q", g, g)
		}
	}
	for _, e := range []Event{{Kind: Paired, IdealNs: 1, ActualNs: 2}, {Kind: Missed, IdealNs: 1}, {Kind: Spurious, ActualNs: 1}, {Kind: Start, ActualNs: 1}} {
		if e.TimeNs() != 1 {
			t.Errorf("%+v is of %d", e, e.TimeNs())
		}
	}
}

// Without a window asked for, transitions up to 5 s apart are pairs.
func TestUsualWindow(t *testing.T) {
	for lateS, paired := range map[float64]bool{4.9: true, 5.1: false} {
		f := newField(t, zone(field.Body, anyHeading, box(-50, 0, 50, 60)))
		g := newGate(f, rearBar(2, 1, -2), sections.CropFirst)
		track := newDrive(0, -20, 0).along(140, 2, 0).track
		res := mustRun(t, track, g, late(t, track, g, always(int64(lateS*1e9))), nil, Options{})
		if (res.Drop.Paired == 2) != paired || (res.Lift.Paired == 2) != paired {
			t.Errorf("%g s late: %+v, %+v", lateS, res.Lift, res.Drop)
		}
	}
}
