// The controller on a CAN bus.

package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net"
	"os"
	"os/exec"
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
	compareDrops(t, bus, nmea, stderr.String())
}

// TestLiveOnVCAN: the same of a CAN interface, on which canplayer (can-utils) plays
// the frames, and a second receiver that is not to be believed. .ci/socketcan runs
// it on a kernel that has one.
func TestLiveOnVCAN(t *testing.T) {
	onTheClock(t)
	if _, err := net.InterfaceByName("vcan0"); err != nil {
		t.Skip("no interface vcan0 (kernel module vcan; ip link add dev vcan0 type vcan)")
	}
	canplayer, err := exec.LookPath("canplayer")
	if err != nil {
		outside(t, "canplayer (Debian can-utils)")
	}
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
	var short []byte
	var f trace.Frame
	firstNs, other := int64(0), int64(0)
	for line := range bytes.Lines(raw) {
		if _, ok := trace.ParseCandump(bytes.TrimSpace(line), &f); !ok {
			continue
		}
		if firstNs == 0 {
			firstNs = f.TimeNs
		}
		if f.TimeNs > firstNs+9e9 {
			break
		}
		short = append(short, line...)
		if f.ID>>8&0x1FFFF == 129025 {
			f.ID, f.TimeNs = f.ID&^0xFF|99, f.TimeNs+100_000
			f.Data[2]++ // 7 m to the north
			short = trace.AppendCandump(short, "can0", &f)
			other++
		}
	}
	if err := os.WriteFile(log, short, 0o666); err != nil {
		t.Fatal(err)
	}
	p := start(t, "liftbench", "live", "--in", "can:vcan0", "--sender", "28", "--out", "json=file:"+bus)
	time.Sleep(time.Second)
	if out, err := exec.Command(canplayer, "-I", log, "vcan0=can0").CombinedOutput(); err != nil {
		t.Fatalf("canplayer: %v\n%s", err, out)
	}
	if status := p.stop(); status != 0 {
		t.Errorf("status %d", status)
	}
	said := p.stderr.String()
	for _, want := range []string{"can:vcan0: positions: PGN 129025 of address 28", "99", "RTK fixed"} {
		if !strings.Contains(said, want) {
			t.Errorf("said %q; expected %q", said, want)
		}
	}
	compareDrops(t, bus, nmea, said)
	t.Logf("%d frames of another receiver beside; said:\n%s", other, said)
}

// compareDrops compares when each section is dropped by the frames of a bus with when
// it is by sentences.
func compareDrops(t *testing.T, bus, nmea, said string) {
	t.Helper()
	got, want := drops(t, bus), drops(t, nmea)
	if len(got) != 6 {
		t.Errorf("%d drops in nine seconds; expected one of each section: %v\n%s", len(got), got, said)
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
