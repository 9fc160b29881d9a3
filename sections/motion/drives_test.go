// What the estimate and the smoothed track come to on drives whose answer is
// known beforehand: beginnings, standstill, reversing, gaps.

package motion

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/nmea"
)

// along drives from (0, 0) on a bearing with the speeds and durations of its
// legs, in steps of 0.1 s.
func along(bearingRad float64, legs ...struct{ mps, s float64 }) []Pose {
	sin, cos := math.Sincos(bearingRad)
	var out []Pose
	way := 0.0
	for _, leg := range legs {
		for range int(math.Round(leg.s * 10)) {
			out = append(out, Pose{
				TimeNs: t0 + int64(len(out))*100e6, EastM: way * sin, NorthM: way * cos,
				HeadingRad: bearingRad, ToolHeadingRad: bearingRad, SpeedMps: leg.mps,
			})
			way += leg.mps * 0.1
		}
	}
	return out
}

type leg = struct{ mps, s float64 }

// Up to 60 m of reversing are believed. Beyond, the tractor began in reverse
// and is turned round; the count begins anew once it drives forward.
func TestLongReverse(t *testing.T) {
	antenna := Antenna{XM: 1.2, YM: 0.4}
	for _, tc := range []struct {
		name   string
		legs   []leg
		turned bool
	}{
		{"57 m", []leg{{2, 10}, {0, 2}, {-2, 28.5}}, false},
		{"64 m", []leg{{2, 10}, {0, 2}, {-2, 32}}, true},
		{"40 m twice", []leg{{2, 10}, {0, 2}, {-2, 20}, {0, 2}, {2, 5}, {0, 2}, {-2, 20}}, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			k := Estimator{Antenna: antenna}
			var samples []Sample
			poses := along(0.7, tc.legs...)
			for _, p := range poses {
				f, e, n := driveFix(p, antenna, nil, 0)
				k.Update(&f, e, n)
				samples = append(samples, SampleOf(&f, e, n))
			}
			last := poses[len(poses)-1]
			wantHeading, wantSpeed := 0.7, -2.0
			antennaE := last.EastM + antenna.XM*math.Sin(0.7) + antenna.YM*math.Cos(0.7)
			antennaN := last.NorthM + antenna.XM*math.Cos(0.7) - antenna.YM*math.Sin(0.7)
			if tc.turned {
				wantHeading, wantSpeed = 0.7+math.Pi, 2
			}
			check := func(who string, p Pose) {
				t.Helper()
				s, c := math.Sincos(p.HeadingRad)
				e, n := p.EastM+antenna.XM*s+antenna.YM*c, p.NorthM+antenna.XM*c-antenna.YM*s
				if !(math.Abs(Wrap(p.HeadingRad-wantHeading)) <= 0.02) || !(math.Abs(p.SpeedMps-wantSpeed) <= 0.1) || !(math.Hypot(e-antennaE, n-antennaN) <= 0.1) {
					t.Errorf("%s: %+v; want heading %.3f rad, %g m/s, the antenna at (%.3f, %.3f)", who, p, wantHeading, wantSpeed, antennaE, antennaN)
				}
			}
			m, _ := k.Motion()
			check("estimate", m.Pose)
			check("smoothed", Smooth(samples, antenna)[len(poses)-1])
		})
	}
}

// The count of what was reversed holds while the tractor stands, whatever the
// noise or a wrong start, and begins anew at 0.3 m/s forward.
func TestReverseCount(t *testing.T) {
	for _, tc := range []struct{ mps, want float64 }{
		{-2, 30.2}, {-0.15, 30.015}, {-0.05, 30}, {0, 30}, {0.05, 30}, {0.29, 30}, {0.31, 0}, {2, 0},
	} {
		var k Estimator
		k.X[speed], k.State.ReverseM = tc.mps, 30
		k.watchReverse(0.1)
		if !(math.Abs(k.State.ReverseM-tc.want) <= 1e-9) {
			t.Errorf("%g m/s for 0.1 s after 30 m: %g m; want %g", tc.mps, k.State.ReverseM, tc.want)
		}
	}
}

// Turning the tractor round leaves the antenna, its velocity and what is known
// of them as they were: the covariance becomes T·P·T with T = -1 on v and a.
func TestWatchReverseKeepsTheAntenna(t *testing.T) {
	k := Estimator{Antenna: Antenna{XM: 1.2, YM: -0.7}}
	k.X = [6]float64{10, 20, 0.9, -1.5, 0, 0.2}
	k.State.ReverseM = 59.9
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range 6 {
		for j := range i + 1 {
			k.P[i][j] = rng.Float64()
			k.P[j][i] = k.P[i][j]
		}
	}
	before := k
	k.watchReverse(0.1)
	at := func(k *Estimator) (e, n, ve, vn, ae float64) {
		s, c := math.Sincos(k.X[theta])
		return k.X[east] + k.Antenna.XM*s + k.Antenna.YM*c, k.X[north] + k.Antenna.XM*c - k.Antenna.YM*s, k.X[speed] * s, k.X[speed] * c, k.X[accel] * s
	}
	e, n, ve, vn, ae := at(&k)
	e0, n0, ve0, vn0, ae0 := at(&before)
	if !(math.Hypot(e-e0, n-n0) <= 1e-9) || !(math.Hypot(ve-ve0, vn-vn0) <= 1e-9) || !(math.Abs(ae-ae0) <= 1e-9) {
		t.Errorf("the antenna went from (%g, %g) to (%g, %g), its velocity from (%g, %g) to (%g, %g)", e0, n0, e, n, ve0, vn0, ve, vn)
	}
	if !(math.Abs(Wrap(k.X[theta]-before.X[theta]-math.Pi)) <= 1e-9) || k.X[speed] != 1.5 || k.State.ReverseM != 0 {
		t.Errorf("state %v, %g m reversed; want the opposite heading, 1.5 m/s, 0 m", k.X, k.State.ReverseM)
	}
	sign := [6]float64{1, 1, 1, -1, 1, -1}
	for i := range 6 {
		for j := range 6 {
			if k.P[i][j] != sign[i]*sign[j]*before.P[i][j] {
				t.Errorf("covariance of %d and %d went from %g to %g", i, j, before.P[i][j], k.P[i][j])
			}
		}
	}
}

// The first heading comes from the receiver, from a course at 0.3 m/s or more,
// or from a metre of way, whichever is there first.
func TestAlign(t *testing.T) {
	nan := math.NaN()
	const rad = math.Pi / 180
	type say struct {
		s, e, n, mps, course, heading float64
	}
	for _, tc := range []struct {
		name           string
		says           []say
		ready          bool
		heading, speed float64
		east, north    float64 // of the turning point
	}{
		{"course at 0.3 m/s", []say{{0, 5, 6, 0.3, 90, nan}}, true, 90, 0.3, 5 - 1, 6 + 0.5},
		{"course at 0.29 m/s", []say{{0, 0, 0, 0.29, 90, nan}}, false, 0, 0, 0, 0},
		{"speed without course", []say{{0, 0, 0, 2, nan, nan}}, false, 0, 0, 0, 0},
		{"0.99 m of way", []say{{0, 0, 0, nan, nan, nan}, {2, 0.99, 0, nan, nan, nan}}, false, 0, 0, 0, 0},
		{"1 m of way", []say{{0, 7, 0, nan, nan, nan}, {1, 7.5, 0, nan, nan, nan}, {4, 8, 0, nan, nan, nan}}, true, 90, 0.25, 8 - 1, 0.5},
		{"way south-west", []say{{0, 0, 0, nan, nan, nan}, {2, -3, -3, nan, nan, nan}}, true, -135, 3 / math.Sqrt2,
			-3 + (1+0.5)/math.Sqrt2, -3 + (1-0.5)/math.Sqrt2},
		{"receiver's heading", []say{{0, 0, 0, nan, nan, 180}}, true, 180, 0, 0.5, 1},
		{"receiver's heading, reversing", []say{{0, 0, 0, 0.8, 0, 180}}, true, 180, -0.8, 0.5, 1},
		{"receiver's heading, at an angle", []say{{0, 0, 0, 1, 60, 0}}, true, 0, 0.5, -0.5, -1},
		{"receiver's heading, no course", []say{{0, 0, 0, 0.8, nan, 180}}, true, 180, 0, 0.5, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			k := Estimator{Antenna: Antenna{XM: 1, YM: 0.5}}
			for _, s := range tc.says {
				f := nmea.Fix{TimeNs: t0 + int64(s.s*1e9), SpeedMps: s.mps, CourseDeg: s.course, HeadingDeg: s.heading, Quality: nmea.RTKFixed}
				k.Update(&f, s.e, s.n)
			}
			m, ready := k.Motion()
			if ready != tc.ready {
				t.Fatalf("ready %v; want %v", ready, tc.ready)
			}
			if !ready {
				return
			}
			if !(math.Abs(Wrap(m.HeadingRad-tc.heading*rad)) <= 1e-9) || !(math.Abs(m.SpeedMps-tc.speed) <= 1e-9) ||
				!(math.Hypot(m.EastM-tc.east, m.NorthM-tc.north) <= 1e-9) || m.TimeNs != t0+int64(tc.says[len(tc.says)-1].s*1e9) {
				t.Errorf("got %+v; want %g°, %g m/s at (%g, %g)", m, tc.heading, tc.speed, tc.east, tc.north)
			}
		})
	}
}

// After 5 s without a fix, or when time steps back, the motion is begun anew:
// a fix without course then says no heading.
func TestGapBeginsAnew(t *testing.T) {
	for gapS, kept := range map[float64]bool{4.9: true, 5: true, 5.1: false, -1: false} {
		t.Run(fmt.Sprint(gapS), func(t *testing.T) {
			var k Estimator
			poses := along(0, leg{2, 5})
			for _, p := range poses {
				f, e, n := driveFix(p, k.Antenna, nil, 0)
				k.Update(&f, e, n)
			}
			f := nmea.Fix{TimeNs: k.State.TimeNs + int64(gapS*1e9), SpeedMps: math.NaN(), CourseDeg: math.NaN(), HeadingDeg: math.NaN(), Quality: nmea.RTKFixed}
			k.Update(&f, 0, 10+2*gapS)
			if _, ready := k.Motion(); ready != kept {
				t.Errorf("ready %v; want %v", ready, kept)
			}
		})
	}
}

// A fix as far off as k standard deviations of what is expected of it widens
// the spread by 1 + 0.04·(k² - 1), of k² at most 9 and in all 10⁴; one nearer
// than expected narrows it, to 1 at least.
func TestSpread(t *testing.T) {
	for _, tc := range []struct{ was, k, want float64 }{
		{1, 0, 1},
		{1, 2, 1.12},
		{1, 3, 1.32},
		{1, 100, 1.32},
		{4, 0, 3.84},
		{9000, 3, 1e4},
	} {
		var k Estimator
		k.State.Spread = tc.was
		k.P[yaw][yaw] = 0.25
		sigma := 0.5
		expected := math.Sqrt(sigma*sigma*tc.was + 0.25)
		k.measure(row{yaw, 1, theta, 0, speed, 0}, tc.k*expected, sigma)
		if !(math.Abs(k.State.Spread-tc.want) <= 1e-9*tc.want) {
			t.Errorf("spread %g, a measurement off by %g: %g; want %g", tc.was, tc.k, k.State.Spread, tc.want)
		}
		// Of two guesses with variances p and r the mean by weight: p/(p+r) of
		// the innovation, and p·r/(p+r) is left.
		r := sigma * sigma * tc.was
		if want := tc.k * expected * 0.25 / (0.25 + r); !(math.Abs(k.X[yaw]-want) <= 1e-9) {
			t.Errorf("state %g; want %g", k.X[yaw], want)
		}
		if want := 0.25 * r / (0.25 + r); !(math.Abs(k.P[yaw][yaw]-want) <= 1e-9) {
			t.Errorf("variance %g; want %g", k.P[yaw][yaw], want)
		}
	}
}

func TestPositionSigma(t *testing.T) {
	nan := float32(math.NaN())
	for _, tc := range []struct {
		quality     nmea.Quality
		east, north float32
		want        float64
	}{
		{nmea.RTKFixed, nan, nan, 0.014},
		{nmea.Simulator, nan, nan, 0.014},
		{nmea.RTKFloat, nan, nan, 0.10},
		{nmea.Autonomous, nan, nan, 0.10},
		{nmea.RTKFixed, 0.02, 0.03, 0.03},
		{nmea.RTKFixed, 0.03, 0.02, 0.03},
		{nmea.Autonomous, 5, 4, 2},
		{nmea.RTKFixed, 0.0009, 0.0009, 0.014}, // none at all is not believed
		{nmea.RTKFixed, 0.0015, 0.0015, 0.0015},
	} {
		f := nmea.Fix{Quality: tc.quality, SigmaEastM: tc.east, SigmaNorthM: tc.north}
		if got := positionSigma(&f); !(math.Abs(got-tc.want) <= 1e-7) {
			t.Errorf("%v, sigma %g and %g: %g; want %g", tc.quality, tc.east, tc.north, got, tc.want)
		}
	}
}

func TestSampleOf(t *testing.T) {
	f := nmea.Fix{TimeNs: t0, SpeedMps: 2, CourseDeg: 300, HeadingDeg: 90, Quality: nmea.RTKFixed,
		SigmaEastM: float32(math.NaN()), SigmaNorthM: float32(math.NaN())}
	s := SampleOf(&f, 3, 4)
	if s.TimeNs != t0 || s.EastM != 3 || s.NorthM != 4 || !(math.Abs(float64(s.VelocityE)+math.Sqrt(3)) <= 1e-6) ||
		!(math.Abs(float64(s.VelocityN)-1) <= 1e-6) || !(math.Abs(float64(s.HeadingRad)-math.Pi/2) <= 1e-6) || s.SigmaM != 0.014 {
		t.Errorf("got %+v; want (-√3, 1) m/s, π/2, 0.014 m", s)
	}
	for mps, moves := range map[float64]bool{0.049: false, 0.051: true} {
		f.SpeedMps, f.CourseDeg = mps, math.NaN()
		if s := SampleOf(&f, 0, 0); (s.VelocityE != s.VelocityE) != moves {
			t.Errorf("%g m/s without course: %g m/s east; at rest a receiver may leave it empty", mps, s.VelocityE)
		}
	}
}

// While the tractor stands its heading holds, whatever the noise.
func TestStandstillHoldsTheHeading(t *testing.T) {
	antenna := Antenna{XM: 1.5}
	k := Estimator{Antenna: antenna}
	rng := rand.New(rand.NewPCG(2, 2))
	w := 0.3
	var samples []Sample
	for i := range 700 {
		s := float64(i) * 0.1
		p := Pose{TimeNs: t0 + int64(i)*100e6, HeadingRad: w * min(s, 8), EastM: 2 / w * (1 - math.Cos(w*min(s, 8))), NorthM: 2 / w * math.Sin(w*min(s, 8))}
		if s < 8 {
			p.SpeedMps, p.YawRateRadPerS = 2, w
		}
		f, e, n := driveFix(p, antenna, rng, 0.01)
		k.Update(&f, e, n)
		samples = append(samples, SampleOf(&f, e, n))
		if s > 12 && !(math.Abs(k.X[yaw]) <= 0.004) {
			t.Fatalf("at %.1f s: %.4f rad/s, standing", s, k.X[yaw])
		}
	}
	m, _ := k.Motion()
	if d := math.Abs(m.HeadingRad - 2.4); d > 0.08 {
		t.Errorf("heading off by %.3f rad after a minute's stand", d)
	}
	track := Smooth(samples, antenna)
	a, b := track[130], track[699]
	if !(math.Abs(a.HeadingRad-b.HeadingRad) <= 0.001) || !(math.Abs(a.HeadingRad-2.4) <= 0.05) {
		t.Errorf("smoothed heading %.4f rad, then %.4f; want 2.4, held", a.HeadingRad, b.HeadingRad)
	}
}

// Samples more than 0.6 s away, over a gap of more than 5 s, or beyond a jump
// of more than 5 m plus 20 m/s, have no part in a pose.
func TestSmoothReach(t *testing.T) {
	build := func(change func(i int, s *Sample)) []Sample {
		var out []Sample
		for i, p := range along(0, leg{2, 4}) {
			f, e, n := driveFix(p, Antenna{}, nil, 0)
			s := SampleOf(&f, e, n)
			change(i, &s)
			out = append(out, s)
		}
		return out
	}
	plain := Smooth(build(func(int, *Sample) {}), Antenna{})
	for _, away := range []int{5, 6, 7, -5, -6, -7} {
		moved := Smooth(build(func(i int, s *Sample) {
			if i == 20+away {
				s.EastM += 1
			}
		}), Antenna{})
		if changed := moved[20].EastM != plain[20].EastM; changed != (away >= -6 && away <= 6) {
			t.Errorf("a sample %d00 ms away moves the pose: %v", away, changed)
		}
	}
	for _, tc := range []struct {
		gapS, offM float64
		poses      int
		joined     bool
	}{
		{4.8, 0, 40, true},
		{5.2, 0, 41, false},
		{0, 6.5, 40, true},  // 5 m + 20 m/s for 0.1 s = 7 m; 0.2 m are the way itself
		{0, 7.5, 40, false}, // beyond
	} {
		samples := build(func(i int, s *Sample) {
			if i >= 20 {
				s.TimeNs += int64(tc.gapS * 1e9)
				s.EastM += tc.offM
				s.NorthM += 2 * tc.gapS
			}
		})
		track := Smooth(samples, Antenna{})
		if len(track) != tc.poses {
			t.Errorf("gap of %g s: %d poses of 40 samples; want %d", tc.gapS, len(track), tc.poses)
			continue
		}
		stands := track[19].SpeedMps == 0
		if tc.gapS > 0 && stands == tc.joined {
			t.Errorf("gap of %g s: stands in it: %v", tc.gapS, stands)
		}
		if tc.poses == 41 {
			if p := track[20]; p.TimeNs != samples[20].TimeNs-1e6 || p.NorthM != track[19].NorthM || p.SpeedMps != 0 {
				t.Errorf("gap of %g s: %+v at its end; want the tractor where it stopped, 1 ms before the next sample", tc.gapS, p)
			}
		}
		if tc.offM > 0 {
			if pulled := math.Abs(track[19].EastM) > 0.01; pulled != tc.joined {
				t.Errorf("a step of %g m pulls the pose before it by %.3f m", tc.offM, track[19].EastM)
			}
		}
	}
}

// What Predict says of a stretch is the integral of the equations of motion.
func TestPredictBesideIntegration(t *testing.T) {
	for _, tc := range []Motion{
		{Pose{TimeNs: t0, EastM: 3, NorthM: 4, HeadingRad: 0.7, SpeedMps: 2, YawRateRadPerS: -0.3}, 0},
		{Pose{TimeNs: t0, HeadingRad: -2, SpeedMps: 1.5}, 0.5},
		{Pose{TimeNs: t0, HeadingRad: 1, SpeedMps: -1}, -0.4},
		{Pose{TimeNs: t0, HeadingRad: 1, SpeedMps: 3}, -0.9},
		{Pose{TimeNs: t0, HeadingRad: 1, SpeedMps: 0}, 0.9},
		{Pose{TimeNs: t0, HeadingRad: 1, SpeedMps: 2, YawRateRadPerS: 1e-5}, 0},
		{Pose{TimeNs: t0, HeadingRad: 1, SpeedMps: 20, YawRateRadPerS: 3e-4}, 0},
	} {
		for _, dt := range []float64{0.4, 1.3, -0.5} {
			got := tc.Predict(t0 + int64(dt*1e9))
			x := drift([6]float64{tc.EastM, tc.NorthM, tc.HeadingRad, tc.SpeedMps, tc.YawRateRadPerS, tc.AccelMps2}, dt)
			if !(math.Hypot(got.EastM-x[east], got.NorthM-x[north]) <= 1e-6) || !(math.Abs(got.HeadingRad-x[theta]) <= 1e-9) || !(math.Abs(got.SpeedMps-x[speed]) <= 1e-6) ||
				got.YawRateRadPerS != tc.YawRateRadPerS || !(math.Abs(got.ToolHeadingRad-tc.ToolHeadingRad-tc.YawRateRadPerS*dt) <= 1e-12) {
				t.Errorf("%+v after %g s: %+v; want %v", tc, dt, got, x)
			}
		}
	}
	// Braking from 1 m/s at first 2 m/s², fading: it stands before 2 s, between
	// here and as far as 1 m/s would have gone in that time, and stays.
	for _, v := range []float64{1, -1} {
		m := Motion{Pose{TimeNs: t0, SpeedMps: v}, -2 * v}
		before := 0.0
		for dt := 0.1; dt < 3; dt += 0.1 {
			p := m.Predict(t0 + int64(dt*1e9))
			if way := p.NorthM * v; way < before-1e-9 && dt > 0.8 || way < 0 || way > 0.9 || p.SpeedMps*v < 0 || dt > 0.7 && p.SpeedMps != 0 {
				t.Errorf("%g m/s, braking: %+v after %.1f s; before it was %.3f m on", v, p, dt, before)
			} else {
				before = way
			}
		}
	}
}

// sinc is as good as its series where the quotient would lose its digits.
func TestSinc(t *testing.T) {
	for x := 1e-6; x < 0.15; x *= 1.3 {
		want := 1 - x*x/6 + x*x*x*x/120 - math.Pow(x, 6)/5040
		if got := sinc(x); !(math.Abs(got-want) <= 1e-10) || sinc(-x) != got {
			t.Errorf("sinc(%g) = %.16f; want %.16f", x, got, want)
		}
	}
	if sinc(0) != 1 {
		t.Errorf("sinc(0) = %g; want 1", sinc(0))
	}
}

// The cubic has the positions and velocities of both ends, and everything else
// is linear.
func TestInterpAtItsEnds(t *testing.T) {
	a := Pose{t0, 1, 2, 0.3, 0.2, 2, 0.1}
	b := Pose{t0 + 500e6, 1.5, 2.9, 0.4, 0.5, 1.5, 0.3}
	rate := func(t int64) (e, n, h float64) {
		p, q := Interp(&a, &b, t), Interp(&a, &b, t+1000)
		return (q.EastM - p.EastM) / 1e-6, (q.NorthM - p.NorthM) / 1e-6, (q.HeadingRad - p.HeadingRad) / 1e-6
	}
	for _, tc := range []struct {
		at   int64
		want Pose
	}{{t0, a}, {t0 + 500e6, b}} {
		p := Interp(&a, &b, tc.at)
		if !(math.Hypot(p.EastM-tc.want.EastM, p.NorthM-tc.want.NorthM) <= 1e-12) || !(math.Abs(p.HeadingRad-tc.want.HeadingRad) <= 1e-12) ||
			!(math.Abs(p.ToolHeadingRad-tc.want.ToolHeadingRad) <= 1e-12) || !(math.Abs(p.SpeedMps-tc.want.SpeedMps) <= 1e-12) || !(math.Abs(p.YawRateRadPerS-tc.want.YawRateRadPerS) <= 1e-12) {
			t.Errorf("got %+v; want %+v", p, tc.want)
		}
		e, n, h := rate(tc.at)
		s, c := math.Sincos(tc.want.HeadingRad)
		if !(math.Abs(e-tc.want.SpeedMps*s) <= 1e-4) || !(math.Abs(n-tc.want.SpeedMps*c) <= 1e-4) || !(math.Abs(h-tc.want.YawRateRadPerS) <= 1e-4) {
			t.Errorf("rates %g, %g, %g; want those of %+v", e, n, h, tc.want)
		}
	}
	p := Interp(&a, &b, t0+125e6)
	if !(math.Abs(p.ToolHeadingRad-0.275) <= 1e-12) || !(math.Abs(p.SpeedMps-1.875) <= 1e-12) || !(math.Abs(p.YawRateRadPerS-0.15) <= 1e-12) || p.TimeNs != t0+125e6 {
		t.Errorf("a quarter of the way: %+v", p)
	}
	if p := Interp(&a, &a, t0); p != a {
		t.Errorf("between a pose and itself: %+v", p)
	}
}

func TestTrackAtEdges(t *testing.T) {
	cursor := 5
	if p := (Track{}).At(7, &cursor); p != (Pose{TimeNs: 7}) {
		t.Errorf("no poses: %+v", p)
	}
	tr := Track{{TimeNs: 100, NorthM: 1, SpeedMps: 1, YawRateRadPerS: 0.5}, {TimeNs: 200, NorthM: 2, SpeedMps: 1, YawRateRadPerS: 0.5}}
	for _, start := range []int{-3, 0, 1, 9} {
		for _, at := range []int64{50, 100, 150, 200, 250} {
			cursor := start
			p := tr.At(at, &cursor)
			outside := at < 100 || at > 200
			if p.TimeNs != at || (p.SpeedMps == 0) != outside || (p.YawRateRadPerS == 0) != outside || at <= 100 && p.NorthM != 1 || at >= 200 && p.NorthM != 2 {
				t.Errorf("at %d, from %d: %+v", at, start, p)
			}
			if want := map[bool]int{true: 1, false: 0}[at >= 200]; cursor != want {
				t.Errorf("at %d, from %d: the cursor is at %d; want %d", at, start, cursor, want)
			}
		}
	}
}

// The drawbar's equation in steps of a hundred-thousandth, while speed,
// heading and yaw rate change.
func TestTrailStepBesideSmallSteps(t *testing.T) {
	for _, tc := range []struct {
		from, to Pose
		c, l     float64
	}{
		{Pose{TimeNs: t0, HeadingRad: 0.1, ToolHeadingRad: -0.3, SpeedMps: 1, YawRateRadPerS: 0.1}, Pose{TimeNs: t0 + 500e6, HeadingRad: 0.3, SpeedMps: 2, YawRateRadPerS: 0.6}, 0.8, 3},
		{Pose{TimeNs: t0, ToolHeadingRad: 0.2, SpeedMps: 2}, Pose{TimeNs: t0 + 2e9, HeadingRad: 1, SpeedMps: 1, YawRateRadPerS: 0.8}, 1.2, 2},
		{Pose{TimeNs: t0, ToolHeadingRad: 0.2, SpeedMps: -1, YawRateRadPerS: -0.2}, Pose{TimeNs: t0 + 1e9, HeadingRad: -0.2, SpeedMps: -2, YawRateRadPerS: -0.2}, 0.5, 4},
		{Pose{TimeNs: t0, ToolHeadingRad: 0.2, SpeedMps: 2}, Pose{TimeNs: t0 - 300e6, HeadingRad: -0.1, SpeedMps: 2, YawRateRadPerS: 0.3}, 0.5, 4},
		{Pose{TimeNs: t0, ToolHeadingRad: 1.2, SpeedMps: 3}, Pose{TimeNs: t0 + 20e9, HeadingRad: 3, SpeedMps: 3, YawRateRadPerS: 0.15}, 0.5, 0.5},
	} {
		const n = 100_000
		dt := float64(tc.to.TimeNs-tc.from.TimeNs) * 1e-9
		mix := func(a, b, u float64) float64 { return a + u*(b-a) }
		slope := func(u, psi float64) float64 {
			v, w := mix(tc.from.SpeedMps, tc.to.SpeedMps, u), mix(tc.from.YawRateRadPerS, tc.to.YawRateRadPerS, u)
			off := mix(tc.from.HeadingRad, tc.to.HeadingRad, u) - psi
			return (v*math.Sin(off) - tc.c*w*math.Cos(off)) / tc.l
		}
		psi := tc.from.ToolHeadingRad
		for i := range n {
			u := float64(i) / n
			mid := psi + slope(u, psi)*dt/n/2
			psi += slope(u+0.5/n, mid) * dt / n
		}
		if got := TrailStep(&tc.from, &tc.to, tc.c, tc.l); !(math.Abs(got-psi) <= 2e-5) {
			t.Errorf("%+v to %+v: tool at %.8f rad; want %.8f", tc.from, tc.to, got, psi)
		}
	}
	same := Pose{TimeNs: t0, ToolHeadingRad: 0.4, SpeedMps: 2}
	if got := TrailStep(&same, &same, 1, 3); got != 0.4 {
		t.Errorf("no time: %g rad; want 0.4", got)
	}
}

// A driver who brakes or starts on a straight line does not turn, wherever the antenna
// stands and however hard he does it: the fixes are exact, and so is the heading, now to
// 0.4° and a lead ahead to 1.8°; with the antenna 10 cm aside to 0.03° and 0.17°.
func TestBrakingIsNoTurn(t *testing.T) {
	for _, asideM := range []float64{-1, -0.5, -0.1, 0, 0.1, 0.5, 1} {
		for _, mps2 := range []float64{0.5, 1.2, 2.5} {
			k := Estimator{Antenna: Antenna{XM: 0.8, YM: asideM}}
			pose, dt := Pose{TimeNs: t0, SpeedMps: 3}, 0.1
			nowDeg, aheadDeg := 0.0, 0.0
			for i := range 300 {
				v := pose.SpeedMps
				switch {
				case i >= 200:
					v = min(3, v+mps2*dt)
				case i >= 60:
					v = max(0, v-mps2*dt)
				}
				pose.NorthM += (pose.SpeedMps + v) / 2 * dt
				pose.SpeedMps = v
				pose.TimeNs += 100e6
				f, e, n := driveFix(pose, k.Antenna, nil, 0)
				k.Update(&f, e, n)
				m, _ := k.Motion()
				nowDeg = max(nowDeg, math.Abs(m.HeadingRad)*180/math.Pi)
				aheadDeg = max(aheadDeg, math.Abs(m.Predict(pose.TimeNs+700e6).HeadingRad)*180/math.Pi)
			}
			wantDeg, wantAheadDeg := 0.4, 1.8
			if math.Abs(asideM) <= 0.1 {
				wantDeg, wantAheadDeg = 0.03, 0.17
			}
			if !(nowDeg <= wantDeg && aheadDeg <= wantAheadDeg) {
				t.Errorf("antenna %g m aside, %g m/s²: the heading is %.3f° off, and %.3f° a lead ahead; want %g and %g at most",
					asideM, mps2, nowDeg, aheadDeg, wantDeg, wantAheadDeg)
			}
		}
	}
}
