// A parabola through the samples around an instant.

package motion

// parabola is a fitted position and velocity at one instant.
type parabola struct{ e, n, ve, vn float64 }

// velocityWeight is that of a measured velocity.
const velocityWeight = 1 / (velocitySigmaMps * velocitySigmaMps)

// normal is the left-hand side of a fit: the sums of the weights times powers of τ, and
// the matrix of the last two unknowns once the first is eliminated. It depends on the
// times and weights of the samples alone.
type normal struct {
	s0, s1, s2    float64
	b11, b12, b22 float64
	det           float64
}

func normalOf(samples []Sample, t int64) normal {
	const wa = 4 / (1.0 * 1.0)     // (2·p2)² / σa²
	var s0, s1, s2, s3, s4 float64 // [s0 s1 s2; s1 s2' s3; s2 s3 s4]
	var v11, v12, v22 float64      // what the velocities add
	for i := range samples {
		p := &samples[i]
		tau := float64(float64(p.TimeNs-t) * 1e-9)
		w := 1 / float64(p.SigmaM*p.SigmaM)
		tt := tau * tau
		s0 += w
		s1 += float64(w * tau)
		s2 += float64(w * tt)
		s3 += float64(w * tt * tau)
		s4 += float64(w * tt * tt)
		if !p.hasVelocity() {
			continue
		}
		v11 += velocityWeight
		v12 += float64(2 * velocityWeight * tau)
		v22 += float64(4 * velocityWeight * tt)
	}
	a11, a12, a22 := s2+v11, s3+v12, s4+v22+wa
	// Eliminate p0.
	b11, b12, b22 := a11-s1*s1/s0, a12-s1*s2/s0, a22-s2*s2/s0
	return normal{s0, s1, s2, b11, b12, b22, float64(b11*b22) - float64(b12*b12)}
}

// solve returns the first two unknowns for a right-hand side.
func (l *normal) solve(r0, r1, r2 float64) (p0, p1 float64) {
	if l.det <= 0 {
		return r0 / l.s0, 0
	}
	r1 -= l.s1 * r0 / l.s0
	r2 -= l.s2 * r0 / l.s0
	p1 = (float64(r1*l.b22) - float64(r2*l.b12)) / l.det
	p2 := (float64(l.b11*r2) - float64(l.b12*r1)) / l.det
	return (r0 - float64(l.s1*p1) - float64(l.s2*p2)) / l.s0, p1
}

// fitParabola fits p(τ) = p0 + p1·τ + p2·τ² to positions and velocities, by
// weighted least squares, around the instant t. A weak pull of the
// acceleration towards 0, of standard deviation 1 m/s², keeps it solvable
// with two samples. l is normalOf the samples.
func fitParabola(samples []Sample, t int64, l *normal) parabola {
	var e0, e1, e2, n0, n1, n2 float64
	e00, n00 := samples[0].EastM, samples[0].NorthM
	for i := range samples {
		p := &samples[i]
		tau := float64(float64(p.TimeNs-t) * 1e-9)
		w := 1 / float64(p.SigmaM*p.SigmaM)
		tt := tau * tau
		e, n := float64(w*(p.EastM-e00)), float64(w*(p.NorthM-n00))
		e0 += e
		e1 += float64(e * tau)
		e2 += float64(e * tt)
		n0 += n
		n1 += float64(n * tau)
		n2 += float64(n * tt)
		if !p.hasVelocity() {
			continue
		}
		ve, vn := float64(velocityWeight*float64(p.VelocityE)), float64(velocityWeight*float64(p.VelocityN))
		e1 += ve
		e2 += float64(2 * tau * ve)
		n1 += vn
		n2 += float64(2 * tau * vn)
	}
	var m parabola
	m.e, m.ve = l.solve(e0, e1, e2)
	m.n, m.vn = l.solve(n0, n1, n2)
	m.e, m.n = m.e+e00, m.n+n00
	return m
}

// hasVelocity reports whether the receiver gave a velocity.
func (s *Sample) hasVelocity() bool { return s.VelocityE == s.VelocityE } // not NaN

// window is the samples that a fit takes, from one up to but without another, and what
// they make of its left-hand side. While the samples come evenly and are alike that
// stays the same from one sample to the next, and is not computed again.
type window struct {
	from, until int
	normal      normal
	unlike      int // the last sample, before until, that does not follow on the one before as that did on its own
}

// moveTo makes w the window samples[from:until] around sample i. It must be moved to one
// sample after the other, from the first on.
func (w *window) moveTo(samples []Sample, from, until, i int) {
	for k := w.until; k < until; k++ {
		if k < 2 || !follows(samples[k-2:k+1]) {
			w.unlike = k
		}
	}
	// Moved on by one, each sample stands for the one before it.
	moved := from == w.from+1 && until == w.until+1
	if w.from, w.until = from, until; !moved || w.unlike >= from {
		w.normal = normalOf(samples[from:until], samples[i].TimeNs)
	}
}

// follows reports whether the last of three samples comes as long after the second as
// that after the first, and whether it is weighted like the second.
func follows(s []Sample) bool {
	return s[2].TimeNs-s[1].TimeNs == s[1].TimeNs-s[0].TimeNs &&
		s[2].SigmaM == s[1].SigmaM && s[2].hasVelocity() == s[1].hasVelocity()
}
