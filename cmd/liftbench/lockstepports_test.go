//go:build unix

// Lockstep over ports, and setpoints as frames: the same clients come to the same as
// over a pipe.

package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// peer starts socat as the far end of a port, and ends it with the test.
func peer(t *testing.T, args ...string) {
	t.Helper()
	socat, err := exec.LookPath("socat")
	if err != nil {
		outside(t, "socat (Debian socat)")
	}
	ctx, stop := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, socat, args...)
	cmd.WaitDelay = time.Second
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		stop()
		_ = cmd.Wait() // it is killed
	})
}

// pty makes a pseudo-terminal whose far end is a program, and returns the device.
func pty(t *testing.T, program string) string {
	t.Helper()
	device := filepath.Join(t.TempDir(), "tty")
	peer(t, "pty,raw,echo=0,link="+device, "exec:"+program)
	for range 500 {
		if _, err := os.Stat(device); err == nil {
			// Held open, so that the far end stays when the bench closes its own.
			f, err := os.OpenFile(device, os.O_RDWR, 0)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { f.Close() })
			return device
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("socat made no pseudo-terminal within 5 s")
	return ""
}

// framesOnly turns the compact lines of a controller into frames of candump, as
// replay/wire/README.md has them; everything else passes.
const framesOnly = `
import subprocess, sys, threading
p = subprocess.Popen(sys.argv[1], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1)
def hear():
    for line in sys.stdin:
        p.stdin.write(line)
        p.stdin.flush()
    p.stdin.close()
threading.Thread(target=hear, daemon=True).start()
for line in p.stdout:
    if line.startswith("$PLBS"):
        for k, word in enumerate(line.split("*")[0].split(",")[4:]):
            states = bytes.fromhex(word)[::-1].hex(" ").upper()
            print("  can0  0CCBFFF7   [8]  03 00 %02X 01 %s" % (0x22 + k, states))
    else:
        print(line, end="")
    sys.stdout.flush()
`

// A client in C and one in Python over sockets, over a pseudo-terminal, and with frames
// over a pipe: events.csv is that of lines over a pipe, byte for byte.
func TestLockstepOverPorts(t *testing.T) {
	s := straightLog(t)
	c, python := controller(t, "c"), controller(t, "python")
	if status, _, stderr := command("", s.inLockstep(c, "pipe")...); status != 0 {
		t.Fatal(stderr)
	}
	want := readFile(t, s.dir, "pipe", "events.csv")
	if n := bytes.Count(want, []byte("\n")); n < 40 {
		t.Fatalf("%d lines of events; that shows nothing", n)
	}
	script := filepath.Join(s.dir, "frames.py")
	s.write(t, "frames.py", framesOnly)
	for name, port := range map[string]func(t *testing.T) []string{
		"tcp": func(t *testing.T) []string {
			at := freePort(t)
			peer(t, "tcp-listen:"+at+",bind=127.0.0.1,fork,reuseaddr,nodelay", "exec:"+python)
			return []string{"--to", "tcp:127.0.0.1:" + at}
		},
		"tcp-listen": func(t *testing.T) []string {
			at := freePort(t)
			peer(t, "tcp:127.0.0.1:"+at+",forever,interval=0.1,nodelay", "exec:"+c)
			return []string{"--to", "tcp-listen:127.0.0.1:" + at}
		},
		"serial":     func(t *testing.T) []string { return []string{"--to", "serial:" + pty(t, c)} },
		"can frames": func(*testing.T) []string { return []string{"--exec", "python3 " + script + " " + c} },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			out := strings.ReplaceAll(name, " ", "-")
			args := append([]string{"bench", "--lockstep", "--machine", s.machine, "--field", s.field, "--out", filepath.Join(s.dir, out)}, port(t)...)
			status, stdout, stderr := command("", append(args, filepath.Join(s.dir, "day.nmea"))...)
			if status != 0 {
				t.Fatal(stdout, stderr)
			}
			if got := readFile(t, s.dir, out, "events.csv"); !bytes.Equal(got, want) {
				t.Errorf("events.csv differs from that of lines over a pipe from byte %d on", common(got, want))
			}
		})
	}
}

// smallDrives writes a folder with so many short drives.
func smallDrives(t *testing.T, n int) string {
	t.Helper()
	dir := t.TempDir()
	machine := string(readFile(t, "suite", "drives", "machine-pairs.yaml"))
	for name, text := range map[string]string{
		"a-machine.yaml": machine,
		"field.geojson":  `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"zone":"body","row_bearing_deg":0},"geometry":{"type":"Polygon","coordinates":[[[11.4,52.2],[11.40018,52.2],[11.40018,52.20036],[11.4,52.20036],[11.4,52.2]]]}}]}`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for i := range n {
		text := fmt.Sprintf("name: short\nmachine: a-machine.yaml\nfield: field.geojson\ndrive: {seed: %d}\n", i+1)
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("d%02d.yaml", i)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// The suite over ports: one controller hears one drive after the other, on a line that stays or is
// opened anew, and comes to the same as a program that is started for each.
func TestSuiteOverPorts(t *testing.T) {
	// So many drives of its own that two of them alone are one part.
	const own = 43
	dir, c, python := smallDrives(t, own), controller(t, "c"), controller(t, "python")
	part := []string{"--drives", dir, "--shard", "42/42"}
	run := func(t *testing.T, args ...string) []byte {
		t.Helper()
		out := t.TempDir()
		status, stdout, stderr := command("", append(append([]string{"suite", "--out", out}, part...), args...)...)
		if status != 0 {
			t.Fatal(stdout, stderr)
		}
		data := readFile(t, out, "suite.json")
		if n := bytes.Count(data, []byte("place_mm")); n != 2 {
			t.Fatalf("%d drives in %.300s; want 2", n, data)
		}
		return data
	}
	want := run(t, "--exec", c)
	for name, port := range map[string]func(t *testing.T) []string{
		"tcp": func(t *testing.T) []string {
			at := freePort(t)
			peer(t, "tcp-listen:"+at+",bind=127.0.0.1,fork,reuseaddr,nodelay", "exec:"+c)
			return []string{"--to", "tcp:127.0.0.1:" + at}
		},
		"serial": func(t *testing.T) []string { return []string{"--to", "serial:" + pty(t, python)} },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if got := run(t, port(t)...); !bytes.Equal(got, want) {
				t.Errorf("the results differ from those of a program from byte %d on", common(got, want))
			}
		})
	}
}
