//go:build linux

// The receiver of a drive, played to a port.

package main

import (
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/settings"
)

// TestPlayTo: what drive and run say to a port is, line for line, what drive
// writes, but for what a peer that is too slow loses, and the user is told; run
// scores the drive as it does without. The far ends are socat's (Debian socat).
func TestPlayTo(t *testing.T) {
	onTheClock(t)
	socat, err := exec.LookPath("socat")
	if err != nil {
		outside(t, "socat (Debian socat)")
	}
	dir := t.TempDir()
	if err := settings.WriteDemo(dir); err != nil {
		t.Fatal(err)
	}
	scenario, log := filepath.Join(dir, "scenario.yaml"), filepath.Join(dir, "day.nmea")
	// A quick drive with few positions, so that it can be played quickly.
	text, err := os.ReadFile(scenario)
	if err != nil {
		t.Fatal(err)
	}
	quick := strings.NewReplacer("speed_kmh: 8", "speed_kmh: 36", "rate_hz: 10", "rate_hz: 1").Replace(string(text))
	if err := os.WriteFile(scenario, []byte(quick), 0o644); err != nil {
		t.Fatal(err)
	}
	status, want, stderr := command("", "drive", scenario)
	if status != 0 {
		t.Fatal(stderr)
	}
	if err := os.WriteFile(log, []byte(want), 0o644); err != nil {
		t.Fatal(err)
	}
	_, table, _ := command("", "run", scenario)
	machine, field := filepath.Join(dir, "machine.yaml"), filepath.Join(dir, "field.geojson")

	for _, c := range []struct {
		name     string
		listens  bool // the peer does
		args     []string
		wantText string
	}{
		{"drive waits for a peer", false, []string{"drive", scenario}, ""},
		{"drive connects", true, []string{"drive", scenario}, ""},
		{"run connects", true, []string{"run", scenario}, table},
		{"run plays a log", false, []string{"run", "--machine", machine, "--field", field, log}, "Lifts"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			heard := filepath.Join(t.TempDir(), "heard")
			at := "127.0.0.1:" + freePort(t)
			there, to := "TCP:"+at+",retry=600,interval=0.1", "tcp-listen:"+at
			if c.listens {
				there, to = "TCP-LISTEN:"+strings.TrimPrefix(at, "127.0.0.1:")+",bind=127.0.0.1", "tcp:"+at
			}
			peer := exec.Command(socat, "-u", there, "OPEN:"+heard+",creat")
			if err := peer.Start(); err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { peer.Process.Kill() })
			status, stdout, stderr := command("", append(c.args, "--to", to, "--pace", "400")...)
			if err := peer.Wait(); err != nil {
				t.Errorf("socat: %v", err)
			}
			if status > 1 || !strings.Contains(stdout, c.wantText) || c.wantText == "" && stdout != "" {
				t.Errorf("exit status %d\n%s%s", status, stdout, stderr)
			}
			got, err := os.ReadFile(heard)
			if err != nil {
				t.Fatal(err)
			}
			rest := want
			for line := range strings.Lines(string(got)) {
				before, after, ok := strings.Cut(rest, line)
				if !ok || before != "" && !strings.Contains(stderr, "not taken in time") {
					t.Fatalf("the peer heard %q where drive writes %.80q; %s", line, rest, stderr)
				}
				rest = after
			}
			if rest != "" && !strings.Contains(stderr, "not taken in time") {
				t.Errorf("the peer did not hear the last %d bytes of %d", len(rest), len(want))
			}
		})
	}
}

// TestPlayToStops: a drive that nobody hears any longer ends with the signal.
func TestPlayToStops(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	at := "127.0.0.1:" + freePort(t)
	p := start(t, "liftbench", "drive", "--to", "tcp-listen:"+at)
	p.says("waiting for a peer (", ")")
	c, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	c.SetReadDeadline(time.Now().Add(10 * time.Second))
	if n, err := c.Read(make([]byte, 100)); n == 0 {
		t.Errorf("heard nothing: %v", err)
	}
	c.Close()
	if status := p.stop(); status != 0 {
		t.Errorf("exit status %d: %s", status, p.stderr.String())
	}
}
