// What recorded times are worth: the clock among the causes.

package diagnose

import (
	"fmt"
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/clock"
	"liftbench/replay/diagnose/evidence"
)

// ofClock is a clock that is off as a finding.
func ofClock(o *clock.Offset) Finding {
	return Finding{Cause: ClockOffset, Size: o.OffsetS, Unit: "s", CI95: o.CI95, DriftS: o.DriftS, Record: o.Record, Evidence: o.Evidence(), Change: o.Change()}
}

// besideClock leaves out what is no more than the clock's offset is uncertain by: a
// latency, as both are one number. What another offset within that would make 0 goes to the
// doubts; the intervals of the rest are widened. What takes from setpoint to work state has nothing to do with
// a clock that both share. A kind of grid that was guessed is worth as much to a latency as
// the other kind would change it.
func (d *Diagnosis) besideClock(list []found, r *clock.Reading, speedMps float64) []found {
	keep := list[:0]
	for _, f := range list {
		by := 0.0
		switch f.Family() {
		case "time":
			by = math.Hypot(r.UnsureS(), r.KindUnsureS())
		case "place":
			by = r.UnsureS() * speedMps
		}
		if by > 0 && (f.Cause != MachineSlow || r.Apart) {
			both := f.Cause == Latency || f.Cause == MachineSlow && f.Moves == evidence.Both
			if both && math.Abs(f.Size) <= by+(f.CI95[1]-f.CI95[0])/2 {
				if len(r.Offsets()) == 0 {
					d.orOtherKind(&f, r)
				}
				continue
			}
			f.CI95 = Interval{f.Size - math.Hypot(f.Size-f.CI95[0], by), f.Size + math.Hypot(f.CI95[1]-f.Size, by)}
			if f.CI95[0]*f.CI95[1] <= 0 {
				if len(r.Offsets()) > 0 {
					why, drive := r.OrNothing()
					d.CannotTell = append(d.CannotTell, Doubt{Between: []Cause{f.Cause, ClockOffset}, Why: why, Drive: drive})
				} else {
					d.orOtherKind(&f, r)
				}
				continue
			}
		}
		keep = append(keep, f)
	}
	return keep
}

// orOtherKind is the doubt of a cause that a grid's kind, which was guessed, may make nothing
// of, or another.
func (d *Diagnosis) orOtherKind(f *found, r *clock.Reading) {
	why, drive := r.OrOtherKind()
	q := Doubt{Between: []Cause{f.Cause}, Why: fmt.Sprintf("%s seem %s %s. %s", cause.Capital(cause.KindName(f.Moves)), cause.MS(f.Size), cause.LateOrEarly(f.Size), why), Drive: drive}
	if f.Family() == "place" {
		q.Why = fmt.Sprintf("%s seem %s %s. %s", cause.Capital(cause.KindName(f.Moves)), cause.Length(f.Size), cause.LateOrEarly(f.Size), why)
	}
	if f.Cause != Latency {
		q.Between = append(q.Between, Latency) // to which orClock adds the clock
	}
	d.CannotTell = append(d.CannotTell, q)
}

// orClock adds a clock to the doubts of a latency, and what may be a clock to the doubts. It
// returns the list without what is one of two causes beside a clock, either of which may be
// none.
func (d *Diagnosis) orClock(list []found, r *clock.Reading, speedMps float64) []found {
	var late []clock.Lateness
	for i := range list {
		if f := &list[i]; f.Family() == "time" || f.Cause == ColdOil {
			late = append(late, f.Lateness())
		}
	}
	reading := *r
	for i := range d.CannotTell {
		if q := &d.CannotTell[i]; slices.Contains(q.Between, Latency) {
			reading.HiddenS = 0 // said here
			q.Between = append(slices.Clone(q.Between), ClockOffset)
			q.Why, q.Drive = q.Why+" "+clock.LikeLatency, q.Drive+" "+clock.Compare
		}
	}
	for _, o := range reading.Doubts(late, speedMps) {
		q := Doubt{Why: o.Why, Drive: o.Drive}
		for _, name := range o.Between {
			q.Between = append(q.Between, Cause(name))
		}
		d.CannotTell = append(d.CannotTell, q)
	}
	return slices.DeleteFunc(list, func(f found) bool {
		if l := f.Lateness(); l.Drifts() {
			return true
		}
		return f.Family() == "time" && f.Moves != evidence.Both && f.Cause != MachineSlow &&
			slices.ContainsFunc(r.Offsets(), func(o clock.Offset) bool { return o.IsSlack(f.Size, (f.CI95[1]-f.CI95[0])/2) })
	})
}
