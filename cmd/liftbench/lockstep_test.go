//go:build unix

// Controllers under test in lockstep: ours as a program is run, clients written from
// the words alone in other languages agree, load changes nothing, and who fails is
// told of.

package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"liftbench/cmd/liftbench/run"
	"liftbench/sim/campaign"
	"liftbench/sim/receiver"
)

const controllers = "testdata/controllers/"

// built compiles the examples once, by name: own, in Go, and naive in C and Python.
var built = sync.OnceValues(func() (map[string]string, error) {
	dir, err := os.MkdirTemp("", "controllers")
	if err != nil {
		return nil, err
	}
	list := map[string]string{"own": filepath.Join(dir, "own")}
	if out, err := exec.Command("go", "build", "-o", list["own"], "./"+controllers+"own").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("own: %v: %s", err, out)
	}
	if cc, err := exec.LookPath("cc"); err == nil {
		list["c"] = filepath.Join(dir, "naive")
		// No fused products: the same on every processor.
		if out, err := exec.Command(cc, "-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Werror", "-O2", "-ffp-contract=off", "-o", list["c"], controllers+"naive.c", "-lm").CombinedOutput(); err != nil {
			return nil, fmt.Errorf("naive.c: %v: %s", err, out)
		}
	}
	if python, err := exec.LookPath("python3"); err == nil {
		path, err := filepath.Abs(controllers + "naive.py")
		if err != nil {
			return nil, err
		}
		list["python"] = python + " " + path
	}
	return list, nil
})

// controller returns the command that starts an example.
func controller(t *testing.T, name string) string {
	t.Helper()
	list, err := built()
	if err != nil {
		t.Fatal(err)
	}
	command, ok := list[name]
	if !ok {
		outside(t, map[string]string{"c": "cc (Debian gcc)", "python": "python3"}[name])
	}
	return command
}

func readFile(t testing.TB, path ...string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Our controller, as a program in lockstep, lifts and drops as in run, byte for byte:
// with and without arrival times, with a latency that is not the one in its
// settings, with a clock that is wrong.
func TestLockstepIsRun(t *testing.T) {
	own := controller(t, "own")
	dir := t.TempDir()
	if status, _, stderr := command("", "check", "--write-demo", dir); status != 0 {
		t.Fatal(stderr)
	}
	scenario := string(readFile(t, dir, "scenario.yaml"))
	for name, change := range map[string]func(string) string{
		"demo":          func(s string) string { return s },
		"typical":       func(s string) string { return strings.Replace(s, "\nreceiver:", "\nconditions: typical\nreceiver:", 1) },
		"other latency": func(s string) string { return strings.Replace(s, "  latency_ms: 100", "  latency_ms: 180", 1) },
		"stamped": func(s string) string {
			return strings.Replace(s, "  latency_ms: 100", "  latency_ms: 90\n  jitter_ms: 60\n  stamp: unix", 1)
		},
		"clock is wrong": func(s string) string {
			return strings.Replace(s, "  latency_ms: 100", "  latency_ms: 90\n  stamp: unix\n  clock_ahead_ms: 40", 1)
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			changed := change(scenario)
			if changed == scenario && name != "demo" {
				t.Fatal("the demo's scenario is another now")
			}
			file := strings.ReplaceAll(name, " ", "-") + ".yaml"
			if err := os.WriteFile(filepath.Join(dir, file), []byte(changed), 0o644); err != nil {
				t.Fatal(err)
			}
			path, ours, theirs := filepath.Join(dir, file), t.TempDir(), t.TempDir()
			if status, _, stderr := command("", "run", "--out", ours, path); status > 1 {
				t.Fatal(stderr)
			}
			if status, _, stderr := command("", "bench", "--lockstep", "--exec", own+" "+path, "--out", theirs, path); status > 1 {
				t.Fatal(stderr)
			}
			a, b := readFile(t, ours, "events.csv"), readFile(t, theirs, "events.csv")
			if !bytes.Equal(a, b) {
				t.Errorf("events.csv differ: %d and %d bytes, first in line %d", len(a), len(b), bytes.Count(a[:common(a, b)], []byte("\n"))+1)
			}
			if n := bytes.Count(a, []byte("\n")); n < 300 {
				t.Errorf("%d lines of events; that shows nothing", n)
			}
		})
	}
}

// common is how many bytes a and b begin with alike.
func common(a, b []byte) (n int) {
	for n < min(len(a), len(b)) && a[n] == b[n] {
		n++
	}
	return n
}

// straightLog is the straight drive as a log without arrival times.
func straightLog(t *testing.T) *straight {
	t.Helper()
	s := newStraight(t, 12, "auto", "auto", 1_900_000_000e9)
	var log []byte
	for _, e := range s.epochs(t, receiver.Params{}) {
		log = append(log, e.text...)
	}
	s.write(t, "day.nmea", string(log))
	return s
}

func (s *straight) inLockstep(command, out string) []string {
	return []string{"bench", "--lockstep", "--exec", command, "--machine", s.machine, "--field", s.field, "--out", filepath.Join(s.dir, out), filepath.Join(s.dir, "day.nmea")}
}

// Clients written in C and in Python from the words of the protocol lift and drop alike,
// late by the lead and the latency that they do not know of.
func TestOtherLanguages(t *testing.T) {
	s := straightLog(t)
	for _, name := range []string{"c", "python"} {
		if status, _, stderr := command("", s.inLockstep(controller(t, name), name)...); status != 0 {
			t.Fatalf("%s: %s", name, stderr)
		}
	}
	if a, b := readFile(t, s.dir, "c", "events.csv"), readFile(t, s.dir, "python", "events.csv"); !bytes.Equal(a, b) {
		t.Errorf("C and Python differ from byte %d on", common(a, b))
	}
	x, job := readSummary(t, filepath.Join(s.dir, "c")), run.Job(s.setup)
	for _, move := range []struct {
		name  string
		found float64
		lead  int64
	}{{"lifts", x.Lift.TimeErrorS.Mean, job.Settings.LiftLead.AloneNs()}, {"drops", x.Drop.TimeErrorS.Mean, job.Settings.DropLead.AloneNs()}} {
		least := float64(move.lead)*1e-9 + latencyS
		t.Logf("%s: %.1f ms late; lead and latency are %.1f ms", move.name, move.found*1e3, least*1e3)
		// Half an interval between positions on average, and the slant that its middle
		// stands for.
		if move.found < least || move.found > least+0.1 {
			t.Errorf("%s are %.3f s late; want %.3f to %.3f", move.name, move.found, least, least+0.1)
		}
	}
	if x.Lift.Missed+x.Drop.Missed+x.Lift.Spurious+x.Drop.Spurious > 0 || x.Outside.Damaged > 0 {
		t.Errorf("missed, spurious or damaged: %+v %+v %+v", x.Lift, x.Drop, x.Outside)
	}
}

// busy keeps the processors busy with n loops, until stop.
func busy(load *sync.WaitGroup, n int) (stop func()) {
	var stopped atomic.Bool
	for range n {
		load.Go(func() {
			for !stopped.Load() {
			}
		})
	}
	return func() { stopped.Store(true) }
}

// Twenty runs beside each other and beside busy loops: twenty equal results.
func TestLockstepUnderLoad(t *testing.T) {
	naive, s := controller(t, "c"), straightLog(t)
	var load, runs sync.WaitGroup
	stop := busy(&load, campaign.Times(2, 4, 20))
	times := campaign.Times(4, 20, 20)
	results := make([]string, times)
	for i := range times {
		runs.Go(func() {
			out := fmt.Sprintf("run%d", i)
			status, _, stderr := command("", s.inLockstep(naive, out)...)
			if status != 0 {
				results[i] = stderr
				return
			}
			data, err := os.ReadFile(filepath.Join(s.dir, out, "events.csv"))
			results[i] = fmt.Sprint(err, string(data))
		})
	}
	runs.Wait()
	stop()
	load.Wait()
	for i := range results {
		if results[i] != results[0] || len(results[i]) < 1000 {
			t.Errorf("run %d of %d is another: %.300s", i+1, times, results[i])
		}
	}
}

// The same in real time, one after the other: how far apart, which is the reason for
// lockstep.
func TestRealTimeSpread(t *testing.T) {
	onTheClock(t)
	if !campaign.Full() {
		t.Skip("a figure to be read, of 20 s a drive: set LIFTBENCH_CAMPAIGN=full")
	}
	naive, s := controller(t, "c"), straightLog(t)
	const times = 20
	var load sync.WaitGroup
	defer busy(&load, times)()
	least, most := math.Inf(1), math.Inf(-1)
	for i := range times {
		out := fmt.Sprintf("paced%d", i)
		args := s.inLockstep(naive, out)
		status, _, stderr := command("", append([]string{"bench"}, args[2:]...)...)
		if status != 0 {
			t.Fatal(stderr)
		}
		x := readSummary(t, filepath.Join(s.dir, out))
		least, most = min(least, x.Lift.TimeErrorS.Mean), max(most, x.Lift.TimeErrorS.Mean)
	}
	t.Logf("%d drives in real time: mean lift error from %.2f to %.2f ms", times, least*1e3, most*1e3)
}

// However a controller fails, the bench ends by itself, says at which instant, and keeps
// what the controller said on its standard error.
func TestControllersThatFail(t *testing.T) {
	s := straightLog(t)
	ready := `while read -r l; do [ "$l" = start ] && echo ready 1 && break; done; `
	for name, c := range map[string]struct{ command, want string }{
		"is not there":    {"./no-such-controller", `no-such-controller: ended without an answer to the job; expected ready 1; it said last: .*not found`},
		"crashes":         {ready + "read -r l; echo it broke >&2; exit 3", `ended without an answer for 2030-03-17T17:46:\d\d\.\d{3}Z; it said last: it broke`},
		"hangs":           {ready + "sleep 60", `gave no answer for 2030-03-17T17:46:\d\d\.\d{3}Z within 300ms`},
		"is killed":       {ready + "read -r l; kill -9 $$", `ended without an answer for 2030-03-17T17:46:\d\d\.\d{3}Z`},
		"floods":          {ready + "exec yes", `said more than 10000 lines at 2030-03-17T17:46:\d\d\.\d{3}Z`},
		"floods one line": {ready + "exec tr '\\0' x </dev/zero", `(gave no answer|ended without an answer) for 2030-`},
		"says rubbish":    {ready + `while read -r l; do case $l in now*) n=${l#now };; turn) echo blah; echo done $n;; esac; done`, `no setpoint in the whole drive, but "blah"; expected setpoints as`},
		"hears nothing":   {"sleep 60 </dev/null", `gave no answer to the job; expected ready 1|within 300ms`},
		"does not end":    {ready + `trap '' TERM; while read -r l; do case $l in now*) n=${l#now };; turn) echo done $n;; esac; done; while :; do sleep 1; done`, `killed after the drive`},
		"answers twice":   {ready + `while read -r l; do case $l in now*) n=${l#now };; turn) echo done 5.000000000; echo done $n;; esac; done`, ``},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			args := append(s.inLockstep(c.command, strings.ReplaceAll(name, " ", "-")), "--answer-within", "300ms")
			begun := time.Now()
			status, stdout, stderr := command("", args...)
			if took := time.Since(begun); took > 30*time.Second {
				t.Errorf("it took %s", took)
			}
			switch {
			case name == "does not end" && (status != 0 || !strings.Contains(stderr, c.want)):
				t.Errorf("exit status %d: %s", status, stderr)
			case name == "answers twice" && (status != 0 || !regexp.MustCompile(`[1-9]\d* answers to an instant that was over`).MatchString(stdout)):
				t.Errorf("exit status %d: %s%s", status, stdout, stderr)
			case name != "does not end" && name != "answers twice" && (status != 2 || !regexp.MustCompile(c.want).MatchString(stderr)):
				t.Errorf("exit status %d: %s\nwant %s", status, stderr, c.want)
			}
			if name == "crashes" {
				if said := string(readFile(t, s.dir, "crashes", "controller.txt")); said != "it broke\n" {
					t.Errorf("controller.txt: %q", said)
				}
			}
		})
	}
}
