// What the operator holds, machines that are refused, and commands that fall
// due where one tick ends and the next begins.

package sections

import (
	"math"
	"slices"
	"strings"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/motion"
)

// TestHeldDownIsLifted: in manual mode as in automatic, a section held in work
// is lifted by reversing and by a lost position; in manual one that is not held
// stays as it is.
func TestHeldDownIsLifted(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-500, -500, 500, 500)))
	reverses := func(s float64) motion.Pose {
		if s < 10 {
			return motion.Pose{NorthM: 2 * s, SpeedMps: 2}
		}
		u := s - 10 // braking at 0.4 m/s², on into reverse
		return motion.Pose{NorthM: 20 + 2*u - 0.2*u*u, SpeedMps: 2 - 0.4*u}
	}
	for _, tc := range []struct {
		name       string
		pose       func(float64) motion.Pose
		alter      func(s float64, f *nmea.Fix) bool
		failSafe   FailSafe
		reason     Reason
		lifted     bool
		fromS, toS float64
	}{
		{name: "reversing", pose: reverses, reason: Reversed, lifted: true, fromS: 15.375, toS: 15.7},
		{name: "lost", pose: straight(0, 0, 0, 2), alter: func(s float64, _ *nmea.Fix) bool { return s < 10 },
			reason: LostFix, lifted: true, fromS: 9.9 + 1.5 + 1, toS: 9.9 + 1.5 + 1 + 0.11},
		{name: "lost, hold", pose: straight(0, 0, 0, 2), alter: func(s float64, _ *nmea.Fix) bool { return s < 10 }, failSafe: FailSafeHold},
		{name: "all well", pose: straight(0, 0, 0, 2)},
	} {
		for _, manual := range []bool{false, true} {
			c := newController(t, bar(RearRigid, -2, 2, 3), f, func(s *Settings) { s.FailSafe = tc.failSafe })
			before := play(c, tc.pose, 8, nil) // both sections are in work by themselves
			c.SetAutomatic(!manual)
			c.Hold(0, HoldDown)
			var out []Setpoint
			next := startNs + int64(8e9)
			for now := next; now < startNs+int64(18e9); now += c.set.TickNs {
				for next+latencyNs <= now {
					s := float64(next-startNs) * 1e-9
					fix := fixAt(c.gate.Machine, tc.pose, s)
					if tc.alter == nil || tc.alter(s, &fix) {
						c.Fix(&fix)
					}
					next += fixNs
				}
				out = c.Tick(now, out)
			}
			if len(before) != 2 {
				t.Fatalf("%s: %v before; want two drops", tc.name, before)
			}
			var got []Setpoint
			for _, s := range out {
				if s.Section == 0 {
					got = append(got, s)
				} else if manual {
					t.Errorf("%s: manual, %v on a section that nobody holds", tc.name, s)
				}
			}
			if !tc.lifted {
				if len(got) != 0 {
					t.Errorf("%s, manual=%v: %v; want none", tc.name, manual, got)
				}
				continue
			}
			if len(got) != 1 || got[0].On || got[0].Reason != tc.reason {
				t.Fatalf("%s, manual=%v: %v; want one lift for reason %d", tc.name, manual, got, tc.reason)
			}
			if at := float64(got[0].DueNs-startNs) * 1e-9; at < tc.fromS || at > tc.toS {
				t.Errorf("%s, manual=%v: lifted at %.2f s; want %.2f to %.2f", tc.name, manual, at, tc.fromS, tc.toS)
			}
		}
	}
}

func TestMachinesRefused(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-50, -50, 50, 50)))
	trailed := func(m *Machine) { m.Mount, m.HitchBehindM, m.DrawbarM = Trailed, 0.8, 4 }
	for _, tc := range []struct {
		want  string // in the error; "" = taken
		alter func(*Machine)
	}{
		{"", func(*Machine) {}},
		{"", trailed},
		{"", func(m *Machine) { m.Sections[1].YM -= 0.001 }}, // rounding
		{"antenna x NaN", func(m *Machine) { m.AntennaXM = math.NaN() }},
		{"antenna y +Inf", func(m *Machine) { m.AntennaYM = math.Inf(1) }},
		{"antenna height NaN", func(m *Machine) { m.AntennaZM = math.NaN() }},
		{"hitch behind the axle NaN", func(m *Machine) { trailed(m); m.HitchBehindM = math.NaN() }},
		{"drawbar +Inf", func(m *Machine) { trailed(m); m.DrawbarM = math.Inf(1) }},
		{"drawbar 0", func(m *Machine) { trailed(m); m.DrawbarM = 0 }},
		{"mount 99", func(m *Machine) { m.Mount = 99 }},
		{"section 2 overlaps section 1 by 0.5 m", func(m *Machine) { m.Sections[1].YM -= 0.5 }},
		{"section 2 overlaps section 1 by 0.75 m", func(m *Machine) { m.Sections[0].WidthM += 1.5 }},
	} {
		m := bar(RearRigid, -2, 3, 2)
		tc.alter(m)
		_, err := New(m, f, DefaultSettings())
		switch {
		case tc.want == "" && err != nil:
			t.Errorf("%+v: %v", *m, err)
		case tc.want != "" && (err == nil || !strings.Contains(err.Error(), tc.want) || !strings.Contains(err.Error(), "expected") && !strings.Contains(err.Error(), "needs")):
			t.Errorf("got error %v; want %q and what is expected", err, tc.want)
		}
	}
}

// TestDueAtTheBorderOfTicks: a command that falls due where one tick ends and the
// next begins is given once, by the later one, and on time.
func TestDueAtTheBorderOfTicks(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-500, -500, 500, 500)))
	for _, offNs := range []int64{-1, 0, 1} {
		c := newController(t, bar(RearRigid, -2, 1, 3), f, nil)
		m := motion.Motion{Pose: motion.Pose{TimeNs: startNs, SpeedMps: 2}}
		dueNs := startNs + 2*c.set.TickNs + offNs
		var got []Setpoint
		var tick int
		for k := range 5 {
			if !c.section[0].On {
				c.section[0].PendingNs = dueNs + c.set.DropLead.AloneNs() // as each tick foresees it anew
			} else {
				c.section[0].PendingNs = 0
			}
			before := len(got)
			if got = c.command(&m, startNs+int64(k)*c.set.TickNs, got); len(got) > before {
				tick = k
			}
		}
		wantTick := 2
		if offNs < 0 {
			wantTick = 1
		}
		want := []Setpoint{{DueNs: dueNs, Section: 0, On: true, Reason: AtBorder}}
		if !slices.Equal(got, want) || tick != wantTick || c.s.Counts.AllLate() != 0 {
			t.Errorf("due %+d ns from the border: %v in tick %d, %d late; want %v in tick %d", offNs, got, tick, c.s.Counts.AllLate(), want, wantTick)
		}
	}
}
