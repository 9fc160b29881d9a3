// A receiver that hardly moves knows how fast, but not where to.

package motion

import (
	"math"
	"testing"
)

// Without a course, a speed below 0.5 m/s pulls the estimate's speed to it, forward or backward as the
// estimate goes; one within it stays, and one of a receiver that is faster says nothing.
func TestSpeedWithoutCourse(t *testing.T) {
	update := func(v, reportedMps float64) float64 {
		k := driving(Antenna{}, 0, v)
		k.State.Started, k.State.Ready, k.State.Spread = true, true, 1
		k.State.TimeNs = t0
		k.State.Still.SinceNs = t0
		k.P[speed][speed] = 0.04
		f := rtk(reportedMps, math.NaN())
		f.TimeNs = t0 + 100e6
		k.Update(f, 0, v*0.1)
		return k.X[speed]
	}
	for _, tc := range []struct{ v, mps, lo, hi float64 }{
		{0.4, 0.2, 0.2, 0.3}, {-0.4, 0.2, -0.3, -0.2}, {0.1, 0.2, 0.09, 0.11}, {-0.1, 0.2, -0.11, -0.09}, {0.9, 0.45, 0.45, 0.6}, {0.9, 0.55, 0.89, 0.91},
	} {
		if got := update(tc.v, tc.mps); !(got >= tc.lo && got <= tc.hi) {
			t.Errorf("estimate %g m/s, receiver %g m/s: %g; want %g to %g", tc.v, tc.mps, got, tc.lo, tc.hi)
		}
	}
}

// After a gap of 20 s in which the tractor has come 2 m, a course against its last heading
// is driven in reverse; one within a right angle is its new heading; far away it may have turned.
func TestBeginsAnewInReverse(t *testing.T) {
	for _, tc := range []struct {
		name              string
		northM, courseDeg float64
		headingRad, mps   float64
	}{
		{"against it", -2, 170, -10 * math.Pi / 180, -1}, {"along it", 2, 80, 80 * math.Pi / 180, 1}, {"far away", -20, 170, 170 * math.Pi / 180, 1},
	} {
		k := driving(Antenna{XM: 1}, 0, 1)
		k.State.Started, k.State.Ready, k.State.TimeNs = true, true, t0
		f := rtk(1, tc.courseDeg)
		f.TimeNs = t0 + 20e9
		k.Update(f, 0, tc.northM)
		if e, n := antennaAt(k); !(math.Abs(Wrap(k.X[theta]-tc.headingRad)) <= 1e-9) || !(math.Abs(k.X[speed]-tc.mps) <= 1e-9) || !(math.Hypot(e, n-tc.northM) <= 1e-9) || !k.State.Ready || k.State.LastMps != 1 {
			t.Errorf("%s: heads %g at %g m/s; want %g, %g", tc.name, k.X[theta], k.X[speed], tc.headingRad, tc.mps)
		}
	}
}

// What may have happened in a step of a second and a half: beyond half a second speed and yaw rate walk at random.
// The integral of a walk that ends with variance 1 has the variance 1/3 and with its end the
// covariance 1/2; that of the heading's, across the way, 1/8 with the heading and 1/6 with the yaw rate.
func TestNoiseOfALongStep(t *testing.T) {
	const dt = 1.5
	for _, headingRad := range []float64{0, 0.7, -2.5} {
		for _, v := range []float64{2, 0.5, -2} {
			k := driving(Antenna{}, headingRad, v)
			k.advance(dt)
			sin, cos := math.Sincos(headingRad)
			along := func(j int) float64 { return k.P[east][j]*sin + k.P[north][j]*cos }
			across := func(j int) float64 { return k.P[east][j]*cos - k.P[north][j]*sin }
			way, slow := v*dt, min(1, math.Abs(v))
			mps2 := 0.7 * 0.7                // 0.7 m/s² for a second
			rate2 := 0.2 * 0.2 * slow * slow // 0.2 rad/s² for a second
			walk := 0.08 * 0.08 * slow * slow * dt
			for _, c := range []struct {
				name      string
				got, want float64
			}{
				{"along", along(east)*sin + along(north)*cos, mps2 * dt * dt / 3},
				{"along and speed", along(speed), mps2 * dt / 2},
				{"speed", k.P[speed][speed], mps2},
				{"across", across(east)*cos - across(north)*sin, rate2 * way * way * dt * dt * (1.0/36 + 1.0/48)},
				{"across and along", across(east)*sin + across(north)*cos, 0},
				{"across and heading", across(theta), rate2 * way * dt * dt / 8},
				{"across and yaw rate", across(yaw), rate2 * way * dt / 6},
				{"heading", k.P[theta][theta], rate2*dt*dt/3 + walk*dt*dt/3},
				{"heading and yaw rate", k.P[theta][yaw], rate2*dt/2 + walk*dt/2},
				{"yaw rate", k.P[yaw][yaw], rate2 + walk},
				{"acceleration", k.P[accel][accel], 0.04 * (1 - math.Exp(-2*dt))},
			} {
				if !(math.Abs(c.got-c.want) <= 1e-9) {
					t.Errorf("heading %g, %g m/s: %s %g; want %g", headingRad, v, c.name, c.got, c.want)
				}
			}
		}
	}
}
