//go:build linux

// However live ends, as far as a process can see its end, what is in work is
// lifted first.

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"liftbench/sim/receiver"
)

// endings are ways to end live, or to cut it off from who started it.
var endings = []struct {
	name   string
	signal syscall.Signal // 0: none
	// closed closes the reading ends of standard error and standard output.
	closed bool
}{
	{name: "SIGINT", signal: syscall.SIGINT},
	{name: "SIGTERM", signal: syscall.SIGTERM},
	{name: "SIGHUP", signal: syscall.SIGHUP},
	{name: "SIGQUIT", signal: syscall.SIGQUIT},
	{name: "standard output and error closed", closed: true},
}

// TestLiveLiftsHoweverItEnds: the drive is cut off while the sections work on the
// first zone. The last setpoints in the output file lift them all: at once after
// a signal, by the fail-safe where only the pipes were closed.
func TestLiveLiftsHoweverItEnds(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	var all sync.WaitGroup
	defer all.Wait()
	for _, end := range endings {
		s := newStraight(t, 6, "200", "300", soon())
		out := filepath.Join(s.dir, "setpoints.jsonl")
		cmd := exec.Command(os.Args[0], "live", "--machine", s.machine, "--field", s.field, "--out", "json=file:"+out, "--out", "json=-")
		cmd.Env = append(os.Environ(), asVariable+"=liftbench", "GORACE="+os.Getenv("GORACE")+" atexit_sleep_ms=0")
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		ours := make([]*os.File, 2)
		for i, to := range []**os.File{new(*os.File), new(*os.File)} {
			if ours[i], *to, err = os.Pipe(); err != nil {
				t.Fatal(err)
			}
			if i == 0 {
				cmd.Stdout = *to
			} else {
				cmd.Stderr = *to
			}
			defer (*to).Close()
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { cmd.Process.Kill() })
		if end.closed {
			ours[0].Close()
			ours[1].Close()
		} else {
			for _, f := range ours {
				go f.WriteTo(&chunks{})
			}
		}
		s = newStraightAgain(s, soon())
		// At 6 m/s the bar, 2 m behind, is on the first zone from 3.3 to 5.3 s.
		const cutS = 4.2
		epochs := s.epochs(t, receiver.Params{SigmaM: 0.005, Seed: 1})
		for i := range epochs {
			if epochs[i].timeNs >= s.at(cutS) {
				epochs = epochs[:i]
				break
			}
		}
		all.Go(func() {
			feed(in, epochs)
			if end.signal != 0 {
				cmd.Process.Signal(end.signal)
			} else {
				time.Sleep(2 * time.Second) // longer than max_age_ms and hold_ms together
				data, _ := os.ReadFile(out)
				if w := works(readSetpoints(t, bytes.Split(bytes.TrimSpace(data), []byte("\n")))); len(w) == 0 || w[len(w)-1].tillNs > s.at(cutS+2) {
					t.Errorf("%s: no fail-safe within 2 s: %s", end.name, data)
				}
				in.Close()
			}
			cmd.Wait()
			data, err := os.ReadFile(out)
			if err != nil {
				t.Errorf("%s: %v", end.name, err)
				return
			}
			done := works(readSetpoints(t, bytes.Split(bytes.TrimSpace(data), []byte("\n"))))
			if len(done) < 6 {
				t.Errorf("%s: %d sections dropped; want 6: %s", end.name, len(done), data)
			}
			for _, w := range done {
				if w.tillNs > s.at(cutS+2.5) {
					t.Errorf("%s: section %d stayed in work", end.name, w.section+1)
				}
			}
		})
	}
}
