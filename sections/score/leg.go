// This file knows how the bar moves from one pose of the track to the next, and how far
// any of its points can move at most.

package score

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

// bar is the shape of the tool.
type bar struct {
	machine *sections.Machine
	hitchM  float64 // how far the hitch is behind the rear axle, c; 0 on a rigid mount
	reachM  float64 // from the point about which the tool turns (hitch or turning point) to the farthest section end
	// A disc that contains all sections: its centre in the tool's frame, its radius.
	midXM, midYM, radiusM float64
	leftM, rightM         float64 // y of the middles of the first and the last section
}

func newBar(m *sections.Machine) bar {
	b := bar{machine: m}
	if m.Mount == sections.Trailed {
		b.hitchM = m.HitchBehindM
	}
	minX, maxX := math.Inf(1), math.Inf(-1)
	minY, maxY := minX, maxX
	for _, s := range m.Sections {
		minX, maxX = min(minX, s.XM), max(maxX, s.XM)
		minY, maxY = min(minY, s.YM-float64(s.WidthM/2)), max(maxY, s.YM+float64(s.WidthM/2))
	}
	b.midXM, b.midYM = (minX+maxX)/2, (minY+maxY)/2
	for _, s := range m.Sections {
		for _, y := range [2]float64{s.YM - float64(s.WidthM/2), s.YM + float64(s.WidthM/2)} {
			b.reachM = max(b.reachM, exact.Hypot(s.XM+b.hitchM, y))
			b.radiusM = max(b.radiusM, exact.Hypot(s.XM-b.midXM, y-b.midYM))
		}
	}
	b.leftM, b.rightM = m.Sections[0].YM, m.Sections[len(m.Sections)-1].YM
	return b
}

// velocity returns the speed of the origin of the tool's frame along the tool's heading
// and to its right, in m/s. turn is the tool's yaw rate in rad/s. The point (x, y) of the
// tool then moves at along - y·turn and across + x·turn.
//
// With the tractor's heading θ, the tool's heading ψ, f the unit vector forward and r the
// one to the right, the origin is T - c·f(θ) + c·f(ψ). Its derivative is
// v·f(θ) - c·ω·r(θ) + c·ψ'·r(ψ), of which the parts along f(ψ) and r(ψ) are
//
//	along  = v·cos(θ-ψ) + c·ω·sin(θ-ψ)
//	across = v·sin(θ-ψ) - c·ω·cos(θ-ψ) + c·ψ'
func (b *bar) velocity(p *motion.Pose, turn float64) (along, across float64) {
	if b.machine.Mount != sections.Trailed {
		return p.SpeedMps, 0
	}
	s, c := exact.Sincos(p.HeadingRad - p.ToolHeadingRad)
	hw := b.hitchM * p.YawRateRadPerS
	return float64(p.SpeedMps*c) + float64(hw*s), float64(p.SpeedMps*s) - float64(hw*c) + float64(b.hitchM*turn)
}

// Jumps reports whether b is too far from a for the tractor to have driven there: the log
// breaks off at a and goes on elsewhere. Nothing is swept on such a leg.
func Jumps(a, b *motion.Pose) bool {
	fastest := max(math.Abs(a.SpeedMps), math.Abs(b.SpeedMps))
	return exact.Hypot(b.EastM-a.EastM, b.NorthM-a.NorthM) > 1+float64(2*fastest*float64(b.TimeNs-a.TimeNs)*1e-9)
}

// station is a pose of the track with what is computed from it once.
type station struct {
	pose  *motion.Pose
	frame sections.Frame
	vel   orb.Point // of the tractor, m/s east and north
}

// station returns the station at a pose.
func (b *bar) station(p *motion.Pose) station {
	s := station{pose: p, frame: b.machine.Frame(p)}
	sin, cos := s.frame.Sin, s.frame.Cos
	if b.machine.Mount == sections.Trailed {
		sin, cos = exact.Sincos(p.HeadingRad)
	}
	s.vel = orb.Point{p.SpeedMps * sin, p.SpeedMps * cos}
	return s
}

// leg is the way from one pose a to the next, b, as motion.Interp interpolates it. The
// tool's speed along its heading, and its yaw rate, are taken as linear in time.
type leg struct {
	a, b       station
	seconds    float64
	along      [2]float64 // speed of the origin of the tool's frame at a and b, m/s
	turn       [2]float64 // yaw rate of the tool at a and b, rad/s
	moveM      float64    // no point of the bar moves farther than this on the leg
	fastestMps float64    // no point of the bar is faster than this on the leg
	curved     bool       // whether curve has been computed
	curve      [3]cubic   // east, north, heading
}

// set makes l the leg from one station to a later one.
func (l *leg) set(bar *bar, from, to *station) {
	l.a, l.b, l.curved = *from, *to, false
	p, q := from.pose, to.pose
	l.seconds = float64(q.TimeNs-p.TimeNs) * 1e-9
	l.turn = [2]float64{p.YawRateRadPerS, q.YawRateRadPerS}
	// A cubic that changes by Δ in the time h, with slopes m₀ and m₁ at its ends, has as
	// its derivative the quadratic with the Bézier points m₀, 3·Δ/h - m₀ - m₁ and m₁. So
	// the speed is never above the largest of these, and the way not longer than their
	// sum times h/3.
	third := l.seconds / 3
	turn0, turn1 := math.Abs(l.turn[0]), math.Abs(l.turn[1])
	turnMid := math.Abs((q.HeadingRad-p.HeadingRad)/third - l.turn[0] - l.turn[1])
	swing0, swing1, swingMid := bar.reachM*turn0, bar.reachM*turn1, bar.reachM*turnMid
	if bar.machine.Mount == sections.Trailed {
		rate := (q.ToolHeadingRad - p.ToolHeadingRad) / l.seconds
		l.turn = [2]float64{rate, rate}
		tool := float64(bar.reachM * math.Abs(rate))
		swing0, swing1, swingMid = float64(bar.hitchM*turn0)+tool, float64(bar.hitchM*turn1)+tool, float64(bar.hitchM*turnMid)+tool
	}
	midE := (q.EastM-p.EastM)/third - from.vel[0] - to.vel[0]
	midN := (q.NorthM-p.NorthM)/third - from.vel[1] - to.vel[1]
	speed0 := math.Abs(p.SpeedMps) + swing0
	speed1 := math.Abs(q.SpeedMps) + swing1
	speedMid := math.Sqrt(float64(midE*midE)+float64(midN*midN)) + swingMid
	l.fastestMps = max(speed0, speedMid, speed1)
	l.moveM = third * (speed0 + speedMid + speed1)
	l.along[0], _ = bar.velocity(p, l.turn[0])
	l.along[1], _ = bar.velocity(q, l.turn[1])
}

// cubic is a polynomial of degree 3, constant term first.
type cubic [4]float64

// hermite returns the cubic with the value p and the slope dp at 0, and q and dq at 1.
func hermite(p, q, dp, dq float64) cubic {
	return cubic{p, dp, float64(3*(q-p)) - float64(2*dp) - dq, dp + dq - float64(2*(q-p))}
}

func (c *cubic) at(u float64) float64 {
	return c[0] + float64(u*(c[1]+float64(u*(c[2]+float64(u*c[3])))))
}

// frameAt returns where the bar is at timeNs, which must be on the leg. It uses the curves
// of motion.Interp, but computes them once for the leg: that takes a third of the time.
func (l *leg) frameAt(m *sections.Machine, timeNs int64) sections.Frame {
	a, b, h := l.a.pose, l.b.pose, l.seconds
	if timeNs == a.TimeNs {
		return l.a.frame
	}
	if !l.curved {
		l.curve = [3]cubic{
			hermite(a.EastM, b.EastM, float64(h*l.a.vel[0]), float64(h*l.b.vel[0])),
			hermite(a.NorthM, b.NorthM, float64(h*l.a.vel[1]), float64(h*l.b.vel[1])),
			hermite(a.HeadingRad, b.HeadingRad, float64(h*a.YawRateRadPerS), float64(h*b.YawRateRadPerS)),
		}
		l.curved = true
	}
	u := float64(timeNs-a.TimeNs) * 1e-9 / h
	return m.Frame(&motion.Pose{
		EastM:          l.curve[0].at(u),
		NorthM:         l.curve[1].at(u),
		HeadingRad:     l.curve[2].at(u),
		ToolHeadingRad: a.ToolHeadingRad + float64(u*(b.ToolHeadingRad-a.ToolHeadingRad)),
	})
}

// pose returns the pose at timeNs, which must be on the leg.
func (l *leg) pose(timeNs int64) motion.Pose {
	return motion.Interp(l.a.pose, l.b.pose, timeNs)
}

// rates returns the tool's speed along its heading, in m/s, and its yaw rate, in rad/s.
func (l *leg) rates(timeNs int64) (along, turn float64) {
	u := float64(timeNs-l.a.pose.TimeNs) * 1e-9 / l.seconds
	return l.along[0] + float64(u*(l.along[1]-l.along[0])), l.turn[0] + float64(u*(l.turn[1]-l.turn[0]))
}

// odometer sums up the tool's way along its heading, in metres, and its turning to the
// right, in radians. A section at y has advanced by along - y·turn.
type odometer struct{ along, turn float64 }

// travel returns by how much the odometer changes from t0 to t1.
func (l *leg) travel(t0, t1 int64) odometer {
	a0, w0 := l.rates(t0)
	a1, w1 := l.rates(t1)
	half := float64(t1-t0) * 0.5e-9
	return odometer{(a0 + a1) * half, (w0 + w1) * half}
}

// sign is 1 if no section moves backwards on the leg, -1 if none moves forward, and 0 if
// some do either.
func (l *leg) sign(b *bar) float64 {
	p, q := l.along[0]-float64(b.leftM*l.turn[0]), l.along[0]-float64(b.rightM*l.turn[0])
	r, s := l.along[1]-float64(b.leftM*l.turn[1]), l.along[1]-float64(b.rightM*l.turn[1])
	switch {
	case min(p, q, r, s) >= 0:
		return 1
	case max(p, q, r, s) <= 0:
		return -1
	}
	return 0
}

// swept returns how many metres a section at y moves from t0 to t1, forwards and
// backwards alike: ∫|along - y·turn| dt. The speed is linear in time. With p and q at the
// ends of the time h, the integral is h·|p+q|/2, or h·(p²+q²)/(2·|q-p|) if the speed
// changes its sign.
func (l *leg) swept(y float64, t0, t1 int64) float64 {
	a0, w0 := l.rates(t0)
	a1, w1 := l.rates(t1)
	p, q := a0-float64(y*w0), a1-float64(y*w1)
	half := float64(t1-t0) * 0.5e-9
	if p*q >= 0 {
		return half * math.Abs(p+q)
	}
	return half * (float64(p*p) + float64(q*q)) / math.Abs(q-p)
}
