// The acceptance sheet of what was measured.

package tape

import (
	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/acceptance/tolerance"
	"liftbench/replay/tape"
)

// acceptance is the sheet of the passes that were driven with what was set last: those before it tell
// what to set, and not how the machine works now. A number that looks slipped counts, as nobody knows.
func (r *result) acceptance(d tape.Defaults, command string) *acceptance.Sheet {
	s := &acceptance.Sheet{Source: acceptance.Measured, Machine: r.machineName, Command: command, Title: r.Text("sheet.title")}
	first, last := r.set(false, d), r.set(true, d)
	s.Before, s.After = timingOf(first), timingOf(last)
	older := 0
	for _, m := range moves {
		var now []tape.Reading
		for i := range r.sheet.Readings {
			x := &r.sheet.Readings[i]
			switch {
			case x.Move != m:
			case same(x.LeadS, last.leadS[m]) && same(x.AntennaM, last.antennaM):
				now = append(now, *x)
			default:
				older++
			}
		}
		for _, pass := range tape.PassesOf(now) {
			var c acceptance.Crossing
			for _, i := range pass {
				c.Readings = append(c.Readings, tolerance.Reading{Section: now[i].Section, ErrorM: now[i].LateM})
				c.SpeedMps = now[i].SpeedMps
			}
			if m == tape.Lift {
				s.Lifts = append(s.Lifts, c)
			} else {
				s.Drops = append(s.Drops, c)
			}
		}
	}
	if older > 0 {
		s.Remarks = append(s.Remarks, r.Text("sheet.older", "n", older))
	}
	if n := len(r.sheet.Unread); n > 0 {
		s.Remarks = append(s.Remarks, r.Text("sheet.unread", "n", n))
	}
	if unnamed(r.sheet.Readings) {
		s.Remarks = append(s.Remarks, r.Text("sheet.unnamed"))
	}
	if a := r.answer; a != nil {
		for _, m := range moves {
			t := a.Of(m)
			if t == nil {
				continue
			}
			s.Remarks = append(s.Remarks, r.Text("sheet.asks", "line", r.leadLine(m, t)))
			for i := range t.LeftOut {
				l := &t.LeftOut[i]
				s.Remarks = append(s.Remarks, r.Text("sheet.slip", "move", r.move(m), "row", l.Row, "why", r.leftOut(l)))
			}
		}
	}
	return s
}

// setting is what was set on some pass.
type setting struct {
	leadS    [2]*float64 // by Move
	antennaM *float64
}

// set is what was set on the first pass of each move, or on the last.
func (r *result) set(last bool, d tape.Defaults) setting {
	out := setting{d.LeadS, d.AntennaM}
	var known [2]bool
	for i := range r.sheet.Readings {
		x := &r.sheet.Readings[i]
		if last || !known[x.Move] {
			out.leadS[x.Move] = x.LeadS
		}
		if last || i == 0 {
			out.antennaM = x.AntennaM
		}
		known[x.Move] = true
	}
	return out
}

// same reports whether two settings are one.
func same(a, b *float64) bool { return a == b || a != nil && b != nil && *a == *b }

// timingOf is a setting as a sheet shows it.
func timingOf(s setting) acceptance.Timing {
	ms := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		y := 1000 * *x
		return &y
	}
	return acceptance.Timing{LiftLeadMs: ms(s.leadS[tape.Lift]), DropLeadMs: ms(s.leadS[tape.Drop]), AntennaToToolM: s.antennaM}
}

// unnamed reports whether sections were measured apart and a pass has no name.
func unnamed(list []tape.Reading) bool {
	section, none := false, false
	for i := range list {
		section = section || list[i].Section > 0
		none = none || list[i].Pass == ""
	}
	return section && none
}
