// The heading of a trailed tool behind its tractor.

package motion

import (
	"math"

	"liftbench/sections/exact"
)

// TrailStep returns the heading ψ of a trailed tool at pose to, given that it
// was from.ToolHeadingRad at from, by the kinematics of a drawbar of length L
// on a hitch c behind the rear axle,
//
//	ψ' = (v·sin(θ-ψ) - c·ω·cos(θ-ψ)) / L
//
// integrated by Runge-Kutta of fourth order with v, θ and ω linear in time
// between both poses.
func TrailStep(from, to *Pose, hitchBehindM, drawbarM float64) float64 {
	dt := float64(to.TimeNs-from.TimeNs) * 1e-9
	if dt == 0 {
		return from.ToolHeadingRad
	}
	// A step no longer than a quarter of the way L/v over which ψ settles.
	fastest := max(math.Abs(from.SpeedMps), math.Abs(to.SpeedMps))
	n := 1 + min(int(4*math.Abs(dt)*fastest/drawbarM), 1000)
	h := dt / float64(n)
	turn := Wrap(to.HeadingRad - from.HeadingRad)
	slope := func(u, psi float64) float64 {
		v := from.SpeedMps + float64(u*(to.SpeedMps-from.SpeedMps))
		w := from.YawRateRadPerS + float64(u*(to.YawRateRadPerS-from.YawRateRadPerS))
		sin, cos := exact.Sincos(from.HeadingRad + float64(u*turn) - psi)
		return (float64(v*sin) - float64(hitchBehindM*w*cos)) / drawbarM
	}
	psi := from.ToolHeadingRad
	for i := range n {
		u, du := float64(i)/float64(n), 1/float64(n)
		k1 := slope(u, psi)
		k2 := slope(u+float64(du/2), psi+float64(h/2*k1))
		k3 := slope(u+float64(du/2), psi+float64(h/2*k2))
		k4 := slope(u+du, psi+float64(h*k3))
		psi += float64(h / 6 * (k1 + float64(2*k2) + float64(2*k3) + k4))
	}
	return psi
}

// Trail fills in the tool's heading along a track, for a tool that starts in
// line with the tractor.
func Trail(track Track, hitchBehindM, drawbarM float64) {
	for i := range track {
		if i == 0 {
			track[i].ToolHeadingRad = track[i].HeadingRad
			continue
		}
		track[i].ToolHeadingRad = TrailStep(&track[i-1], &track[i], hitchBehindM, drawbarM)
	}
}
