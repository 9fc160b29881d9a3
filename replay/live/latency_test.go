// From the last byte of an epoch to the setpoint, within the process.

package live

import (
	"io"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	"liftbench/replay/port"
	"liftbench/sim/receiver"
)

// Fix in to command out over sockets: 20 Hz, 48 sections, a peer that reads,
// two that never do, and somebody who asks for the status all the time. Times
// are printed, and not judged.
func TestLatency(t *testing.T) {
	onTheClock(t)
	m := bar(48)
	in, err := port.Open(t.Context(), spec(t, "tcp-listen::0"), port.In, port.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := port.Open(t.Context(), spec(t, "tcp-listen::0"), port.Out, port.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	for i := range 3 {
		c, err := net.Dial("tcp", out.Addr())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if i == 0 {
			go io.Copy(io.Discard, c)
		}
	}
	var mu sync.Mutex
	var took []time.Duration
	e, err := New(Config{Machine: m, Field: strips(t), Settings: settings(), Outputs: []Output{{out, Line}, {out, JSON}}, Hooks: Hooks{
		Decision: func(ns int64) {
			mu.Lock()
			took = append(took, time.Duration(ns))
			mu.Unlock()
		},
	}})
	if err != nil {
		t.Fatal(err)
	}
	far, err := net.Dial("tcp", in.Addr())
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		speak(t.Context(), t, far, log(t, m, time.Now().UnixNano(), 3, receiver.Params{RateHz: 20}), 30*time.Millisecond)
		far.Close()
	}()
	ask := time.NewTicker(time.Millisecond)
	defer ask.Stop()
	end := time.AfterFunc(3200*time.Millisecond, func() { in.Close() })
	defer end.Stop()
	go func() {
		for range ask.C {
			e.Status()
		}
	}()
	// It ends because its port was closed.
	_ = e.Run(t.Context(), in)
	slices.Sort(took)
	if len(took) < 50 {
		t.Fatalf("%d fixes", len(took))
	}
	t.Logf("%d fixes: median %v, p99 %v, longest %v", len(took), took[len(took)/2], took[len(took)*99/100], took[len(took)-1])
}
