// A path of straights, arcs and clothoids, along which the curvature never
// jumps while the tractor moves.

package drive

import (
	"math"

	"liftbench/sections/exact"
)

// place is a position on the plane with the way the tractor points, radians
// clockwise from north.
type place struct{ eastM, northM, headingRad float64 }

// ahead returns p moved forwardM along its heading and rightM across it.
func (p place) ahead(forwardM, rightM float64) place {
	s, c := exact.Sincos(p.headingRad)
	p.eastM += float64(forwardM*s) + float64(rightM*c)
	p.northM += float64(forwardM*c) - float64(rightM*s)
	return p
}

// leg is a piece of path of one kind: its curvature runs linearly from k0 to
// k1 (1/m, positive = right). In reverse only straight.
type leg struct {
	start   place
	lengthM float64
	k0, k1  float64
	reverse bool
	capMps  float64
}

func (l *leg) straight() bool { return l.k0 == 0 && l.k1 == 0 }

// sharpness is the change of curvature along the leg, 1/m².
func (l *leg) sharpness() float64 {
	if l.k0 == l.k1 {
		return 0
	}
	return (l.k1 - l.k0) / l.lengthM
}

// at returns the place s metres along the leg and the curvature there.
func (l *leg) at(s float64) (place, float64) {
	if l.reverse {
		return l.start.ahead(-s, 0), 0
	}
	c := l.sharpness()
	k := l.k0 + float64(c*s)
	if c == 0 {
		// An arc's chord is s·sinc(k·s/2), at half the turned angle.
		half := float64(k * s / 2)
		p := place{l.start.eastM, l.start.northM, l.start.headingRad + half}.ahead(s*sinc(half), 0)
		p.headingRad += half
		return p, k
	}
	// θ(u) = θ₀ + k₀·u + c·u²/2; the position is the integral of (sin θ, cos θ).
	var e, n float64
	for i, x := range gaussX {
		for _, u := range [2]float64{s * (1 - x) / 2, s * (1 + x) / 2} {
			sin, cos := exact.Sincos(l.start.headingRad + float64(u*(l.k0+float64(c*u/2))))
			e += float64(gaussW[i] * sin)
			n += float64(gaussW[i] * cos)
		}
	}
	return place{
		l.start.eastM + float64(e*s/2), l.start.northM + float64(n*s/2),
		l.start.headingRad + float64(s*(l.k0+float64(c*s/2))),
	}, k
}

func (l *leg) end() place { p, _ := l.at(l.lengthM); return p }

// gaussX and gaussW are the nodes and weights of 10-point Gauss-Legendre
// quadrature on [-1, 1] (Abramowitz and Stegun, table 25.4): exact to 1e-12
// over a leg that turns by up to half a circle.
var (
	gaussX = [5]float64{0.148874338981631, 0.433395394129247, 0.679409568299024, 0.865063366688985, 0.973906528517172}
	gaussW = [5]float64{0.295524224714753, 0.269266719309996, 0.219086362515982, 0.149451349150581, 0.066671344308688}
)

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-5 {
		return 1 - x*x/6
	}
	return exact.Sin(x) / x
}

// path is legs end to end.
type path []leg

func (p path) end() place { return p[len(p)-1].end() }

func (p path) lengthM() float64 {
	var sum float64
	for i := range p {
		sum += p[i].lengthM
	}
	return sum
}

// turnedRad is the angle that p turns through, either way.
func (p path) turnedRad() float64 {
	var sum float64
	for i := range p {
		sum += float64(math.Abs(p[i].k0+p[i].k1) / 2 * p[i].lengthM)
	}
	return sum
}

// unwind adds whole turns to the legs' headings so that they run on from leg
// to leg.
func (p path) unwind() {
	for i := 1; i < len(p); i++ {
		const whole = 2 * math.Pi
		p[i].start.headingRad += float64(whole * math.Round((p[i-1].end().headingRad-p[i].start.headingRad)/whole))
	}
}

// straightTo appends a straight of lengthM metres from start, at most at
// capMps. A length of nothing (rounding included) appends nothing.
func (p path) straightTo(start place, lengthM, capMps float64) path {
	if lengthM <= lengthTolM {
		return p
	}
	return append(p, leg{start: start, lengthM: lengthM, capMps: capMps})
}

// lengthTolM is a length that no tractor drives: below it a leg is rounding.
const lengthTolM = 1e-9
