// The controller on a CAN bus.

package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"liftbench/replay/trace"
)

// TestLiveOnBus: live on the frames of a bus, each at its time, gives the commands
// that it gives on the sentences of the same drive, and says whom it believes.
func TestLiveOnBus(t *testing.T) {
	onTheClock(t)
	dir := t.TempDir()
	log, day, bus, nmea := filepath.Join(dir, "bus.log"), filepath.Join(dir, "day.nmea"), filepath.Join(dir, "bus.jsonl"), filepath.Join(dir, "nmea.jsonl")
	for _, args := range [][]string{
		{"drive", "--out", "candump=" + log}, {"drive", "--out", day},
		{"live", "--in", "file:" + day, "--pace", "1000", "--out", "json=file:" + nmea},
	} {
		if status, _, stderr := command("", args...); status != 0 {
			t.Fatal(args, stderr)
		}
	}
	raw, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	in, feed := io.Pipe()
	go func() {
		defer feed.Close()
		start, firstNs := time.Now(), int64(0)
		var f trace.Frame
		for line := range bytes.Lines(raw) {
			if _, ok := trace.ParseCandump(bytes.TrimSpace(line), &f); !ok {
				continue
			}
			if firstNs == 0 {
				firstNs = f.TimeNs
			}
			after := time.Duration(f.TimeNs - firstNs)
			if after > 9*time.Second { // the first drop is at 7.5 s
				return
			}
			time.Sleep(time.Until(start.Add(after)))
			if _, err := feed.Write(line); err != nil {
				return
			}
		}
	}()
	var stderr strings.Builder
	if status := execute([]string{"live", "--in", "candump:-", "--sender", "28", "--out", "json=file:" + bus}, in, io.Discard, &stderr); status != 0 {
		t.Fatal(stderr.String())
	}
	for _, want := range []string{"candump:-: positions: PGN 129025 of address 28", "RTK fixed", "age of fixes"} {
		if !strings.Contains(stderr.String(), want) {
			t.Errorf("said %q; expected %q", stderr.String(), want)
		}
	}
	got, want := drops(t, bus), drops(t, nmea)
	if len(got) != 6 {
		t.Errorf("%d drops in nine seconds; expected one of each section: %v\n%s", len(got), got, stderr.String())
	}
	for section, at := range got {
		// 129025 has steps of 11 mm, 5 ms at 8 km/h; the times are the host's.
		if d := at.Sub(want[section]).Abs(); d > 100*time.Millisecond {
			t.Errorf("section %d is dropped %s after its time", section, d)
		}
	}
}

// drops returns when each section is dropped first.
func drops(t *testing.T, path string) map[int]time.Time {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	first := map[int]time.Time{}
	for line := range bytes.Lines(raw) {
		var s struct {
			Due     time.Time
			Section int
			On      bool
		}
		if err := json.Unmarshal(line, &s); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		if _, ok := first[s.Section]; !ok && s.On {
			first[s.Section] = s.Due
		}
	}
	return first
}
