// Package track gives recorded positions the speed and course that nobody recorded.
package track

import (
	"math"

	"liftbench/nmea"
	"liftbench/sections/geodesy"
)

const (
	halfWindowNs = 500e6 // a speed is taken over so much before and after, where fixes come as often
	mostGapNs    = 3e9   // across a longer gap nothing is known of the speed between
	slowMps      = 0.2   // below it the course is that of the noise
)

// Derive gives fixes without a speed the mean velocity from half a second before them to
// half a second after, or between their neighbours where those are further apart: task
// data and most receivers on a bus send positions alone. At the ends and beside gaps of
// more than 3 s it is taken on one side; below 0.2 m/s there is no course. Fixes are in
// order of time; give each piece of a track that jumps by itself.
func Derive(fixes []nmea.Fix) {
	first := 0
	for first < len(fixes) && !fixes[first].HasPosition() {
		first++
	}
	if first == len(fixes) {
		return
	}
	plane := geodesy.NewPlane(fixes[first].LatDeg, fixes[first].LonDeg)
	from, to := 0, 0
	for i := range fixes {
		f := &fixes[i]
		for from < i-1 && fixes[from+1].TimeNs <= f.TimeNs-halfWindowNs {
			from++
		}
		for to < len(fixes)-1 && (to <= i || fixes[to].TimeNs < f.TimeNs+halfWindowNs) {
			to++
		}
		if !math.IsNaN(f.SpeedMps) || !f.HasPosition() {
			continue
		}
		a, b := near(fixes, from, i), near(fixes, to, i)
		dtS := float64(fixes[b].TimeNs-fixes[a].TimeNs) * 1e-9
		if dtS <= 0 {
			continue
		}
		e0, n0 := plane.ToPlane(fixes[a].LatDeg, fixes[a].LonDeg)
		e1, n1 := plane.ToPlane(fixes[b].LatDeg, fixes[b].LonDeg)
		f.SpeedMps = math.Hypot(e1-e0, n1-n0) / dtS
		if f.SpeedMps >= slowMps {
			f.CourseDeg = math.Mod(math.Atan2(e1-e0, n1-n0)*180/math.Pi+360, 360)
		}
	}
}

// near returns the index of a fix at most mostGapNs from fix i and with a position, from k
// towards i.
func near(fixes []nmea.Fix, k, i int) int {
	step := 1
	if k > i {
		step = -1
	}
	for k != i && (!fixes[k].HasPosition() || max(fixes[k].TimeNs-fixes[i].TimeNs, fixes[i].TimeNs-fixes[k].TimeNs) > mostGapNs) {
		k += step
	}
	return k
}
