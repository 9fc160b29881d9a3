// Which setpoints fall due in a tick, when a fix reaches the controller, and
// what a saved state must be.

package sections

import (
	"errors"
	"math"
	"strings"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/motion"
)

// A setpoint belongs to the tick that its due time lies in, the tick's end
// excluded; one whose due time has passed is given now and counted.
func TestDueWithinTheTick(t *testing.T) {
	const ms = int64(1e6)
	for _, tc := range []struct {
		name            string
		on              bool
		crossMs         int64   // after now
		lastMs          int64   // crossing that the last command was for; 0 = none
		lastCrossM      float64 // -Inf where it was for something else, given at lastMs
		due             int64   // ms after now; -1 = none
		nsEarlier, late int64
	}{
		{"drop at the start of the tick", false, 600, 0, 0, 0, 0, 0},
		{"drop a ns before it", false, 600, 0, 0, 0, 1, 1},
		{"drop within", false, 630, 0, 0, 30, 0, 0},
		{"drop at its end", false, 650, 0, 0, -1, 0, 0},
		{"drop a ns before the end", false, 650, 0, 0, 50, 1, 0},
		{"lift within", true, 330, 0, 0, 30, 0, 0},
		{"lift at its end", true, 350, 0, 0, -1, 0, 0},
		{"lift far too late", true, 10, 0, 0, 0, 0, 1},
		{"lift 500 ms after the drop", true, 310, -190, -100, 10, 0, 0},
		{"lift 500 ms after the drop, which was later", true, 310, -170, -100, 30, 0, 1},
		{"lift 500 ms after the drop, not yet", true, 310, -150, -100, -1, 0, 0},
		{"lift 500 ms after a command", true, 310, -490, math.Inf(-1), 10, 0, 0},
		{"lift 500 ms after a command, which was later", true, 310, -470, math.Inf(-1), 30, 0, 1},
		{"lift 500 ms after a command, not yet", true, 310, -450, math.Inf(-1), -1, 0, 0},
		{"lift a ns sooner than the tick's end", true, 350, -500, -100, 50, 1, 0},
		{"drop 700 ms after the lift", false, 610, -90, -100, 10, 0, 0},
		{"drop 700 ms after the lift, not yet", false, 610, -50, -100, -1, 0, 0},
		{"drop 10 cm on", false, 610, -5000, 51.52 - 0.101, 10, 0, 0},
		{"drop 9.9 cm on", false, 610, -5000, 51.52 - 0.099, -1, 0, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newController(t, bar(RearRigid, -2, 1, 2), newField(t, body(0, rectangle(-9, -9, 9, 9))), func(s *Settings) { s.ShortestUpNs = 700e6 })
			now := startNs + 150*ms
			c.s.OdometerM = 50
			m := motion.Motion{Pose: motion.Pose{TimeNs: startNs, SpeedMps: 2}}
			s := &c.section[0]
			s.On, s.PendingNs = tc.on, now+tc.crossMs*ms-tc.nsEarlier
			if tc.lastMs != 0 {
				s.DueNs, s.CrossM = now+tc.lastMs*ms, tc.lastCrossM
				if s.CrossNs = s.DueNs; !math.IsInf(s.CrossM, -1) {
					s.DueNs -= 600 * ms
				}
			}
			out := c.command(&m, now, nil)
			if tc.due < 0 {
				if len(out) != 0 || s.On != tc.on || c.s.Counts.AllLate() != 0 {
					t.Errorf("got %v; want none", out)
				}
				return
			}
			due := max(now, now+tc.due*ms-tc.nsEarlier)
			if len(out) != 1 || out[0] != (Setpoint{DueNs: due, On: !tc.on}) || s.On == tc.on || s.DueNs != due {
				t.Errorf("got %v at %d ns; want due at %d ns", out, now, due)
			}
			// 50 m at the fix, and on at 2 m/s since.
			if want := 50 + 2*float64(s.PendingNs-startNs)*1e-9; !(math.Abs(s.CrossM-want) <= 1e-6) {
				t.Errorf("crossing at %g m; want %g", s.CrossM, want)
			}
			if c.s.Counts.AllLate() != tc.late {
				t.Errorf("late %v; want %d", c.s.Counts.Late, tc.late)
			}
		})
	}
}

// Arrival times are believed at ages from 0 to 2 s; up to 60 s once clocks have
// agreed, while no more time has passed since than the age and another minute.
func TestArrivals(t *testing.T) {
	const base = int64(1_936_000_000e9)
	set := DefaultSettings()
	set.LatencyNs = 70e6
	type fix struct{ timeS, ageS float64 }
	for _, tc := range []struct {
		name     string
		fixes    []fix
		believed bool // of the last
	}{
		{"age 0", []fix{{0, 0}}, true},
		{"age of a ns", []fix{{0, 1e-9}}, true},
		{"age of 2 s", []fix{{0, 2}}, true},
		{"age of 2.001 s", []fix{{0, 2.001}}, false},
		{"age below 0", []fix{{0, -1e-9}}, false},
		{"late after clocks agreed", []fix{{0, 0.1}, {1, 30}}, true},
		{"60 s after clocks agreed", []fix{{0, 0.1}, {0.1, 60}}, true},
		{"60.1 s after clocks agreed", []fix{{0, 0.1}, {0.1, 60.1}}, false},
		{"late, but clocks never agreed", []fix{{0, 5}, {1, 4}}, false},
		{"agreed long ago: 60 s and its age", []fix{{0, 0.1}, {60, 3}}, true},
		{"agreed a minute and its age ago", []fix{{0, 0.1}, {60.1, 3}}, true},
		{"agreed too long ago", []fix{{0, 0.1}, {60.2, 3}}, false},
		{"earlier than the one that agreed", []fix{{100, 0.1}, {90, 9}}, false},
		{"agreed again", []fix{{0, 0.1}, {100, 0.1}, {101, 20}}, true},
	} {
		s := NewSchedule(&set)
		var got, want int64
		for _, f := range tc.fixes {
			n := nmea.Fix{TimeNs: base + int64(math.Round(f.timeS*1e9))}
			n.ReadyNs = n.TimeNs + int64(math.Round(f.ageS*1e9))
			got, want = s.ArrivalNs(&n), n.TimeNs+70e6
			if tc.believed {
				want = n.ReadyNs
			}
		}
		if got != want {
			t.Errorf("%s: given %d ns after the fix is valid for; want %d", tc.name, got-base, want-base)
		}
	}
	s := NewSchedule(&set)
	if n := (nmea.Fix{TimeNs: 0, ReadyNs: 0}); s.ArrivalNs(&n) != 70e6 {
		t.Error("no arrival time is taken for one of 1970")
	}
	for ageMs, ok := range map[int64]bool{-1: false, 0: true, 1999: true, 2000: true, 2001: false} {
		n := nmea.Fix{TimeNs: base, ArrivalNs: base + ageMs*1e6}
		if age, is := MeasuredAgeNs(&n); is != ok || age != ageMs*1e6 {
			t.Errorf("age of %d ms: %d ns, measured %v", ageMs, age, is)
		}
	}
	if _, is := MeasuredAgeNs(&nmea.Fix{TimeNs: -5, ArrivalNs: 0}); is {
		t.Error("no arrival time is an age")
	}
}

// Ticks stop three minutes after the last fix, and lie on the grid.
func TestTicksStop(t *testing.T) {
	const base = int64(1_936_000_000e9)
	set := DefaultSettings()
	s := NewSchedule(&set)
	if _, ok := s.Upcoming(); ok {
		t.Error("a tick before the first fix")
	}
	if got := s.Take(base + 12e6); got != base+12e6 {
		t.Errorf("the tick with the fix is at %d", got-base)
	}
	n, last := 0, int64(0)
	for at, ok := s.Next(math.MaxInt64); ok; at, ok = s.Next(math.MaxInt64) {
		n, last = n+1, at
	}
	if n != 3600 || last != base+180e9 {
		t.Errorf("%d ticks until %d ns; want 3600 until 180 s", n, last-base)
	}
	// A fix that is given late is followed by a tick no earlier than the last.
	if got := s.Take(base + 20e9); got != base+180e9 {
		t.Errorf("the tick with a late fix is at %d", got-base)
	}
	if at, _ := s.Upcoming(); at != base+180e9+50e6 {
		t.Errorf("the next tick is at %d", at-base)
	}
	if _, ok := s.Next(base + 180e9 + 50e6); ok {
		t.Error("a tick at the very instant it is to lie before")
	}
}

// Restore tells what is wrong: the length, the version, the machine.
func TestRestoreErrors(t *testing.T) {
	c := newController(t, bar(RearRigid, -2, 2, 2), newField(t, body(0, rectangle(-9, -9, 9, 9))), nil)
	good := c.AppendState(nil)
	head := append([]byte{good[0] + 1}, good[1:8]...)
	other := append(append([]byte{}, good[:4]...), 3, 0, 0, 0)
	for _, tc := range []struct {
		b    []byte
		says string
	}{
		{good[:7], "7 bytes"}, {nil, "0 bytes"}, {head, "version"}, {other, "3 sections"},
		{good[:len(good)-1], "EOF"}, {append(append([]byte{}, good...), 0, 0), "2 bytes too many"},
	} {
		err := c.Restore(tc.b)
		if !errors.Is(err, ErrState) || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%v; want it to say %q", err, tc.says)
		}
	}
	if err := c.Restore(good); err != nil {
		t.Error(err)
	}
}

// Nothing drops below the least speed of half a kilometre an hour, 0.139 m/s,
// and everything above.
func TestLeastSpeedToDrop(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-60, 0, 60, 200)))
	for _, tc := range []struct {
		mps   float64
		drops bool
	}{{0.1, false}, {0.2, true}} {
		c := newController(t, bar(RearRigid, -2, 2, 3), f, nil)
		// 2 m/s up to 1 m before the border, then braking to the slow speed.
		got := play(c, func(s float64) motion.Pose {
			const brakeS = 2.0
			a := (2 - tc.mps) / brakeS
			u := min(max(s-10, 0), brakeS)
			return motion.Pose{NorthM: -21 + 2*min(s, 10) + 2*u - a*u*u/2 + tc.mps*max(s-10-brakeS, 0), SpeedMps: 2 - a*u}
		}, 40, nil)
		if (len(got) == 2) != tc.drops {
			t.Errorf("at %g m/s: %v; want drops %v", tc.mps, got, tc.drops)
		}
	}
}

// A fix counts as long as it is as old as MaxAgeNs, and not a ns longer.
func TestGreatestAge(t *testing.T) {
	m := bar(RearRigid, -2, 2, 3)
	c := newController(t, m, newField(t, body(math.NaN(), rectangle(-60, -60, 60, 60))), nil)
	fix := fixAt(m, straight(0, 0, 0, 2), 0)
	c.Fix(&fix)
	if c.lost(startNs + c.set.MaxAgeNs) {
		t.Error("lost at the greatest age itself")
	}
	if !c.lost(startNs + c.set.MaxAgeNs + 1) {
		t.Error("not lost a ns later")
	}
	if since, why, lost := c.Lost(); !lost || since != startNs+c.set.MaxAgeNs || why != LostFix {
		t.Errorf("lost %v since %d for reason %d", lost, since, why)
	}
}

// The operator's hold of one section takes effect alone.
func TestHoldOne(t *testing.T) {
	m := bar(RearRigid, -2, 3, 2)
	c := newController(t, m, newField(t, body(math.NaN(), rectangle(-60, -60, 60, 60))), nil)
	play(c, straight(0, -40, 0, 2), 10, nil)
	now := startNs + int64(10e9)
	c.Hold(1, HoldUp)
	if got := c.Tick(now, nil); len(got) != 1 || got[0] != (Setpoint{DueNs: now, Section: 1, Reason: HeldUp}) {
		t.Errorf("held up: %v", got)
	}
	c.Hold(1, HoldUp)
	if got := c.Tick(now, nil); len(got) != 0 {
		t.Errorf("held up again: %v", got)
	}
	c.Hold(1, Released)
	if got := c.Tick(now+6e8, nil); len(got) != 1 || got[0].Section != 1 || !got[0].On || got[0].Reason != AtBorder {
		t.Errorf("released inside the field: %v", got)
	}
}
