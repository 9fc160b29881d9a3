// A saved state that is not this run's: it is refused by name, and everything is lifted.

package main

import (
	"bytes"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"liftbench/replay/wire"
	"liftbench/sim/receiver"
)

// TestStateRefused: live is killed (kill -9) while all sections work. The runs after it
// find its state as it was left, cut short, old, of another machine, of another version
// of the program, or something else under its name. Each says which, its first line lifts
// every section, and none drops for the second that follows, though the machine drives
// where all work. Then they go on, or begin anew.
func TestStateRefused(t *testing.T) {
	onTheClock(t)
	const killedS, againS, endS = 4.5, 5.0, 9.0
	s := newStraight(t, 6, "200", "300", 0, band{0, 90, 0}) // in work from 2.4 s on
	state := filepath.Join(s.dir, "state.json")
	before := s.live(t, state)
	s = newStraightAgain(s, soon())
	epochs := s.epochs(t, receiver.Params{SigmaM: 0.005, Seed: 1})
	part := func(from, to float64) (out []burst) {
		for _, e := range epochs {
			if e.timeNs >= s.at(from) && e.timeNs < s.at(to) {
				out = append(out, e)
			}
		}
		return out
	}
	feed(before.to, part(0, killedS))
	before.p.cmd.Process.Kill()
	left, err := os.ReadFile(state)
	if err != nil {
		t.Fatal(err)
	}
	alter := func(key string, value any) []byte {
		t.Helper()
		var x map[string]any
		if err := json.Unmarshal(left, &x); err != nil {
			t.Fatal(err)
		}
		if _, ok := x[key]; !ok {
			t.Fatalf("no %s in the state: %s", key, left)
		}
		x[key] = value
		text, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	whole := bytes.TrimSpace(left)
	cases := []struct {
		name string
		text []byte
		want string // why it is refused; "" = it is not
		run  *liveRun
	}{
		{name: "as it was left", text: left},
		{name: "cut short after a byte", text: left[:1], want: "it is cut short, after 1 bytes"},
		{name: "cut short in the middle", text: left[:len(left)/2], want: "it is cut short"},
		{name: "cut short by a byte", text: whole[:len(whole)-1], want: "it is cut short"},
		{name: "empty", want: "it is empty"},
		{name: "old", text: alter("saved", time.Now().Add(-time.Hour).UTC().Format(time.RFC3339Nano)), want: "it is 360"},
		{name: "of another machine", text: alter("setup", "of another hoe"), want: "it is of another machine, field or settings"},
		{name: "of an earlier version", text: alter("controller_version", "10.4.0"), want: `of another version of the program, whose controller's state is "10.4.0"`},
		{name: "of another form", text: alter("format", "liftbench live state 1"), want: `format "liftbench live state 1"`},
		{name: "a program", text: []byte("\x7fELF\x02\x01\x01"), want: "invalid character"},
	}
	for i := range cases {
		path := filepath.Join(t.TempDir(), "state.json")
		if err := os.WriteFile(path, cases[i].text, 0o644); err != nil {
			t.Fatal(err)
		}
		cases[i].run = s.live(t, path)
	}
	var fed sync.WaitGroup
	for i := range cases {
		fed.Go(func() { feed(cases[i].run.to, part(againS, endS)) })
	}
	fed.Wait()
	for _, c := range cases {
		said := c.run.p.stderr.String()
		if !strings.Contains(said, "state.json: the last run was cut off") || !strings.Contains(said, c.want) || strings.Contains(said, "its controller goes on") != (c.want == "") {
			t.Errorf("%s: live says %q; want %q", c.name, said, c.want)
		}
		lines, at := c.run.p.stdout.lines()
		worked := 0
		for i, line := range lines {
			var x wire.State
			if err := wire.ParseLine(line, &x); err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			for k := range x.Sections {
				if !x.On(k) {
					continue
				}
				if worked++; at[i].Sub(at[0]) < 900*time.Millisecond {
					t.Errorf("%s: section %d is down %v after the first line", c.name, k+1, at[i].Sub(at[0]))
				}
			}
		}
		if len(lines) < 10 || worked == 0 {
			t.Errorf("%s: %d lines, none of which drops; want the work to go on: %s", c.name, len(lines), said)
		}
	}
}

// liveRun is live with a receiver that the test plays.
type liveRun struct {
	p  *process
	to net.Conn
}

// live starts it on the drive's machine and field, and waits until it listens to its
// receiver.
func (s *straight) live(t *testing.T, state string) *liveRun {
	t.Helper()
	gps, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer gps.Close()
	r := &liveRun{p: start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", "tcp:"+gps.Addr().String(), "--out", "line=-", "--state", state)}
	if err := gps.(*net.TCPListener).SetDeadline(time.Now().Add(30 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if r.to, err = gps.Accept(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.to.Close() })
	return r
}
