// Which setpoints fall due in a tick, when a fix reaches the controller, and
// what a saved state must be.

package sections

import (
	"errors"
	"math"
	"strings"
	"testing"

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
