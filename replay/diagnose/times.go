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

// besideClock leaves out a latency that is no more than what the clock's offset is
// uncertain by, as both are one number, and widens the intervals of what else would be
// larger or smaller with another offset.
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
		by := map[string]float64{"time": unsureS, "place": unsureS * speedMps}[f.family()]
		f.ci = Interval{f.size - math.Hypot(f.size-f.ci[0], by), f.size + math.Hypot(f.ci[1]-f.size, by)}
	}
	return list
}
