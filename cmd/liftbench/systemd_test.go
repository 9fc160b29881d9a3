//go:build linux

// live under systemd itself, with the unit of the package: who ends it starts it again.

package main

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"liftbench/sim/receiver"
)

// systemdVariable is set in the machine that .ci/systemd boots: there the unit is written
// to /etc/systemd/system, and started. It holds the path of .ci/packaging/liftbench.service.
const systemdVariable = "LIFTBENCH_SYSTEMD"

// injectedVariable is set by .ci/systemd to the file where the program with faults in it
// is to be put.
const injectedVariable = "LIFTBENCH_INJECTED"

// lineStated is the longest time until the line that lifts: WatchdogSec, TimeoutAbortSec and
// RestartSec of the unit, and what is left of 5 s for the start on a slow computer.
const lineStated = 5 * time.Second

// TestSystemdProgram builds the program with faults in it for TestSystemd.
func TestSystemdProgram(t *testing.T) {
	to := os.Getenv(injectedVariable)
	if to == "" {
		t.Skip("only .ci/systemd wants it")
	}
	program, err := os.ReadFile(buildInjected(t))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, program, 0o755); err != nil {
		t.Fatal(err)
	}
}

// TestSystemd cuts live off with six sections in work, as the unit of the package runs it
// but for its ports and files. A listener by datagrams lifts within its time, systemd
// starts live again, and the work goes on with the state that was kept. systemctl stop
// then ends it with all up and removes the state.
func TestSystemd(t *testing.T) {
	path := os.Getenv(systemdVariable)
	if path == "" {
		t.Skip("runs in the machine that .ci/systemd boots")
	}
	unit, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// Its configuration is the test's.
	text := regexp.MustCompile(`(?m)^(EnvironmentFile|ConditionPathExists)=.*\n`).ReplaceAllString(string(unit), "")
	before, rest, ok := strings.Cut(text, "ExecStart=/usr/bin/liftbench live ")
	_, after, ok2 := strings.Cut(rest, "\n")
	if !ok || !ok2 {
		t.Fatal("no command in the unit")
	}
	const state = "/run/liftbench/state.json" // as in the unit
	for _, tc := range []struct {
		name   string
		signal syscall.Signal // 0: its main loop hangs
		said   string         // what systemd says of it
		kept   bool           // it could not lift, so its state is left
	}{
		{"kill -9", syscall.SIGKILL, "status=9/KILL", true},
		{"main loop hangs", 0, "Watchdog timeout", true},
		// With SIGABRT systemd sends SIGCONT, and live lifts after all.
		{"SIGSTOP", syscall.SIGSTOP, "Watchdog timeout", false},
		{"SIGSEGV", syscall.SIGSEGV, "", false},
	} {
		s := newStraight(t, 6, "200", "300", 0)
		// The service is another user, and a test's folder its owner's alone.
		if err := os.Chmod(filepath.Dir(s.dir), 0o755); err != nil {
			t.Fatal(err)
		}
		gps, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		udp, err := net.ListenPacket("udp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		program, when := "liftbench", filepath.Join(s.dir, "now")
		if tc.signal == 0 {
			program = "liftbench-injected"
		}
		start := fmt.Sprintf("Environment=\"%s=hang:main loop\" %s=%s\n", injectVariable, injectWhenVariable, when)
		start += fmt.Sprintf("ExecStart=/usr/bin/%s live --in tcp:%s --out line=udp:%s --out line=serial:/dev/ttyS1 --state %s --machine %s --field %s\n", program, gps.Addr(), udp.LocalAddr(), state, s.machine, s.field)
		if err := os.WriteFile("/etc/systemd/system/liftbench.service", []byte(before+start+after), 0o644); err != nil {
			t.Fatal(err)
		}
		systemctl(t, "daemon-reload")
		began := time.Now()
		systemctl(t, "start", "liftbench")
		t.Logf("%s: ready after %.1f s", tc.name, time.Since(began).Seconds()) // Type=notify: start returns when it is
		conns := make(chan net.Conn, 10)
		go func() {
			for {
				c, err := gps.Accept()
				if err != nil {
					return
				}
				conns <- c
			}
		}()
		var l listener
		go l.datagrams(udp)
		var line net.Conn
		select {
		case line = <-conns:
		case <-time.After(60 * time.Second):
			t.Fatalf("%s: live does not connect: %s", tc.name, journal(t, began))
		}
		const cutS, endS = 8.0, 15.0 // the long zone is in work from 6.7 s to 16.7 s
		s = newStraightAgain(s, soon())
		cut := make(chan time.Time, 1)
		go func() {
			time.Sleep(time.Until(time.Unix(0, s.at(cutS))))
			at := time.Now()
			if tc.signal == 0 {
				if err := os.WriteFile(when, nil, 0o644); err != nil {
					t.Error(err)
				}
				time.Sleep(time.Second) // less than WatchdogSec
				os.Remove(when)         // the next run does not hang
			} else {
				pid, _ := strconv.Atoi(systemctl(t, "show", "--property=MainPID", "--value", "liftbench"))
				at = time.Now()
				if err := syscall.Kill(pid, tc.signal); err != nil {
					t.Errorf("%s: process %d: %v", tc.name, pid, err)
				}
			}
			if _, err := os.Stat(state); err != nil && tc.kept {
				t.Errorf("%s: right after it %v; want the state kept", tc.name, err)
			}
			cut <- at
		}()
		for _, e := range s.epochs(t, receiver.Params{SigmaM: 0.005, Seed: 1}) {
			if e.timeNs > s.at(endS) {
				break
			}
			time.Sleep(time.Until(time.Unix(0, e.arrivalNs)))
			select {
			case line = <-conns:
			default:
			}
			line.SetWriteDeadline(time.Now().Add(50 * time.Millisecond))
			line.Write(e.text) // whoever is gone comes back
		}
		at := <-cut
		up, ok := l.after(at, false)
		again, ok2 := l.after(up.at, true)
		lift, ok3 := l.told(at)
		said := journal(t, began)
		if !ok || !ok2 || !ok3 {
			t.Errorf("%s: lifted %v, in work again %v, told to lift %v: %v; %s", tc.name, ok, ok2, ok3, l.marks, said)
		}
		t.Logf("%s: up after %.2f s (%s), the line that lifts after %.2f s, in work again after %.2f s; started again %s times", tc.name, up.at.Sub(at).Seconds(), up.why, lift.Sub(at).Seconds(), again.at.Sub(at).Seconds(),
			systemctl(t, "show", "--property=NRestarts", "--value", "liftbench"))
		l.mu.Lock()
		for _, m := range l.marks {
			if after := m.at.Sub(at).Seconds(); after > 0 {
				t.Logf("%s: %.4f s: %d in work, %s", tc.name, after, m.inWork, m.why)
			}
		}
		l.mu.Unlock()
		if took := up.at.Sub(at); took > listenerPatience+500*time.Millisecond {
			t.Errorf("%s: all up after %v; want %v at most", tc.name, took, listenerPatience)
		}
		if took := lift.Sub(at); took > lineStated {
			t.Errorf("%s: the line that lifts came after %v; want %v at most", tc.name, took, lineStated)
		}
		if n := systemctl(t, "show", "--property=NRestarts", "--value", "liftbench"); n != "1" {
			t.Errorf("%s: started again %s times; want once: %s", tc.name, n, said)
		}
		// The user that systemd makes may open a serial port by its group.
		if strings.Contains(said, "ttyS1: ") {
			t.Errorf("%s: the journal says %q; want the serial port opened without a word", tc.name, said)
		}
		const goesOn = "state.json: the last run was cut off, 6 sections in work: all are lifted first; its controller goes on"
		if strings.Contains(said, goesOn) != tc.kept || !strings.Contains(said, tc.said) {
			t.Errorf("%s: the journal says %q; want %q, and that its controller goes on: %v", tc.name, said, tc.said, tc.kept)
		}
		systemctl(t, "stop", "liftbench")
		l.mu.Lock()
		last := l.marks[len(l.marks)-1]
		l.mu.Unlock()
		if files, _ := filepath.Glob(state + "*"); last.inWork != 0 || last.why != "told" || len(files) > 0 {
			t.Errorf("%s: after systemctl stop %d sections in work (%s), %q is there; want all told to be up, and no state", tc.name, last.inWork, last.why, files)
		}
		gps.Close()
		udp.Close()
	}
}

// systemctl returns what it prints.
func systemctl(t *testing.T, args ...string) string {
	out, err := exec.Command("systemctl", args...).CombinedOutput()
	if err != nil {
		t.Errorf("systemctl %s: %v: %s", strings.Join(args, " "), err, out)
	}
	return strings.TrimSpace(string(out))
}

// journal returns what live, and systemd of it, have said since.
func journal(t *testing.T, since time.Time) string {
	out, err := exec.Command("journalctl", "--unit=liftbench", "--output=cat", fmt.Sprintf("--since=@%d", since.Unix())).CombinedOutput()
	if err != nil {
		t.Errorf("journalctl: %v: %s", err, out)
	}
	return string(out)
}
