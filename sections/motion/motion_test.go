// The pose from fixes, carried ahead, interpolated and smoothed.

package motion

import (
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/nmea"
)

const t0 = int64(1_936_000_000e9)

// driveFix is what a receiver at antenna a says of the pose, with white noise
// of the given size on each axis; the receiver's velocity is exact.
func driveFix(p Pose, a Antenna, rng *rand.Rand, noiseM float64) (f nmea.Fix, e, n float64) {
	s, c := math.Sincos(p.HeadingRad)
	e = p.EastM + a.XM*s + a.YM*c
	n = p.NorthM + a.XM*c - a.YM*s
	if rng != nil {
		e += noiseM * rng.NormFloat64()
		n += noiseM * rng.NormFloat64()
	}
	fwd, right := p.SpeedMps-p.YawRateRadPerS*a.YM, p.YawRateRadPerS*a.XM
	ve, vn := fwd*s+right*c, fwd*c-right*s
	nan := math.NaN()
	f = nmea.Fix{TimeNs: p.TimeNs, Quality: nmea.RTKFixed, SpeedMps: math.Hypot(ve, vn), CourseDeg: nan, HeadingDeg: nan,
		SigmaEastM: float32(nan), SigmaNorthM: float32(nan)}
	if f.SpeedMps > 0.1 {
		f.CourseDeg = math.Mod(math.Atan2(ve, vn)*180/math.Pi+360, 360)
	}
	return f, e, n
}

// manoeuvre drives north at 2 m/s for 20 s, a quarter circle to the right of
// 8 m, brakes to a stop at 1 m/s² within 2 s, stands 20 s, then reverses 5 s at 1 m/s.
func manoeuvre(s float64) Pose {
	at := func(e, n, h, v, w float64) Pose {
		return Pose{TimeNs: t0 + int64(math.Round(s*1e9)), EastM: e, NorthM: n, HeadingRad: h, ToolHeadingRad: h, SpeedMps: v, YawRateRadPerS: w}
	}
	const r, v = 8.0, 2.0
	quarter := r * math.Pi / 2 / v
	switch a := v * (s - 20) / r; {
	case s <= 20:
		return at(0, 2*s, 0, v, 0)
	case s <= 20+quarter:
		return at(r*(1-math.Cos(a)), 40+r*math.Sin(a), a, v, v/r)
	}
	u := s - 20 - quarter
	switch {
	case u <= 2:
		return at(r+2*u-u*u/2, 48, math.Pi/2, v-u, 0)
	case u <= 22:
		return at(r+2, 48, math.Pi/2, 0, 0)
	case u <= 24:
		return at(r+2-(u-22)*(u-22)/4, 48, math.Pi/2, -(u-22)/2, 0)
	}
	return at(r+1-(u-24), 48, math.Pi/2, -1, 0)
}

func TestEstimator(t *testing.T) {
	quarter := 8 * math.Pi / 2 / 2.0
	for _, tc := range []struct {
		name                           string
		noiseM                         float64
		headingDeg, speedMps, placeM   float64
		turnHeadingDeg, standHeadingDg float64
	}{
		{"exact", 0, 0.02, 0.005, 0.002, 2, 0.25},
		{"RTK noise", 0.014, 1.2, 0.06, 0.03, 3, 1.2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			k := Estimator{Antenna: Antenna{XM: 1.5, YM: 0.2}}
			rng := rand.New(rand.NewPCG(1, 2))
			check := func(s float64, headingDeg, speedMps, placeM float64) {
				t.Helper()
				m, ok := k.Motion()
				want := manoeuvre(s)
				if !ok {
					t.Fatalf("at %.1f s: not ready", s)
				}
				if d := math.Abs(m.HeadingRad-want.HeadingRad) * 180 / math.Pi; d > headingDeg {
					t.Errorf("at %.1f s: heading off by %.3f°; want %.3f at most", s, d, headingDeg)
				}
				if d := math.Abs(m.SpeedMps - want.SpeedMps); d > speedMps {
					t.Errorf("at %.1f s: speed %.3f m/s; want %.3f ± %.3f", s, m.SpeedMps, want.SpeedMps, speedMps)
				}
				if d := math.Hypot(m.EastM-want.EastM, m.NorthM-want.NorthM); d > placeM {
					t.Errorf("at %.1f s: off by %.4f m; want %.4f at most", s, d, placeM)
				}
			}
			for i := range 530 {
				s := float64(i) * 0.1
				f, e, n := driveFix(manoeuvre(s), k.Antenna, rng, tc.noiseM)
				k.Update(&f, e, n)
				switch {
				case s > 5 && s < 20:
					check(s, tc.headingDeg, tc.speedMps, tc.placeM)
				case s > 22 && s < 20+quarter-0.1:
					// The course is atan(ω·x/v) = 10.6° off the heading here.
					check(s, tc.turnHeadingDeg, 0.15, tc.placeM+0.02)
				case s > 20+quarter+6 && s < 20+quarter+22:
					check(s, tc.standHeadingDg, 0.03, tc.placeM+0.01)
				case s > 20+quarter+24.5:
					check(s, tc.standHeadingDg, 0.08, tc.placeM+0.02)
				}
			}
			if m, _ := k.Motion(); m.SpeedMps > -0.9 {
				t.Errorf("speed %.2f m/s at the end; want -1, reversing", m.SpeedMps)
			}
		})
	}
}

// A drive that begins in reverse looks like one forward, the other way round;
// once it drives on forward for longer than any tractor reverses, that shows.
func TestEstimatorBegunInReverse(t *testing.T) {
	k := Estimator{Antenna: Antenna{XM: 1.5}}
	for i := range 600 {
		s := float64(i) * 0.1
		p := Pose{TimeNs: t0 + int64(i)*100e6, NorthM: -s, SpeedMps: -1}
		if s >= 5 {
			v := min(s-6, 2)
			p.NorthM, p.SpeedMps = -5-0.5+0.5*min(s-6, 2)*min(s-6, 2)+2*max(s-8, 0), v
		}
		f, e, n := driveFix(p, k.Antenna, nil, 0)
		k.Update(&f, e, n)
	}
	m, _ := k.Motion()
	if h := math.Abs(Wrap(m.HeadingRad)); h > 0.01 || m.SpeedMps < 1.9 {
		t.Errorf("heading %.3f rad, speed %.2f m/s; want 0, 2", h, m.SpeedMps)
	}
	if d := math.Hypot(m.EastM, m.NorthM-(-5.5+2+2*(59.9-8))); d > 0.05 {
		t.Errorf("turning point off by %.2f m; the antenna is 1.5 m ahead of it", d)
	}
}

func TestEstimatorTakesReceiversHeading(t *testing.T) {
	var k Estimator
	f := nmea.Fix{TimeNs: t0, HeadingDeg: 270, SpeedMps: math.NaN(), CourseDeg: math.NaN(), Quality: nmea.RTKFixed}
	k.Update(&f, 0, 0)
	if m, ok := k.Motion(); !ok || math.Abs(Wrap(m.HeadingRad+math.Pi/2)) > 1e-9 {
		t.Errorf("heading %.3f rad, ready %v; want -π/2 at standstill", m.HeadingRad, ok)
	}
}

func TestEstimatorAllocatesNothing(t *testing.T) {
	var k Estimator
	i := 0
	if n := testing.AllocsPerRun(400, func() {
		f, e, n := driveFix(manoeuvre(float64(i)*0.1), k.Antenna, nil, 0)
		k.Update(&f, e, n)
		i++
	}); n != 0 {
		t.Errorf("%v allocations a fix; want 0", n)
	}
}

func BenchmarkEstimatorUpdate(b *testing.B) {
	var k Estimator
	b.ReportAllocs()
	i := 0
	var f nmea.Fix
	f, _, _ = driveFix(manoeuvre(1), k.Antenna, nil, 0)
	for b.Loop() {
		i++
		f.TimeNs = t0 + int64(i)*100e6
		k.Update(&f, 0, float64(i)*0.2)
	}
}

// Predict is exact on an arc and fades an acceleration.
func TestPredict(t *testing.T) {
	m := Motion{Pose: Pose{TimeNs: t0, SpeedMps: 2, YawRateRadPerS: 0.25}}
	p := m.Predict(t0 + 3e9)
	a, r := 0.75, 8.0
	if math.Hypot(p.EastM-r*(1-math.Cos(a)), p.NorthM-r*math.Sin(a)) > 1e-9 || math.Abs(p.HeadingRad-a) > 1e-12 {
		t.Errorf("got %+v; want a point on the circle of 8 m", p)
	}
	m = Motion{Pose: Pose{TimeNs: t0, SpeedMps: 2}, AccelMps2: -1}
	if p = m.Predict(t0 + 1e9); math.Abs(p.SpeedMps-(2-(1-math.Exp(-1)))) > 1e-9 {
		t.Errorf("speed %.6f; want 2 - (1 - 1/e)", p.SpeedMps)
	}
	m = Motion{Pose: Pose{TimeNs: t0, SpeedMps: 0.2}, AccelMps2: -1}
	if p = m.Predict(t0 + 2e9); p.SpeedMps != 0 || p.NorthM < 0 {
		t.Errorf("got %+v; braking ends at standstill", p)
	}
}

// The cubic between two poses is exact under constant acceleration on a
// straight, and within 1 µm on an arc of 6 m with poses 0.1 s apart.
func TestInterp(t *testing.T) {
	straight := func(s float64) Pose {
		return Pose{TimeNs: t0 + int64(s*1e9), NorthM: 2*s + 0.2*s*s, SpeedMps: 2 + 0.4*s}
	}
	a, b := straight(0), straight(1)
	if p := Interp(&a, &b, t0+250e6); math.Abs(p.NorthM-straight(0.25).NorthM) > 1e-12 || math.Abs(p.SpeedMps-2.1) > 1e-12 {
		t.Errorf("got %+v; want %+v", p, straight(0.25))
	}
	arc := func(s float64) Pose {
		w := 1.5 / 6
		return Pose{TimeNs: t0 + int64(s*1e9), EastM: 6 * (1 - math.Cos(w*s)), NorthM: 6 * math.Sin(w*s), HeadingRad: w * s, SpeedMps: 1.5, YawRateRadPerS: w}
	}
	a, b = arc(0), arc(0.1)
	p, want := Interp(&a, &b, t0+50e6), arc(0.05)
	if math.Hypot(p.EastM-want.EastM, p.NorthM-want.NorthM) > 1e-6 {
		t.Errorf("got %+v; want %+v", p, want)
	}
}

func TestTrackAt(t *testing.T) {
	tr := Track{{TimeNs: 100, NorthM: 0, SpeedMps: 1}, {TimeNs: 1e9 + 100, NorthM: 1, SpeedMps: 1}, {TimeNs: 2e9 + 100, NorthM: 2, SpeedMps: 1}}
	cursor := 0
	for _, tc := range []struct {
		t            int64
		north, speed float64
	}{{50, 0, 0}, {100, 0, 1}, {5e8 + 100, 0.5, 1}, {15e8 + 100, 1.5, 1}, {5e8 + 100, 0.5, 1}, {2e9 + 100, 2, 1}, {9e9, 2, 0}} {
		if p := tr.At(tc.t, &cursor); math.Abs(p.NorthM-tc.north) > 1e-9 || p.SpeedMps != tc.speed || p.TimeNs != tc.t {
			t.Errorf("at %d: %+v; want %g m, %g m/s", tc.t, p, tc.north, tc.speed)
		}
	}
}

func TestSmooth(t *testing.T) {
	antenna := Antenna{XM: 1.5, YM: 0.2}
	for _, tc := range []struct {
		name               string
		noiseM             float64
		stepS              float64
		placeM, headingDeg float64
	}{
		{"exact, 10 Hz", 0, 0.1, 0.02, 0.8},
		{"RTK noise, 10 Hz", 0.014, 0.1, 0.03, 2},
		{"exact, 1 Hz", 0, 1, 0.25, 6},
	} {
		t.Run(tc.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 4))
			var samples []Sample
			for s := 0.0; s < 53; s += tc.stepS {
				f, e, n := driveFix(manoeuvre(s), antenna, rng, tc.noiseM)
				samples = append(samples, SampleOf(&f, e, n))
			}
			track := Smooth(samples, antenna)
			if len(track) != len(samples) {
				t.Fatalf("%d poses of %d samples", len(track), len(samples))
			}
			cursor := 0
			quarter := 8 * math.Pi / 2 / 2.0
			for s := 2.0; s < 52; s += 0.25 {
				if u := s - 20; math.Abs(u) < 2*tc.stepS+0.7 || math.Abs(u-quarter) < 2*tc.stepS+0.7 || math.Abs(u-quarter-2) < 2*tc.stepS+0.7 || math.Abs(u-quarter-23) < 2+2*tc.stepS {
					continue // the curvature or the acceleration jumps here
				}
				want := manoeuvre(s)
				got := track.At(want.TimeNs, &cursor)
				if d := math.Hypot(got.EastM-want.EastM, got.NorthM-want.NorthM); d > tc.placeM {
					t.Errorf("at %.2f s: off by %.3f m; want %.3f at most", s, d, tc.placeM)
				}
				if d := math.Abs(got.HeadingRad-want.HeadingRad) * 180 / math.Pi; d > tc.headingDeg {
					t.Errorf("at %.2f s: heading off by %.2f°; want %.2f at most", s, d, tc.headingDeg)
				}
				if d := math.Abs(got.SpeedMps - want.SpeedMps); d > 0.1 {
					t.Errorf("at %.2f s: speed %.3f m/s; want %.3f", s, got.SpeedMps, want.SpeedMps)
				}
			}
		})
	}
}

func BenchmarkSmooth(b *testing.B) {
	samples := make([]Sample, 360_000) // ten hours at 10 Hz
	for i := range samples {
		f, e, n := driveFix(manoeuvre(math.Mod(float64(i)*0.1, 20)), Antenna{}, nil, 0)
		samples[i] = SampleOf(&f, e, n)
		samples[i].TimeNs = t0 + int64(i)*100e6
	}
	b.ReportAllocs()
	for b.Loop() {
		Smooth(samples, Antenna{XM: 1.5})
	}
}

// Over a gap the tractor stands, then is somewhere else: nothing is swept.
func TestSmoothGap(t *testing.T) {
	var samples []Sample
	for i := range 40 {
		s, at := float64(i)*0.1, float64(i)*0.2
		if i >= 20 {
			s, at = s+60, at+500
		}
		f, e, n := driveFix(Pose{TimeNs: t0 + int64(s*1e9), NorthM: at, SpeedMps: 2}, Antenna{}, nil, 0)
		samples = append(samples, SampleOf(&f, e, n))
	}
	track := Smooth(samples, Antenna{})
	cursor := 0
	if p := track.At(t0+30e9, &cursor); math.Abs(p.NorthM-3.8) > 0.05 || p.SpeedMps != 0 {
		t.Errorf("in the gap: %+v; want standing at 3.8 m", p)
	}
	if p := track.At(t0+62_500e6, &cursor); math.Abs(p.NorthM-505) > 0.02 || math.Abs(p.SpeedMps-2) > 0.05 {
		t.Errorf("after the gap: %+v; want 505 m, 2 m/s", p)
	}
}

// TestSmoothJump: positions that are half a kilometre off for half a second, or
// once, pull none of the others along.
func TestSmoothJump(t *testing.T) {
	var samples []Sample
	for i := range 60 {
		p := Pose{TimeNs: t0 + int64(i)*100e6, NorthM: float64(i) * 0.2, SpeedMps: 2}
		if i >= 20 && i < 25 || i == 40 {
			p.EastM = 500
		}
		f, e, n := driveFix(p, Antenna{}, nil, 0)
		samples = append(samples, SampleOf(&f, e, n))
	}
	for i, p := range Smooth(samples, Antenna{}) {
		s := &samples[i]
		if d := math.Hypot(p.EastM-s.EastM, p.NorthM-s.NorthM); p.TimeNs != s.TimeNs || d > 0.02 || math.Abs(p.SpeedMps-2) > 0.05 {
			t.Errorf("pose %d is %.3f m from its sample: %+v", i, d, p)
		}
	}
}

// On a circle the tool settles where ψ' = ω: v·sin(θ-ψ) - c·ω·cos(θ-ψ) = L·ω.
// With R = v/ω that is sin(δ - atan(c/R)) = L/√(R² + c²).
func TestTrailOnACircle(t *testing.T) {
	const v, r, c, l = 2.0, 12.0, 0.9, 4.0
	w := v / r
	track := make(Track, 1200)
	for i := range track {
		s := float64(i) * 0.1
		track[i] = Pose{TimeNs: t0 + int64(i)*100e6, HeadingRad: w * s, SpeedMps: v, YawRateRadPerS: w}
	}
	Trail(track, c, l)
	last := track[len(track)-1]
	if got, want := last.HeadingRad-last.ToolHeadingRad, math.Atan(c/r)+math.Asin(l/math.Hypot(r, c)); math.Abs(got-want) > 1e-9 {
		t.Errorf("the tool settles %.9f rad behind; want %.9f", got, want)
	}
}

// On a straight, tan(δ/2) decays as e^(-s/L) (the tractrix).
func TestTrailOnAStraight(t *testing.T) {
	const v, l = 2.0, 4.0
	from := Pose{TimeNs: t0, ToolHeadingRad: 0.8, SpeedMps: v}
	to := Pose{TimeNs: t0 + 3e9, NorthM: 6, SpeedMps: v}
	got := TrailStep(&from, &to, 1, l)
	if want := 2 * math.Atan(math.Tan(0.4)*math.Exp(-3*v/l)); math.Abs(got-want) > 1e-5 {
		t.Errorf("after 6 m the tool is %.7f rad off; want %.7f", got, want)
	}
}
