// Sentences, noise, faults and times of a receiver.

package receiver

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sim/drive"
)

const startNs = 1_718_236_799_500_000_000 // 2024-06-12T23:59:59.5Z: the drive crosses midnight

var (
	plane   = geodesy.NewPlane(52.1, 10.2)
	machine = &sections.Machine{
		AntennaXM: 1.8, AntennaYM: -0.3, AntennaZM: 3,
		Sections: []sections.Section{{XM: -2, WidthM: 6}},
	}
	everything = []nmea.Type{nmea.GGA, nmea.RMC, nmea.VTG, nmea.HDT, nmea.ZDA, nmea.GST}
)

// fishtails is a short drive with turns both ways, reverse and standstill.
func fishtails(t testing.TB) motion.Track {
	ring := orb.Ring{{0, 0}, {25, 0}, {25, 60}, {0, 40}, {0, 0}}
	f := &field.Field{Plane: plane, Zones: []field.Zone{{Kind: field.Body, Polygons: orb.MultiPolygon{{ring}}}}}
	d, err := drive.Plan(f, machine, drive.Params{StartNs: startNs, WorkMps: 2, Turn: drive.Fishtail, PauseS: 2, SteerSigmaM: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	return d.Track
}

func scanAll(t testing.TB, track motion.Track, m *sections.Machine, p Params) (fixes []nmea.Fix, truth []motion.Pose) {
	r, err := New(track, &plane, m, p)
	if err != nil {
		t.Fatal(err)
	}
	for r.Scan() {
		fixes, truth = append(fixes, *r.Fix()), append(truth, *r.Truth())
	}
	return fixes, truth
}

// trueAntenna computes the antenna's position and velocity from the track itself;
// the velocity is a central difference of positions.
func trueAntenna(track motion.Track, cursor *int, ns int64) (e, n, ve, vn float64) {
	at := func(ns int64) (float64, float64) {
		p := track.At(ns, cursor)
		s, c := math.Sincos(p.HeadingRad)
		return p.EastM + machine.AntennaXM*s + machine.AntennaYM*c, p.NorthM + machine.AntennaXM*c - machine.AntennaYM*s
	}
	const h = 1_000_000
	e, n = at(ns)
	e0, n0 := at(ns - h)
	e1, n1 := at(ns + h)
	return e, n, (e1 - e0) / (2 * h * 1e-9), (n1 - n0) / (2 * h * 1e-9)
}

func TestSentencesDecodeToTheTrueAntenna(t *testing.T) {
	track := fishtails(t)
	for _, stamp := range []Stamp{UnixStamp, RFC3339Stamp, NoStamp} {
		var log bytes.Buffer
		p := Params{RateHz: 20, LatencyNs: 120e6, Sentences: everything, Stamp: stamp}
		if err := Write(&log, track, &plane, machine, p); err != nil {
			t.Fatal(err)
		}
		r := epoch.NewReader(&log)
		epochs, reversing := int64(0), 0
		cursor := 0
		for r.Next() {
			f := r.Fix()
			wantNs := int64(startNs) + epochs*50e6
			if f.TimeNs != wantNs {
				t.Fatalf("epoch %d at %d ns; want %d", epochs, f.TimeNs, wantNs)
			}
			epochs++
			if want := f.TimeNs + 120e6; stamp != NoStamp && f.ArrivalNs != want {
				t.Fatalf("epoch %d arrives at %d; want %d", epochs, f.ArrivalNs, want)
			}
			if f.Quality != nmea.RTKFixed || f.Satellites != 16 {
				t.Fatalf("quality %v, %d satellites", f.Quality, f.Satellites)
			}
			e, n := plane.ToPlane(f.LatDeg, f.LonDeg)
			wantE, wantN, ve, vn := trueAntenna(track, &cursor, f.TimeNs)
			if d := math.Hypot(e-wantE, n-wantN); d > 1e-4 {
				t.Fatalf("epoch %d is %g m off the true antenna", epochs, d)
			}
			if epochs == 1 {
				continue // the track begins here: no difference on both sides
			}
			pose := track.At(f.TimeNs, &cursor)
			if off := math.Abs(math.Remainder(f.HeadingDeg-pose.HeadingRad*180/math.Pi, 360)); off > 1e-3 {
				t.Fatalf("epoch %d: heading %g° off", epochs, off)
			}
			v := math.Hypot(ve, vn)
			if math.Abs(f.SpeedMps-v) > 2e-3 {
				t.Fatalf("epoch %d: speed %g m/s; the antenna moves at %g", epochs, f.SpeedMps, v)
			}
			if v > 0.3 {
				if off := math.Abs(math.Remainder(f.CourseDeg-math.Atan2(ve, vn)*180/math.Pi, 360)); off > 0.3 {
					t.Fatalf("epoch %d: course %g° off at %g m/s", epochs, off, v)
				}
			}
			if pose.SpeedMps < -0.5 {
				reversing++
				if off := math.Abs(math.Remainder(f.CourseDeg-f.HeadingDeg, 360)); off < 150 {
					t.Fatalf("epoch %d: course %g° from the heading in reverse", epochs, off)
				}
			}
			if v < 0.01 && !math.IsNaN(f.CourseDeg) {
				t.Fatalf("epoch %d: course %g° at standstill", epochs, f.CourseDeg)
			}
		}
		if err := r.Err(); err != nil {
			t.Fatal(err)
		}
		want := (track[len(track)-1].TimeNs-startNs)/50e6 + 1
		if epochs != want || reversing < 20 {
			t.Errorf("%d epochs, %d of them in reverse; want %d epochs", epochs, reversing, want)
		}
		if c := r.Counts(); c.OK != want*int64(len(everything)) || c.BadChecksum+c.Malformed+c.Unknown > 0 {
			t.Errorf("counts %+v; want %d sentences, all good", c, want*int64(len(everything)))
		}
	}
}

func TestNoiseStatistics(t *testing.T) {
	track := drive.Straight(0, 0, 0, 0.7, 2, 8000)
	const sigma, tau, share, vSigma = 0.0143, 5.0, 0.3, 0.03
	fixes, truth := scanAll(t, track, machine, Params{
		SigmaM: sigma, CorrelationS: tau, WhiteShare: share, VelocitySigmaMps: vSigma,
		HeadingSigmaDeg: 0.2, Sentences: everything, Seed: 4,
	})
	var e, n, course, heading, speed []float64
	for i, f := range fixes[:len(fixes)-1] { // after the last pose the tractor stands
		fe, fn := plane.ToPlane(f.LatDeg, f.LonDeg)
		s, c := math.Sincos(truth[i].HeadingRad)
		e = append(e, fe-truth[i].EastM-1.8*s+0.3*c)
		n = append(n, fn-truth[i].NorthM-1.8*c-0.3*s)
		course = append(course, math.Remainder(f.CourseDeg-truth[i].HeadingRad*180/math.Pi, 360))
		heading = append(heading, math.Remainder(f.HeadingDeg-truth[i].HeadingRad*180/math.Pi, 360))
		speed = append(speed, f.SpeedMps-2)
	}
	// The covariance at a lag of T is exp(-T/τ) of the variance that is not white.
	slow := (1 - share) * sigma * sigma
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"sigma east", math.Sqrt(covariance(e, e, 0)), sigma, 0.05},
		{"sigma north", math.Sqrt(covariance(n, n, 0)), sigma, 0.05},
		{"east after 0.1 s", covariance(e, e, 1), slow * math.Exp(-0.1/tau), 0.08},
		{"east after 5 s", covariance(e, e, 50), slow * math.Exp(-1), 0.25},
		{"sigma speed", math.Sqrt(covariance(speed, speed, 0)), vSigma, 0.02},
		{"sigma course", math.Sqrt(covariance(course, course, 0)), vSigma / 2 * 180 / math.Pi, 0.02},
		{"sigma heading", math.Sqrt(covariance(heading, heading, 0)), 0.2, 0.02},
	} {
		if math.Abs(c.got-c.want) > c.tol*c.want {
			t.Errorf("%s: %g; want %g within %g %%", c.name, c.got, c.want, 100*c.tol)
		}
	}
	if c := covariance(e, n, 0); math.Abs(c) > 0.05*sigma*sigma {
		t.Errorf("east and north go together: covariance %g", c)
	}
}

// covariance returns that of a and of b lag epochs later; both have mean 0.
func covariance(a, b []float64, lag int) float64 {
	var sum float64
	for i := lag; i < len(a); i++ {
		sum += a[i-lag] * b[i]
	}
	return sum / float64(len(a)-lag)
}

func TestCourseNoiseGrowsAsTheTractorSlows(t *testing.T) {
	sd := func(speed float64) float64 {
		fixes, _ := scanAll(t, drive.Straight(0, 0, 0, 0, speed, 500*speed), machine, Params{VelocitySigmaMps: 0.02})
		var c []float64
		for _, f := range fixes {
			c = append(c, math.Remainder(f.CourseDeg, 360))
		}
		return math.Sqrt(covariance(c, c, 0))
	}
	if slow, fast := sd(0.5), sd(4); math.Abs(slow/fast-8) > 0.4 {
		t.Errorf("course noise %g° at 0.5 m/s, %g° at 4 m/s; want a ratio of 8", slow, fast)
	}
}

func TestStandstill(t *testing.T) {
	track := append(drive.Straight(0, 0, 0, 1, 2, 10), motion.Pose{TimeNs: 20e9, EastM: 10 * math.Sin(1), NorthM: 10 * math.Cos(1), HeadingRad: 1})
	still := *machine
	for _, hold := range []bool{false, true} {
		fixes, _ := scanAll(t, track, &still, Params{HoldCourse: hold})
		last := fixes[len(fixes)-1].CourseDeg
		if hold && math.Abs(last-180/math.Pi) > 10 {
			t.Errorf("held course %g°; want about 57°", last)
		}
		if !hold && !math.IsNaN(last) {
			t.Errorf("course %g° at standstill; want none", last)
		}
	}
}

func TestSlopeLeansTheAntennaDownhill(t *testing.T) {
	track := drive.Straight(0, 0, 0, 0, 2, 20) // northward across a slope that falls to the east
	flat, _ := scanAll(t, track, machine, Params{})
	leaning, _ := scanAll(t, track, machine, Params{SlopeDeg: 5, DownhillDeg: 90})
	e0, n0 := plane.ToPlane(flat[50].LatDeg, flat[50].LonDeg)
	e1, n1 := plane.ToPlane(leaning[50].LatDeg, leaning[50].LonDeg)
	if want := 3 * math.Sin(5*math.Pi/180); math.Abs(e1-e0-want) > 1e-6 || math.Abs(n1-n0) > 1e-6 {
		t.Errorf("leans by (%g, %g) m; want (%g, 0)", e1-e0, n1-n0, want)
	}
}

func TestFaults(t *testing.T) {
	track := drive.Straight(startNs, 0, 0, 0, 2, 60)
	p := Params{Faults: []Fault{{5, 10, Float}, {12, 15, NoFix}, {20, 22, Silence}, {14, 16, Float}}, Sentences: everything}
	var log bytes.Buffer
	if err := Write(&log, track, &plane, machine, p); err != nil {
		t.Fatal(err)
	}
	got := map[nmea.Quality]int{}
	var before, longest int64
	r := epoch.NewReader(&log)
	for r.Next() {
		f := r.Fix()
		got[f.Quality]++
		if f.Quality == nmea.NoFix && f.HasPosition() {
			t.Error("a position without a fix")
		}
		if f.Quality == nmea.RTKFloat && f.SigmaEastM != 0.3 {
			t.Errorf("float with a sigma of %g m; want 0.3", f.SigmaEastM)
		}
		if before != 0 {
			longest = max(longest, f.TimeNs-before)
		}
		before = f.TimeNs
	}
	// 301 epochs in 30 s: 50 + 20 float, 20 without fix, 20 silent.
	if got[nmea.RTKFloat] != 70 || got[nmea.NoFix] != 20 || got[nmea.RTKFixed] != 301-110 || longest != 2_100_000_000 {
		t.Errorf("epochs by quality %v, longest gap %d ns", got, longest)
	}
}

func TestLatencyAndJitter(t *testing.T) {
	fixes, _ := scanAll(t, drive.Straight(startNs, 0, 0, 0, 2, 200), machine, Params{LatencyNs: 50e6, JitterNs: 300e6})
	var least, most, before int64 = math.MaxInt64, 0, 0
	for _, f := range fixes {
		age := f.ArrivalNs - f.TimeNs
		least, most = min(least, age), max(most, age)
		if f.ArrivalNs < before {
			t.Fatal("an epoch overtakes another")
		}
		before = f.ArrivalNs
	}
	if least < 50e6 || least > 70e6 || most > 350e6 || most < 330e6 {
		t.Errorf("ages from %d to %d ns; want 50 to 350 ms", least, most)
	}
}

func TestRatesThatDoNotDivideASecond(t *testing.T) {
	fixes, _ := scanAll(t, drive.Straight(1_000_100_000, 0, 0, 0, 2, 20), machine, Params{RateHz: 3})
	var got []int64
	for _, f := range fixes[:4] {
		got = append(got, f.TimeNs)
	}
	if want := []int64{1_333e6, 1_667e6, 2_000e6, 2_333e6}; got[0] != want[0] || got[1] != want[1] || got[2] != want[2] || got[3] != want[3] {
		t.Errorf("epochs at %v; want %v", got, want)
	}
}

func TestSameSeedSameBytes(t *testing.T) {
	track := fishtails(t)
	text := func(p Params) string {
		var b bytes.Buffer
		if err := Write(&b, track, &plane, machine, p); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	p := Params{SigmaM: 0.014, CorrelationS: 10, VelocitySigmaMps: 0.02, JitterNs: 30e6, Stamp: UnixStamp, Seed: 9}
	one := text(p)
	if one != text(p) {
		t.Error("the same seed gives other bytes")
	}
	p.Seed++
	if one == text(p) {
		t.Error("another seed gives the same bytes")
	}
}

func TestWriteTruth(t *testing.T) {
	track := drive.Straight(startNs, 5, 6, math.Pi/2, 2, 4)
	for _, c := range []struct {
		name   string
		rateHz float64
		rows   int
	}{{"knots", 0, len(track)}, {"10 Hz", 10, 21}} {
		t.Run(c.name, func(t *testing.T) {
			var b strings.Builder
			if err := WriteTruth(&b, track, &plane, c.rateHz); err != nil {
				t.Fatal(err)
			}
			lines := strings.Split(strings.TrimSpace(b.String()), "\n")
			if len(lines) != c.rows+1 || lines[0]+"\n" != truthHeader {
				t.Fatalf("%d lines; want a header and %d rows:\n%s", len(lines), c.rows, b.String())
			}
			row := strings.Split(lines[1+(len(lines)-2)/2], ",") // after one of two seconds
			if row[0] != "2024-06-13T00:00:00.5Z" || row[1] != "7.00000" || row[2] != "6.00000" || row[5] != "90.000000" || row[7] != "2.000000" {
				t.Errorf("middle row %v", row)
			}
			lat, _ := strconv.ParseFloat(row[3], 64)
			lon, _ := strconv.ParseFloat(row[4], 64)
			if e, n := plane.ToPlane(lat, lon); math.Hypot(e-7, n-6) > 1e-4 {
				t.Errorf("latitude and longitude are of (%g, %g)", e, n)
			}
		})
	}
	if err := WriteTruth(io.Discard, track, &plane, -1); err == nil || !strings.Contains(err.Error(), "rate -1 Hz") {
		t.Errorf("error %v; want one about the rate", err)
	}
}

func TestErrors(t *testing.T) {
	track := drive.Straight(0, 0, 0, 0, 2, 4)
	for _, c := range []struct {
		name  string
		track motion.Track
		p     Params
		want  string
	}{
		{"no track", nil, Params{}, "no poses"},
		{"negative rate", track, Params{RateHz: -1}, "rate -1 Hz; expected 0.01 to 1000"},
		{"NaN rate", track, Params{RateHz: math.NaN()}, "rate NaN Hz"},
		{"negative latency", track, Params{LatencyNs: -1}, "latency -1 ns"},
		{"noise", track, Params{SigmaM: -1}, "position noise -1 m"},
		{"share", track, Params{WhiteShare: 1.5}, "white share 1.5; expected 0 to 1"},
		{"quality", track, Params{Quality: 9}, "quality 9"},
		{"lost", track, Params{LostShare: 1.1}, "share of lost epochs 1.1; expected 0 to 1"},
		{"clock", track, Params{ClockAheadNs: 61e9}, "clock ahead by 6.1e+10 ns; expected -6e+10 to 6e+10"},
		{"float spells without length", track, Params{Floats: Spells{PerHour: 3}}, "float spell of 0 s on average; expected more than 0"},
		{"outages too often", track, Params{Outages: Spells{PerHour: 1e5, MeanS: 1}}, "outages an hour 100000; expected 0 to 3600"},
		{"drift", track, Params{DriftMps: math.Inf(1)}, "drift +Inf m/s"},
		{"step", track, Params{RefixSigmaM: -1}, "step of a new fix -1 m"},
		{"digits", track, Params{MinuteDigits: 10}, "decimals of a minute 10; expected 1 to 9"},
		{"sentence", track, Params{Sentences: []nmea.Type{nmea.GSA}}, "sentence GSA"},
		{"fault", track, Params{Faults: []Fault{{5, 4, Float}}}, "fault 1 lasts from 5 s to 4 s"},
		{"fault kind", track, Params{Faults: []Fault{{3, 4, 7}}}, "fault 1 is of kind 7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := Write(io.Discard, c.track, &plane, machine, c.p)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v; want %q", err, c.want)
			}
		})
	}
	want := errors.New("disk full")
	if err := Write(broken{want}, track, &plane, machine, Params{}); !errors.Is(err, want) {
		t.Errorf("error %v; want %v", err, want)
	}
}

type broken struct{ err error }

func (b broken) Write([]byte) (int, error) { return 0, b.err }

// Writing an epoch allocates nothing, so memory does not grow with the drive.
func TestEpochAllocatesNothing(t *testing.T) {
	for name, p := range map[string]Params{
		"noise":      {SigmaM: 0.01, VelocitySigmaMps: 0.02, Sentences: everything, Stamp: RFC3339Stamp},
		"all errors": troubled(),
	} {
		r, err := New(drive.Straight(0, 0, 0, 0, 2, 2000), &plane, machine, p)
		if err != nil {
			t.Fatal(err)
		}
		buf := make([]byte, 0, 2048)
		if n := testing.AllocsPerRun(500, func() {
			r.Scan()
			buf = r.Append(buf[:0])
		}); n != 0 {
			t.Errorf("%s: %g allocations an epoch; want none", name, n)
		}
	}
}

// One epoch is 0.1 s of driving: GGA, RMC and VTG with noise.
func BenchmarkEpoch(b *testing.B) {
	track := drive.Straight(0, 0, 0, 0, 2, 2*36000)
	p := Params{SigmaM: 0.014, CorrelationS: 10, VelocitySigmaMps: 0.02, Stamp: UnixStamp}
	b.ReportAllocs()
	r, _ := New(track, &plane, machine, p)
	var buf []byte
	for b.Loop() {
		if !r.Scan() {
			r, _ = New(track, &plane, machine, p)
			r.Scan()
		}
		buf = r.Append(buf[:0])
	}
	b.SetBytes(int64(len(buf)))
}
