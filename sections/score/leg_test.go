// A leg's curves against those of motion.

package score

import (
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// The leg's own curves are those of motion.Interp, and no point of the bar is
// faster or moves farther than the leg says.
func TestLegAgainstInterp(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	some := func(size float64) float64 { return (2*r.Float64() - 1) * size }
	for k := range 2000 {
		m := rearBar(5, 0.5, -1.5)
		if k%2 == 1 {
			m.Mount, m.HitchBehindM, m.DrawbarM = sections.Trailed, 1, 4
		}
		b := newBar(m)
		from := motion.Pose{TimeNs: startNs, EastM: some(100), NorthM: some(100), HeadingRad: some(7), SpeedMps: some(4), YawRateRadPerS: some(0.5)}
		from.ToolHeadingRad = from.HeadingRad + some(0.3)
		to := from
		to.TimeNs += 100e6 + r.Int64N(900e6)
		to.EastM += some(3)
		to.NorthM += some(3)
		to.HeadingRad += some(0.3)
		to.ToolHeadingRad += some(0.3)
		to.SpeedMps, to.YawRateRadPerS = some(4), some(0.5)
		var l leg
		sa, sb := b.station(&from), b.station(&to)
		l.set(&b, &sa, &sb)
		ends := func(at int64) (p [2][2]float64) {
			f := l.frameAt(m, at)
			p[0][0], p[0][1], _, _ = m.Line(0, &f)
			_, _, p[1][0], p[1][1] = m.Line(len(m.Sections)-1, &f)
			return p
		}
		start := ends(from.TimeNs)
		const steps = 50
		moved, before := [2]float64{}, start
		for i := int64(1); i <= steps; i++ {
			at := from.TimeNs + (to.TimeNs-from.TimeNs)*i/steps
			pose := motion.Interp(&from, &to, at)
			want, got := m.Frame(&pose), l.frameAt(m, at)
			if d := math.Hypot(want.EastM-got.EastM, want.NorthM-got.NorthM) + math.Abs(want.Sin-got.Sin) + math.Abs(want.Cos-got.Cos); d > 1e-10 {
				t.Fatalf("frame is off by %g at %d of %d of %+v … %+v", d, i, steps, from, to)
			}
			now := ends(at)
			for j := range now {
				step := math.Hypot(now[j][0]-before[j][0], now[j][1]-before[j][1])
				moved[j] += step
				if limit := l.fastestMps * l.seconds / steps; step > limit*1.000001 {
					t.Fatalf("an end of the bar moves %g m in one step, more than %g", step, limit)
				}
				if moved[j] > l.moveM*1.000001 {
					t.Fatalf("an end of the bar has moved %g m, more than %g", moved[j], l.moveM)
				}
			}
			before = now
		}
	}
}

// velocity is the derivative of the bar's frame.
func TestVelocityIsTheFramesDerivative(t *testing.T) {
	m := rearBar(3, 1, 0)
	m.Mount, m.HitchBehindM, m.DrawbarM = sections.Trailed, 1.2, 3.5
	b := newBar(m)
	// A short way about a steady turn, the tool swinging at a rate of its own.
	const v, w, rate, h = 2.0, 0.3, 0.2, 1e-4
	at := func(t float64) motion.Pose {
		return motion.Pose{
			EastM: v / w * (1 - math.Cos(w*t)), NorthM: v / w * math.Sin(w*t), HeadingRad: w * t,
			ToolHeadingRad: -0.25 + rate*t, SpeedMps: v, YawRateRadPerS: w}
	}
	p0, p, p1 := at(-h), at(0), at(h)
	f0, f, f1 := m.Frame(&p0), m.Frame(&p), m.Frame(&p1)
	de, dn := (f1.EastM-f0.EastM)/(2*h), (f1.NorthM-f0.NorthM)/(2*h)
	along, across := b.velocity(&p, rate)
	near(t, "along", along, de*f.Sin+dn*f.Cos, 1e-6)
	near(t, "across", across, de*f.Cos-dn*f.Sin, 1e-6)
}
