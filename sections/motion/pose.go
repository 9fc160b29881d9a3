// Package motion says where the tractor is, where it is going and where it
// has been: poses from fixes as they arrive, prediction a second ahead, and
// smoothed tracks of a whole drive.
package motion

import "liftbench/sections/exact"

// Pose is the motion of the tractor's turning point (rear axle centre) at one
// instant. Bearings are radians clockwise from north and not wrapped: they
// run on through turns, so that they can be interpolated.
type Pose struct {
	TimeNs         int64   // UTC, ns since 1970
	EastM, NorthM  float64 // on the field's plane
	HeadingRad     float64 // θ, where the tractor points
	ToolHeadingRad float64 // ψ, where a trailed tool points; θ on a rigid mount
	SpeedMps       float64 // v along θ, negative in reverse
	YawRateRadPerS float64 // ω, positive = turning right
}

// Track is a drive as poses in order of time, dense enough that the motion
// between two of them is smooth. Between poses At interpolates; before the
// first and after the last the tractor stands still.
type Track []Pose

// Interp returns the pose at timeNs, which must lie within
// [a.TimeNs, b.TimeNs]. Position follows the cubic through both positions and
// velocities (exact under constant acceleration on a straight, error of order
// h⁴ on an arc); heading follows the cubic through both headings and yaw rates;
// tool heading, speed and yaw rate are linear.
func Interp(a, b *Pose, timeNs int64) Pose {
	hNs := b.TimeNs - a.TimeNs
	if hNs <= 0 {
		return *a
	}
	h := float64(hNs) * 1e-9
	u := float64(timeNs-a.TimeNs) / float64(hNs)
	sa, ca := exact.Sincos(a.HeadingRad)
	sb, cb := exact.Sincos(b.HeadingRad)
	return Pose{
		TimeNs:         timeNs,
		EastM:          hermite(u, h, a.EastM, b.EastM, a.SpeedMps*sa, b.SpeedMps*sb),
		NorthM:         hermite(u, h, a.NorthM, b.NorthM, a.SpeedMps*ca, b.SpeedMps*cb),
		HeadingRad:     hermite(u, h, a.HeadingRad, b.HeadingRad, a.YawRateRadPerS, b.YawRateRadPerS),
		ToolHeadingRad: a.ToolHeadingRad + float64(u*(b.ToolHeadingRad-a.ToolHeadingRad)),
		SpeedMps:       a.SpeedMps + float64(u*(b.SpeedMps-a.SpeedMps)),
		YawRateRadPerS: a.YawRateRadPerS + float64(u*(b.YawRateRadPerS-a.YawRateRadPerS)),
	}
}

// hermite is the cubic on [0, h] with values p, q and slopes dp, dq per unit
// of h's axis, at the fraction u.
func hermite(u, h, p, q, dp, dq float64) float64 {
	v := 1 - u
	return float64(v*v*(1+float64(2*u))*p) + float64(u*u*(3-float64(2*u))*q) + float64(h*u*v*(float64(v*dp)-float64(u*dq)))
}

// At returns the pose at timeNs. cursor remembers where the last look-up ended, so
// that look-ups in order of time cost O(1); start it at 0.
func (tr Track) At(timeNs int64, cursor *int) Pose {
	n := len(tr)
	if n == 0 {
		return Pose{TimeNs: timeNs}
	}
	i := min(max(*cursor, 0), n-1)
	for i > 0 && tr[i].TimeNs > timeNs {
		i--
	}
	for i+1 < n && tr[i+1].TimeNs <= timeNs {
		i++
	}
	*cursor = i
	if timeNs == tr[i].TimeNs {
		return tr[i]
	}
	if i+1 >= n || timeNs < tr[i].TimeNs {
		p := tr[i]
		p.TimeNs, p.SpeedMps, p.YawRateRadPerS = timeNs, 0, 0
		return p
	}
	return Interp(&tr[i], &tr[i+1], timeNs)
}
