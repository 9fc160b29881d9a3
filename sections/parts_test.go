// Small parts of the controller by themselves: why a command is late, when the position is lost, which
// command falls due, and how a crossing is found.

package sections

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/nmea"
	"liftbench/sections/motion"
)

// onField is a controller of three sections of 1 m in the middle of a body of 120 m without rows.
func onField(t testing.TB, alter func(*Settings)) *Controller {
	return newController(t, bar(RearRigid, -2, 3, 1), newField(t, body(math.NaN(), rectangle(-60, -60, 60, 60))), alter)
}

// The order of causes: what kept the controller from deciding, then what held the section back, then a
// straight run that was too short, then a fix that came late, then the estimate.
func TestOrderOfLateCauses(t *testing.T) {
	for _, tc := range []struct {
		name string
		set  func(c *Controller)
		on   bool
		want LateCause
	}{
		{"nothing", func(c *Controller) {}, true, EstimateMoved},
		{"it stood until after", func(c *Controller) { c.s.HinderedBy, c.s.HinderedNs, c.section[0].HeldBy = Stood, 101, Operated }, true, Stood},
		{"it stood until then", func(c *Controller) { c.s.HinderedBy, c.s.HinderedNs = Stood, 100 }, true, EstimateMoved},
		{"the operator", func(c *Controller) { c.section[0].HeldBy, c.s.ZonesNs = Operated, 101 }, true, Operated},
		{"zones since after", func(c *Controller) { c.s.ZonesNs, c.s.FixLate = 101, true }, true, ShortRun},
		{"zones since then, a lift", func(c *Controller) { c.s.ZonesNs = 100 }, true, EstimateMoved},
		{"zones since less than a second, a drop", func(c *Controller) { c.s.ZonesNs = 101 - 1e9 }, false, ShortRun},
		{"zones since a second, a drop", func(c *Controller) { c.s.ZonesNs = 100 - 1e9 }, false, EstimateMoved},
		{"zones since less than a second, a lift", func(c *Controller) { c.s.ZonesNs = 101 - 1e9 }, true, EstimateMoved},
		{"a fix came late", func(c *Controller) { c.s.FixLate = true }, true, LateFix},
	} {
		c := onField(t, nil)
		c.s.ZonesNs, c.s.HinderedNs = -5e9, -5e9
		c.section[0].On = tc.on
		tc.set(c)
		m := motion.Motion{Pose: motion.Pose{TimeNs: 90, SpeedMps: 2}}
		c.section[0].PendingNs = 200
		if got := c.lateCause(&m, 0, 100, 110); got != tc.want {
			t.Errorf("%s: %v; want %v", tc.name, got, tc.want)
		}
	}
	// A zone that takes part at the crossing and not now was no border.
	c := newController(t, bar(RearRigid, -2, 3, 1), newField(t, body(0, rectangle(-60, -60, 60, 60))), nil)
	c.s.Follow = Follow{Started: true, Zones: 1, Under: 1, Last: 1}
	m := motion.Motion{Pose: motion.Pose{SpeedMps: 2, YawRateRadPerS: 0.09}}
	c.section[0].On, c.section[0].PendingNs = true, 6e9 // by then it heads 31° beside the rows
	c.s.ZonesNs, c.s.HinderedNs = -5e9, -5e9
	if got := c.lateCause(&m, 0, 1, 0); got != ShortRun {
		t.Errorf("rows are left on the way: %v; want %v", got, ShortRun)
	}
}

// Standing between reversing and going on belongs to the reversing; what hindered last counts else. Since
// when zones take part is noted when they change.
func TestHinder(t *testing.T) {
	for _, tc := range []struct {
		by   []LateCause
		want LateCause
	}{{[]LateCause{Stood}, Stood}, {[]LateCause{Backed, Stood}, Backed}, {[]LateCause{Stood, Backed}, Backed}, {[]LateCause{Backed, Operated}, Operated}, {[]LateCause{Backed, Operated, Stood}, Stood}} {
		c := onField(t, nil)
		for _, by := range tc.by {
			c.hinder(by)
		}
		if !c.s.Hindered || c.s.HinderedBy != tc.want {
			t.Errorf("%v: %v; want %v", tc.by, c.s.HinderedBy, tc.want)
		}
		c.s.Follow.Zones, c.s.SeenZones, c.s.ZonesNs = 1, 1, 33
		if c.unhinder(77); c.s.Hindered || c.s.HinderedNs != 77 || c.s.ZonesNs != 33 {
			t.Errorf("decided again: %+v", c.s)
		}
		c.s.Follow.Zones = 2
		if c.unhinder(78); c.s.HinderedNs != 77 || c.s.ZonesNs != 78 || c.s.SeenZones != 2 {
			t.Errorf("other zones: %d, %d", c.s.HinderedNs, c.s.ZonesNs)
		}
		// After a stand that follows none of it, it is a stand.
		c.hinder(Stood)
		if c.s.HinderedBy != Stood {
			t.Errorf("after %v and driving on it stands: %v", tc.by, c.s.HinderedBy)
		}
	}
	// A fix is late if it comes by more than half the shorter of the two intervals before it.
	for _, tc := range []struct {
		older, newer, by int64
		want             bool
	}{{100, 100, 150, false}, {100, 100, 151, true}, {100, 300, 151, true}, {300, 100, 151, true}, {0, 100, 999, false}, {100, 0, 999, false}} {
		c := onField(t, nil)
		c.timeFix(tc.older)
		c.timeFix(tc.newer)
		if c.timeFix(tc.by); c.s.FixLate != tc.want || c.s.IntervalsNs != [2]int64{tc.newer, tc.by} {
			t.Errorf("%d after %d and %d: late %v, %v", tc.by, tc.older, tc.newer, c.s.FixLate, c.s.IntervalsNs)
		}
	}
	counts := Counts{}
	for i := range counts.Late {
		counts.Late[i] = int64(i + 1)
	}
	if got := counts.AllLate(); got != 55 {
		t.Errorf("%d late; want the sum of 1 to 10", got)
	}
}

// The position is lost a nanosecond beyond the greatest age, since that age was reached; the fail-safe counts
// once, under its reason, and lifts or holds.
func TestLostAndFailSafe(t *testing.T) {
	for _, tc := range []struct {
		after int64
		want  bool
	}{{0, false}, {1, true}} {
		c := onField(t, nil)
		if c.lost(c.set.MaxAgeNs + 99) {
			t.Error("lost before any fix")
		}
		c.s.FixNs, c.s.Estimator.State.Started = startNs, true
		if got := c.lost(startNs + c.set.MaxAgeNs + tc.after); got != tc.want || got && (c.s.LostNs != startNs+c.set.MaxAgeNs || c.s.LostReason != LostFix) {
			t.Errorf("%d ns beyond the greatest age: lost %v since %d", tc.after, got, c.s.LostNs)
		}
		if c.FailedSafe() {
			t.Error("failed safe before anything happened")
		}
	}
	for _, tc := range []struct {
		reason      Reason
		low, frozen int64
		does        FailSafe
		lifted      int
	}{{LostFix, 0, 0, FailSafeLift, 2}, {LowQuality, 1, 0, FailSafeLift, 2}, {FrozenFix, 0, 1, FailSafeLift, 2}, {LostFix, 0, 0, FailSafeHold, 0}} {
		c := onField(t, func(s *Settings) { s.FailSafe = tc.does })
		c.s.LostNs, c.s.LostReason = startNs, tc.reason
		c.section[0].On, c.section[2].On = true, true
		c.section[1].CrossM, c.section[1].WrongM = 7, 8
		out := c.failSafe(startNs+9, nil)
		again := c.failSafe(startNs+19, nil)
		n := c.Counts()
		if len(out) != tc.lifted || len(again) != 0 || n.FailSafe != 1 || n.FailSafeLowQuality != tc.low || n.FailSafeFrozen != tc.frozen || !c.FailedSafe() || c.s.SleepNs != math.MaxInt64 {
			t.Errorf("%v, %v: %+v, then %+v; %+v", tc.reason, tc.does, out, again, n)
		}
		for k, x := range out {
			if x != (Setpoint{DueNs: startNs + 9, Section: int16(2 * k), Reason: tc.reason}) || c.On(2*k) {
				t.Errorf("%v: %+v", tc.reason, x)
			}
		}
		if forgotten := math.IsInf(c.section[1].CrossM, -1) && math.IsInf(c.section[1].WrongM, -1); forgotten != (tc.does == FailSafeLift) {
			t.Errorf("%v: crossings forgotten %v", tc.does, forgotten)
		}
	}
	// What the controller does not command by itself in manual mode it does not lift: only what is held.
	c := onField(t, nil)
	c.SetAutomatic(false)
	c.section[0].On, c.section[1].On = true, true
	c.Hold(1, HoldDown)
	if out := c.raiseAll(startNs, LostFix, nil); len(out) != 1 || out[0].Section != 1 {
		t.Errorf("manual: %+v; want section 2 lifted", out)
	}
}

// A tractor without a position drives off when its speed is above 0.3 m/s three times in a row.
func TestDeparture(t *testing.T) {
	for _, tc := range []struct {
		speeds   []float64
		standing bool
		departs  bool
	}{
		{[]float64{0.31, 0.31, 0.31}, true, true}, {[]float64{0.31, 0.31}, true, false}, {[]float64{0.3, 0.31, 0.31}, true, false},
		{[]float64{0.31, 0.31, 0.29, 0.31, 0.31}, true, false}, {[]float64{0.31, math.NaN(), 0.31, 0.31}, true, false}, {[]float64{1, 1, 1}, false, false},
	} {
		c := onField(t, nil)
		c.s.LostNs, c.s.LostReason, c.s.SleepNs = 5, LostFix, 77
		c.s.Estimator.State.Still.Standing = tc.standing
		for i, mps := range tc.speeds {
			c.watchDeparture(&nmea.Fix{TimeNs: startNs + int64(i), SpeedMps: mps})
		}
		if departs := c.s.LostNs != 5; departs != tc.departs || departs && (c.Standing() || c.s.LostNs != startNs+2 || c.s.LostReason != LowQuality || c.s.SleepNs != 0 || c.s.Departures != 0) {
			t.Errorf("%v m/s: departs %v; %+v", tc.speeds, departs, c.s)
		}
	}
}

// An instant is found to 12 µs, never before what is sought is true, in as many steps as halving takes.
func TestBisect(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Int64Range(0, 1e9).Draw(t, "lo")
		hi := lo + rapid.Int64Range(1, 5e9).Draw(t, "span")
		at := rapid.Int64Range(lo+1, hi).Draw(t, "true from")
		looks := 0
		got := bisect(lo, hi, func(ns int64) bool {
			looks++
			if ns <= lo || ns >= hi {
				t.Fatalf("looks at %d, not within %d to %d", ns, lo, hi)
			}
			return ns >= at
		})
		if got < at || got-at > 12_000 {
			t.Fatalf("true from %d on: %d", at, got)
		}
		most := 0
		for span := hi - lo; span > 12_000; span = (span + 1) / 2 {
			most++
		}
		if looks > most {
			t.Fatalf("%d looks; want %d at most", looks, most)
		}
	})
}

// A command falls due in the tick in which its crossing is a lead ahead, at that instant; not earlier than a
// hysteresis of way and the shortest time after the last crossing allow, nor than the valve moves.
func TestCommandFallsDue(t *testing.T) {
	const tick, lead = int64(50e6), int64(600e6) // of a drop
	for _, tc := range []struct {
		name    string
		pending int64 // after now
		set     func(c *Controller, s *sectionState)
		due     int64 // after now; -1 = not in this tick
		held    LateCause
		late    int64
	}{
		{"just in the tick", lead + tick - 1, nil, tick - 1, EstimateMoved, 0},
		{"in the next tick", lead + tick, nil, -1, EstimateMoved, 0},
		{"at its beginning", lead, nil, 0, EstimateMoved, 0},
		{"too late", lead - 7, nil, 0, EstimateMoved, 1},
		{"after a crossing far enough behind", lead + 9, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM = startNs-9e9, startNs-2e9, -5
		}, 9, EstimateMoved, 0},
		{"after a crossing less than the shortest time ago", lead + 9, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM = startNs-9e9, startNs+lead+9-500e6+20e6, -5
		}, 9 + 20e6, EstimateMoved, 1},
		{"by more than a tick", lead + 9, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM = startNs-9e9, startNs+lead+9-500e6+60e6, -5
		}, -1, ShortestTime, 0},
		{"after a command at no border, less than the shortest time ago", lead + 9, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM = startNs-500e6+30e6, startNs-9e9, math.Inf(-1)
		}, 30e6, EstimateMoved, 1},
		{"before the valve has moved", lead + 9, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM, s.Turn.AtNs = startNs-9e9, startNs-9e9, -5, startNs+40e6
		}, 40e6, EstimateMoved, 1},
		// At 2 m/s the crossing is 1.2 m ahead, and the hysteresis 10 cm.
		{"too near the last crossing", lead, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM = startNs-9e9, startNs-9e9, 1.2-0.099
		}, -1, HysteresisHeld, 0},
		{"not too near", lead, func(c *Controller, s *sectionState) {
			s.DueNs, s.CrossNs, s.CrossM = startNs-9e9, startNs-9e9, 1.2-0.101
		}, 0, EstimateMoved, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := onField(t, nil)
			c.s.ZonesNs, c.s.HinderedNs = -5e9, -5e9
			s := &c.section[1]
			s.PendingNs, s.HeldBy = startNs+tc.pending, Stood
			if tc.set != nil {
				s.HeldBy = EstimateMoved
				tc.set(c, s)
			}
			m := motion.Motion{Pose: motion.Pose{TimeNs: startNs, SpeedMps: 2}}
			if tc.late > 0 {
				s.HeldBy = EstimateMoved
			}
			out := c.command(&m, startNs, nil)
			if tc.due < 0 {
				if len(out) != 0 || s.On || s.HeldBy != tc.held {
					t.Errorf("%+v, held by %v; want none, %v", out, s.HeldBy, tc.held)
				}
				return
			}
			if len(out) != 1 || out[0] != (Setpoint{DueNs: startNs + tc.due, Section: 1, On: true, Reason: AtBorder}) || s.HeldBy != tc.held || c.s.Counts.AllLate() != tc.late {
				t.Fatalf("%+v, %d late; want one %d ns on, %d late", out, c.s.Counts.AllLate(), tc.due, tc.late)
			}
			if want := 2 * float64(tc.pending) * 1e-9; !(math.Abs(s.CrossM-want) <= 1e-6) || s.CrossNs < s.PendingNs || !math.IsInf(s.WrongM, -1) || !s.On || s.DueNs != startNs+tc.due {
				t.Errorf("after it: %+v; want the crossing at %g m", s, want)
			}
		})
	}
	// Braking, the way is unsure by half the acceleration times the square of the time.
	for crossM, want := range map[float64]int{1.3488 - 0.10 - 0.17: 0, 1.3488 - 0.10 - 0.19: 1} {
		c := onField(t, nil)
		s := &c.section[1]
		s.PendingNs, s.DueNs, s.CrossNs, s.CrossM = startNs+lead, startNs-9e9, startNs-9e9, crossM
		m := motion.Motion{Pose: motion.Pose{TimeNs: startNs, SpeedMps: 2}, AccelMps2: 1} // ½·1·0.36 = 0.18 m; the crossing is 1.2 m and 0.6 - 1 + e^-0.6 ahead
		if out := c.command(&m, startNs, nil); len(out) != want {
			t.Errorf("last crossing at %g m, 1 m/s²: %+v; want %d", crossM, out, want)
		}
	}
}

// A new controller is up everywhere, in automatic mode, with no crossing behind it.
func TestNewController(t *testing.T) {
	c := onField(t, nil)
	for i := range c.section {
		s := &c.section[i]
		if s.On || s.Turn != raised || s.Before != raised || !math.IsInf(s.CrossM, -1) || !math.IsInf(s.WrongM, -1) {
			t.Errorf("section %d: %+v", i, s)
		}
	}
	if c.s.Manual || c.idle || c.s.Estimator.Antenna.XM != 0.8 || c.reach != c.gate.Machine.ReachM() || c.lift != 300e6 || c.drop != 600e6 {
		t.Errorf("%+v", c)
	}
	// Where all zones have rows, nothing takes part beside them.
	if c := newController(t, bar(RearRigid, -2, 3, 1), newField(t, body(0, rectangle(-5, -5, 5, 5))), nil); !c.idle {
		t.Error("all zones have rows, and some takes part beside them")
	}
	c.Hold(0, HoldUp)
	c.Hold(1, HoldDown)
	c.Hold(0, HoldDown)
	if c.s.Held != 2 || !c.anyHeldDown() {
		t.Errorf("two held: %d", c.s.Held)
	}
	c.Hold(0, Released)
	c.Hold(0, Released)
	c.Hold(1, Released)
	if c.s.Held != 0 || c.anyHeldDown() {
		t.Errorf("none held: %d", c.s.Held)
	}
}

// A stroke that is shorter than its part is refused with both in seconds.
func TestStrokeRefused(t *testing.T) {
	set := DefaultSettings()
	set.DropLead = Lead{MoveNs: 400e6, TravelNs: 250e6}
	want := fmt.Sprintf("whole stroke %g s; expected 0, not known, or no less than the part up to the effective depth, %g s", 0.25, 0.4)
	if err := set.Validate(); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v; want %q", err, want)
	}
}
