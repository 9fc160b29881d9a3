package live

import (
	"context"
	"io"
	"runtime"
	"strings"
	"testing"
	"time"

	"liftbench/sections"
	"liftbench/sim/receiver"
)

// over is a text said again and again, n bytes of it in all.
type over struct {
	text, rest string
	n          int
}

func (o *over) Read(b []byte) (int, error) {
	if o.n <= 0 {
		return 0, io.EOF
	}
	if o.rest == "" {
		o.rest = o.text
	}
	k := copy(b, o.rest)
	o.rest, o.n = o.rest[k:], o.n-k
	return k, nil
}

// floods are what a receiver's port may pour in, in no time.
func floods(t *testing.T) map[string]string {
	drive := string(log(t, bar(6), startNs, 20, receiver.Params{RateHz: 10}))
	return map[string]string{
		"the same drive again": drive,
		"void sentences":       "$GNRMC,140307.00,V,,,,,,,120531,,,N*6C\r\n$GNGGA,140307.00,,,,,0,0,,,M,,M,,*55\r\n",
		"garbage":              strings.Repeat("\x00\xb5\x62$GN\\*", 97) + "\n",
		"one line":             "$GNGGA,1",
		"wrong checksums":      strings.ReplaceAll(drive[:10_000], "*", "*0"),
	}
}

// Whatever is poured in, it is read to its end, and nothing of it is kept.
func TestFlood(t *testing.T) {
	for name, text := range floods(t) {
		e, err := New(Config{Machine: bar(6), Field: strips(t), Settings: settings()})
		if err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		in := &over{text: text, n: 16 << 20}
		began := time.Now()
		// A stream without a position ends in an error.
		if err := e.Run(context.Background(), in); err != nil && !strings.HasPrefix(err.Error(), "no position") {
			t.Errorf("%s: %v", name, err)
		}
		took := time.Since(began)
		runtime.GC()
		runtime.ReadMemStats(&after)
		runtime.KeepAlive(e)
		if mb := int64(after.HeapAlloc-before.HeapAlloc) >> 20; in.n > 0 || mb > 4 {
			t.Errorf("%s: %d bytes were not read, %d MB are kept; want none, and 4 MB at most", name, in.n, mb)
		}
		t.Logf("%s: %.0f MB/s", name, 16/took.Seconds())
	}
}

// A flood of anything that is no position does not put the fail-safe off.
func TestFailSafeInAFlood(t *testing.T) {
	onTheClock(t)
	m, set := bar(6), settings()
	for name, text := range floods(t) {
		if name == "the same drive again" {
			continue // positions, of times that have passed: dropped as such
		}
		var failedAt time.Time
		e, err := New(Config{Machine: m, Field: strips(t), Settings: set, Hooks: Hooks{
			FailSafe: func(sections.Reason) { failedAt = time.Now() },
		}})
		if err != nil {
			t.Fatal(err)
		}
		r, w := io.Pipe()
		ctx, stop := context.WithCancel(context.Background())
		var lost time.Time
		go func() {
			speak(ctx, t, w, log(t, m, time.Now().UnixNano(), 3, receiver.Params{RateHz: 10}), 0)
			lost = time.Now()
			for end := lost.Add(3 * time.Second); time.Now().Before(end); {
				if _, err := io.WriteString(w, strings.Repeat(text, 1+4096/len(text))); err != nil {
					return
				}
			}
			w.Close()
		}()
		err = e.Run(ctx, r)
		stop()
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		late := failedAt.Sub(lost) - time.Duration(set.MaxAgeNs+set.HoldNs)
		if failedAt.IsZero() || late > 300*time.Millisecond {
			t.Errorf("%s: fail-safe %v after its time", name, late)
		}
		t.Logf("%s: fail-safe %v after max_age and hold", name, late.Round(time.Millisecond))
	}
}
