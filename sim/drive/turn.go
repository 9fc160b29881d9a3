// Turns whose curvature ramps: the wheels take time to go from straight to
// full lock.
//
// Fraichard and Scheuer 2004, "From Reeds and Shepp's to continuous-curvature
// paths" (IEEE Trans. Robotics 20(6):1025-1035): a clothoid to full lock, an
// arc and a clothoid back to straight. Every such turn from one pose lies
// around one centre, whatever its angle, so paths of two or three turns are
// found in closed form as from plain circles.

package drive

import (
	"math"

	"liftbench/sections/exact"
)

const (
	toLeft  = -1.0
	toRight = 1.0
)

// wheel is what the steering can do.
type wheel struct {
	k      float64 // curvature at full lock, 1/m
	rampM  float64 // path from straight to full lock
	alongM float64 // from the start of a turn forward to its centre
	sideM  float64 // from the start of a turn sideways to its centre
}

// newWheel returns the wheel for a smallest radius and a sharpness (change of
// curvature along the path, 1/m²).
func newWheel(radiusM, sharpness float64) wheel {
	w := wheel{k: 1 / radiusM}
	w.rampM = w.k / sharpness
	ramp := leg{lengthM: w.rampM, k1: w.k}
	lock := ramp.end() // heading north: forward is north, right is east
	centre := lock.ahead(0, radiusM)
	w.alongM, w.sideM = centre.northM, centre.eastM
	return w
}

// reachM is the distance of a turn's start, and of its end, from its centre.
func (w *wheel) reachM() float64 { return exact.Hypot(w.alongM, w.sideM) }

// rampRad is the smallest angle at which a turn reaches full lock.
func (w *wheel) rampRad() float64 { return float64(w.k * w.rampM) }

// turn appends a turn by angleRad, [0, 2π), to the side (toLeft, toRight).
func (w *wheel) turn(p path, start place, side, angleRad, capMps float64) path {
	if angleRad < w.rampRad() {
		// Too little for full lock: two equal clothoids with the chord that
		// the common centre asks for. Seen from the bisector the heading is
		// δ/2·(u² - 1), u from 0 to 1 along the first.
		chord := 2 * w.reachM() * exact.Sin(float64(angleRad/2)+exact.Atan2(w.alongM, w.sideM))
		half := leg{start: place{headingRad: -angleRad / 2}, lengthM: 1, k1: angleRad}
		ramp := chord / (2 * half.end().northM)
		if angleRad == 0 {
			return p.straightTo(start, 2*ramp, capMps)
		}
		k := side * angleRad / ramp
		in := leg{start: start, lengthM: ramp, k1: k, capMps: capMps}
		return append(p, in, leg{start: in.end(), lengthM: ramp, k0: k, capMps: capMps})
	}
	k := side * w.k
	in := leg{start: start, lengthM: w.rampM, k1: k, capMps: capMps}
	p = append(p, in)
	arc := leg{start: in.end(), lengthM: (angleRad - w.rampRad()) / w.k, k0: k, k1: k, capMps: capMps}
	out := leg{start: arc.start, lengthM: w.rampM, k0: k, capMps: capMps}
	if arc.lengthM > lengthTolM {
		p = append(p, arc)
		out.start = arc.end()
	}
	return append(p, out)
}

// centre is where a turn to the side that starts at p revolves.
func (w *wheel) centre(p place, side float64) place { return p.ahead(w.alongM, side*w.sideM) }

// centreBefore is where a turn to the side that ends at p revolved.
func (w *wheel) centreBefore(p place, side float64) place {
	return p.ahead(-w.alongM, side*w.sideM)
}

// turnStraightTurn returns the path from a to b by a turn to side1, a
// straight and a turn to side2. There is none when b is too near.
func (w *wheel) turnStraightTurn(a, b place, side1, side2, capMps float64) (path, bool) {
	c1, c2 := w.centre(a, side1), w.centreBefore(b, side2)
	dist, bearing := toward(c1, c2)
	// From the first centre to the second: (l + 2·along) forward and
	// (side2 - side1)·side across, in the frame of the straight of length l.
	across := (side2 - side1) * w.sideM
	forward := math.Sqrt(float64(dist*dist) - float64(across*across))
	l := forward - float64(2*w.alongM)
	if !(l >= -lengthTolM) {
		return nil, false
	}
	heading := bearing - exact.Atan2(across, forward)
	p := w.turn(nil, a, side1, angle(side1*(heading-a.headingRad)), capMps)
	p = p.straightTo(p.end(), l, capMps)
	return w.turn(p, p.end(), side2, angle(side2*(b.headingRad-heading)), capMps), true
}

// threeTurns returns the shorter of the two paths from a to b by a turn to
// side, one to the other side and one to side again. There is none when b is
// too far.
func (w *wheel) threeTurns(a, b place, side, capMps float64) (path, bool) {
	c1, c3 := w.centre(a, side), w.centreBefore(b, side)
	dist, bearing := toward(c1, c3)
	// Consecutive centres lie 2·reach apart, so the three are the corners of
	// an isosceles triangle; the middle one may be on either side.
	cos := dist / (4 * w.reachM())
	if cos > 1 {
		return nil, false
	}
	lean := exact.Atan2(w.sideM, w.alongM)
	var best path
	for _, corner := range [2]float64{exact.Acos(cos), -exact.Acos(cos)} {
		h1 := bearing + corner + float64(side*lean)
		h2 := bearing - corner - float64(side*lean)
		p := w.turn(nil, a, side, angle(side*(h1-a.headingRad)), capMps)
		p = w.turn(p, p.end(), -side, angle(-side*(h2-h1)), capMps)
		p = w.turn(p, p.end(), side, angle(side*(b.headingRad-h2)), capMps)
		if best == nil || p.lengthM() < best.lengthM() {
			best = p
		}
	}
	return best, true
}

// turnBackTurn returns the fishtail from a to b, where b points the opposite
// way: a turn to side, straight back and a turn to the same side. There is
// none when b is so far ahead or behind that the tractor would not back
// across the rows.
func (w *wheel) turnBackTurn(a, b place, side, capMps float64) (path, bool) {
	c1, c2 := w.centre(a, side), w.centreBefore(b, side)
	dist, bearing := toward(c1, c2)
	across := a.headingRad + float64(side*math.Pi/2)
	forward := dist
	if dist < lengthTolM {
		bearing = across
	}
	if exact.Cos(bearing-across) < 0 { // the next pass is nearer than two quarter turns
		bearing += math.Pi
		forward = -dist
	}
	l := forward - float64(2*w.alongM)
	if l >= 0 || exact.Cos(bearing-across) < math.Sqrt2/2 {
		return nil, false
	}
	p := w.turn(nil, a, side, angle(side*(bearing-a.headingRad)), capMps)
	back := leg{start: p.end(), lengthM: -l, reverse: true, capMps: capMps}
	p = append(p, back)
	return w.turn(p, back.end(), side, angle(side*(b.headingRad-bearing)), capMps), true
}

// toward returns the distance and the bearing from a to b.
func toward(a, b place) (distM, bearingRad float64) {
	e, n := b.eastM-a.eastM, b.northM-a.northM
	return exact.Hypot(e, n), exact.Atan2(e, n)
}

// angle returns a wrapped to [0, 2π); a whole turn less rounding is none.
func angle(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	if a > 2*math.Pi-1e-9 {
		return 0
	}
	return a
}
