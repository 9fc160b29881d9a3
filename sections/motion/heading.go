// Heading and yaw rate of a whole drive from its directions of motion.

package motion

import (
	"math"

	"liftbench/sections/exact"
)

// smoothHeading replaces the antenna's velocity in each pose (east in
// SpeedMps, north in YawRateRadPerS) by heading, speed and yaw rate of the
// turning point.
//
// It is a Kalman filter on (θ, ω) forwards, ω a random walk as in Estimator,
// and the Rauch-Tung-Striebel smoother backwards. An antenna x ahead of the
// turning point that moves with v along the heading has the course
// θ + atan(ω·x/v), near enough θ + ω·x/v, known to σ/v; the receiver's true
// heading, where given, is measured too. At standstill θ holds. Where the
// course is nearer to the opposite of the heading, the tractor reverses.
func smoothHeading(track Track, samples []Sample, antenna Antenna) {
	if len(track) == 0 {
		return
	}
	at, found := startHeading(track, samples)
	if !found {
		for i := range track { // it never moves
			track[i].SpeedMps, track[i].YawRateRadPerS = 0, 0
		}
		return
	}
	// In blocks, so that the filter's past stays small: the smoother of a
	// block starts far enough behind it to have forgotten where.
	const block, beyond = 4096, 256
	steps := make([]headingStep, 0, block+beyond)
	for from := 0; from < len(track); from += block {
		until := min(from+block, len(track))
		steps = steps[:0]
		next := at
		for i := from; i < min(until+beyond, len(track)); i++ {
			if i > 0 {
				at.advance(&track[i], float64(track[i].TimeNs-track[i-1].TimeNs)*1e-9)
			}
			step := headingStep{before: at}
			at.measure(&track[i], &samples[i], antenna)
			step.after = at
			steps = append(steps, step)
			if i == until-1 {
				next = at
			}
		}
		smoothBack(steps)
		for i := from; i < until; i++ {
			p, h := &track[i], &steps[i-from].after
			s, c := exact.Sincos(h.theta)
			p.SpeedMps, p.YawRateRadPerS = float64(p.SpeedMps*s)+float64(p.YawRateRadPerS*c)+float64(h.omega*antenna.YM), h.omega
			p.HeadingRad = h.theta
		}
		at = next
	}
}

// headingState is an estimate of (θ, ω) with its covariance.
type headingState struct {
	theta, omega  float64
	ptt, pto, poo float64
	dt            float64 // from the sample before
}

// headingStep is the estimate at one sample before and after its measurement.
type headingStep struct{ before, after headingState }

// startHeading finds the first direction: the receiver's, or that of the first motion
// faster than startSpeedMps, as the first fits of a slow start may point anywhere. Where
// it never goes so fast, any motion will do.
func startHeading(track Track, samples []Sample) (headingState, bool) {
	for _, mps := range [2]float64{startSpeedMps, courseMps} {
		for i := range track {
			h := float64(samples[i].HeadingRad)
			if math.IsNaN(h) {
				if exact.Hypot(track[i].SpeedMps, track[i].YawRateRadPerS) <= mps {
					continue
				}
				h = exact.Atan2(track[i].SpeedMps, track[i].YawRateRadPerS)
			}
			return headingState{theta: h, ptt: 0.3, poo: 0.04}, true
		}
	}
	return headingState{}, false
}

// advance carries the estimate on by dt to the pose p, whose speed bounds how
// fast the tractor can begin to turn.
func (h *headingState) advance(p *Pose, dt float64) {
	v := exact.Hypot(p.SpeedMps, p.YawRateRadPerS)
	h.dt = dt
	h.theta += float64(dt * h.omega)
	h.ptt += float64(dt * (float64(2*h.pto) + float64(dt*h.poo)))
	h.pto += float64(dt * h.poo)
	q := yawWalkRadPerS * min(1, v)
	q = float64(q * q * dt)
	h.ptt += q * dt * dt / 3
	h.pto += float64(q * dt / 2)
	h.poo += q
	// It cannot turn tighter than its radius: at standstill not at all.
	if v < 1 {
		h.take(0, 1, -h.omega, 0.002+v/tightestTurnRadiusM)
	}
}

// measure takes the direction of motion and the receiver's heading.
func (h *headingState) measure(p *Pose, s *Sample, antenna Antenna) {
	if hdt := float64(s.HeadingRad); !math.IsNaN(hdt) {
		h.take(1, 0, Wrap(hdt-h.theta), headingSigmaRad)
	}
	v := exact.Hypot(p.SpeedMps, p.YawRateRadPerS)
	if v <= courseMps {
		return
	}
	course := exact.Atan2(p.SpeedMps, p.YawRateRadPerS)
	d := Wrap(course - h.theta)
	arm := antenna.XM / v
	if math.Abs(d) > math.Pi/2 { // reversing
		d = Wrap(d + math.Pi)
		arm = -arm
	}
	sigmaMps := fittedSigmaMps
	if most := float64(drivenMps2 * h.dt); h.dt > steadyS && v < most {
		// As at a corner, where it turns back: what is fitted there is no direction.
		if off := exact.Hypot(p.SpeedMps-float64(s.VelocityE), p.YawRateRadPerS-float64(s.VelocityN)); !(off <= 0.25*v) {
			sigmaMps = most
		}
	}
	h.take(1, arm, d-float64(arm*h.omega), sigmaMps/v)
}

// fittedSigmaMps is how far one fitted velocity is off, across, counting that
// neighbours share most of their samples. From memory, no source.
const fittedSigmaMps = 0.035

// take is one scalar measurement a·θ + b·ω.
func (h *headingState) take(a, b, innovation, sigma float64) {
	pt, po := float64(h.ptt*a)+float64(h.pto*b), float64(h.pto*a)+float64(h.poo*b)
	inv := 1 / (float64(a*pt) + float64(b*po) + float64(sigma*sigma))
	h.theta += float64(pt * inv * innovation)
	h.omega += float64(po * inv * innovation)
	h.ptt -= float64(pt * inv * pt)
	h.pto -= float64(pt * inv * po)
	h.poo -= float64(po * inv * po)
}

// smoothBack replaces each step's estimate by the one that knows what came
// after: x += G·(x⁺ - F·x), G = P·Fᵀ·(P⁻)⁻¹, P⁻ the covariance before the next
// measurement.
func smoothBack(steps []headingStep) {
	for i := len(steps) - 2; i >= 0; i-- {
		h, ahead, next := &steps[i].after, &steps[i+1].before, &steps[i+1].after
		det := float64(ahead.ptt*ahead.poo) - float64(ahead.pto*ahead.pto)
		if det <= 0 {
			continue
		}
		// P·Fᵀ with F = [1 dt; 0 1].
		tt, to := h.ptt+float64(ahead.dt*h.pto), h.pto
		ot, oo := h.pto+float64(ahead.dt*h.poo), h.poo
		dt, do := next.theta-ahead.theta, next.omega-ahead.omega
		u, w := (float64(ahead.poo*dt)-float64(ahead.pto*do))/det, (float64(ahead.ptt*do)-float64(ahead.pto*dt))/det
		h.theta += float64(tt*u) + float64(to*w)
		h.omega += float64(ot*u) + float64(oo*w)
	}
}
