// Each of the receiver's errors, compared with its closed form.

package receiver

// Each error against its closed form. Bounds are four standard deviations of
// the estimate, unless a test says otherwise; the seeds are fixed.

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections/motion"
	"liftbench/sim/drive"
)

// long is an hour and more of driving northeast.
func long(seconds float64) motion.Track { return drive.Straight(startNs, 0, 0, 0.7, 2, 2*seconds) }

// off returns the distance of a fix from the true antenna.
func off(f *nmea.Fix, truth *motion.Pose) (e, n float64) {
	e, n = plane.ToPlane(f.LatDeg, f.LonDeg)
	s, c := math.Sincos(truth.HeadingRad)
	return e - truth.EastM - machine.AntennaXM*s - machine.AntennaYM*c, n - truth.NorthM - machine.AntennaXM*c + machine.AntennaYM*s
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %g; want %g ± %g", what, got, want, tol)
	}
}

// Epochs are lost independently: their number is binomial, and neither the loss
// of the epoch before nor jitter makes a loss likelier. The fixes that arrive
// are the same as without losses.
func TestLostEpochs(t *testing.T) {
	const share, seconds = 0.2, 1500.0
	p := Params{SigmaM: 0.02, JitterNs: 90e6, Seed: 3}
	whole, _ := scanAll(t, long(seconds), machine, p)
	p.LostShare = share
	some, _ := scanAll(t, long(seconds), machine, p)
	n := float64(len(whole))
	near(t, "share lost", 1-float64(len(some))/n, share, 4*math.Sqrt(share*(1-share)/n))
	i, pairs, lost := 0, 0.0, false
	lateS := 0.0 // of the lost ones, in all
	for k := range whole {
		if i < len(some) && some[i].TimeNs == whole[k].TimeNs {
			if some[i].LatDeg != whole[k].LatDeg || some[i].ArrivalNs != whole[k].ArrivalNs {
				t.Fatalf("epoch %d is %+v; want %+v", k, some[i], whole[k])
			}
			i, lost = i+1, false
			continue
		}
		if lost {
			pairs++
		}
		lateS += float64(whole[k].ArrivalNs-whole[k].TimeNs) * 1e-9
		lost = true
	}
	near(t, "lost after a lost one", pairs/n, share*share, 4*share/math.Sqrt(n))
	near(t, "lateness of the lost", lateS/(share*n), 0.045, 4*0.09/math.Sqrt(12*share*n)+4*0.045*math.Sqrt((1-share)/(share*n)))
}

// Waits and lengths are exponentially distributed: they have the mean that was
// asked for, a standard deviation equal to it, and a share of 1/e beyond it.
func TestSpellsAreExponential(t *testing.T) {
	const n = 20000
	c := newSpells(rand.New(rand.NewPCG(1, 7)), Spells{PerHour: 90, MeanS: 12}, startNs)
	waits, lengths := make([]float64, n), make([]float64, n)
	end := int64(startNs)
	for i := range n {
		waits[i], lengths[i] = float64(c.fromNs-end)*1e-9, float64(c.toNs-c.fromNs)*1e-9
		end = c.toNs
		if c.fromNs > end && c.on(c.fromNs-1) || !c.on(c.fromNs) {
			t.Fatal("a spell is on before it begins, or not when it does")
		}
		if c.on(end) && c.fromNs > end {
			t.Fatal("a spell is on after its end")
		}
	}
	for _, s := range []struct {
		name string
		v    []float64
		mean float64
	}{{"wait", waits, 40}, {"length", lengths, 12}} {
		var sum, squares, beyond float64
		for _, x := range s.v {
			sum, squares = sum+x, squares+x*x
			if x > s.mean {
				beyond++
			}
		}
		root := math.Sqrt(n)
		near(t, s.name, sum/n, s.mean, 4*s.mean/root)
		near(t, s.name+" squared", squares/n, 2*s.mean*s.mean, 4*math.Sqrt(20)*s.mean*s.mean/root)
		near(t, s.name+" beyond the mean", beyond/n, math.Exp(-1), 4*math.Sqrt(math.Exp(-1)*(1-math.Exp(-1)))/root)
	}
}

// A share of 1/(1 + 3600/(PerHour·MeanS)) of the time lies in a spell. If waits
// and lengths are exponential with means W and L, the share measured in T
// seconds has the variance 2·(W·L)²/((W + L)³·T) (alternating renewal process).
func TestShareOfTimeInSpells(t *testing.T) {
	const seconds, wait, mean = 12000.0, 45.0, 15.0
	for _, c := range []struct {
		name    string
		quality nmea.Quality
		p       Params
	}{
		{"float", nmea.RTKFloat, Params{Floats: Spells{3600 / wait, mean}}},
		{"outage", nmea.NoFix, Params{Outages: Spells{3600 / wait, mean}}},
		{"reckoned", nmea.Estimated, Params{Outages: Spells{3600 / wait, mean}, ReckonedS: 1000}},
	} {
		c.p.RateHz, c.p.Seed = 1, 11
		fixes, _ := scanAll(t, long(seconds), machine, c.p)
		in := 0.0
		for i := range fixes {
			if fixes[i].Quality == c.quality {
				in++
			} else if fixes[i].Quality != nmea.RTKFixed {
				t.Fatalf("%s: quality %v", c.name, fixes[i].Quality)
			}
		}
		sd := math.Sqrt(2 * wait * wait * mean * mean / math.Pow(wait+mean, 3) / seconds)
		near(t, c.name, in/float64(len(fixes)), mean/(wait+mean), 4*sd)
	}
}

// The noise of a float solution has its own standard deviation, correlation time
// and white share.
func TestFloatNoise(t *testing.T) {
	const sigma, tau, share, n = 0.4, 3.0, 0.25, 20000
	p := Params{
		SigmaM: 0.01, CorrelationS: 60, WhiteShare: 0.9, Seed: 8,
		FloatSigmaM: sigma, FloatCorrelationS: tau, FloatWhiteShare: share,
		Faults: []Fault{{0, 1e6, Float}}, Sentences: everything,
	}
	fixes, truth := scanAll(t, long(n/10), machine, p)
	var e []float64
	for i := range fixes[:n] {
		x, _ := off(&fixes[i], &truth[i])
		e = append(e, x)
	}
	// With a correlation time τ, n samples T apart are worth n·T/2τ independent
	// ones.
	tol := 4 * math.Sqrt(2/(n*0.1/(2*tau))) * sigma * sigma
	near(t, "variance", covariance(e, e, 0), sigma*sigma, tol)
	near(t, "after 0.1 s", covariance(e, e, 1), (1-share)*sigma*sigma*math.Exp(-0.1/tau), tol)
	near(t, "after 3 s", covariance(e, e, 30), (1-share)*sigma*sigma*math.Exp(-1), tol)
	if fixes[5].SigmaEastM != sigma {
		t.Errorf("says %g m of itself; want %g", fixes[5].SigmaEastM, sigma)
	}
	q := p
	q.FloatCorrelationS, q.FloatWhiteShare = 0, 0
	r := q
	r.FloatCorrelationS, r.FloatWhiteShare = p.CorrelationS, p.WhiteShare
	a, _ := scanAll(t, long(50), machine, q)
	b, _ := scanAll(t, long(50), machine, r)
	for i := range a {
		if a[i].LatDeg != b[i].LatDeg {
			t.Fatal("both 0 are not as out of the spell")
		}
	}
}

// The error of dead reckoning grows along a straight line, with a velocity that
// is normally distributed over the outages, so its variance is (drift·t)². The
// reported velocity has the same error.
func TestDriftInOutages(t *testing.T) {
	const drift, most = 0.08, 25.0
	p := Params{Outages: Spells{120, 20}, ReckonedS: most, DriftMps: drift, RateHz: 2, Seed: 5, Sentences: everything}
	fixes, truth := scanAll(t, long(18000), machine, p)
	var speeds []float64
	at := map[int]float64{} // squares by seconds into the outage
	count := map[int]float64{}
	for i := 0; i < len(fixes); i++ {
		if fixes[i].Quality != nmea.Estimated {
			continue
		}
		from := fixes[i-1].TimeNs // the last that was worked out
		e1, n1 := off(&fixes[i], &truth[i])
		perS := 1e9 / float64(fixes[i].TimeNs-from)
		vE, vN := e1*perS, n1*perS
		speeds = append(speeds, vE, vN)
		for ; i < len(fixes) && fixes[i].Quality == nmea.Estimated; i++ {
			s := float64(fixes[i].TimeNs-from) * 1e-9
			e, n := off(&fixes[i], &truth[i])
			if math.Hypot(e-vE*s, n-vN*s) > 1e-6 {
				t.Fatalf("%g s into an outage off by (%g, %g) m; want (%g, %g)", s, e, n, vE*s, vN*s)
			}
			if s >= most {
				t.Fatalf("dead reckoning for %g s", s)
			}
			if got := float64(fixes[i].SigmaEastM); math.Abs(got-drift*s) > 1e-6 {
				t.Fatalf("%g s into an outage it takes itself to be off by %g m; want %g", s, got, drift*s)
			}
			sin, cos := math.Sincos(fixes[i].CourseDeg * math.Pi / 180)
			tE, tN := math.Sincos(truth[i].HeadingRad)
			if d := math.Hypot(fixes[i].SpeedMps*sin-2*tE-vE, fixes[i].SpeedMps*cos-2*tN-vN); d > 1e-7 {
				t.Fatalf("says a speed that is off by %g m/s more than its drift", d)
			}
			if math.Mod(s, 5) < 0.05 {
				at[int(s)] += e*e + n*n
				count[int(s)] += 2
			}
		}
	}
	k := float64(len(speeds))
	if k < 600 {
		t.Fatalf("%g axes of outages; want more", k)
	}
	near(t, "variance of the drift", covariance(speeds, speeds, 0), drift*drift, 4*math.Sqrt(2/k)*drift*drift)
	for _, s := range []int{5, 10, 20} {
		want := drift * drift * float64(s*s)
		near(t, "variance", at[s]/count[s], want, 4*math.Sqrt(2/count[s])*want+0.02*want)
	}
}

// With noise it starts from where the last solution was.
func TestCarriedOnFromTheLastSolution(t *testing.T) {
	fixes, truth := scanAll(t, long(2000), machine, Params{RateHz: 2, SigmaM: 0.02, CorrelationS: 30, Outages: Spells{60, 10}, ReckonedS: 100, Seed: 2})
	seen := 0
	for i := 1; i < len(fixes); i++ {
		if fixes[i].Quality == nmea.Estimated {
			e0, n0 := off(&fixes[i-1], &truth[i-1])
			e, n := off(&fixes[i], &truth[i])
			if math.Hypot(e-e0, n-n0) > 1e-6 {
				t.Fatalf("from (%g, %g) to (%g, %g) without drift", e0, n0, e, n)
			}
			seen++
		}
	}
	if seen < 100 {
		t.Errorf("%d positions by dead reckoning", seen)
	}
}

// A fix that was lost comes back with an offset that lasts until the next loss.
// There is none before the first loss, and the offsets are normally distributed
// and independent.
func TestStepsOnRefix(t *testing.T) {
	const sigma = 0.05
	for _, c := range []struct {
		name string
		p    Params
	}{
		{"float", Params{Floats: Spells{360, 5}}},
		{"outage", Params{Outages: Spells{360, 5}}},
		{"reckoned", Params{Outages: Spells{360, 5}, ReckonedS: 100}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.p.RefixSigmaM, c.p.RateHz, c.p.Seed = sigma, 1, 6
			fixes, truth := scanAll(t, long(12000), machine, c.p)
			var steps []float64
			var e0, n0 float64
			fixed := true
			for i := range fixes {
				if fixes[i].Quality != nmea.RTKFixed {
					fixed = false
					continue
				}
				e, n := off(&fixes[i], &truth[i])
				if !fixed {
					steps = append(steps, e, n)
					e0, n0, fixed = e, n, true
				}
				if math.Hypot(e-e0, n-n0) > 1e-6 {
					t.Fatalf("moves from (%g, %g) to (%g, %g) while fixed", e0, n0, e, n)
				}
			}
			k := float64(len(steps))
			if k < 1000 {
				t.Fatalf("%g axes of steps; want more", k)
			}
			near(t, "variance", covariance(steps, steps, 0), sigma*sigma, 4*math.Sqrt(2/k)*sigma*sigma)
			near(t, "mean", covariance(steps, slices.Repeat([]float64{1}, len(steps)), 0), 0, 4*sigma/math.Sqrt(k))
			near(t, "from one to the next", covariance(steps, steps, 2), 0, 4*sigma*sigma/math.Sqrt(k))
		})
	}
}

// After a silence the fix has no new offset: the receiver kept its fix and only
// its sentences were missing.
func TestSilenceLosesNoFix(t *testing.T) {
	fixes, truth := scanAll(t, long(60), machine, Params{RefixSigmaM: 1, Faults: []Fault{{10, 20, Silence}}})
	if e, n := off(&fixes[len(fixes)-1], &truth[len(truth)-1]); math.Hypot(e, n) > 1e-6 {
		t.Errorf("off by (%g, %g) m after a silence", e, n)
	}
}

// A clock that is ahead makes every arrival time later by that much and changes
// nothing else.
func TestClockAhead(t *testing.T) {
	p := Params{LatencyNs: 80e6, JitterNs: 50e6, SigmaM: 0.01, Seed: 4}
	right, _ := scanAll(t, long(60), machine, p)
	p.ClockAheadNs = -130e6
	wrong, _ := scanAll(t, long(60), machine, p)
	for i := range right {
		if d := wrong[i].ArrivalNs - right[i].ArrivalNs; d != -130e6 || wrong[i].LatDeg != right[i].LatDeg || wrong[i].TimeNs != right[i].TimeNs {
			t.Fatalf("epoch %d arrives %d ns later", i, d)
		}
	}
}

// Rounding to a last digit worth q makes an error that is uniform within ±q/2:
// its standard deviation is q/√12.
func TestMinuteDigits(t *testing.T) {
	track := long(1000)
	exact, _ := scanAll(t, track, machine, Params{RateHz: 4})
	for digits := 1; digits <= 9; digits++ {
		var log bytes.Buffer
		p := Params{RateHz: 4, MinuteDigits: digits, Sentences: []nmea.Type{nmea.RMC, nmea.GGA}}
		if err := Write(&log, track, &plane, machine, p); err != nil {
			t.Fatal(err)
		}
		q := math.Pow10(-digits)
		var lat, lon []float64
		rd := epoch.NewReader(&log)
		for i := 0; rd.Next(); i++ {
			f := rd.Fix()
			lat, lon = append(lat, 60*(f.LatDeg-exact[i].LatDeg)), append(lon, 60*(f.LonDeg-exact[i].LonDeg))
		}
		if err := rd.Err(); err != nil || len(lat) != len(exact) {
			t.Fatalf("%d of %d epochs, error %v", len(lat), len(exact), err)
		}
		for name, v := range map[string][]float64{"latitude": lat, "longitude": lon} {
			if worst := max(slices.Max(v), -slices.Min(v)); worst > q/2+1e-11 {
				t.Errorf("%d digits: %s off by %g minutes of arc; want half of %g at most", digits, name, worst, q)
			}
			// A minute is about 2 km: with one digit, few steps are passed and many
			// fixes share each.
			if digits > 2 {
				near(t, name, math.Sqrt(covariance(v, v, 0)), q/math.Sqrt(12), 0.03*q/math.Sqrt(12))
			}
		}
	}
}

// A setting changes only what it describes: at epochs that two receivers report
// with the same quality, everything else is equal.
func TestEachErrorHasAStreamOfItsOwn(t *testing.T) {
	const position, velocity, heading, arrival = 1, 2, 4, 8
	all := Params{
		LatencyNs: 50e6, JitterNs: 20e6, LostShare: 0.05, SigmaM: 0.02, CorrelationS: 20, WhiteShare: 0.3,
		Floats: Spells{60, 10}, Outages: Spells{60, 10}, ReckonedS: 5, DriftMps: 0.05,
		VelocitySigmaMps: 0.02, HeadingSigmaDeg: 0.3, Sentences: everything, Seed: 21,
	}
	base, baseTruth := scanAll(t, long(600), machine, all)
	for _, c := range []struct {
		name    string
		alter   func(*Params)
		changes int
	}{
		{"jitter", func(p *Params) { p.JitterNs = 0 }, arrival},
		{"latency", func(p *Params) { p.LatencyNs = 0 }, arrival},
		{"lost epochs", func(p *Params) { p.LostShare = 0.3 }, 0},
		{"clock", func(p *Params) { p.ClockAheadNs = 1e9 }, arrival},
		{"noise", func(p *Params) { p.SigmaM = 0.5 }, position},
		{"correlation", func(p *Params) { p.CorrelationS, p.WhiteShare = 5, 0 }, position},
		{"float spells", func(p *Params) { p.Floats = Spells{30, 30} }, 0},
		{"no float spells", func(p *Params) { p.Floats = Spells{} }, 0},
		{"float noise", func(p *Params) { p.FloatSigmaM = 2 }, position},
		{"outages", func(p *Params) { p.Outages, p.ReckonedS = Spells{30, 30}, 0 }, 0},
		{"no outages", func(p *Params) { p.Outages = Spells{} }, 0},
		{"drift", func(p *Params) { p.DriftMps = 1 }, position | velocity}, // of reckoned positions
		{"steps", func(p *Params) { p.RefixSigmaM = 0.3 }, position},
		{"velocity", func(p *Params) { p.VelocitySigmaMps = 0.5 }, velocity},
		{"heading", func(p *Params) { p.HeadingSigmaDeg = 3 }, heading},
		{"digits", func(p *Params) { p.MinuteDigits = 3 }, 0},
		{"seed", func(p *Params) { p.Seed++ }, position | velocity | heading | arrival},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := all
			c.alter(&p)
			fixes, truth := scanAll(t, long(600), machine, p)
			changed, shared := 0, 0
			i := 0
			for k := range base {
				a := &base[k]
				for i < len(fixes) && fixes[i].TimeNs < a.TimeNs {
					i++
				}
				if i == len(fixes) || fixes[i].TimeNs != a.TimeNs || fixes[i].Quality != a.Quality || !a.HasPosition() {
					continue
				}
				b := &fixes[i]
				shared++
				ea, na := off(a, &baseTruth[k])
				eb, nb := off(b, &truth[i])
				if a.ArrivalNs != b.ArrivalNs {
					changed |= arrival
				}
				if a.HeadingDeg != b.HeadingDeg {
					changed |= heading
				}
				if a.SpeedMps != b.SpeedMps || a.CourseDeg != b.CourseDeg {
					changed |= velocity
				}
				// Dead reckoning depends on when the outage began.
				if (ea != eb || na != nb) && (a.Quality != nmea.Estimated || c.changes != 0) {
					changed |= position
				}
			}
			if changed != c.changes || shared < 1500 {
				t.Errorf("changes %b; want %b, of position, velocity, heading, arrival from the right; %d epochs in common", changed, c.changes, shared)
			}
		})
	}
}

// troubled returns the settings of a receiver with every error at once.
func troubled() Params {
	return Params{
		LatencyNs: 80e6, JitterNs: 60e6, LostShare: 0.03, ClockAheadNs: 15e6,
		SigmaM: 0.014, CorrelationS: 60, WhiteShare: 0.1, FloatCorrelationS: 200, FloatWhiteShare: 0.02,
		Floats: Spells{100, 6}, Outages: Spells{100, 6}, ReckonedS: 3, DriftMps: 0.05, RefixSigmaM: 0.04,
		VelocitySigmaMps: 0.02, HeadingSigmaDeg: 0.3, SlopeDeg: 3, MinuteDigits: 6,
		Sentences: everything, Stamp: UnixStamp, Seed: 12,
	}
}

func TestAllErrorsTogether(t *testing.T) {
	text := func(p Params) string {
		var b bytes.Buffer
		if err := Write(&b, long(600), &plane, machine, p); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	one := text(troubled())
	if one != text(troubled()) {
		t.Error("the same seed gives other bytes")
	}
	other := troubled()
	other.Seed++
	if one == text(other) {
		t.Error("another seed gives the same bytes")
	}
	got := map[nmea.Quality]int{}
	rd := epoch.NewReader(bytes.NewReader([]byte(one)))
	for rd.Next() {
		f := rd.Fix()
		got[f.Quality]++
		if f.HasPosition() != (f.Quality != nmea.NoFix) {
			t.Fatalf("quality %v, position %v", f.Quality, f.HasPosition())
		}
	}
	for _, q := range []nmea.Quality{nmea.NoFix, nmea.RTKFixed, nmea.RTKFloat, nmea.Estimated} {
		if got[q] == 0 {
			t.Errorf("no epoch of quality %v is read back", q)
		}
	}
}

// A receiver with none of the errors above writes, byte for byte, the logs that
// were written before these settings existed.
func TestOldBytes(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("pinned on amd64: elsewhere a sum of products may round otherwise")
	}
	var b bytes.Buffer
	p := Params{
		LatencyNs: 50e6, JitterNs: 30e6, SigmaM: 0.014, CorrelationS: 10, WhiteShare: 0.2, FloatSigmaM: 0.5,
		VelocitySigmaMps: 0.02, HeadingSigmaDeg: 0.1, SlopeDeg: 4, DownhillDeg: 70, Sentences: everything,
		Stamp: UnixStamp, Faults: []Fault{{3, 9, Float}, {10, 12, NoFix}, {14, 15, Silence}}, Seed: 9,
	}
	if err := Write(&b, fishtails(t), &plane, machine, p); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(b.Bytes())
	if got := hex.EncodeToString(sum[:8]); got != oldBytes {
		t.Errorf("the bytes' SHA-256 begins with %s; want %s", got, oldBytes)
	}
}

const oldBytes = "3a826c992fcd0f6a"
