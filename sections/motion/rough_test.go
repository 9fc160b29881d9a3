// Rough tracks: fixes once a second or every two seconds, with gaps, standing
// starts, tight turns and reversing, whose truth is known.

package motion

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"liftbench/nmea"
	"liftbench/sim/campaign"
)

// roughPath is a tractor's true motion in the making, in steps of 20 ms. It is driven
// as a tractor is: the speed changes by 1 m/s² at most, the curvature by 0.15 1/m
// in a second, and it comes to a stand before it changes direction.
type roughPath struct {
	at        Pose
	curvature float64
	out       []Pose
}

const roughStepS = 0.02

// step goes on to that speed, and the curvature aimed at, as fast as it may.
func (r *roughPath) step(mps, aimed float64) {
	const h = roughStepS
	p := &r.at
	r.out = append(r.out, *p)
	was := p.SpeedMps
	p.SpeedMps += max(-1*h, min(mps-was, 1*h))
	r.curvature += max(-0.15*h, min(aimed-r.curvature, 0.15*h))
	w := p.SpeedMps * r.curvature
	p.EastM += p.SpeedMps * h * math.Sin(p.HeadingRad+w*h/2)
	p.NorthM += p.SpeedMps * h * math.Cos(p.HeadingRad+w*h/2)
	p.HeadingRad += w * h
	p.YawRateRadPerS = w
	p.TimeNs += 20e6
}

// leg goes on until the leg's way is done, at a speed and curvature aimed at.
func (r *roughPath) leg(wayM, mps, aimed float64) {
	for way := 0.0; way < wayM; way += math.Abs(r.at.SpeedMps) * roughStepS {
		r.step(mps, aimed)
	}
}

// stand brakes, and stands for so many seconds.
func (r *roughPath) stand(seconds float64) {
	for r.at.SpeedMps != 0 {
		r.step(0, r.curvature)
	}
	for range int(seconds / roughStepS) {
		r.step(0, r.curvature)
	}
}

// roughDrive is a drive with six passes, and a turn or a stop after each.
func roughDrive(rng *rand.Rand) []Pose {
	r := &roughPath{at: Pose{TimeNs: t0, HeadingRad: 2 * math.Pi * rng.Float64()}}
	leg, stand := r.leg, r.stand
	stand(10 * rng.Float64())
	for range 6 {
		mps := 1.5 + 3.5*rng.Float64()
		leg(30+120*rng.Float64(), mps, 0)
		side := math.Copysign(1, rng.Float64()-0.5)
		radius := 4 + 6*rng.Float64()
		slow := min(mps, math.Sqrt(1.5*radius))
		switch rng.IntN(4) {
		case 0: // round at once
			leg(math.Pi*radius, slow, side/radius)
		case 1: // three-point turn
			leg(1.2*radius, min(slow, 2), side/radius)
			stand(1 + 2*rng.Float64())
			leg(0.8*radius, -1-rng.Float64(), -side/radius)
			stand(1 + 2*rng.Float64())
			leg(1.2*radius, min(slow, 2), side/radius)
		case 2: // a stop in the row
			stand(1 + 20*rng.Float64())
		case 3: // a bulb
			leg(0.9*radius, slow, -side/radius)
			leg(1.7*math.Pi*radius, slow, side/radius)
		}
	}
	stand(3)
	return r.out
}

// roughFixes samples a drive every stepNs, from a random instant on, with the
// noise of an RTK receiver that is float for spells, and gaps of up to gapS. The
// velocity is the receiver's own, or, as in logs of terminals, the central
// difference of the positions written.
func roughFixes(rng *rand.Rand, drive []Pose, antenna Antenna, stepNs int64, gapS float64, differences bool) (fixes []nmea.Fix, at [][2]float64, truth []Pose) {
	first := rng.IntN(int(stepNs / 20e6))
	float := 0
	for i := first; i < len(drive); i += int(stepNs / 20e6) {
		if gapS > 0 && rng.IntN(25) == 0 {
			i += int(rng.Float64() * gapS * 50)
			if i >= len(drive) {
				break
			}
		}
		sigma, quality := 0.014, nmea.RTKFixed
		if float--; float > 0 {
			sigma, quality = 0.10, nmea.RTKFloat
		} else if rng.IntN(60) == 0 {
			float = rng.IntN(10)
		}
		f, e, n := driveFix(drive[i], antenna, rng, sigma)
		f.Quality = quality
		if !differences {
			s, c := math.Sincos(f.CourseDeg * math.Pi / 180)
			if !(f.SpeedMps > 0.1) {
				s, c = 0, 0
			}
			ve, vn := f.SpeedMps*s+0.03*rng.NormFloat64(), f.SpeedMps*c+0.03*rng.NormFloat64()
			f.SpeedMps, f.CourseDeg = math.Hypot(ve, vn), math.NaN()
			if f.SpeedMps > 0.1 {
				f.CourseDeg = math.Mod(math.Atan2(ve, vn)*180/math.Pi+360, 360)
			}
		}
		fixes, at, truth = append(fixes, f), append(at, [2]float64{e, n}), append(truth, drive[i])
	}
	if differences {
		for i := range fixes {
			a, b := max(i-1, 0), min(i+1, len(fixes)-1)
			if 2*(fixes[i].TimeNs-fixes[a].TimeNs) > 3*stepNs {
				a = i // over a gap there is no velocity
			}
			if 2*(fixes[b].TimeNs-fixes[i].TimeNs) > 3*stepNs {
				b = i
			}
			if a == b {
				fixes[i].SpeedMps, fixes[i].CourseDeg = math.NaN(), math.NaN()
				continue
			}
			dt := float64(fixes[b].TimeNs-fixes[a].TimeNs) * 1e-9
			ve, vn := (at[b][0]-at[a][0])/dt, (at[b][1]-at[a][1])/dt
			fixes[i].SpeedMps = math.Round(math.Hypot(ve, vn)*1000) / 1000
			fixes[i].CourseDeg = math.Round(math.Mod(math.Atan2(ve, vn)*180/math.Pi+360, 360)*100) / 100
		}
	}
	return fixes, at, truth
}

// roughKind is a kind of rough track.
type roughKind struct {
	name          string
	stepNs        int64
	gapS          float64
	differences   bool
	p95Deg, worst float64 // of the heading's errors
	// Of twice 1100 tracks, how many were taken for reversing while they went forward, or
	// had a heading more than 60° off, and may be; of the first 100, none. Only in a gap may
	// a tractor stop, turn back and stop unseen, or turn by half a circle forward, and
	// hasTwin does not find every other way.
	astray int
	// How far a tractor goes backward before the estimate says so.
	lateM, lateP95M float64
}

var roughKinds = []roughKind{
	{"10 Hz", 100e6, 0, false, 1, 22, 0, 0.1, 0.2},
	{"1 Hz", 1e9, 0, false, 1.5, 16, 0, 0.4, 1},
	{"1 Hz with gaps", 1e9, 8, false, 1.5, 30, 0, 0.5, 5.5},
	{"1 Hz, velocity by differences", 1e9, 0, true, 2, 15, 0, 0.4, 1},
	{"1 Hz with gaps, velocity by differences", 1e9, 8, true, 3, 60, 1, 0.5, 6},
	{"0.5 Hz", 2e9, 0, false, 3, 20, 0, 1.1, 2.6},
	{"0.5 Hz with gaps", 2e9, 8, false, 3, 28, 0, 1.1, 3},
	{"0.5 Hz, velocity by differences", 2e9, 0, true, 6, 25, 0, 1.1, 2.6},
}

// roughTracks is how many tracks of each kind are drawn: 25, 100 with
// LIFTBENCH_CAMPAIGN=ci, 1100 with full.
func roughTracks() uint64 { return uint64(campaign.Times(25, 100, 1100)) }

// roughStreams are the random streams that tracks are drawn from: the second was not
// looked at while the estimator was made.
func roughStreams() []uint64 { return []uint64{15, 1501}[:campaign.Times(1, 1, 2)] }

// each calls f with tracks of the kind.
func (kind *roughKind) each(f func(seed uint64, antenna Antenna, fixes []nmea.Fix, at [][2]float64, truth []Pose)) {
	for _, stream := range roughStreams() {
		for seed := range roughTracks() {
			antenna, fixes, at, truth := kind.track(seed, stream)
			f(seed, antenna, fixes, at, truth)
		}
	}
}

// track draws a track.
func (kind *roughKind) track(seed, stream uint64) (antenna Antenna, fixes []nmea.Fix, at [][2]float64, truth []Pose) {
	rng := rand.New(rand.NewPCG(seed, stream))
	antenna = Antenna{XM: -0.5 + 2.5*rng.Float64(), YM: -0.5 + rng.Float64()}
	fixes, at, truth = roughFixes(rng, roughDrive(rng), antenna, kind.stepNs, kind.gapS, kind.differences)
	return antenna, fixes, at, truth
}

// The last bit of whatever goes in, and of whatever the estimate is made of, is
// changed at every fix: what comes out differs by no more than stableFactor such
// bits. (A covariance that is not kept symmetric made thousands of millions of one.)
func TestLastBits(t *testing.T) {
	const stableFactor = 1000
	for _, kind := range roughKinds {
		t.Run(kind.name, func(t *testing.T) {
			worst := 0.0
			kind.each(func(seed uint64, antenna Antenna, fixes []nmea.Fix, at [][2]float64, _ []Pose) {
				rng := rand.New(rand.NewPCG(seed, 3))
				nudge := func(v *float64) {
					if *v != 0 {
						*v = math.Nextafter(*v, math.Inf(1-2*rng.IntN(2)))
					}
				}
				k, other := Estimator{Antenna: antenna}, Estimator{Antenna: antenna}
				farM := 1.0
				for i := range fixes {
					f, e, n := fixes[i], at[i][0], at[i][1]
					k.Update(&f, e, n)
					if v := f.SpeedMps * 20; v != math.Trunc(v) { // else it may lie on a threshold: so it does on every processor
						nudge(&f.SpeedMps)
					}
					for _, v := range []*float64{&f.CourseDeg, &e, &n} {
						nudge(v)
					}
					other.Update(&f, e, n)
					nudge(&other.State.Spread)
					for r := range other.X {
						nudge(&other.X[r])
						for c := range other.P[r] {
							nudge(&other.P[r][c])
						}
					}
					farM = max(farM, math.Abs(e), math.Abs(n))
					a, b := &k.X, &other.X
					bits := max(math.Hypot(a[east]-b[east], a[north]-b[north]), math.Abs(Wrap(a[theta]-b[theta])), math.Abs(a[speed]-b[speed])) / (farM * 0x1p-52)
					worst = max(worst, bits)
					if !(bits <= stableFactor) || k.State.Still.Standing != other.State.Still.Standing || k.State.Still.Reversing != other.State.Still.Reversing {
						t.Errorf("track %d at %.1f s: %.3g last bits of %.0f m apart", seed, float64(f.TimeNs-t0)*1e-9, bits, farM)
						return
					}
				}
			})
			t.Logf("at worst %.0f last bits", worst)
		})
	}
}

// forwardTrack is what the estimate made of a track.
type forwardTrack struct {
	astray       string // where it was taken for reversing while it went forward, or turned round; empty: nowhere
	offDeg       []float64
	gaps, untold int // of which nobody could tell and it was taken for the other way round
}

// driveForward follows a track. A tractor that has gone forward for 3 m and 5 s is not
// said to reverse, and its heading is known; but where, at the fixes around a gap, nobody
// can tell, as hasTwin finds out, it takes revisedM.
func driveForward(seed uint64, antenna Antenna, fixes []nmea.Fix, at [][2]float64, truth []Pose) (d forwardTrack) {
	const revisedM = doubtfulM + 10 // the estimate is later than the truth to begin its count, and fixes are up to 8 s apart
	k := Estimator{Antenna: antenna}
	forwardM, sinceNs, right, asked, blind := 0.0, truth[0].TimeNs, 0, 0, false
	for i := range fixes {
		k.Update(&fixes[i], at[i][0], at[i][1])
		p := &truth[i]
		if i > 0 && p.TimeNs-truth[i-1].TimeNs > gapS*1e9 {
			d.gaps++
		}
		m, ok := k.Motion()
		if i > 0 && p.SpeedMps > 0.3 && truth[i-1].SpeedMps > 0 {
			forwardM += math.Hypot(p.EastM-truth[i-1].EastM, p.NorthM-truth[i-1].NorthM)
		} else {
			forwardM, sinceNs = 0, p.TimeNs
		}
		if ok && math.Cos(m.HeadingRad-p.HeadingRad) > 0 {
			right, blind = i, false // the newest fix at which it was known
		} else if ok && asked < right && roughGap(truth[right:i+1]) {
			asked = right
			var timesNs []int64
			for j := right + 1; j <= i; j++ {
				timesNs = append(timesNs, truth[j].TimeNs)
			}
			blind = hasTwin(rand.New(rand.NewPCG(seed, uint64(i))), truth[right], *p, antenna, at[right+1:i+1], timesNs)
			if blind {
				d.untold++
			}
		}
		if !ok || blind && forwardM < revisedM || forwardM < 3 || p.TimeNs-sinceNs < 5e9 {
			continue
		}
		off := math.Abs(Wrap(m.HeadingRad-p.HeadingRad)) * 180 / math.Pi
		if k.State.Still.Reversing || !(off <= 60) {
			d.astray = fmt.Sprintf("at %.1f s: reversing %v, heading %.0f° off; the truth is forward at %.2f m/s, %.1f m since it turned; nobody could tell: %v",
				float64(p.TimeNs-t0)*1e-9, k.State.Still.Reversing, off, p.SpeedMps, forwardM, blind)
			return d
		}
		d.offDeg = append(d.offDeg, off)
	}
	return d
}

// Rough tracks of each kind, drawn at random, by driveForward.
func TestRoughTracksForward(t *testing.T) {
	for _, kind := range roughKinds {
		t.Run(kind.name, func(t *testing.T) {
			var all []float64
			astray, untold, gaps := 0, 0, 0
			kind.each(func(seed uint64, antenna Antenna, fixes []nmea.Fix, at [][2]float64, truth []Pose) {
				d := driveForward(seed, antenna, fixes, at, truth)
				gaps += d.gaps
				untold += d.untold
				all = append(all, d.offDeg...)
				if d.astray != "" {
					astray++
					t.Logf("track %d %s", seed, d.astray)
				}
			})
			slices.Sort(all)
			n := len(all)
			p95, worst := all[n*95/100], all[n-1]
			t.Logf("%d tracks astray; after %d of %d gaps nobody could tell and it was taken for the other way round; heading off by %.1f° median, %.1f° p95, %.1f° p99, %.1f° at worst, of %d", astray, untold, gaps, all[n/2], p95, all[n*99/100], worst, n)
			mostAstray := 0
			if roughTracks() > 100 {
				mostAstray = kind.astray
			}
			if astray > mostAstray {
				t.Errorf("%d tracks of %d taken for reversing, or turned round; want %d at most", astray, uint64(len(roughStreams()))*roughTracks(), mostAstray)
			}
			if !(p95 <= kind.p95Deg) || !(worst <= kind.worst) {
				t.Errorf("heading %.1f° (95 %%), %.1f° (worst) off; want %.1f°, %.0f° at most", p95, worst, kind.p95Deg, kind.worst)
			}
		})
	}
}

// Tracks that were taken for reversing, or turned round, before what lies between two
// gaps was asked.
func TestTracesBetweenGaps(t *testing.T) {
	for _, tc := range []struct {
		what   string
		kind   int
		stream uint64
		tracks []uint64
	}{
		{"a place was passed straight on, then it turned back", 4, 3000, []uint64{202, 590}},
		{"it turned, and came straight on from a place that was passed", 4, 3000, []uint64{670}},
		{"the same", 4, 3001, []uint64{167}},
		{"a place of which nothing was told, while the motion was known", 4, 3002, []uint64{541}},
		{"it was seen to stand, away from where it came from", 4, 3000, []uint64{505, 870}},
		{"it stood in two places", 4, 3002, []uint64{2, 283}},
		{"what it does in reverse does not fit an antenna in front", 4, 3002, []uint64{242, 402, 463, 591}},
		{"the same", 4, 3001, []uint64{730}},
		{"in doubt before the next gap", 4, 3001, []uint64{211}},
		{"the same", 4, 3000, []uint64{858}},
	} {
		for _, seed := range tc.tracks {
			kind := roughKinds[tc.kind]
			antenna, fixes, at, truth := kind.track(seed, tc.stream)
			if d := driveForward(seed, antenna, fixes, at, truth); d.astray != "" {
				t.Errorf("%s: %s, stream %d, track %d %s", tc.what, kind.name, tc.stream, seed, d.astray)
			}
		}
	}
}

// roughGap reports whether one of the steps is a gap.
func roughGap(truth []Pose) bool {
	for i := range truth {
		if i > 0 && truth[i].TimeNs-truth[i-1].TimeNs > gapS*1e9 {
			return true
		}
	}
	return false
}

// slowStrokes is a drive with three turns in strokes at walking pace: forward to a stand,
// back steered to the one lock, forward to the other, and back and forward again.
func slowStrokes(rng *rand.Rand) []Pose {
	r := &roughPath{at: Pose{TimeNs: t0, HeadingRad: 2 * math.Pi * rng.Float64()}}
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	for range 3 {
		r.leg(between(30, 60), between(1, 2), 0)
		side := math.Copysign(1, rng.Float64()-0.5) / between(4, 7)
		for range 1 + rng.IntN(3) {
			r.leg(between(2, 6), between(0.4, 1.2), side)
			r.stand(between(0, 4))
			r.leg(between(2, 8), -between(0.2, 1.2), -side*between(0.3, 1))
			r.stand(between(0, 4))
		}
		r.leg(between(4, 8), between(0.4, 1.2), side)
	}
	r.leg(60, 1.5, 0)
	return r.out
}

// roundedFixes takes each position of a 1 Hz log for one up to 0.4 s beside the moment
// at which it was made, as where a terminal writes times in whole seconds.
func roundedFixes(rng *rand.Rand, drive []Pose, antenna Antenna) (fixes []nmea.Fix, at [][2]float64, truth []Pose) {
	for i := 25; i+25 < len(drive); i += 50 {
		f, e, n := driveFix(drive[i-20+rng.IntN(41)], antenna, rng, 0.014)
		f.TimeNs = drive[i].TimeNs
		fixes, at, truth = append(fixes, f), append(at, [2]float64{e, n}), append(truth, drive[i])
	}
	return fixes, at, truth
}

// A tractor that turns in strokes at walking pace, once a second a fix, is never taken to
// go the opposite way, and the smoothed track has it so at a corner at most: 5 fixes of a
// drive.
func TestSlowStrokes(t *testing.T) {
	antenna := Antenna{XM: 0.8}
	for _, kind := range []struct {
		name  string
		fixes func(rng *rand.Rand, drive []Pose) ([]nmea.Fix, [][2]float64, []Pose)
		most  int // drives whose smoothed track is opposite for longer
	}{
		{"velocity of the receiver", func(rng *rand.Rand, drive []Pose) ([]nmea.Fix, [][2]float64, []Pose) {
			return roughFixes(rng, drive, antenna, 1e9, 0, false)
		}, 0},
		{"velocity by differences", func(rng *rand.Rand, drive []Pose) ([]nmea.Fix, [][2]float64, []Pose) {
			return roughFixes(rng, drive, antenna, 1e9, 0, true)
		}, 0},
		{"rounded times", func(rng *rand.Rand, drive []Pose) ([]nmea.Fix, [][2]float64, []Pose) {
			return roundedFixes(rng, drive, antenna)
		}, 1},
	} {
		live, smoothed, drives, all := 0, 0, 0, 0
		for seed := range uint64(200) {
			rng := rand.New(rand.NewPCG(seed, 33))
			fixes, at, truth := kind.fixes(rng, slowStrokes(rng))
			k := Estimator{Antenna: antenna}
			var samples []Sample
			for i := range fixes {
				k.Update(&fixes[i], at[i][0], at[i][1])
				samples = append(samples, SampleOf(&fixes[i], at[i][0], at[i][1]))
				if m, ok := k.Motion(); ok && math.Cos(m.HeadingRad-truth[i].HeadingRad) < 0 {
					live++
				}
			}
			track, cursor, opposite := Smooth(samples, antenna), 0, 0
			for i := range truth {
				if p := track.At(truth[i].TimeNs, &cursor); math.Cos(p.HeadingRad-truth[i].HeadingRad) < 0 {
					opposite++
				}
			}
			if opposite > 5 {
				t.Logf("%s: track %d is opposite at %d of %d fixes, smoothed", kind.name, seed, opposite, len(fixes))
				drives++
			}
			smoothed += opposite
			all += len(fixes)
		}
		t.Logf("%s: opposite at %d of %d fixes, smoothed at %d", kind.name, live, all, smoothed)
		if live > 0 || drives > kind.most {
			t.Errorf("%s: want none; smoothed more than 5 in %d drives at most", kind.name, kind.most)
		}
	}
}

// Two motions that give the same fixes: a tractor whose antenna is over its axle goes
// back 8 m and then forward, and one that heads the other way goes forward 8 m and then
// back. With φ the direction of motion, the first has θ = φ + π and v = -|v|, then
// θ = φ and v = |v|; the second the opposite of both; antenna and velocity are the same
// in every instant. So whoever knows nothing of before cannot tell them apart. The
// estimate takes the first motion for forward and the turn back for reversing, which
// lifts: the side on which no tool is torn. It is undone when it has "reversed" 60 m, or
// 5 m faster than 4.5 m/s, as nobody does.
func TestTwoMotionsOneTrack(t *testing.T) {
	for _, tc := range []struct {
		mps, undoneM float64
	}{{2, longestReverseM}, {5, fastReverseM}} {
		k := Estimator{}
		at, backM := 0.0, 0.0
		for i := range int64(60) {
			v := -1.0 // the motion, north: 8 m one way, a stand, then the other way
			switch {
			case i > 10:
				v = tc.mps
			case i > 8:
				v = 0
			}
			if i > 0 {
				at += v
			}
			f := rtk(math.Abs(v), 0)
			if v < 0 {
				f.CourseDeg = 180
			}
			f.TimeNs = t0 + i*1e9
			k.Update(f, 0, at)
			if v > 0 && k.X[speed] < 0 {
				backM += v
				if m, _ := k.Motion(); i > 13 && (!k.State.Still.Reversing || m.SpeedMps > 0) {
					t.Fatalf("%g m/s after %d s: does not reverse", tc.mps, i)
				}
			}
			if v > 0 && k.X[speed] > 0 && math.Abs(Wrap(k.X[theta])) > 0.1 {
				t.Fatalf("%g m/s after %d s: heads %g", tc.mps, i, k.X[theta])
			}
		}
		if k.State.Still.Reversing || !(backM > tc.undoneM-2*tc.mps) || !(backM < tc.undoneM+2*tc.mps) {
			t.Errorf("%g m/s: taken for reversing for %g m, to the end %v; want %g m", tc.mps, backM, k.State.Still.Reversing, tc.undoneM)
		}
	}
}

// TestRoughTracksBackward measures how late reversing is noticed: from the instant
// at which the tractor goes backward faster than reversingMps until the estimate says
// so, in legs that begin where the motion is known.
func TestRoughTracksBackward(t *testing.T) {
	for _, kind := range roughKinds {
		t.Run(kind.name, func(t *testing.T) {
			var lateS, lateM []float64
			legs, unseen := 0, 0
			for seed := range max(100, roughTracks()) { // fewer have too few legs in reverse for a median
				rng := rand.New(rand.NewPCG(seed, 15))
				antenna := Antenna{XM: -0.5 + 2.5*rng.Float64(), YM: -0.5 + rng.Float64()}
				drive := roughDrive(rng)
				fixes, at, _ := roughFixes(rng, drive, antenna, kind.stepNs, kind.gapS, kind.differences)
				k := Estimator{Antenna: antenna}
				next := 0
				for i := 0; i < len(drive); {
					if drive[i].SpeedMps > reversingMps {
						i++
						continue
					}
					end, wayM, seen, known := i, 0.0, false, false
					for ; end < len(drive) && drive[end].SpeedMps <= reversingMps; end++ {
						for next < len(fixes) && fixes[next].TimeNs <= drive[end].TimeNs {
							began := k.State.Ready && fixes[next].TimeNs-k.State.TimeNs <= longestStepS*1e9
							k.Update(&fixes[next], at[next][0], at[next][1])
							if fixes[next].TimeNs <= drive[i].TimeNs+kind.stepNs {
								known = began
							}
							next++
						}
						wayM += math.Abs(drive[end].SpeedMps) * 0.02
						if !seen && k.State.Still.Reversing {
							seen = true
							if known {
								lateS, lateM = append(lateS, float64(drive[end].TimeNs-drive[i].TimeNs)*1e-9), append(lateM, wayM)
							}
						}
					}
					if known {
						legs++
						if !seen {
							unseen++
						}
					}
					i = end
				}
			}
			slices.Sort(lateS)
			slices.Sort(lateM)
			n := len(lateS)
			if median, p95 := lateM[n/2], lateM[n*95/100]; kind.gapS == 0 && unseen > 0 || !(median <= kind.lateM) || !(p95 <= kind.lateP95M) {
				t.Errorf("%d legs not noticed; the others after %.2f m (median), %.2f m (95 %%); want 0, %.2f m, %.2f m", unseen, median, p95, kind.lateM, kind.lateP95M)
			}
			t.Logf("%d legs, %d not noticed; late by %.2f s median, %.2f s p95, %.2f s at worst; %.2f m, %.2f m, %.2f m", legs, unseen,
				lateS[n/2], lateS[n*95/100], lateS[n-1], lateM[n/2], lateM[n*95/100], lateM[n-1])
		})
	}
}
