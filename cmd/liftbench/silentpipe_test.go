//go:build linux

package main

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"liftbench/sim/receiver"
)

// TestLiveEndsOnASilentPipe: a log that is a pipe to which nobody writes any longer
// does not keep live from ending, with all up.
func TestLiveEndsOnASilentPipe(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	s := newStraight(t, 6, "200", "300", soon())
	log, out := filepath.Join(s.dir, "log"), filepath.Join(s.dir, "setpoints.jsonl")
	if err := syscall.Mkfifo(log, 0o600); err != nil {
		t.Fatal(err)
	}
	pipe, err := os.OpenFile(log, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer pipe.Close()
	p := start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", "file:"+log, "--out", "json=-", "--out", "file:"+out)
	for _, e := range s.epochs(t, receiver.Params{Stamp: receiver.RFC3339Stamp}) {
		if e.timeNs > s.at(4) {
			break
		}
		pipe.Write(e.text)
	}
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		lines, _ := p.stdout.lines()
		if len(lines) == 6 { // all dropped on the first zone
			break
		}
		if time.Now().After(end) {
			t.Fatalf("%d setpoints: %s", len(lines), p.stderr.String())
		}
	}
	time.Sleep(1500 * time.Millisecond) // until all that was written is used
	if status := p.stop(); status != 0 {
		t.Errorf("exit status %d: %s", status, p.stderr.String())
	}
	lines, _ := p.stdout.lines()
	if n := len(readSetpoints(t, lines)); n != 12 {
		t.Errorf("%d setpoints; want six drops and six lifts", n)
	}
}
