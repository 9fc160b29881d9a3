// What a step between two fixes tells of the way the tractor goes, when its heading begins anew, and
// when it stands: just within each limit and just beyond it.

package motion

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"liftbench/nmea"
)

// rtk is a fix with a position of the usual 1.4 cm and the given speed and course.
func rtk(mps, courseDeg float64) *nmea.Fix {
	f := nmea.EmptyFix()
	f.TimeNs, f.Quality, f.SpeedMps, f.CourseDeg = t0, nmea.RTKFixed, mps, courseDeg
	return &f
}

// driving is an estimate of a tractor that heads headingRad at v m/s, its antenna at the origin.
func driving(antenna Antenna, headingRad, v float64) *Estimator {
	k := &Estimator{Antenna: antenna}
	sin, cos := math.Sincos(headingRad)
	k.X = [6]float64{east: -antenna.XM*sin - antenna.YM*cos, north: -antenna.XM*cos + antenna.YM*sin, theta: headingRad, speed: v}
	k.State.LastMps = math.Abs(v)
	return k
}

// antennaAt is where the estimate has the antenna.
func antennaAt(k *Estimator) (eastM, northM float64) {
	sin, cos := math.Sincos(k.X[theta])
	return k.X[east] + k.Antenna.XM*sin + k.Antenna.YM*cos, k.X[north] + k.Antenna.XM*cos - k.Antenna.YM*sin
}

// A step has the way between both positions, or that of the mean speed if it is longer, and the
// velocity that the receiver or, without one, the way says.
func TestStepTo(t *testing.T) {
	nan := math.NaN()
	for _, tc := range []struct {
		name              string
		fix               *nmea.Fix
		before, dt        float64
		eastM, northM     float64
		ve, vn, wayM, mps float64
	}{
		{"as the receiver says", rtk(2, 90), 2, 1, 2, 0, 2, 0, 2, 2},
		{"farther than the speeds say", rtk(2, 90), 2, 1, 3, 0, 2, 0, 3, 2},
		{"less far than the speeds say", rtk(3, 0), 2, 1, 0, 0.5, 0, 3, 2.5, 3},
		{"backwards", rtk(2, 180), -3, 2, 0, -5, 0, -2, 5, 2},
		{"a speed without a course", rtk(2, nan), 3, 1, 2, 0, nan, nan, 2.5, 2},
		{"no speed, 2 m of way", rtk(nan, nan), 1, 2, 2, 0, 1, 0, 2, 1},
		{"no speed, 0.9 m of way", rtk(nan, nan), 1.5, 2, 0.9, 0, nan, nan, 3, 1.5},
	} {
		k := driving(Antenna{}, 0, tc.before)
		s := k.stepTo(tc.fix, tc.eastM, tc.northM, tc.dt)
		same := func(a, b float64) bool { return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-9 }
		if !same(s.ve, tc.ve) || !same(s.vn, tc.vn) || !same(s.wayM, tc.wayM) || !same(k.State.LastMps, tc.mps) || s.backward != (tc.before < 0) || s.cosBackward != 0 ||
			s.eastM != tc.eastM || s.northM != tc.northM || s.dt != tc.dt {
			t.Errorf("%s: %+v, %g m/s; want %g, %g m/s over %g m, then %g m/s", tc.name, s, k.State.LastMps, tc.ve, tc.vn, tc.wayM, tc.mps)
		}
	}
	for reversedM, want := range map[float64]float64{0.9: 0, 1.1: -0.5} {
		k := driving(Antenna{}, 0, 2)
		k.State.ReverseM = reversedM
		if s := k.stepTo(rtk(2, 0), 0, 2, 1); s.cosBackward != want {
			t.Errorf("after %g m of reversing: cosine %g; want %g", reversedM, s.cosBackward, want)
		}
	}
}

// A tractor has gone on the same way if it was not slow at the fix before, and either changed its speed
// by more than 4 m/s² to and from a stand would, or ends farther away than it would then:
// half the difference of the speeds, 0.3 m and four times 1.4 cm.
func TestGoesThrough(t *testing.T) {
	for _, tc := range []struct {
		name                   string
		lastMps, before, after float64
		dt, wayM               float64
		want                   bool
	}{
		{"too fast to stop and start", 2.1, 2.1, 2, 1, 0, true},
		{"slow enough to stop and start", 2, 2, 1.9, 1, 0, false},
		{"too far to have turned back", 2, 2, 1, 2, 1 + 0.3 + 0.06, true},
		{"near enough to have turned back", 2, 2, 1, 2, 1 + 0.3 + 0.05, false},
		{"faster at the end, too far", 1, 1, 2, 2, 1 + 0.3 + 0.06, true},
		{"slow at the fix before", 0.49, 2, 3, 1, 9, false},
		{"slow before by the estimate", 2, 0.49, 3, 0.5, 9, false},
		{"just not slow", 0.5, 0.5, 3, 0.5, 9, true},
	} {
		k := driving(Antenna{}, 0, tc.before)
		k.State.LastMps = tc.lastMps
		if s := k.stepTo(rtk(tc.after, 0), 0, tc.wayM, tc.dt); s.through != tc.want {
			t.Errorf("%s: through %v", tc.name, s.through)
		}
	}
}

// The heading begins anew where the antenna moves 0.6 rad and more beside the tractor's heading,
// at 0.5 m/s and more: it is then the way that the antenna moves, or the opposite one in reverse;
// the antenna is at the newest position, and the speed is the measured one.
func TestRegainHeading(t *testing.T) {
	for _, antenna := range []Antenna{{}, {XM: 1.5, YM: 0.4}} {
		for _, headingRad := range []float64{0, 2.5, -1} {
			for _, tc := range []struct {
				name      string
				mps, turn float64 // the antenna's motion, from the heading
				backward  bool
				anew      bool
				offRad    float64
				goesBack  bool
			}{
				{"just within", 2, 0.59, false, false, 0, false},
				{"just beyond", 2, 0.61, false, true, 0.61, false},
				{"to the left", 2, -1.3, false, true, -1.3, false},
				{"too slow", 0.49, 2, false, false, 0, false},
				{"fast enough", 0.51, 1, false, true, 1, false},
				{"has turned back", 2, 3, false, false, 0, true},
				{"has turned back beside its heading", 2, math.Pi - 0.7, false, true, -0.7, true},
				{"goes on in reverse", 2, math.Pi - 0.7, true, true, -0.7, true},
				{"goes on, says the way", 2, math.Pi - 0.7, false, true, math.Pi - 0.7, false},
			} {
				v := 2.0
				if tc.backward {
					v = -2
				}
				k := driving(antenna, headingRad, v)
				if tc.name == "has turned back" {
					k.X[speed] = -0.1 // the filter has seen it
				}
				sin, cos := math.Sincos(headingRad + tc.turn)
				s := step{dt: 1, eastM: 30, northM: -20, ve: tc.mps * sin, vn: tc.mps * cos, headingRad: headingRad, goesBack: tc.goesBack}
				if got := k.regainHeading(&s); got != tc.anew {
					t.Errorf("%s: begins anew %v", tc.name, got)
				}
				if !tc.anew {
					continue
				}
				wantMps := tc.mps
				if tc.goesBack {
					wantMps = -tc.mps
				}
				e, n := antennaAt(k)
				// The yaw rate is what turned it within the second, but no more than 3.5 m of
				// radius allow; with it and the new heading the antenna moves as measured.
				w := k.X[yaw]
				along := math.Atan2(w*antenna.XM, wantMps-w*antenna.YM)
				if !(math.Abs(Wrap(k.X[theta]+along-headingRad-tc.turn)) <= 1e-9) || !(math.Abs(k.X[speed]-wantMps) <= 1e-9) || !(math.Abs(e-30) <= 1e-9) || !(math.Abs(n+20) <= 1e-9) {
					t.Errorf("%s: turned by %g, %g m/s, antenna at (%g, %g); want it to move along %g", tc.name, Wrap(k.X[theta]-headingRad), k.X[speed], e, n, tc.turn)
				}
				most := tc.mps / 3.5
				turned := Wrap(k.X[theta] - headingRad)
				// atan is no more than 0.06 rad beside its angle here.
				if want := max(-most, min(turned, most)); !(math.Abs(w-want) <= 0.06) || antenna == (Antenna{}) && !(math.Abs(turned-tc.offRad) <= 1e-9) {
					t.Errorf("%s: turned by %g, %g rad/s; want %g, %g", tc.name, turned, w, tc.offRad, want)
				}
				if k.P[theta][theta] == 0 || k.P[east][theta] != 0 {
					t.Errorf("%s: the covariance is not that of a beginning", tc.name)
				}
			}
		}
	}
	// The antenna of a turning tractor moves beside its heading by atan(ω·x/(v - ω·y)): that is no error.
	for offRad, want := range map[float64]bool{0.59: false, 0.61: true, -0.59: false, -0.61: true} {
		k := driving(Antenna{XM: 2, YM: -1}, 0.3, 2)
		k.X[yaw] = 0.5
		bearing := 0.3 + math.Atan2(0.5*2, 2+0.5) + offRad
		mps := 2.0
		s := step{dt: 1, ve: mps * math.Sin(bearing), vn: mps * math.Cos(bearing), through: true}
		if got := k.regainHeading(&s); got != want {
			t.Errorf("%g rad beside the way of its antenna: begins anew %v", offRad, got)
		}
	}
	// The filter says reverse, the way forward.
	k := driving(Antenna{}, 0, -2)
	if s := (step{dt: 1, ve: 0, vn: 2}); !k.regainHeading(&s) || k.X[speed] != 2 {
		t.Errorf("the filter says reverse, the way forward: %g m/s; want 2", k.X[speed])
	}
}

// An antenna 2 m ahead that moves beside a heading lost on a straight: the yaw rate
// that the heading begins anew with is gone three fixes later. (It swung from side to
// side for ever when each new heading took the yaw rate before.)
func TestRegainedHeadingSettles(t *testing.T) {
	for _, v := range []float64{3, -1.5} {
		k := driving(Antenna{XM: 2}, 0.8, v)
		k.beginCovariance()
		k.State = EstimatorState{TimeNs: t0, Started: true, Ready: true, Spread: 1, LastMps: math.Abs(v)}
		course := 0.0
		if v < 0 {
			course = 180
		}
		at := 0.0
		for i := 1; i <= 6; i++ {
			at += v
			f := rtk(math.Abs(v), course)
			f.TimeNs = t0 + int64(i)*1e9
			k.Update(f, 0, at)
		}
		// In reverse the antenna runs behind the axle: where it is steered to the limit its
		// way looks the same for a while, so only the tightest turn bounds the heading.
		mostRad := 0.1
		if v < 0 {
			mostRad = math.Atan(2/3.5) + turnSlackRad
		}
		if !(math.Abs(Wrap(k.X[theta])) <= mostRad+1e-9) || v > 0 && !(math.Abs(k.X[yaw]) <= 0.1) {
			t.Errorf("%g m/s: heads %g rad, %g rad/s; want 0", v, Wrap(k.X[theta]), k.X[yaw])
		}
	}
}

// Backward or forward is chosen by the angle between the heading, carried along the
// way driven, and the motion, unless the tractor went on the same way; and never
// backward at more than 3 m/s.
func TestChooseWay(t *testing.T) {
	for _, tc := range []struct {
		name          string
		s             step
		theta, perM   float64
		want, through bool
	}{
		{"turned back", step{vn: -1, wayM: 1}, 0, 0, true, false},
		{"started forward", step{vn: 1, wayM: 1}, 0, 0, false, false},
		{"reversed before, 100° beside", step{ve: math.Sin(1.75), vn: math.Cos(1.75), wayM: 1, cosBackward: cosAgain}, 0, 0, false, false},
		{"100° beside", step{ve: math.Sin(1.75), vn: math.Cos(1.75), wayM: 1}, 0, 0, true, false},
		{"too slow to say", step{vn: -0.29, wayM: 1}, 0, 0, false, false},
		{"too fast to reverse", step{vn: -3.1, wayM: 1}, 0, 0, false, false},
		{"goes on in reverse", step{vn: -2, wayM: 2, chordN: -2, backward: true, through: true}, 0, 0, true, true},
		{"goes on", step{vn: 2, wayM: 2, chordN: 2, through: true}, 0, 0, false, true},
		// The yaw rate before a stop carried on would make 2 rad of a turn of 0.2.
		{"turned back, carried too far", step{ve: math.Sin(3.3), vn: math.Cos(3.3), wayM: 0.5}, 2, 0.2, true, false},
		// Half a turn on 3 m of way: it turned back, whatever the speeds say.
		{"cannot have steered so", step{vn: -2, wayM: 3, chordN: -1, through: true}, 0, 0, true, false},
		// To the left by way of the right.
		{"swung out on the wrong side", step{ve: -2, vn: -1, wayM: 7, chordE: 3, chordN: 3, through: true}, 0, 0, true, false},
	} {
		k := driving(Antenna{}, tc.theta, 0)
		k.State.Still.PerM = tc.perM
		s := tc.s
		s.goesBack = s.backward
		if k.chooseWay(&s); s.goesBack != tc.want || s.through != tc.through {
			t.Errorf("%s: backward %v, on the same way %v", tc.name, s.goesBack, s.through)
		}
	}
}

// On its way the tractor turns by no more than a radius of 3.5 m allows, and 0.1 rad of noise: beyond
// that the heading is taken back, about the antenna.
func TestBoundTurn(t *testing.T) {
	for _, side := range []float64{1, -1} {
		for _, tc := range []struct{ turn, want float64 }{{1.09, 1.09}, {1.11, 1.1}, {3, 1.1}, {0, 0}} {
			k := driving(Antenna{XM: 2, YM: 0.5}, 0.4+side*tc.turn, 1.75)
			k.X[yaw] = side * 0.59
			s := step{headingRad: 0.4, wayM: 3.5} // 1 rad
			if k.boundTurn(&s); !(math.Abs(k.X[theta]-0.4-side*tc.want) <= 1e-12) || k.X[yaw] != side*0.59 {
				t.Errorf("turned by %g: by %g, %g rad/s; want %g", side*tc.turn, k.X[theta]-0.4, k.X[yaw], side*tc.want)
			}
			if e, n := antennaAt(k); !(math.Hypot(e, n) <= 1e-9) {
				t.Errorf("turned by %g: the antenna is at (%g, %g); want it where it was", side*tc.turn, e, n)
			}
			// At 1.75 m/s it yaws with 0.5 rad/s, and noise.
			k.X[yaw] = side * 0.7
			if k.boundTurn(&s); k.X[yaw] != side*0.6 {
				t.Errorf("%g rad/s; want 0.6", k.X[yaw])
			}
		}
	}
}

// The tractor stands if the antenna has stayed for a second within 5 cm and four times 1.4 cm, and the
// receiver says no more than 0.3 m/s; it moves again at 0.15 m/s, or at 0.05 m/s from farther away.
func TestStandstillLimits(t *testing.T) {
	const near, farther = 0.05 + 4*0.014 - 1e-3, 0.05 + 4*0.014 + 1e-3
	nan := math.NaN()
	for _, tc := range []struct {
		name             string
		awayM, reportMps float64
		sinceS           float64
		v, backM         float64
		want             bool
	}{
		{"a second", near, 0, 1, 0.1, 0, true},
		{"less than a second", near, 0, 0.999, 0.1, 0, false},
		{"too far", farther, 0, 5, 0.1, 0, false},
		{"0.29 m/s, says the receiver", 0, 0.29, 5, 0.1, 0, true},
		{"0.31 m/s, says the receiver", 0, 0.31, 5, 0.1, 0, false},
		{"no speed from the receiver", 0, nan, 5, 0.1, 0, true},
		{"an estimate that runs on", 0, 0, 5, 2, 0, true},
		{"it reverses", 0, 0.2, 5, -0.2, 0.06, false},
		{"the estimate alone says so", 0, 0.2, 5, -0.2, 0.04, true},
	} {
		k := driving(Antenna{}, 0.7, tc.v)
		k.State.Still = Standstill{SinceNs: t0 - int64(tc.sinceS*1e9), BackM: tc.backM, LastEastM: tc.awayM}
		k.X[accel], k.X[yaw] = 1, 0.2
		k.watchStandstill(rtk(tc.reportMps, 0), tc.awayM, 0)
		s := &k.State.Still
		if s.Standing != tc.want {
			t.Errorf("%s: stands %v", tc.name, s.Standing)
		}
		switch {
		case s.Standing && (k.X[speed] != 0 || k.X[accel] != 0 || k.X[yaw] != 0 || k.X[theta] != 0.7 || s.HeadingRad != 0.7 || s.BackM != 0):
			t.Errorf("%s: stands with %v, %+v", tc.name, k.X, s)
		case !s.Standing && tc.sinceS == 5 && tc.v > 0 && (s.SinceNs != t0 || s.EastM != tc.awayM):
			t.Errorf("%s: it may stand from here on: %+v", tc.name, s)
		}
	}
	for _, tc := range []struct {
		v, awayM float64
		moves    bool
	}{{0.14, 0, false}, {0.16, 0, true}, {-0.16, 0, true}, {0.04, farther, false}, {0.06, farther, true}, {0.06, near, false}} {
		k := driving(Antenna{}, 0.7, tc.v)
		k.X[yaw] = 9
		k.State.Still = Standstill{Standing: true, SinceNs: t0 - 60e9, HeadingRad: 0.65, PerM: 0.1, LastEastM: tc.awayM}
		k.watchStandstill(rtk(0, 0), tc.awayM, 0)
		wantHeading, wantYaw := 0.65, 0.0
		if tc.moves {
			wantHeading, wantYaw = 0.7, 0.1*tc.v // steered as before
		}
		if s := &k.State.Still; s.Standing == tc.moves || k.X[theta] != wantHeading || !(math.Abs(k.X[yaw]-wantYaw) <= 1e-12) || tc.moves && (s.SinceNs != t0 || s.EastM != tc.awayM) {
			t.Errorf("%g m/s, %g m away: stands %v, heads %g, %g rad/s", tc.v, tc.awayM, s.Standing, k.X[theta], k.X[yaw])
		}
	}
}

// The way back is that against the heading from the farthest point on, and none once that is passed.
// It reverses if the estimate says 0.15 m/s and the way is 3.5 times 1.4 cm, unless the receiver
// says less than that.
func TestWayBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		headingRad := rapid.Float64Range(-3, 3).Draw(t, "heading")
		sin, cos := math.Sincos(headingRad)
		k := driving(Antenna{}, headingRad, 1)
		farthest, at := 0.0, 0.0
		for _, by := range rapid.SliceOfN(rapid.Float64Range(-0.5, 0.5), 1, 8).Draw(t, "ways") {
			at += by
			farthest = max(farthest, at)
			aside := rapid.Float64Range(-1, 1).Draw(t, "aside")
			k.State.Still.SinceNs = t0 // it never stands
			k.watchStandstill(rtk(1, 0), at*sin+aside*cos, at*cos-aside*sin)
			if got := k.State.Still.BackM; !(math.Abs(got-(farthest-at)) <= 1e-9) {
				t.Fatalf("%g m back of the farthest point; want %g", got, farthest-at)
			}
		}
	})
	for _, tc := range []struct {
		v, backM, reportMps float64
		want                bool
	}{{-0.16, 0.05, 1, true}, {-0.14, 0.05, 1, false}, {-0.16, 0.048, 1, false}, {-0.16, 0.05, math.NaN(), true}, {-0.16, 0.05, 0.14, false}, {-0.16, 0.05, 0.16, true}} {
		k := driving(Antenna{}, 0, tc.v)
		k.State.Still = Standstill{BackM: tc.backM, SinceNs: t0}
		if k.watchStandstill(rtk(tc.reportMps, 0), 0, 0); k.State.Still.Reversing != tc.want {
			t.Errorf("%g m/s, %g m back, the receiver says %g m/s: reverses %v", tc.v, tc.backM, tc.reportMps, k.State.Still.Reversing)
		}
		if k.Backward() != (tc.v == -0.16) {
			t.Errorf("%g m/s: backward %v", tc.v, k.Backward())
		}
	}
}

// Found again within 2 m of where it stood, the tractor stands there still, with the heading that it
// had; found farther away, or when time has stepped back, it may have been anywhere.
func TestResume(t *testing.T) {
	for _, tc := range []struct {
		name          string
		standing      bool
		eastM, northM float64
		laterNs       int64
		want          bool
	}{
		{"there", true, 0, 0, 60e9, true}, {"just within 2 m", true, 1.19, -1.6, 60e9, true}, {"just beyond", true, 1.21, -1.6, 60e9, false},
		{"time steps back", true, 0, 0, -1, false}, {"at once", true, 0, 0, 0, true}, {"it did not stand", false, 0, 0, 60e9, false},
	} {
		k := driving(Antenna{XM: 1, YM: 0.3}, 0.9, 0)
		k.P[theta][theta], k.P[east][theta] = 0.04, 7
		k.State.TimeNs = t0
		k.State.Still = Standstill{Standing: tc.standing, HeadingRad: 0.9, SinceNs: t0 - 9e9}
		f := rtk(0, 0)
		f.TimeNs = t0 + tc.laterNs
		if got := k.resume(f, tc.eastM, tc.northM); got != tc.want {
			t.Errorf("%s: resumes %v", tc.name, got)
		}
		if !tc.want {
			continue
		}
		e, n := antennaAt(k)
		s := &k.State.Still
		if k.X[theta] != 0.9 || !(math.Abs(e-tc.eastM) <= 1e-9) || !(math.Abs(n-tc.northM) <= 1e-9) || k.P[theta][theta] != 0.04 || k.P[east][theta] != 0 ||
			!(math.Abs(k.P[east][east]-0.09) <= 1e-12) || !(math.Abs(k.P[speed][speed]-0.01) <= 1e-12) || k.State.TimeNs != f.TimeNs || s.SinceNs != f.TimeNs || s.EastM != tc.eastM || s.LastNorthM != tc.northM {
			t.Errorf("%s: %v, %+v", tc.name, k.X, k.State)
		}
	}
}

// A turn's end: the steady observer with the poles that the doc comment names, integrated in small
// steps through the end of a turn, is off at the bar's end by 2.5 cm when it is said to have settled.
func TestTurnSettlingBesideAnObserver(t *testing.T) {
	for _, tc := range []struct{ rateHz, mps, aheadS, halfM, unturn float64 }{{10, 2, 0.8, 6, 0.4}, {5, 0.5, 1.2, 9, 0.3}, {20, 4, 0.5, 3, 0.6}} {
		q := math.Pow(0.08*min(1, tc.mps), 2)
		r := math.Pow(0.04/tc.mps, 2) / tc.rateHz
		natural := math.Pow(q/r, 0.25)
		// x' = A·x + K·(measured - θ): K = [√2·Ω, Ω²]. The true ω falls at a steady rate.
		var theta, omega float64 // by how much the estimate is behind
		const h = 1e-4
		for range int(40 / natural / h) {
			theta, omega = theta+h*(omega-math.Sqrt2*natural*theta), omega+h*(tc.unturn-natural*natural*theta)
		}
		off := tc.halfM * (theta + omega*tc.aheadS)
		want := math.Log(off/0.025) / (natural / math.Sqrt2)
		if got := TurnSettlingS(tc.rateHz, tc.mps, tc.aheadS, tc.halfM, tc.unturn); !(math.Abs(got/want-1) <= 1e-3) || !(want > 0) {
			t.Errorf("%+v: settled after %g s; want %g", tc, got, want)
		}
	}
	if got := TurnSettlingS(10, 2, 0.8, 1, 1e-4); got != 0 {
		t.Errorf("a turn that is hardly one: settled after %g s; want at once", got)
	}
}

// An acceleration's end: after the time given, the place carried ahead is never farther off than
// 2.5 cm, and before it for a moment is, by the observer's solution in time.
func TestSpeedSettlingBesideTheSolution(t *testing.T) {
	for _, tc := range []struct{ rateHz, aheadS, accel float64 }{{10, 0.8, 1}, {5, 1.5, -2}, {20, 0.6, 3}} {
		natural := math.Pow(2*0.2*0.2/(0.04*0.04/tc.rateHz), 0.25)
		d := natural / math.Sqrt2
		// 1 m/s² that fades with e^(-t) goes so far in the time ahead.
		gone := tc.aheadS - 1 + math.Exp(-tc.aheadS)
		got := SpeedSettlingS(tc.rateHz, tc.aheadS, tc.accel)
		largest := 0.0
		for u := got; u < got+2*math.Pi/d; u += 1e-4 {
			a := math.Abs(tc.accel) * math.Exp(-d*u) * (math.Cos(d*u) - math.Sin(d*u))
			v := math.Abs(tc.accel) * math.Exp(-d*u) * math.Sin(d*u) / d
			largest = max(largest, math.Abs(v*tc.aheadS+a*gone)*math.Exp(d*(u-got)))
		}
		if !(math.Abs(largest/0.025-1) <= 1e-3) || !(got > 0) {
			t.Errorf("%+v: settled after %g s, then off by up to %g m; want 0.025", tc, got, largest)
		}
	}
}
