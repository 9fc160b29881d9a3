// The speed along a path: never above a leg's cap, never faster up or down
// than the driver allows, and still where the direction changes.

package drive

import "math"

// stretch is a piece of one leg driven with constant acceleration.
type stretch struct {
	leg     int
	fromM   float64 // along the leg
	lengthM float64
	v0, v1  float64 // m/s
	pauseS  float64 // the tractor stands after it
}

func (s *stretch) durationS() float64 { return 2 * s.lengthM / (s.v0 + s.v1) }

// profile returns the stretches of p in order. It starts and ends at a
// standstill, and stands for pauseS where the direction changes.
func profile(p path, accel, decel, pauseS float64) []stretch {
	// Squared speed at each joint of two legs: the lower cap, then what
	// accelerating from the joint before and braking for the one after leave.
	// v² is linear in s under constant acceleration: v₁² = v₀² + 2·a·s.
	n := len(p)
	sq := make([]float64, n+1)
	for i := 1; i < n; i++ {
		if p[i].reverse == p[i-1].reverse {
			v := min(p[i].capMps, p[i-1].capMps)
			sq[i] = v * v
		}
	}
	for i := range n {
		sq[i+1] = min(sq[i+1], sq[i]+float64(2*accel*p[i].lengthM))
	}
	for i := n - 1; i >= 0; i-- {
		sq[i] = min(sq[i], sq[i+1]+float64(2*decel*p[i].lengthM))
	}

	out := make([]stretch, 0, 3*n)
	for i := range p {
		l, top := p[i].lengthM, p[i].capMps*p[i].capMps
		// The peak of the two ramps, if they meet below the cap:
		// (peak - sq₀)/2a + (peak - sq₁)/2d = l.
		peak := (float64(2*accel*decel*l) + float64(decel*sq[i]) + float64(accel*sq[i+1])) / (accel + decel)
		top = min(top, peak)
		up, down := max(0, (top-sq[i])/(2*accel)), max(0, (top-sq[i+1])/(2*decel))
		v0, v, v1 := math.Sqrt(sq[i]), math.Sqrt(max(top, sq[i], sq[i+1])), math.Sqrt(sq[i+1])
		from := 0.0
		add := func(length, a, b float64) {
			if length > lengthTolM && a+b > 0 {
				out = append(out, stretch{leg: i, fromM: from, lengthM: length, v0: a, v1: b})
			}
			from += length
		}
		add(up, v0, v)
		add(l-up-down, v, v)
		add(down, v, v1)
		if i+1 < n && p[i].reverse != p[i+1].reverse {
			out[len(out)-1].pauseS = pauseS
		}
	}
	return out
}
