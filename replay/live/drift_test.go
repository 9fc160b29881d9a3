// A host's clock that drifts, and a first position that comes late.

package live

import (
	"bytes"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"liftbench/nmea"
	"liftbench/sim/receiver"
)

// A host whose clock runs wrong, against a receiver whose fixes take 50 ms and
// up to 40 ms more.
func TestDriftIsMadeGood(t *testing.T) {
	const latencyNs, jitterNs = int64(50e6), int64(40e6)
	for _, c := range []struct {
		name string
		rate float64 // of the host's clock: ahead by so much of the time
		// set: its time was wrong too, so that the first fix set the engine's
		// clock; that fix came lateNs late.
		set    bool
		lateNs int64
		held   float64 // fixes are held up more and more, by so much of the time
		// The engine's clock then stays within these of the receiver's.
		leastNs, mostNs int64
	}{
		{"right", 0, false, 0, 0, 0, 0},
		{"right, set by a fix that was late", 0, true, 45e6, 0, -1e6, 1e6},
		{"100 ppm fast", 100e-6, false, 0, 0, 0, 25e6},
		{"100 ppm fast, set", 100e-6, true, 45e6, 0, -1e6, 25e6},
		{"100 ppm slow, set", -100e-6, true, 45e6, 0, -3e6, 1e6},
		{"right, fixes held up", 0, false, 0, 0.01, -60e6, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			arrivalNs, hours := int64(0), 10.0
			if c.held != 0 {
				hours = 0.1
			}
			now := func() time.Time {
				return time.Unix(0, startNs).Add(time.Duration(float64(arrivalNs) * (1 + c.rate)))
			}
			e := &Engine{clock: newClock(now, 1)}
			if c.set {
				arrivalNs = latencyNs + c.lateNs
				e.clock.set(startNs + latencyNs)
				e.drift.reset(latencyNs)
			}
			for fixNs := int64(100e6); float64(fixNs) < hours*3600e9; fixNs += 100e6 {
				arrivalNs = fixNs + latencyNs + rng.Int64N(jitterNs) + int64(c.held*float64(fixNs))
				e.steer(e.clock.nowNs() - startNs - fixNs)
				if off := e.clock.nowNs() - startNs - arrivalNs; fixNs > 10e9 && (off < c.leastNs || off > c.mostNs) {
					t.Fatalf("after %v the clock is %.1f ms ahead; expected %.1f to %.1f", time.Duration(fixNs), float64(off)*1e-6, float64(c.leastNs)*1e-6, float64(c.mostNs)*1e-6)
				}
			}
		})
	}
}

// A first epoch that is held up, as a whole or between its sentences, leaves
// the clock right: no later position looks older or younger than it is. It is
// set by the first, for the receiver lives in another year.
func TestFirstEpochHeldUp(t *testing.T) {
	onTheClock(t)
	const latency, heldUp = 100 * time.Millisecond, 300 * time.Millisecond
	m, f, set := bar(2), strips(t), settings()
	set.LatencyNs = int64(latency)
	for name, sentence := range map[string]int{"as a whole": 0, "after its first sentence": 1, "before its last": 2} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			lines := bytes.SplitAfter(log(t, m, startNs, 2, receiver.Params{}), []byte("\n"))
			r, w := io.Pipe()
			began := time.Now()
			go func() {
				defer w.Close()
				for i := 0; i+2 < len(lines); i++ {
					at := began.Add(time.Duration(i/3)*100*time.Millisecond + latency)
					if i < 3 && i >= sentence {
						at = at.Add(heldUp)
					}
					time.Sleep(time.Until(at))
					w.Write(lines[i])
				}
			}()
			var off time.Duration // what the clock says against what it should
			fixes := 0
			var e *Engine
			e, err := New(Config{Machine: m, Field: f, Settings: set, Hooks: Hooks{Fix: func(f *nmea.Fix, _, _ int64) {
				fixes++
				off = time.Duration(e.clock.nowNs()-startNs) - time.Since(began)
			}}})
			if err != nil {
				t.Fatal(err)
			}
			if err := e.Run(t.Context(), r); err != nil {
				t.Fatal(err)
			}
			if fixes < 15 {
				t.Errorf("%d fixes", fixes)
			}
			if off.Abs() > 50*time.Millisecond {
				t.Errorf("the clock is %v ahead", off)
			}
		})
	}
}
