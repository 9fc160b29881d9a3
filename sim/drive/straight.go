// Drives in closed form, for tests of what happens at one border.

package drive

import (
	"math"

	"liftbench/sections/motion"
)

// Straight is a drive of lengthM metres at a constant speed from a point on
// the plane, the tool in line. Headings are clockwise from north.
func Straight(startNs int64, eastM, northM, headingRad, speedMps, lengthM float64) motion.Track {
	return Arc(startNs, eastM, northM, headingRad, speedMps, lengthM, math.Inf(1))
}

// Arc is a drive of lengthM metres at a constant speed around a circle of
// radiusM (positive = to the right, infinite = straight), as of a rigid
// mount. Its knots are on the circle to rounding; between them Interp is off
// by less than 1e-6 m for a yaw rate up to 0.5 rad/s.
func Arc(startNs int64, eastM, northM, headingRad, speedMps, lengthM, radiusM float64) motion.Track {
	k := 1 / radiusM
	l := leg{start: place{eastM, northM, headingRad}, lengthM: lengthM, k0: k, k1: k}
	step := straightStepS
	if k != 0 {
		step = curveStepS
	}
	duration := lengthM / speedMps
	n := max(1, int(math.Ceil(duration/step)))
	track := make(motion.Track, n+1)
	for i := range track {
		// The place at the whole nanosecond, not the nanosecond nearest to it.
		t := int64(math.Round(duration * float64(i) / float64(n) * 1e9))
		at, _ := l.at(float64(t) * 1e-9 * speedMps)
		track[i] = motion.Pose{
			TimeNs: startNs + t, EastM: at.eastM, NorthM: at.northM,
			HeadingRad: at.headingRad, ToolHeadingRad: at.headingRad,
			SpeedMps: speedMps, YawRateRadPerS: speedMps * k,
		}
	}
	return track
}
