//go:build linux

// What a receiver of setpoints does when live can no longer speak: it lifts by
// itself. The listener here is written from replay/wire/README.md alone and shares
// no code with that package.

package main

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"liftbench/sim/receiver"
)

// listenerPatience is the timeout that replay/wire/README.md states.
const listenerPatience = 2500 * time.Millisecond

// listener holds what it was last told, until it hears nothing new for too long.
type listener struct {
	mu     sync.Mutex
	inWork int
	seq    string // of the newest line
	marks  []mark
	allUp  []time.Time // when lines came that tell every section to be up
}

// mark is a change of how many sections are in work.
type mark struct {
	at     time.Time
	inWork int
	why    string
}

// change notes how many sections work from now on.
func (l *listener) change(n int, why string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if n != l.inWork {
		l.inWork = n
		l.marks = append(l.marks, mark{time.Now(), n, why})
	}
}

// take takes a line, and reports whether it counts: whole, and newer than the one
// before.
func (l *listener) take(line string) bool {
	body, sum, ok := strings.Cut(strings.TrimPrefix(strings.TrimRight(line, "\r\n"), "$"), "*")
	x := byte(0)
	for i := range len(body) {
		x ^= body[i]
	}
	fields := strings.Split(body, ",")
	if want, err := strconv.ParseUint(sum, 16, 8); !ok || err != nil || byte(want) != x || fields[0] != "PLBS" || len(fields) < 5 {
		return false
	}
	l.mu.Lock()
	again := fields[1] == l.seq
	l.seq = fields[1]
	l.mu.Unlock()
	if again {
		return false
	}
	n := 0
	for _, word := range fields[4:] {
		bits, err := strconv.ParseUint(word, 16, 32)
		if err != nil {
			return false
		}
		for ; bits != 0; bits >>= 2 {
			if bits&3 == 1 {
				n++
			}
		}
	}
	if n == 0 {
		l.mu.Lock()
		l.allUp = append(l.allUp, time.Now())
		l.mu.Unlock()
	}
	l.change(n, "told")
	return true
}

// datagrams listens on a socket, as a receiver on a bus or a serial line does that
// does not notice when the other side ends.
func (l *listener) datagrams(c net.PacketConn) {
	buf := make([]byte, 2000)
	heard := time.Now()
	for {
		c.SetReadDeadline(heard.Add(listenerPatience))
		n, _, err := c.ReadFrom(buf)
		switch {
		case err == nil && l.take(string(buf[:n])):
			heard = time.Now()
		case err == nil:
		case os.IsTimeout(err):
			l.change(0, "silence")
			heard = time.Now()
		default:
			return
		}
	}
}

// connection listens on a connection, which ends with the other side.
func (l *listener) connection(addr string) {
	for {
		c, err := net.Dial("tcp", addr)
		if err != nil {
			time.Sleep(20 * time.Millisecond)
			if l.stopped() {
				return
			}
			continue
		}
		var text []byte
		buf := make([]byte, 2000)
		heard := time.Now()
		for {
			c.SetReadDeadline(heard.Add(listenerPatience))
			n, err := c.Read(buf)
			text = append(text, buf[:n]...)
			for {
				line, rest, ok := bytes.Cut(text, []byte("\n"))
				if !ok {
					break
				}
				if text = rest; l.take(string(line)) {
					heard = time.Now()
				}
			}
			if err != nil {
				l.change(0, map[bool]string{true: "silence", false: "hung up"}[os.IsTimeout(err)])
				break
			}
		}
		c.Close()
		if l.stopped() {
			return
		}
	}
}

func (l *listener) stopped() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.seq == "stop"
}

func (l *listener) stop() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.seq = "stop"
}

// after returns the first change after an instant to all up, or to sections in
// work.
func (l *listener) after(at time.Time, inWork bool) (mark, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	i := slices.IndexFunc(l.marks, func(m mark) bool { return m.at.After(at) && (m.inWork > 0) == inWork })
	if i < 0 {
		return mark{}, false
	}
	return l.marks[i], true
}

// told returns when the first line came after an instant that tells every section to be up.
func (l *listener) told(at time.Time) (time.Time, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	i := slices.IndexFunc(l.allUp, at.Before)
	if i < 0 {
		return time.Time{}, false
	}
	return l.allUp[i], true
}

// supervisor starts live, hears whether it is well and, if not, ends it and starts
// it again, as systemd does with the unit of replay/live/README.md.
type supervisor struct {
	t       *testing.T
	program string
	args    []string
	env     []string
	socket  *net.UnixConn
	// Of the unit.
	watchdog, abort, restart time.Duration

	mu     sync.Mutex
	cmd    *exec.Cmd
	ready  int // times that live said it
	well   int
	killed int // times that it had to
	over   bool
	said   chunks
}

// run runs until stop is called.
func (s *supervisor) run() {
	words := make(chan string, 100)
	go func() {
		buf := make([]byte, 2000)
		for {
			n, err := s.socket.Read(buf)
			if err != nil {
				close(words)
				return
			}
			words <- string(buf[:n])
		}
	}()
	for first := true; ; first = false {
		cmd := exec.Command(s.program, s.args...)
		cmd.Env = append(os.Environ(), "NOTIFY_SOCKET="+s.socket.LocalAddr().String(), fmt.Sprintf("WATCHDOG_USEC=%d", s.watchdog.Microseconds()))
		if first {
			cmd.Env = append(cmd.Env, s.env...)
		}
		cmd.Stdout, cmd.Stderr = &s.said, &s.said
		if err := cmd.Start(); err != nil {
			s.t.Error(err)
			return
		}
		s.mu.Lock()
		s.cmd = cmd
		s.mu.Unlock()
		ended := make(chan struct{})
		go func() {
			cmd.Wait()
			close(ended)
		}()
		timer := time.NewTimer(10 * time.Second) // to get ready
		for alive := true; alive; {
			select {
			case <-ended:
				alive = false
			case word := <-words:
				s.mu.Lock()
				switch word {
				case "READY=1":
					s.ready++
					timer.Reset(s.watchdog)
				case "WATCHDOG=1":
					s.well++
					timer.Reset(s.watchdog)
				}
				s.mu.Unlock()
			case <-timer.C:
				s.mu.Lock()
				s.killed++
				s.mu.Unlock()
				cmd.Process.Signal(syscall.SIGABRT)
				select {
				case <-ended:
				case <-time.After(s.abort):
					cmd.Process.Kill()
					<-ended
				}
				alive = false
			}
		}
		timer.Stop()
		s.mu.Lock()
		over := s.over
		s.mu.Unlock()
		if over {
			return
		}
		time.Sleep(s.restart)
	}
}

// now returns the process that runs.
func (s *supervisor) now() *exec.Cmd {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.cmd
}

func (s *supervisor) stop() {
	s.mu.Lock()
	s.over = true
	cmd := s.cmd
	s.mu.Unlock()
	cmd.Process.Signal(syscall.SIGTERM)
}

// TestListenerLifts: live is ended in the ways that it cannot see, with nobody to
// start it again, or with a supervisor. The listeners lift within the stated time,
// and the work goes on where live does.
func TestListenerLifts(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	program := buildInjected(t)
	type lifted struct {
		name             string
		alone            bool // nobody starts it again
		hangs            bool // the supervisor has to end it
		inject           string
		end              func(*exec.Cmd)
		connected, other listener
		state            string
		cutS             float64
		cutAt            time.Time
		s                *straight
		sup              *supervisor
		when             string
	}
	kill := func(c *exec.Cmd) { c.Process.Kill() }
	stop := func(c *exec.Cmd) { c.Process.Signal(syscall.SIGSTOP) }
	cases := []*lifted{
		{name: "kill -9, nobody starts it again", alone: true, end: kill},
		{name: "SIGSTOP, nobody notices", alone: true, end: stop},
		{name: "kill -9", end: kill},
		{name: "SIGSTOP", end: stop, hangs: true},
		{name: "main loop hangs", inject: "hang:main loop", hangs: true},
		{name: "ticks hang", inject: "hang:ticks", hangs: true},
		{name: "fatal error of the runtime", inject: "fatal:main loop"},
	}
	var started []chan net.Conn
	for _, c := range cases {
		c.s = newStraight(t, 6, "200", "300", 0)
		c.state, c.when = filepath.Join(c.s.dir, "state.json"), filepath.Join(c.s.dir, "now")
		gps, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		udp, err := net.ListenPacket("udp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(c.s.dir, "notify"), Net: "unixgram"})
		if err != nil {
			t.Fatal(err)
		}
		out := freePort(t)
		c.sup = &supervisor{t: t, program: program, socket: socket, watchdog: 2 * time.Second, abort: 500 * time.Millisecond, restart: 100 * time.Millisecond,
			env: []string{injectVariable + "=" + c.inject, injectWhenVariable + "=" + c.when},
			args: []string{"live", "--machine", c.s.machine, "--field", c.s.field, "--in", "tcp:" + gps.Addr().String(),
				"--out", "line=tcp-listen:127.0.0.1:" + out, "--out", "line=udp:" + udp.LocalAddr().String(), "--state", c.state}}
		c.sup.over = c.alone
		if c.alone {
			c.sup.watchdog = time.Hour
		}
		conns := make(chan net.Conn, 10)
		started = append(started, conns)
		go func() {
			for {
				conn, err := gps.Accept()
				if err != nil {
					return
				}
				conns <- conn
			}
		}()
		go c.sup.run()
		go c.connected.connection("127.0.0.1:" + out)
		go c.other.datagrams(udp)
		t.Cleanup(func() {
			c.sup.stop()
			c.sup.now().Process.Kill()
			c.connected.stop()
			gps.Close()
			udp.Close()
			socket.Close()
		})
	}
	lines := make([]net.Conn, len(cases))
	for i, conns := range started {
		select {
		case lines[i] = <-conns:
		case <-time.After(30 * time.Second):
			t.Fatalf("%s: live does not connect: %s", cases[i].name, cases[i].sup.said.String())
		}
	}
	startNs := soon()
	const endS = 15.0 // the long zone is in work from 6.7 s to 16.7 s
	var drives sync.WaitGroup
	for i, c := range cases {
		c.s, c.cutS = newStraightAgain(c.s, startNs), 8+0.15*float64(i)
		epochs := c.s.epochs(t, receiver.Params{SigmaM: 0.005, Seed: 1})
		drives.Go(func() {
			for _, e := range epochs {
				if e.timeNs > c.s.at(endS) {
					return
				}
				time.Sleep(time.Until(time.Unix(0, e.arrivalNs)))
				select {
				case lines[i] = <-started[i]:
				default:
				}
				lines[i].SetWriteDeadline(time.Now().Add(50 * time.Millisecond))
				lines[i].Write(e.text) // whoever is gone comes back, or does not
			}
		})
		drives.Go(func() {
			time.Sleep(time.Until(time.Unix(0, c.s.at(c.cutS))))
			c.cutAt = time.Now()
			if c.inject != "" {
				if err := os.WriteFile(c.when, nil, 0o644); err != nil {
					t.Error(err)
				}
				return
			}
			c.end(c.sup.now())
		})
	}
	drives.Wait()
	for _, c := range cases {
		row := fmt.Sprintf("%-32s", c.name)
		for _, x := range []struct {
			how string
			l   *listener
		}{{"by a connection", &c.connected}, {"by datagrams", &c.other}} {
			up, ok := x.l.after(c.cutAt, false)
			if !ok {
				t.Errorf("%s, %s: not lifted by the end: %v", c.name, x.how, x.l.marks)
				continue
			}
			took := up.at.Sub(c.cutAt)
			row += fmt.Sprintf(" | %s: up after %.2f s (%s)", x.how, took.Seconds(), up.why)
			if took > listenerPatience+200*time.Millisecond {
				t.Errorf("%s, %s: all up after %v; want %v at most", c.name, x.how, took, listenerPatience)
			}
			again, ok := x.l.after(up.at, true)
			if ok == c.alone {
				t.Errorf("%s, %s: in work again: %v; %v", c.name, x.how, ok, x.l.marks)
			}
			if ok {
				row += fmt.Sprintf(", in work again after %.2f s", again.at.Sub(c.cutAt).Seconds())
			}
			if n := len(x.l.marks); n > 5+6 && !c.alone {
				t.Errorf("%s, %s: %d changes: %v", c.name, x.how, n, x.l.marks)
			}
		}
		t.Log(row)
		if !c.alone {
			c.sup.mu.Lock()
			if c.sup.ready != 2 || c.sup.well < 10 || (c.sup.killed == 1) != c.hangs {
				t.Errorf("%s: ready %d times, well %d times, had to be ended %d times", c.name, c.sup.ready, c.sup.well, c.sup.killed)
			}
			c.sup.mu.Unlock()
			said := c.sup.said.String()
			if !strings.Contains(said, "state.json: the last run was cut off, 6 sections in work: all are lifted first; its controller goes on") {
				t.Errorf("%s: said %q", c.name, said)
			}
		}
		if _, err := os.Stat(c.state); err != nil {
			t.Errorf("%s: %v; want a file while live runs, and after it was cut off", c.name, err)
		}
	}
}
