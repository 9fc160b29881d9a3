// Leads of tools that have not gone all the way, beside the height of a tool that is moved.

package sections

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// heightAt is how high a tool is: it moves up or down from a share of its stroke on, and stops at
// either end.
func heightAt(s turn, down bool, travelNs float64, timeNs int64) float64 {
	gone := float64(timeNs-s.AtNs) / travelNs
	if down {
		gone = -gone
	}
	return max(0, min(s.Share+gone, 1))
}

// A command that is a lead before the crossing brings the tool past the effective depth at the
// crossing, from wherever it is on its way the other way. One all the way there takes the
// whole lead; one whose stroke is not known does always.
func TestLeadFromAnyHeight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := func(name string, lo, hi int64) int64 { return rapid.Int64Range(lo, hi).Draw(t, name) * 1e6 }
		machine := &Machine{Sections: make([]Section, 2)} // the second has leads of its own
		c := &Controller{gate: Gate{Machine: machine}, section: make([]sectionState, 2)}
		c.set.LiftLead = Lead{DeadNs: ms("lift dead", 0, 300), MoveNs: ms("lift move", 50, 600)}
		c.set.DropLead = Lead{DeadNs: ms("drop dead", 0, 300), MoveNs: ms("drop move", 50, 600)}
		c.set.LiftLead.TravelNs = c.set.LiftLead.MoveNs + ms("lift beyond", 1, 500)
		c.set.DropLead.TravelNs = c.set.DropLead.MoveNs + ms("drop beyond", 1, 500)
		trim := Trim{LiftNs: ms("lift trim", -c.set.LiftLead.DeadNs/1e6, 500), DropNs: ms("drop trim", -c.set.DropLead.DeadNs/1e6, 500)}
		machine.Sections[1].Trim = trim
		s := &c.section[1]
		*s = sectionState{On: rapid.Bool().Draw(t, "in work"), Turn: turn{AtNs: startNs, Share: rapid.Float64Range(0, 1).Draw(t, "share")}}
		// A lift beside others takes longer, all of its stroke alike.
		longer := rapid.SampledFrom([]float64{1, 1.5, 2}).Draw(t, "stretched")
		s.StrokeNs = int64(longer * float64(c.set.LiftLead.MoveNs))
		upNs, downNs := longer*float64(c.set.LiftLead.TravelNs), float64(c.set.DropLead.TravelNs)
		cross := startNs + ms("crossing after", 0, 3000)

		lead := c.leadNs(1, cross)
		lift, drop := trim.Of(c.set.LiftLead, c.set.DropLead)
		l, goesNs, thenNs := &drop, upNs, downNs
		passes := 1 - float64(c.set.DropLead.MoveNs)/downNs
		if s.On {
			l, goesNs, thenNs = &lift, downNs, upNs
			passes = float64(c.set.LiftLead.MoveNs) / float64(c.set.LiftLead.TravelNs)
		}
		x := cross - lead + l.DeadNs // the valve moves
		// Above the depth that it is to pass, for a drop; below it, for a lift.
		before := func(share float64) bool { return !s.On && share > passes || s.On && share < passes }
		from := turn{AtNs: x, Share: heightAt(s.Turn, s.On, goesNs, x)}
		switch {
		case !before(heightAt(s.Turn, s.On, goesNs, cross)):
			if lead != l.DeadNs {
				t.Fatalf("it never passes the depth the other way: lead %d; want the dead time", lead)
			}
			return
		case before(heightAt(s.Turn, !s.On, thenNs, cross)):
			if x > startNs+2 {
				t.Fatalf("it cannot be in time: the valve moves %d ns after it could", x-startNs)
			}
			return
		}
		if got := heightAt(from, !s.On, thenNs, cross); !(math.Abs(got-passes) <= 1e-6) {
			t.Fatalf("at the crossing the tool is at %g; want %g", got, passes)
		}
		if heightAt(s.Turn, s.On, goesNs, x) == 1 && !s.On && lead != l.AloneNs() && lead-l.AloneNs() != 0 && max(lead-l.AloneNs(), l.AloneNs()-lead) > 2 {
			t.Fatalf("all the way up: lead %d; want %d", lead, l.AloneNs())
		}
		// What a drop serves is the crossing that it has this lead for.
		if !s.On && x > startNs {
			if got := c.servesNs(1, cross-lead); max(got-cross, cross-got) > 1000 {
				t.Fatalf("a drop %d ns before serves one %d ns after it", lead, got-cross)
			}
		}
		c.set.LiftLead.TravelNs, c.set.DropLead.TravelNs = 0, 0
		want := drop.AloneNs()
		if s.On {
			want = lift.DeadNs + s.StrokeNs
		}
		if got := c.leadNs(1, cross); got != want {
			t.Fatalf("stroke not known: lead %d; want %d", got, want)
		}
		if got := c.servesNs(1, cross); !s.On && got != cross+drop.AloneNs() {
			t.Fatalf("stroke not known: a drop serves %d ns later; want the whole lead", got-cross)
		}
	})
}

// How high a tool is lies between 0 and 1, also for an instant before its turn; at once at either end
// where its stroke is not known.
func TestShareAt(t *testing.T) {
	c := &Controller{}
	c.set.LiftLead, c.set.DropLead = Lead{MoveNs: 300e6, TravelNs: 600e6}, Lead{MoveNs: 400e6, TravelNs: 800e6}
	s := &sectionState{Turn: turn{AtNs: startNs, Share: 0.75}, StrokeNs: 600e6} // up in twice the time
	for _, tc := range []struct {
		on      bool
		afterMs int64
		want    float64
	}{{true, 0, 0.75}, {true, 400, 0.25}, {true, 600, 0}, {true, 900, 0}, {true, -100, 0.875}, {true, -400, 1}, {false, 0, 0.75}, {false, 120, 0.85}, {false, 400, 1}, {false, -900, 0}, {false, -1200, 0}} {
		if got := c.shareAt(s, tc.on, startNs+tc.afterMs*1e6); !(math.Abs(got-tc.want) <= 1e-9) {
			t.Errorf("down %v, after %d ms: at %g; want %g", tc.on, tc.afterMs, got, tc.want)
		}
	}
	c.set.LiftLead.TravelNs, c.set.DropLead.TravelNs = 0, 0
	if up, down := c.shareAt(s, false, startNs), c.shareAt(s, true, startNs); up != 1 || down != 0 {
		t.Errorf("stroke not known: up %g, down %g; want 1, 0", up, down)
	}
	if got := (&sectionState{StrokeNs: 5}).stretch(&Lead{}); got != 1 {
		t.Errorf("of no stroke: stretched %g times; want 1", got)
	}
}

// A command moves the valve a dead time later, from where the tool then is; the opposite one within
// the dead time undoes it.
func TestMove(t *testing.T) {
	c := &Controller{gate: Gate{Machine: &Machine{Sections: make([]Section, 1)}}, section: make([]sectionState, 1)}
	c.set.LiftLead, c.set.DropLead = Lead{DeadNs: 100e6, MoveNs: 300e6, TravelNs: 600e6}, Lead{DeadNs: 200e6, MoveNs: 400e6, TravelNs: 800e6}
	for _, tc := range []struct {
		laterMs int64 // the lift after the drop
		turn    turn
	}{
		{199, raised}, // not moved yet
		{200, turn{AtNs: startNs + 300e6, Share: 1 - 100.0/800}},
		{500, turn{AtNs: startNs + 600e6, Share: 1 - 400.0/800}},
		{2000, turn{AtNs: startNs + 2100e6, Share: 0}},
	} {
		s := &c.section[0]
		*s = sectionState{Turn: raised, Before: raised}
		c.move(0, true, startNs)
		if !s.On || s.DueNs != startNs || s.Turn != (turn{AtNs: startNs + 200e6, Share: 1}) {
			t.Fatalf("dropped: %+v", s)
		}
		due := startNs + tc.laterMs*1e6
		if c.move(0, false, due); s.On || s.DueNs != due || s.Turn.AtNs != tc.turn.AtNs || !(math.Abs(s.Turn.Share-tc.turn.Share) <= 1e-9) {
			t.Errorf("lifted %d ms later: %+v; want %+v", tc.laterMs, s, tc.turn)
		}
	}
}

// A lead of one section alone may take off its dead time, and no more; the message says so.
func TestTrimsThatCannotWork(t *testing.T) {
	f := newField(t, body(0, rectangle(-9, -9, 9, 9)))
	for _, tc := range []struct {
		trim Trim
		want string
	}{
		{Trim{LiftNs: -50e6, DropNs: -40e6}, ""},
		{Trim{LiftNs: -51e6}, "section 2: lift lead longer by -51 ms; expected -50 to 9650 ms, for a dead time of 50 ms and a lead of 350 ms"},
		{Trim{DropNs: 9361e6}, "section 2: drop lead longer by 9361 ms; expected -40 to 9360 ms, for a dead time of 40 ms and a lead of 640 ms"},
	} {
		m := bar(RearRigid, -2, 3, 1)
		m.Sections[1].Trim = tc.trim
		set := DefaultSettings()
		set.LiftLead.DeadNs, set.DropLead.DeadNs = 50e6, 40e6
		got := ""
		if _, err := New(m, f, set); err != nil {
			got = err.Error()
		}
		if got != tc.want {
			t.Errorf("%+v: %q; want %q", tc.trim, got, tc.want)
		}
	}
}
