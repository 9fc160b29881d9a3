// How the oil of one pump is divided among the sections that rise at the same time.

package hydraulics

import "math"

// share divides the pump's oil and sets every section's speed from t on.
func (b *Bank) share(t int64) {
	level := b.level(t)
	for i := range b.sections {
		s := &b.sections[i]
		h := b.heightM(i, t)
		v := 0.0
		switch {
		case s.on && h > 0:
			v = -s.dropFlow * b.speedPerFlow
		case !s.on && h < b.travelM:
			v = min(s.liftCap, level) * b.speedPerFlow
		}
		if v != s.speedMps {
			b.move(i, t, h, v)
			s.plan()
		}
	}
	b.plan()
}

// level returns the most oil that any one rising section gets at t, m³/s. The
// pump's flow is divided equally, except that a section takes no more than its
// liftCap; what it leaves is divided equally among the others (water-filling).
// The result is infinite when the pump can supply all of them.
func (b *Bank) level(t int64) float64 {
	rising := 0 // not yet supplied
	for i := range b.sections {
		if b.rises(i, t) {
			rising++
		}
	}
	rest := b.pumpM3PerS
	for _, i := range b.byCap {
		if !b.rises(int(i), t) {
			continue
		}
		if equal := rest / float64(rising); b.sections[i].liftCap > equal {
			return equal
		}
		rest -= b.sections[i].liftCap
		rising--
	}
	return math.Inf(1)
}

// rises reports whether tool i takes oil from t on.
func (b *Bank) rises(i int, t int64) bool {
	return !b.sections[i].on && b.heightM(i, t) < b.travelM
}
