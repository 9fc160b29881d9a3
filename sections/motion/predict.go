// Carrying a pose a short time ahead.

package motion

import (
	"math"

	"liftbench/sections/exact"
)

// Motion is a pose with its acceleration along the heading, as estimated from
// fixes: all that is needed to carry it ahead.
type Motion struct {
	Pose
	AccelMps2 float64
}

// accelFadeS is the time over which an estimated acceleration fades: a driver
// who brakes does not brake for ever.
const accelFadeS = 1.0

// Predict returns the pose at timeNs (before or after m), with the yaw rate
// held and the acceleration fading with e^(-t/τ): the turning point moves
// along an arc whose chord is s·sin(φ)/φ with φ half the turn. An
// acceleration never carries the tractor through standstill.
func (m *Motion) Predict(timeNs int64) Pose {
	dt := float64(timeNs-m.TimeNs) * 1e-9
	dv, ds := fade(m.AccelMps2, dt)
	v := m.SpeedMps + dv
	s := float64(m.SpeedMps*dt) + ds
	if dt > 0 && (v < 0) != (m.SpeedMps < 0) && m.SpeedMps != 0 {
		// Braking to a stop: the mean of both speeds until it stands.
		v = 0
		if a := math.Abs(dv); a > 0 {
			s = 0.5 * m.SpeedMps * dt * min(1, math.Abs(m.SpeedMps)/a)
		}
	}
	half := float64(0.5 * m.YawRateRadPerS * dt)
	sin, cos := exact.Sincos(m.HeadingRad + half)
	s *= sinc(half)
	return Pose{
		TimeNs:         timeNs,
		EastM:          m.EastM + float64(s*sin),
		NorthM:         m.NorthM + float64(s*cos),
		HeadingRad:     m.HeadingRad + float64(2*half),
		ToolHeadingRad: m.ToolHeadingRad + float64(2*half),
		SpeedMps:       v,
		YawRateRadPerS: m.YawRateRadPerS,
	}
}

// fade integrates an acceleration a·e^(-t/τ): Δv = a·τ(1-e^(-t/τ)),
// Δs = a·τ·(t - τ(1-e^(-t/τ))).
func fade(a, dt float64) (dv, ds float64) {
	if a == 0 {
		return 0, 0
	}
	w := accelFadeS * -exact.Expm1(-dt/accelFadeS)
	return a * w, a * accelFadeS * (dt - w)
}

// sinc is sin(x)/x.
func sinc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/6
	}
	return exact.Sin(x) / x
}
