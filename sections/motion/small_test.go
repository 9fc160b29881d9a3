// Few samples, slow drives and stiff drawbars.

package motion

import (
	"math"
	"testing"

	"liftbench/nmea"
)

// One sample without a velocity is its own pose, standing; of two the line
// through both is taken.
func TestSmoothOfFewSamples(t *testing.T) {
	nan := float32(math.NaN())
	sample := func(s, n float64) Sample {
		return Sample{TimeNs: t0 + int64(s*1e9), EastM: 4, NorthM: n, VelocityE: nan, VelocityN: nan, HeadingRad: nan, SigmaM: 0.014}
	}
	if track := Smooth([]Sample{sample(0, 7)}, Antenna{}); len(track) != 1 || track[0].EastM != 4 || track[0].NorthM != 7 || track[0].SpeedMps != 0 {
		t.Errorf("of one sample: %+v", track)
	}
	if track := Smooth(nil, Antenna{}); len(track) != 0 {
		t.Errorf("of none: %+v", track)
	}
	for _, p := range Smooth([]Sample{sample(0, 7), sample(1, 9)}, Antenna{}) {
		if want := 7 + 2*float64(p.TimeNs-t0)*1e-9; !(math.Abs(p.NorthM-want) <= 1e-6) || !(math.Abs(p.SpeedMps-2) <= 1e-6) {
			t.Errorf("of two samples: %+v; want %g m, 2 m/s", p, want)
		}
	}
	// At 1 Hz the neighbours on both sides have a part, though they are more
	// than 0.6 s away; those beyond have none.
	var one []Sample
	for i := range 9 {
		one = append(one, sample(float64(i), 2*float64(i)))
	}
	plain := Smooth(one, Antenna{})
	for away := -3; away <= 3; away++ {
		moved := append([]Sample{}, one...)
		moved[4+away].EastM += 0.5
		if changed := math.Abs(Smooth(moved, Antenna{})[4].EastM-plain[4].EastM) > 1e-9; changed != (away >= -1 && away <= 1) {
			t.Errorf("at 1 Hz, a sample %d s away moves the pose: %v", away, changed)
		}
	}
}

// Above 0.15 m/s the direction of motion is a heading. What a standing
// receiver says of its course is none: the first motion is.
func TestSlowDrives(t *testing.T) {
	smooth := func(poses []Pose, change func(i int, s *Sample)) Track {
		var samples []Sample
		for i, p := range poses {
			f, e, n := driveFix(p, Antenna{}, nil, 0)
			s := SampleOf(&f, e, n)
			change(i, &s)
			samples = append(samples, s)
		}
		return Smooth(samples, Antenna{})
	}
	for mps, moves := range map[float64]bool{0.1: false, 0.14: false, 0.17: true, 0.25: true} {
		for i, p := range smooth(along(1, leg{mps, 10}), func(int, *Sample) {}) {
			if moves && (!(math.Abs(p.SpeedMps-mps) <= 0.01) || math.Abs(Wrap(p.HeadingRad-1)) > 0.01) || !moves && (p.SpeedMps != 0 || p.YawRateRadPerS != 0) {
				t.Errorf("at %g m/s, pose %d: %+v", mps, i, p)
				break
			}
		}
	}
	track := smooth(along(0, leg{0, 4}, leg{2, 6}), func(i int, s *Sample) {
		if i < 25 {
			s.VelocityE, s.VelocityN = 0, -0.1
		}
	})
	if p := track[80]; !(math.Abs(Wrap(p.HeadingRad)) <= 0.01) || !(math.Abs(p.SpeedMps-2) <= 0.05) {
		t.Errorf("after a stand with a course to the south: %+v; want north at 2 m/s", p)
	}
}

// A drawbar of 25 cm turns within 8 cm of way: steps are short enough for that
// in a single stretch of a minute.
func TestTrailStepOfAStiffDrawbar(t *testing.T) {
	from := Pose{TimeNs: t0, ToolHeadingRad: 1.2, SpeedMps: 3}
	to := Pose{TimeNs: t0 + 20e9, HeadingRad: 2, SpeedMps: 3, YawRateRadPerS: 0.1}
	from.YawRateRadPerS = 0.1
	got := TrailStep(&from, &to, 0.5, 0.25)
	// A steady turn: v·sin δ - c·ω·cos δ = L·ω.
	r := 3 / 0.1
	if want := 2 - math.Atan(0.5/r) - math.Asin(0.25/math.Hypot(r, 0.5)); !(math.Abs(got-want) <= 1e-6) {
		t.Errorf("tool at %.9f rad; want %.9f", got, want)
	}
}

// In a sharp turn the place ahead depends on the speed by the chord of the arc,
// (1 - cos φ)/ω to the side and sin φ/ω ahead, and on the heading by the way.
func TestAdvanceThroughASharpTurn(t *testing.T) {
	const w, dt, v = 2.4, 0.5, 1.5
	side, ahead := (1-math.Cos(w*dt))/w, math.Sin(w*dt)/w
	var k Estimator
	k.X = [6]float64{theta: 0, speed: v, yaw: w}
	k.P[speed][speed] = 1
	k.advance(dt)
	if !(math.Abs(k.X[east]-v*side) <= 1e-9) || !(math.Abs(k.X[north]-v*ahead) <= 1e-9) {
		t.Errorf("at (%g, %g); want (%g, %g)", k.X[east], k.X[north], v*side, v*ahead)
	}
	for _, c := range []struct{ got, want float64 }{
		{k.P[east][speed], side}, {k.P[north][speed], ahead}, {k.P[speed][north], ahead},
		{k.P[east][east], side * side}, {k.P[east][north], side * ahead}, {k.P[north][north], ahead * ahead},
	} {
		if !(math.Abs(c.got-c.want) <= 1e-9) {
			t.Errorf("covariance with the speed %g; want %g", c.got, c.want)
		}
	}
	k = Estimator{}
	k.X = [6]float64{theta: 0.4, speed: v, yaw: w}
	k.P[theta][theta] = 1
	k.advance(dt)
	if de, dn := k.X[east], k.X[north]; !(math.Abs(k.P[east][theta]-dn) <= 1e-2) || !(math.Abs(k.P[north][theta]+de) <= 1e-2) {
		t.Errorf("covariances with the heading %g, %g; want %g, %g", k.P[east][theta], k.P[north][theta], dn, -de)
	}
}

// After a gap the heading runs on from what it was, by no more than half a turn,
// although the receiver's course begins again at 360°.
func TestHeadingRunsOnOverAGap(t *testing.T) {
	k := Estimator{}
	at := func(s, north, courseDeg float64) {
		f := nmea.Fix{TimeNs: 1e18 + int64(s*1e9), SpeedMps: 2, CourseDeg: courseDeg, HeadingDeg: math.NaN(), Quality: nmea.RTKFixed}
		k.Update(&f, 0, north)
	}
	for i := range 20 {
		at(0.1*float64(i), 0.2*float64(i), 1)
	}
	before, _ := k.Motion()
	at(12, 24, 359)
	after, ok := k.Motion()
	if off := math.Abs(after.HeadingRad - before.HeadingRad); !ok || !(off < 0.1) {
		t.Errorf("from %.3f rad to %.3f; want 2° further at most", before.HeadingRad, after.HeadingRad)
	}
}

// Which way a tractor goes is mistaken where its track turns on the spot. Once a long
// way shows it, the short ways to and fro that follow are right as well.
func TestMistakenWayIsTurnedRoundUntilTheNextLongOne(t *testing.T) {
	var samples []Sample
	north := 0.0
	var want []float64 // m/s, positive forward
	leg := func(velocityN, m float64, forward bool) {
		for range int(m / math.Abs(velocityN) * 10) {
			north += velocityN / 10
			samples = append(samples, Sample{TimeNs: int64(len(samples)) * 1e8, NorthM: north, VelocityN: float32(velocityN), HeadingRad: float32(math.NaN()), SigmaM: 0.02})
			v := math.Abs(velocityN)
			if !forward {
				v = -v
			}
			want = append(want, v)
		}
	}
	leg(3, 120, true)
	leg(-3, 120, true) // about on the spot
	leg(1, 8, false)
	leg(-1, 8, true)
	leg(1, 8, false)
	leg(-3, 50, true)
	for i, p := range Smooth(samples, Antenna{}) {
		steady := i >= 15 && i+15 < len(want)
		for j := i - 15; steady && j <= i+15; j++ {
			steady = want[j] == want[i]
		}
		if !steady || i >= 390 && i < 410 {
			continue // where it turns round
		}
		if math.Abs(p.SpeedMps-want[i]) > 0.2 {
			t.Fatalf("sample %d: %.2f m/s; want %.2f", i, p.SpeedMps, want[i])
		}
	}
}
