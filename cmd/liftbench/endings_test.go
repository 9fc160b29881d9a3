//go:build linux

// However live ends, as far as a process can see its end, what is in work is
// lifted first.

package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"liftbench/replay/wire"
	"liftbench/sections"
	"liftbench/sim/receiver"
)

// fate is what becomes of live.
type fate string

const (
	lifts  fate = "lifts, then ends"
	goesOn fate = "goes on"
	dies   fate = "dies at once"
	stands fate = "stands still; once it may go on, lifts"
)

// ending is a way to end live, or to cut it off from who started it.
type ending struct {
	name   string
	signal syscall.Signal      // sent to it, 0: none
	inject string              // the fault that the program has, as injectVariable says it
	do     func(x *endingLive) // done to it besides
	full   bool                // standard output and error are on a full disk
	args   []string            // more arguments of live
	want   fate
}

// endingLive is one run of live that is to end.
type endingLive struct {
	*ending
	t        *testing.T
	s        *straight
	cmd      *exec.Cmd
	in       io.WriteCloser
	said     chunks
	heard    chunks     // by a peer
	pipes    []*os.File // our ends of standard output and error
	setpoint string     // file of the setpoints
	when     string     // file that brings the fault about
	port     string     // of the compact lines
	done     chan struct{}
}

// signalNames are those of Linux by number. 32 to 34 belong to C libraries; 35 and
// 64 are the first and last of the real-time signals that are left.
var signalNames = map[syscall.Signal]string{
	1: "SIGHUP", 2: "SIGINT", 3: "SIGQUIT", 4: "SIGILL", 5: "SIGTRAP", 6: "SIGABRT", 7: "SIGBUS", 8: "SIGFPE", 9: "SIGKILL",
	10: "SIGUSR1", 11: "SIGSEGV", 12: "SIGUSR2", 13: "SIGPIPE", 14: "SIGALRM", 15: "SIGTERM", 16: "SIGSTKFLT", 17: "SIGCHLD",
	18: "SIGCONT", 19: "SIGSTOP", 20: "SIGTSTP", 21: "SIGTTIN", 22: "SIGTTOU", 23: "SIGURG", 24: "SIGXCPU", 25: "SIGXFSZ",
	26: "SIGVTALRM", 27: "SIGPROF", 28: "SIGWINCH", 29: "SIGIO", 30: "SIGPWR", 31: "SIGSYS", 32: "32", 33: "33", 34: "34", 35: "35", 64: "64",
}

// endings are all of them.
func endings() []ending {
	var all []ending
	for n := syscall.Signal(1); n <= 64; n++ {
		name := signalNames[n]
		if name == "" {
			continue // those between the real-time signals are of one kind
		}
		want := goesOn
		switch n {
		case syscall.SIGHUP, syscall.SIGINT, syscall.SIGQUIT, syscall.SIGTERM, syscall.SIGABRT, syscall.SIGILL,
			syscall.SIGTRAP, syscall.SIGBUS, syscall.SIGFPE, syscall.SIGSEGV, syscall.SIGSYS, syscall.SIGSTKFLT:
			want = lifts
		case syscall.SIGKILL, 32, 34:
			want = dies
		case syscall.SIGSTOP:
			want = stands
		}
		all = append(all, ending{name: name, signal: n, want: want})
	}
	hangUp := func(x *endingLive) {
		for _, f := range x.pipes {
			f.Close()
		}
	}
	ask := func(path string) func(*endingLive) {
		return func(x *endingLive) { go func() { _, _ = http.Get(x.says("http://", "/metrics") + path) }() }
	}
	connect := func(x *endingLive) {
		if c := dial(x.t, "127.0.0.1:"+x.port); c != nil {
			c.Close()
		}
	}
	return append(all, []ending{
		{name: "standard output and error closed by their reader", do: hangUp, want: goesOn},
		{name: "standard output and error on a full disk", full: true, want: goesOn},
		{name: "standard input closed", do: func(x *endingLive) { x.in.Close() }, want: lifts},
		{name: "panic: the main loop", inject: "once:main loop", want: lifts},
		{name: "panic: the controller, each time it is called", inject: "ever:controller", want: lifts},
		{name: "panic: the ticks", inject: "once:ticks", want: lifts},
		{name: "panic: reading standard input", inject: "once:reading standard input", want: lifts},
		{name: "panic: reading a socket", inject: "once:reading a socket", do: func(x *endingLive) {
			c := dial(x.t, "127.0.0.1:"+x.port)
			fmt.Fprintln(c, "hello") // a port is heard even where nothing is expected
		}, want: lifts},
		{name: "panic: writing an output", inject: "once:writing an output", want: lifts},
		{name: "panic: accepting peers", inject: "once:accepting peers", do: connect, want: lifts},
		{name: "panic: recording", inject: "once:recording", args: []string{"--record", "day"}, want: lifts},
		{name: "panic: keeping the state", inject: "once:state file", want: lifts},
		{name: "panic: telling a supervisor", inject: "once:supervisor", want: lifts},
		{name: "panic: standard error", inject: "once:standard error", do: connect, want: lifts},
		{name: "panic: the status line", inject: "once:status line", want: lifts},
		{name: "panic: metrics that are scraped", inject: "once:metrics", do: ask("/metrics"), want: lifts},
		{name: "panic: the page that follows", inject: "once:page", want: lifts},
		{name: "panic: answering a request", inject: "ever:answering a request", do: ask("/readyz"), want: goesOn},
		{name: "out of memory", inject: "memory:main loop", do: func(x *endingLive) {
			// RLIMIT_AS of another process, by prlimit(2): what it has, and 200 MB more.
			limit := syscall.Rlimit{Cur: x.virtualBytes() + 200e6, Max: x.virtualBytes() + 200e6}
			if _, _, errno := syscall.RawSyscall6(syscall.SYS_PRLIMIT64, uintptr(x.cmd.Process.Pid), syscall.RLIMIT_AS,
				uintptr(unsafe.Pointer(&limit)), 0, 0, 0); errno != 0 {
				x.t.Error(errno)
			}
		}, want: dies},
		{name: "fatal error of the runtime", inject: "fatal:main loop", want: dies},
	}...)
}

// virtualBytes is the size of the process's address space (proc(5), statm).
func (x *endingLive) virtualBytes() uint64 {
	var pages uint64
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", x.cmd.Process.Pid))
	if err == nil {
		_, err = fmt.Sscan(string(data), &pages)
	}
	if err != nil {
		x.t.Error(err)
	}
	return pages * uint64(os.Getpagesize())
}

// TestLiveLiftsHoweverItEnds: live, as users build it, is ended in each way while
// the sections work on the first zone. The last compact line, and the last
// setpoint of each section, lift.
func TestLiveLiftsHoweverItEnds(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	program := buildInjected(t)
	list := endings()
	runs := make([]*endingLive, len(list))
	for i := range list {
		runs[i] = list[i].start(t, program)
	}
	for _, x := range runs {
		c := dial(t, "127.0.0.1:"+x.port)
		go func() { _, _ = io.Copy(&x.heard, c) }()
		for end := time.Now().Add(30 * time.Second); x.heard.String() == ""; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("%s: live does not begin: %s", x.name, x.said.String())
			}
		}
	}
	startNs := soon()
	var all sync.WaitGroup
	for _, x := range runs {
		x.s = newStraightAgain(x.s, startNs)
		all.Go(func() { x.drive(t) })
	}
	all.Wait()
	rows := map[fate][]string{}
	for _, x := range runs {
		rows[x.want] = append(rows[x.want], x.judge(t))
	}
	for _, f := range []fate{lifts, goesOn, dies, stands} {
		t.Logf("%s:\n%s", f, strings.Join(rows[f], "\n"))
	}
}

// At 6 m/s the bar, 2 m behind, is on the first zone from 3.3 to 5.3 s.
const cutS = 3.7

func (e *ending) start(t *testing.T, program string) *endingLive {
	t.Helper()
	x := &endingLive{t: t, ending: e, s: newStraight(t, 6, "200", "300", 0), port: freePort(t), done: make(chan struct{})}
	x.setpoint, x.when = filepath.Join(x.s.dir, "setpoints.jsonl"), filepath.Join(x.s.dir, "now")
	x.cmd = exec.Command(program, append([]string{"live", "--machine", x.s.machine, "--field", x.s.field, "--http", "127.0.0.1:0",
		"--state", "state.json", "--out", "json=file:" + x.setpoint, "--out", "json=-", "--out", "line=tcp-listen:127.0.0.1:" + x.port}, e.args...)...)
	// In a group of its own: where the group of a stopped process loses its parent, the kernel hangs it up and wakes it.
	x.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	x.cmd.Dir = x.s.dir
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(x.s.dir, "notify"), Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { socket.Close() })
	x.cmd.Env = append(os.Environ(), injectVariable+"="+e.inject, injectWhenVariable+"="+x.when,
		"NOTIFY_SOCKET="+socket.LocalAddr().String(), "WATCHDOG_USEC=2000000")
	if x.in, err = x.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	var theirs []*os.File
	for i := range 2 {
		var ours, their *os.File
		if e.full {
			their, err = os.OpenFile("/dev/full", os.O_WRONLY, 0)
		} else if ours, their, err = os.Pipe(); err == nil {
			x.pipes = append(x.pipes, ours)
			go func() { _, _ = ours.WriteTo([]io.Writer{io.Discard, &x.said}[i]) }()
		}
		if err != nil {
			t.Fatal(err)
		}
		theirs = append(theirs, their)
	}
	x.cmd.Stdout, x.cmd.Stderr = theirs[0], theirs[1]
	if err := x.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for _, f := range theirs {
		f.Close()
	}
	t.Cleanup(func() { x.cmd.Process.Kill(); <-x.done })
	go func() {
		x.cmd.Wait()
		close(x.done)
	}()
	return x
}

// says waits until standard error holds a text, and returns it with what
// follows up to another.
func (x *endingLive) says(from, to string) string {
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if _, rest, ok := strings.Cut(x.said.String(), from); ok {
			if word, _, ok := strings.Cut(rest, to); ok {
				return from + word
			}
		}
	}
	x.t.Errorf("%s: live does not say %q", x.name, from)
	return ""
}

// drive drives until the first zone is left, and ends live on the way.
func (x *endingLive) drive(t *testing.T) {
	epochs := x.s.epochs(t, receiver.Params{SigmaM: 0.005, Seed: 1})
	for len(epochs) > 0 && epochs[len(epochs)-1].timeNs > x.s.at(6) {
		epochs = epochs[:len(epochs)-1]
	}
	var fed sync.WaitGroup
	fed.Go(func() { feed(x.in, epochs) })
	time.Sleep(time.Until(time.Unix(0, x.s.at(cutS))))
	if x.inject != "" {
		if err := os.WriteFile(x.when, nil, 0o644); err != nil {
			t.Error(err)
		}
	}
	if x.do != nil {
		x.do(x)
	}
	if x.signal != 0 {
		if err := x.cmd.Process.Signal(x.signal); err != nil {
			t.Errorf("%s: %v", x.name, err)
		}
	}
	if x.want == stands {
		time.Sleep(2 * time.Second)
		if err := x.cmd.Process.Signal(syscall.SIGCONT); err != nil {
			t.Error(err)
		}
	}
	fed.Wait()
	time.Sleep(200 * time.Millisecond)
	x.in.Close()
	select {
	case <-x.done:
	case <-time.After(20 * time.Second):
		t.Errorf("%s: live still runs, 20 s after the end of its input: %s", x.name, x.said.String())
		x.cmd.Process.Kill()
		<-x.done
	}
}

// judge holds what came over the wire against what had to, and returns a row that
// says it.
func (x *endingLive) judge(t *testing.T) string {
	t.Helper()
	inWork := func(s *wire.State) (n int) {
		for i := range s.Sections {
			if s.On(i) {
				n++
			}
		}
		return n
	}
	lines, at := x.heard.lines()
	last, most, after := 0, 0, 0.0
	for i, line := range lines {
		var s wire.State
		if err := wire.ParseLine(line, &s); err != nil {
			t.Errorf("%s: %v", x.name, err)
		}
		n := inWork(&s)
		if n == 0 && last > 0 && after == 0 {
			after = at[i].Sub(time.Unix(0, x.s.at(cutS))).Seconds()
		}
		most, last = max(most, n), n
	}
	row := fmt.Sprintf("%-52s %d in work", x.name, last)
	if last == 0 {
		row += fmt.Sprintf(", after %.2f s", after)
	}
	data, err := os.ReadFile(x.setpoint)
	if err != nil {
		t.Fatal(err)
	}
	setpoints := readSetpoints(t, bytes.Split(bytes.TrimSpace(data), []byte("\n")))
	stayed, byReason := 0, map[sections.Reason]int{}
	for _, w := range works(setpoints) {
		if w.tillNs == math.MaxInt64 {
			stayed++
		}
	}
	for _, s := range setpoints {
		if !s.On {
			byReason[s.Reason]++
		}
	}
	status := x.cmd.ProcessState.ExitCode()
	row += fmt.Sprintf(", exit status %d", status)
	wrong := func(format string, args ...any) {
		t.Errorf("%s: %s\n%s\n%s", row, fmt.Sprintf(format, args...), data, x.said.String())
	}
	if _, err := os.Stat(filepath.Join(x.s.dir, "state.json")); (err == nil) != (x.want == dies) {
		wrong("state: %v; want it to be left where something was left in work, and gone otherwise", err)
	}
	if most != 6 {
		wrong("%d sections were in work at most; want 6", most)
	}
	if (last != 0 || stayed != 0) != (x.want == dies) {
		wrong("want %s; %d sections stayed in work by the setpoints", x.want, stayed)
	}
	switch x.want {
	case lifts:
		if after > 1.2 || byReason[sections.HeldUp] != 6 { // the page is made once a second
			wrong("want all lifted at once, as live ended: lifts by reason %v", byReason)
		}
		if panicked := strings.Contains(x.said.String(), "panic: injected"); panicked != (x.inject != "") || panicked != (status != 0) {
			wrong("want the fault said, and a status of no success, where there is one")
		}
	case goesOn:
		if byReason[sections.AtBorder] != 6 {
			wrong("want all lifted at the border: lifts by reason %v", byReason)
		}
	case stands:
		if after < 2 || after > 2.5 {
			wrong("want all lifted as soon as live may go on, after 2 s")
		}
	}
	return row
}
