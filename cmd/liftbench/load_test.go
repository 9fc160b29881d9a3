//go:build linux

// How long live takes under load, and how its memory stands over a long day.

package main

import (
	"bytes"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sim/receiver"
)

// measureVariable makes the measurements below last so long, as 60s.
const measureVariable = "LIFTBENCH_MEASURE"

func measureFor(t *testing.T, otherwise time.Duration) time.Duration {
	text := os.Getenv(measureVariable)
	if text == "" {
		return otherwise
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatalf("%s: %v", measureVariable, err)
	}
	return d
}

// scraper scrapes once a second until the test ends.
func scraper(t *testing.T, addr string) {
	done := make(chan struct{})
	t.Cleanup(func() { close(done) })
	go func() {
		for {
			select {
			case <-done:
				return
			case <-time.After(time.Second):
				if resp, err := http.Get(addr + "/metrics"); err == nil {
					resp.Body.Close()
				}
			}
		}
	}()
}

// stalls are the moments at which this machine ran nothing of ours for
// stallLength or longer, though there was nothing else to do: a thread that
// sleeps a fifth of that over and over came back late.
type stalls struct{ from, to []time.Time }

const stallLength = 500 * time.Microsecond

// watchStalls watches until the returned function is called.
func watchStalls() (stopped func() *stalls) {
	var s stalls
	done, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		runtime.LockOSThread() // a thread's sleep, not a timer of the runtime's
		nap := syscall.NsecToTimespec((stallLength / 5).Nanoseconds())
		for before := time.Now(); ; {
			select {
			case <-done:
				return
			default:
			}
			syscall.Nanosleep(&nap, nil)
			now := time.Now()
			if now.Sub(before) >= stallLength {
				s.from, s.to = append(s.from, before), append(s.to, now)
			}
			before = now
		}
	}()
	return func() *stalls { close(done); <-ended; return &s }
}

// within tells whether one of the stalls lies at least in part between two instants.
func (s *stalls) within(from, to time.Time) bool {
	i, _ := slices.BinarySearchFunc(s.to, from, time.Time.Compare)
	return i < len(s.from) && s.from[i].Before(to)
}

// TestLiveUnderLoad measures, and prints, how long it takes from the last byte
// of an epoch into a socket to the last setpoint out of the process, at 20 Hz
// and 48 sections, with metrics scraped and two consumers that take nothing;
// and what processor time that costs. Between epochs the same bytes go to a
// program that gives back what it reads: what that takes is the machine's,
// not ours. Epochs during which the machine stood still are counted, and left
// out of a second row of figures. Nothing is asserted but that epochs are
// answered before the next tick.
func TestLiveUnderLoad(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	seconds := measureFor(t, 6*time.Second).Seconds()
	var bands []band
	for n := -3.0; n < straightMps*seconds; n += 12 {
		bands = append(bands, band{n, n + 6, 0.3})
	}
	s := newStraight(t, 48, "200", "300", 0, bands...)
	// Ticks between epochs are few, so that nearly all is decided on an epoch.
	s.alter(t, "machine.yaml", "tick_ms: 50", "tick_ms: 200")
	tcp, port := "127.0.0.1:"+freePort(t), freePort(t)
	p := start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", "tcp-listen:"+tcp,
		"--out", "json=-", "--out", "line=tcp-listen:127.0.0.1:"+port, "--http", "127.0.0.1:0", "--metrics-file", filepath.Join(s.dir, "live.prom"))
	addr := "http://" + p.says("http://", "/metrics")
	for range 2 {
		dial(t, "127.0.0.1:"+port) // never reads
	}
	scraper(t, addr)
	line := dial(t, tcp)
	away := "127.0.0.1:" + freePort(t)
	echo := start(t, "echo", away)
	beside := dial(t, away)

	s = newStraightAgain(s, soon())
	s.track = s.track[:1]
	for last := s.track[0]; last.TimeNs < s.at(seconds); {
		last.TimeNs += 50e6
		last.NorthM += straightMps * 0.05
		s.track = append(s.track, last)
	}
	began := time.Now()
	stopped := watchStalls()
	// Epochs come 5 ms after a tick of the grid: what comes out within 40 ms of
	// one was decided on it, and the rest by the tick 45 ms later.
	const beforeNextTick = 40 * time.Millisecond
	var written, echoed []time.Time
	for _, e := range s.epochs(t, receiver.Params{RateHz: 20}) {
		at := time.Unix(0, e.arrivalNs-45e6)
		time.Sleep(time.Until(at))
		written = append(written, time.Now())
		line.Write(e.text)
		time.Sleep(time.Until(at.Add(20 * time.Millisecond)))
		echoed = append(echoed, time.Now())
		beside.Write(e.text)
	}
	time.Sleep(beforeNextTick) // what is lifted by the signal is no answer to an epoch
	if status := p.stop(); status != 0 {
		t.Fatalf("exit status %d: %s", status, p.stderr.String())
	}
	wall := time.Since(began)
	still := stopped()
	for _, m := range []struct {
		name string
		in   []time.Time
		out  *chunks
	}{{"last byte in → command out", written, &p.stdout}, {"the same bytes by an echo beside it", echoed, &echo.stdout}} {
		_, at := m.out.lines()
		last := map[int]time.Duration{} // by epoch
		for _, out := range at {
			i, _ := slices.BinarySearchFunc(m.in, out, time.Time.Compare)
			if i == 0 {
				continue
			}
			if d := out.Sub(m.in[i-1]); d < beforeNextTick {
				last[i-1] = d
			}
		}
		var took, awake []time.Duration
		for i, d := range last {
			took = append(took, d)
			if !still.within(m.in[i], m.in[i].Add(d)) {
				awake = append(awake, d)
			}
		}
		if len(took) < 20 {
			t.Fatalf("%s: %d lines, answers to %d epochs", m.name, len(at), len(took))
		}
		quantile := func(of []time.Duration, x float64) time.Duration {
			slices.Sort(of)
			return of[int(x*float64(len(of)-1))].Round(time.Microsecond)
		}
		for _, row := range []struct {
			which string
			of    []time.Duration
		}{{"all", took}, {"the machine awake", awake}} {
			if len(row.of) == 0 {
				continue
			}
			q := func(x float64) time.Duration { return quantile(row.of, x) }
			t.Logf("%s, %s, %d epochs: median %s, 95 %% %s, 99 %% %s, 99.9 %% %s, worst %s", m.name, row.which, len(row.of), q(0.5), q(0.95), q(0.99), q(0.999), q(1))
		}
	}
	var stood time.Duration
	for i := range still.from {
		stood += still.to[i].Sub(still.from[i])
	}
	t.Logf("the machine stood still %d times, %.1f %% of the time", len(still.from), 100*stood.Seconds()/wall.Seconds())
	used := p.cmd.ProcessState.UserTime() + p.cmd.ProcessState.SystemTime()
	t.Logf("processor time %.1f %% of one core", 100*used.Seconds()/wall.Seconds())
	m := readMetrics(t, filepath.Join(s.dir, "live.prom"))
	const name = "liftbench_decision_latency_seconds"
	for _, le := range []string{"0.0001", "0.00025", "0.0005", "0.001", "0.005"} {
		t.Logf("within the process: %.2f %% of %g decisions in %s s", 100*m[name+`_bucket{le="`+le+`"}`]/m[name+"_count"], m[name+"_count"], le)
	}
}

// TestSoak runs a long day past live at 20 times real time and prints how the
// heap goes. It runs by hand, for as long as LIFTBENCH_MEASURE says.
func TestSoak(t *testing.T) {
	if os.Getenv(measureVariable) == "" {
		t.SkipNow() // by hand: LIFTBENCH_MEASURE=30m
	}
	const pace = 20
	length := measureFor(t, 0)
	dir := t.TempDir()
	t.Chdir(dir)
	if err := settings.WriteDemo("."); err != nil {
		t.Fatal(err)
	}
	// The demo's drive, again and again until the day is long enough.
	text, err := os.ReadFile("scenario.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var day bytes.Buffer
	first := time.Date(2026, 5, 12, 4, 0, 0, 0, time.UTC)
	for begin := first; begin.Before(first.Add(pace*length + time.Hour)); begin = begin.Add(50 * time.Minute) {
		part := strings.Replace(string(text), "2026-05-12T08:00:00Z", begin.Format(time.RFC3339), 1)
		if err := os.WriteFile("part.yaml", []byte(part), 0o644); err != nil {
			t.Fatal(err)
		}
		status, stdout, stderr := command("", "drive", "part.yaml")
		if status != 0 {
			t.Fatal(stderr)
		}
		day.WriteString(stdout)
	}
	if err := os.WriteFile("day.nmea", day.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	peer := "127.0.0.1:" + freePort(t)
	out := "line=tcp-listen:" + peer
	p := start(t, "liftbench", "live", "--machine", "machine.yaml", "--field", "field.geojson", "--in", "file:day.nmea", "--pace", fmt.Sprint(pace),
		"--out", "json=file:setpoints.jsonl", "--out", out, "--http", "127.0.0.1:0", "--metrics-file", "live.prom")
	dial(t, peer) // never reads
	addr := "http://" + p.says("http://", "/metrics")
	scraper(t, addr)

	// The least heap of each tenth: what is left after collections.
	var least [10]float64
	var resident float64
	for begin := time.Now(); time.Since(begin) < length; time.Sleep(200 * time.Millisecond) {
		_, body := get(t, addr+"/metrics", "")
		tenth := min(int(10*time.Since(begin)/length), 9)
		if heap := metricValue(body, "go_memstats_heap_alloc_bytes"); least[tenth] == 0 || heap < least[tenth] {
			least[tenth] = heap
		}
		resident = max(resident, metricValue(body, "process_resident_memory_bytes"))
	}
	_, body := get(t, addr+"/metrics", "")
	p.stop()
	used := p.cmd.ProcessState.UserTime() + p.cmd.ProcessState.SystemTime()
	t.Logf("%s at %d times real time: heap, least of each tenth: %.2f MB; resident at most %.1f MB; processor time %.1f %% of one core",
		length, pace, scaled(least[:], 1e-6), resident*1e-6, 100*used.Seconds()/length.Seconds())
	t.Logf("%.0f epochs, %.0f setpoints, %.0f messages lost to the peer that takes nothing",
		metricValue(body, `liftbench_epochs_total{quality="rtk_fixed"}`),
		metricValue(body, `liftbench_setpoints_total{move="lift",reason="border"}`)+metricValue(body, `liftbench_setpoints_total{move="drop",reason="border"}`),
		metricValue(body, `liftbench_output_dropped_total{port="`+out+`"}`))
	if least[9] > 1.5*least[1] {
		t.Errorf("the heap grew from %g to %g bytes", least[1], least[9])
	}
}

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] * by
	}
	return out
}

// metricValue finds the value of one line of metrics.
func metricValue(text, name string) float64 {
	for line := range strings.Lines(text) {
		if rest, ok := strings.CutPrefix(line, name+" "); ok {
			v, _ := strconv.ParseFloat(strings.TrimSpace(rest), 64)
			return v
		}
	}
	return 0
}
