// What recorded times are worth: the clock among the causes.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/clock"
	"liftbench/replay/diagnose/evidence"
)

// ofClock is a clock that is off as a finding.
func ofClock(o *clock.Offset) Finding {
	return Finding{Cause: ClockOffset, Size: o.OffsetS, Unit: "s", CI95: o.CI95, DriftS: o.DriftS, Record: o.Record, Evidence: o.Evidence(), Change: o.Change()}
}

// besideClock leaves out what is no more than the clock's offset is uncertain by: a
// latency, as both are one number, and what an offset within that would make 0. It widens
// the intervals of the rest.
func besideClock(list []found, r *clock.Reading, speedMps float64) []found {
	unsureS := r.UnsureS()
	if unsureS == 0 {
		return list
	}
	list = slices.DeleteFunc(list, func(f found) bool {
		return (f.cause == Latency || f.cause == MachineSlow && f.moves == evidence.Both) && math.Abs(f.size) <= unsureS+(f.ci[1]-f.ci[0])/2
	})
	for i := range list {
		f := &list[i]
		if by := map[string]float64{"time": unsureS, "place": unsureS * speedMps}[f.family()]; by > 0 {
			f.ci = Interval{f.size - math.Hypot(f.size-f.ci[0], by), f.size + math.Hypot(f.ci[1]-f.size, by)}
		}
	}
	return slices.DeleteFunc(list, func(f found) bool {
		return (f.family() == "time" || f.family() == "place") && f.piece == nil && f.section == 0 && f.ci[0]*f.ci[1] <= 0
	})
}

// orClock adds what may be a clock to the doubts.
func (d *Diagnosis) orClock(list []found, r *clock.Reading) {
	var late []clock.Lateness
	for i := range list {
		if f := &list[i]; f.family() == "time" {
			late = append(late, clock.Lateness{Cause: string(f.cause), SizeS: f.size, OneMove: f.moves != evidence.Both, FromTold: f.cause == MachineSlow})
		}
	}
	for i := range d.CannotTell {
		if q := &d.CannotTell[i]; slices.Contains(q.Between, Latency) {
			q.Between = append(slices.Clone(q.Between), ClockOffset)
			q.Why, q.Drive = q.Why+" "+clock.LikeLatency, q.Drive+" "+clock.Compare
		}
	}
	for _, o := range r.Doubts(late) {
		q := Doubt{Why: o.Why, Drive: o.Drive}
		for _, name := range o.Between {
			q.Between = append(q.Between, Cause(name))
		}
		d.CannotTell = append(d.CannotTell, q)
	}
}
