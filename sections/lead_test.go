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
		c := &Controller{}
		c.set.LiftLead = Lead{DeadNs: ms("lift dead", 0, 300), MoveNs: ms("lift move", 50, 600)}
		c.set.DropLead = Lead{DeadNs: ms("drop dead", 0, 300), MoveNs: ms("drop move", 50, 600)}
		c.set.LiftLead.TravelNs = c.set.LiftLead.MoveNs + ms("lift beyond", 1, 500)
		c.set.DropLead.TravelNs = c.set.DropLead.MoveNs + ms("drop beyond", 1, 500)
		s := &sectionState{On: rapid.Bool().Draw(t, "in work"), Turn: turn{AtNs: startNs, Share: rapid.Float64Range(0, 1).Draw(t, "share")}}
		// A lift beside others takes longer, all of its stroke alike.
		longer := rapid.SampledFrom([]float64{1, 1.5, 2}).Draw(t, "stretched")
		s.StrokeNs = int64(longer * float64(c.set.LiftLead.MoveNs))
		upNs, downNs := longer*float64(c.set.LiftLead.TravelNs), float64(c.set.DropLead.TravelNs)
		cross := startNs + ms("crossing after", 0, 3000)

		lead := c.leadNs(s, cross)
		l, goesNs, thenNs := &c.set.DropLead, upNs, downNs
		passes := 1 - float64(c.set.DropLead.MoveNs)/downNs
		if s.On {
			l, goesNs, thenNs = &c.set.LiftLead, downNs, upNs
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
			if got := c.servesNs(s, cross-lead); max(got-cross, cross-got) > 1000 {
				t.Fatalf("a drop %d ns before serves one %d ns after it", lead, got-cross)
			}
		}
		c.set.LiftLead.TravelNs, c.set.DropLead.TravelNs = 0, 0
		want := c.set.DropLead.AloneNs()
		if s.On {
			want = c.set.LiftLead.DeadNs + s.StrokeNs
		}
		if got := c.leadNs(s, cross); got != want {
			t.Fatalf("stroke not known: lead %d; want %d", got, want)
		}
		if got := c.servesNs(s, cross); !s.On && got != cross+c.set.DropLead.AloneNs() {
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
	c := &Controller{}
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
		s := &sectionState{Turn: raised, Before: raised}
		c.move(s, true, startNs)
		if !s.On || s.DueNs != startNs || s.Turn != (turn{AtNs: startNs + 200e6, Share: 1}) {
			t.Fatalf("dropped: %+v", s)
		}
		due := startNs + tc.laterMs*1e6
		if c.move(s, false, due); s.On || s.DueNs != due || s.Turn.AtNs != tc.turn.AtNs || !(math.Abs(s.Turn.Share-tc.turn.Share) <= 1e-9) {
			t.Errorf("lifted %d ms later: %+v; want %+v", tc.laterMs, s, tc.turn)
		}
	}
}
