// Live decides as run does; silence, stop and outputs in their time.

package live

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/port"
	"liftbench/replay/record"
	"liftbench/replay/wire"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// A drive north at 3 m/s over strips of 3 m with as much between them, some of
// the borders slanting: each section lifts or drops once a second.

const startNs = int64(1_936_000_000e9)

var plane = geodesy.NewPlane(52.3, 9.8)

func strips(t testing.TB) *field.Field {
	t.Helper()
	var zone orb.MultiPolygon
	for n := -30.0; n < 300; n += 6 {
		slant := 0.3 * math.Mod(n, 4)
		zone = append(zone, orb.Polygon{{{-40, n}, {40, n + slant}, {40, n + 3 + slant}, {-40, n + 3}, {-40, n}}})
	}
	f, err := field.New(plane, nil, []field.Zone{{Name: "body", RowBearingRad: math.NaN(), Polygons: zone}})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func bar(n int) *sections.Machine {
	m := &sections.Machine{AntennaXM: 0.8, AntennaYM: 0.1, AntennaZM: 3}
	for i := range n {
		m.Sections = append(m.Sections, sections.Section{XM: -2.2, YM: (float64(i) - float64(n-1)/2) * 0.5, WidthM: 0.5})
	}
	return m
}

func settings() sections.Settings {
	set := sections.DefaultSettings()
	set.ShortestUpNs, set.ShortestDownNs = 100e6, 100e6
	set.MaxAgeNs, set.HoldNs = 600e6, 300e6
	return set
}

// log is what the receiver says on the drive.
func log(t testing.TB, m *sections.Machine, fromNs int64, seconds float64, p receiver.Params) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := receiver.Write(&b, drive.Straight(fromNs, 0, 0, 0, 3, 3*seconds), &plane, m, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// decided are the setpoints of run on a log.
func decided(t testing.TB, m *sections.Machine, f *field.Field, set sections.Settings, log io.Reader) []sections.Setpoint {
	t.Helper()
	job := sim.Job{Machine: m, Field: f, Settings: set, Hydraulics: lift()}
	out, err := job.Run(epoch.NewReader(log))
	if err != nil {
		t.Fatal(err)
	}
	return out.Setpoints
}

func lift() hydraulics.Params {
	return hydraulics.Params{
		LiftDeadNs: 60e6, DropDeadNs: 50e6,
		BoreM: 0.032, StrokeM: 0.16,
		RaisedM: 0.26, WorkingDepthM: 0.04, EffectiveDepthM: 0.02,
		PumpFlowM3PerS: 800e-3 / 60, ValveFlowM3PerS: 4e-3 / 60, PressurePa: 180e5,
		LiftForceN: 1200, DropForceN: 1500,
		HoseLengthM: 6, HoseBoreM: 0.008, OrificeM: 0.0025, OrificeCd: 0.62,
		OilVG: 46, OilTempDegC: 50,
	}
}

// same compares what live decided with what run did. The lifts with which an
// engine ends are its own.
func same(t *testing.T, live, run []sections.Setpoint) {
	t.Helper()
	live = slices.DeleteFunc(slices.Clone(live), func(s sections.Setpoint) bool { return s.Reason == sections.HeldUp })
	if len(run) < 10 {
		t.Errorf("run decided %d setpoints only", len(run))
	}
	for i := range min(len(live), len(run)) {
		if live[i] != run[i] {
			t.Fatalf("setpoint %d: live %+v, run %+v", i, live[i], run[i])
		}
	}
	if len(live) != len(run) {
		t.Errorf("live decided %d setpoints, run %d", len(live), len(run))
	}
}

func TestReplayDecidesAsRun(t *testing.T) {
	m, f, set := bar(6), strips(t), settings()
	cold := func(b []byte) []byte { // no date for two seconds
		lines := bytes.SplitAfter(b, []byte("\n"))
		first := slices.DeleteFunc(slices.Clone(lines[:60]), func(l []byte) bool { return bytes.Contains(l, []byte("RMC")) })
		return bytes.Join(append(first, lines[60:]...), nil)
	}
	for name, c := range map[string]struct {
		p     receiver.Params
		alter func([]byte) []byte
	}{
		"no arrival times":    {p: receiver.Params{LatencyNs: 80e6}},
		"arrival times":       {p: receiver.Params{LatencyNs: 80e6, JitterNs: 60e6, SigmaM: 0.02, Seed: 1, Stamp: receiver.RFC3339Stamp}},
		"a clock hours off":   {p: receiver.Params{LatencyNs: 80e6, Stamp: receiver.UnixStamp}, alter: func(b []byte) []byte { return bytes.ReplaceAll(b, []byte("1936000"), []byte("1936009")) }},
		"silence, then float": {p: receiver.Params{LatencyNs: 80e6, Faults: []receiver.Fault{{FromS: 4, ToS: 7, Kind: receiver.Silence}, {FromS: 9, ToS: 11, Kind: receiver.NoFix}}}},
		"cold start":          {p: receiver.Params{LatencyNs: 80e6}, alter: cold},
		"no date at all":      {p: receiver.Params{LatencyNs: 80e6, Sentences: []nmea.Type{nmea.GGA, nmea.VTG}, Stamp: receiver.UnixStamp}},
		"damaged":             {p: receiver.Params{LatencyNs: 80e6, Stamp: receiver.RFC3339Stamp}, alter: damage},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := log(t, m, startNs, 14, c.p)
			if c.alter != nil {
				b = c.alter(b)
			}
			want := decided(t, m, f, set, bytes.NewReader(b))
			var got []sections.Setpoint
			e, err := New(Config{Machine: m, Field: f, Settings: set, Hooks: Hooks{
				Setpoints: func(s []sections.Setpoint) { got = append(got, s...) },
			}})
			if err != nil {
				t.Fatal(err)
			}
			began := time.Now()
			if err := e.Replay(t.Context(), epoch.NewReader(bytes.NewReader(b)), 40); err != nil {
				t.Fatal(err)
			}
			if took := time.Since(began); took < 200*time.Millisecond {
				t.Errorf("14 s at 40 times real time took %v", took)
			}
			same(t, got, want)
		})
	}
}

// At any pace a log ends where it ends: no fail-safe for the time that the
// clock has run on.
func TestReplayEndsWithItsLog(t *testing.T) {
	m, f := bar(6), strips(t)
	last := int64(0)
	e, err := New(Config{Machine: m, Field: f, Settings: settings(), Hooks: Hooks{
		FailSafe: func(r sections.Reason) { t.Errorf("fail-safe for %v", r) },
		Fix:      func(f *nmea.Fix, _, _ int64) { last = f.TimeNs },
		Setpoints: func(s []sections.Setpoint) {
			if due := s[len(s)-1].DueNs; due > last+1e9 {
				t.Errorf("a setpoint for %.1f s after the last position", float64(due-last)*1e-9)
			}
		},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if err := e.Replay(t.Context(), epoch.NewReader(bytes.NewReader(log(t, m, startNs, 14, receiver.Params{}))), maxPace); err != nil {
		t.Fatal(err)
	}
}

// damage changes one byte of a thousand.
func damage(b []byte) []byte {
	b = bytes.Clone(b)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range b {
		if rng.IntN(1000) == 0 {
			b[i] = byte(rng.IntN(256))
		}
	}
	return b
}

// speak writes a log to w in true time, in pieces that end anywhere.
func speak(ctx context.Context, t *testing.T, w io.Writer, log []byte, latency time.Duration) {
	rng := rand.New(rand.NewPCG(3, 4))
	time.Sleep(latency)
	// Errors are those of the end.
	_, _ = port.Play(ctx, writer(func(b []byte) {
		for len(b) > 0 {
			n := min(1+rng.IntN(150), len(b))
			if _, err := w.Write(b[:n]); err != nil {
				return
			}
			b = b[n:]
			time.Sleep(time.Duration(rng.IntN(8000)) * time.Microsecond)
		}
	}), bytes.NewReader(log), 1)
}

type writer func([]byte)

func (w writer) Write(b []byte) (int, error) { w(b); return len(b), nil }

// onTheClock skips a test that real time decides, which a busy machine may miss:
// LIFTBENCH_REALTIME=1 runs it.
func onTheClock(t *testing.T) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REALTIME") != "1" {
		t.Skip("real time decides it; LIFTBENCH_REALTIME=1 runs it")
	}
}

// What live decides on bytes that come as they like, run decides on the
// recording: whatever the host's clock says, and through silence and a stall.
func TestRecordingDecidesAsLive(t *testing.T) {
	onTheClock(t)
	m, f, set := bar(6), strips(t), settings()
	for name, c := range map[string]struct {
		offset time.Duration
		alter  func([]byte) []byte
		p      receiver.Params
		stall  bool
	}{
		"clocks agree":       {p: receiver.Params{RateHz: 20}},
		"clock hours ahead":  {p: receiver.Params{RateHz: 10}, offset: 5 * time.Hour},
		"clock hours behind": {p: receiver.Params{RateHz: 10}, offset: -5 * time.Hour},
		"silence":            {p: receiver.Params{RateHz: 10, Faults: []receiver.Fault{{FromS: 2.25, ToS: 3.55, Kind: receiver.Silence}}}},
		"byte errors":        {p: receiver.Params{RateHz: 20}, alter: damage},
		"stall":              {p: receiver.Params{RateHz: 10}, stall: true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			prefix := filepath.Join(t.TempDir(), "rec")
			rec, err := record.New(prefix, record.Options{})
			if err != nil {
				t.Fatal(err)
			}
			var got []sections.Setpoint
			failSafes := 0
			e, err := New(Config{
				Machine: m, Field: f, Settings: set, Record: rec,
				Now: func() time.Time { return time.Now().Add(c.offset) },
				Hooks: Hooks{
					Setpoints: func(s []sections.Setpoint) { got = append(got, s...) },
					FailSafe:  func(sections.Reason) { failSafes++ },
				},
			})
			if err != nil {
				t.Fatal(err)
			}
			r, w := io.Pipe()
			var through io.Reader = r
			if c.stall {
				through = &stalling{Reader: r, from: time.Now().Add(1200 * time.Millisecond), to: time.Now().Add(3700 * time.Millisecond)}
			}
			c.p.SigmaM, c.p.VelocitySigmaMps = 0.02, 0.05 // so that every fix tells
			go func() {
				b := log(t, m, time.Now().UnixNano(), 4.5, c.p)
				if c.alter != nil {
					b = c.alter(b)
				}
				speak(t.Context(), t, w, b, 60*time.Millisecond)
				w.Close()
			}()
			if err := e.Run(t.Context(), through); err != nil {
				t.Fatal(err)
			}
			if err := rec.Close(); err != nil {
				t.Fatal(err)
			}
			names, err := filepath.Glob(prefix + "*")
			if err != nil || len(names) != 1 {
				t.Fatal(names, err)
			}
			b, err := os.ReadFile(names[0])
			if err != nil {
				t.Fatal(err)
			}
			same(t, got, decided(t, m, f, set, bytes.NewReader(b)))
			if want := name == "silence" || name == "stall"; want != (failSafes > 0) {
				t.Errorf("%d fail-safes", failSafes)
			}
		})
	}
}

// stalling hands nothing on for a while, and then all at once.
type stalling struct {
	io.Reader
	from, to time.Time
}

func (s *stalling) Read(b []byte) (int, error) {
	if now := time.Now(); now.After(s.from) && now.Before(s.to) {
		time.Sleep(time.Until(s.to))
	}
	return s.Reader.Read(b)
}

// Silence ends in the fail-safe in its time, by the host's clock; stopping
// lifts what is in work at once, and the last line says so.
func TestSilenceAndStop(t *testing.T) {
	onTheClock(t)
	m, set := bar(6), settings()
	f, err := field.New(plane, nil, []field.Zone{{Name: "body", RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{
		{{{-500, -500}, {500, -500}, {500, 500}, {-500, 500}, {-500, -500}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, how := range []string{"silence", "stop"} {
		t.Run(how, func(t *testing.T) {
			t.Parallel()
			in, err := port.Open(t.Context(), spec(t, "tcp-listen::0"), port.Duplex, port.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer in.Close()
			far, err := port.Open(t.Context(), spec(t, "tcp:"+in.Addr()), port.Duplex, port.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer far.Close()
			path := filepath.Join(t.TempDir(), "out.json")
			json, err := port.Open(t.Context(), spec(t, "file:"+path), port.Out, port.Options{})
			if err != nil {
				t.Fatal(err)
			}
			var reached time.Time
			var lastFix time.Time
			e, err := New(Config{Machine: m, Field: f, Settings: set, Outputs: []Output{{in, Line}, {json, JSON}}, Hooks: Hooks{
				FailSafe: func(r sections.Reason) {
					if reached = time.Now(); r != sections.LostFix {
						t.Errorf("fail-safe for %v", r)
					}
				},
				Fix: func(f *nmea.Fix, _, _ int64) {
					if reached.IsZero() {
						lastFix = time.Unix(0, f.TimeNs)
					}
				},
			}})
			if err != nil {
				t.Fatal(err)
			}
			for in.Counts().Peers == 0 {
				time.Sleep(time.Millisecond)
			}
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			ended := make(chan error)
			go func() { ended <- e.Run(ctx, in) }()
			go speak(ctx, t, writer(func(b []byte) { far.Send(b) }), log(t, m, time.Now().UnixNano(), 2, receiver.Params{}), 40*time.Millisecond)
			// What the machine is told.
			told := make(chan wire.State, 1000)
			go func() {
				sc := nmea.NewScanner(far)
				for sc.Scan() {
					var s wire.State
					if err := wire.ParseLine(sc.Bytes(), &s); err != nil {
						t.Error(err)
					}
					told <- s
				}
				close(told)
			}()
			up := func(want bool) {
				t.Helper()
				for end := time.After(6 * time.Second); ; {
					select {
					case s := <-told:
						if s.On(0) == want && s.On(5) == want {
							if late := time.Now().UnixNano() - s.DueNs; want && (late < -1e6 || late > 60e6) {
								t.Errorf("a line arrived %.1f ms after it was due", float64(late)/1e6)
							}
							return
						}
					case <-end:
						t.Fatalf("waited in vain to be told %v", want)
					}
				}
			}
			up(false)
			up(true)
			if s := e.Status(); !s.Started || !s.On[3] || s.Lost || s.Reader.OK == 0 || s.FixAgeNs < 0 || s.FixAgeNs > 1e9 {
				t.Errorf("status %+v", s)
			}
			if how == "stop" {
				stop()
				if err := <-ended; err != nil {
					t.Error(err)
				}
				json.Close()
				b, err := os.ReadFile(path)
				if err != nil || strings.Count(string(b), `"on":false,"reason":"held-up"`) != 6 || strings.Count(string(b), "\n") != 12 {
					t.Errorf("%v; setpoints\n%s; expected six drops and six lifts", err, b)
				}
				if s := e.out.state; s.On(0) || s.On(5) {
					t.Error("the last line does not say that all is up")
				}
				return
			}
			up(false)
			stop()
			<-ended
			json.Close()
			took := reached.Sub(lastFix)
			limit := time.Duration(set.MaxAgeNs + set.HoldNs + set.TickNs)
			if took < limit-100*time.Millisecond || took > limit+100*time.Millisecond {
				t.Errorf("fail-safe %v after the last position; expected %v", took, limit)
			}
			t.Logf("fail-safe %v after the last position, set to %v", took, limit-time.Duration(set.TickNs))
		})
	}
}

func spec(t *testing.T, name string) port.Spec {
	t.Helper()
	s, err := port.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Setpoints wait until they are due; what is due together goes out together,
// and a later decision takes the place of one that waits.
func TestOutputsWhenDue(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out")
	to, err := port.Open(t.Context(), spec(t, "file:"+path), port.Out, port.Options{})
	if err != nil {
		t.Fatal(err)
	}
	o := newOutputs([]Output{{to, Line}}, 4, 1)
	o.sendDue(startNs) // the first line comes at once
	o.add(startNs, []sections.Setpoint{
		{DueNs: startNs + 30e6, Section: 0, On: true},
		{DueNs: startNs + 20e6, Section: 1, On: true},
		{DueNs: startNs + 20.3e6, Section: 2, On: true},
		{DueNs: startNs + 40e6, Section: 3, On: true},
	})
	if got := o.next(); got != startNs+20e6 {
		t.Errorf("next at %d", got-startNs)
	}
	o.sendDue(startNs + 20e6)
	o.add(startNs+25e6, []sections.Setpoint{{DueNs: startNs + 25e6, Section: 3}})
	o.sendDue(startNs + 30e6)
	o.sendDue(startNs + 1029e6)
	o.sendDue(startNs + 1030e6)
	to.Close()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for line := range strings.Lines(string(b)) {
		var s wire.State
		if err := wire.ParseLine([]byte(line), &s); err != nil {
			t.Fatal(err)
		}
		got = append(got, fmt.Sprintf("%d +%dms %08X", s.Seq, (s.DueNs-startNs)/1e6, s.Words[0]))
	}
	want := []string{"0 +0ms FFFFFF00", "1 +20ms FFFFFF14", "2 +25ms FFFFFF14", "3 +30ms FFFFFF15", "4 +30ms FFFFFF15"}
	if !slices.Equal(got, want) {
		t.Errorf("lines\n%s\nexpected\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// From fix to setpoints on their way nothing is allocated.
func TestDecidingDoesNotAllocate(t *testing.T) {
	m := bar(48)
	to, err := port.Open(t.Context(), spec(t, "file:/dev/null"), port.Out, port.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer to.Close()
	e, fixes := warm(t, m, []Output{{to, Line}, {to, JSON}, {to, Candump}})
	i := 0
	n := testing.AllocsPerRun(1000, func() {
		e.take(&fixes[i])
		e.out.sendDue(fixes[i].TimeNs + 40e6)
		i++
	})
	if n >= 1 {
		t.Errorf("%g allocations a fix", n)
	}
	if e.out.state.Seq < 100 {
		t.Errorf("%d lines only", e.out.state.Seq)
	}
}

// warm returns an engine at work and fixes to come.
func warm(t testing.TB, m *sections.Machine, to []Output) (*Engine, []nmea.Fix) {
	t.Helper()
	e, err := New(Config{Machine: m, Field: strips(t), Settings: settings(), Outputs: to})
	if err != nil {
		t.Fatal(err)
	}
	e.out = newOutputs(to, len(m.Sections), 1)
	rd := epoch.NewReader(bytes.NewReader(log(t, m, startNs, 90, receiver.Params{RateHz: 20, SigmaM: 0.014, Seed: 1})))
	var fixes []nmea.Fix
	for rd.Next() {
		f := rd.Fix()
		f.ArrivalNs, f.ReadyNs = f.TimeNs+20e6, f.TimeNs+30e6
		fixes = append(fixes, f)
	}
	for i := range 600 {
		e.take(&fixes[i])
		e.out.sendDue(fixes[i].TimeNs + 40e6)
	}
	return e, fixes[600:]
}

// One fix with all that it brings about: ticks, decisions and three forms of
// output, 48 sections at borders all the time.
func BenchmarkFix(b *testing.B) {
	m := bar(48)
	s, err := port.Parse("file:/dev/null")
	if err != nil {
		b.Fatal(err)
	}
	to, err := port.Open(b.Context(), s, port.Out, port.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer to.Close()
	e, fixes := warm(b, m, []Output{{to, Line}, {to, JSON}, {to, Candump}})
	saved, when, i := e.ctl.AppendState(nil), e.when, 0
	b.ReportAllocs()
	for b.Loop() {
		if i == len(fixes) {
			b.StopTimer()
			if err := e.ctl.Restore(saved); err != nil {
				b.Fatal(err)
			}
			e.when, i = when, 0
			b.StartTimer()
		}
		e.take(&fixes[i])
		e.out.sendDue(fixes[i].TimeNs + 40e6)
		i++
	}
}
