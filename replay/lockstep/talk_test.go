// Talks with controllers that are played by the test.

package lockstep

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"liftbench/nmea"
	"liftbench/replay/wire"
	"liftbench/sections"
)

const second = int64(1_936_000_000e9)

// peer is a controller that answers each turn with what answer returns: the
// instant and the sentences of the turn are handed to it.
func peer(t *testing.T, sections int, within time.Duration, answer func(now string, said []string) string) *Talk {
	t.Helper()
	hear, say := io.Pipe()
	in, out := io.Pipe()
	cut := func() {
		say.CloseWithError(io.ErrClosedPipe)
		in.CloseWithError(io.ErrClosedPipe)
	}
	t.Cleanup(cut)
	go func() {
		now, said := "", []string(nil)
		for sc := bufio.NewScanner(hear); sc.Scan(); {
			switch line := sc.Text(); {
			case strings.HasPrefix(line, "now "):
				now, said = line[4:], nil
			case strings.HasPrefix(line, "$"):
				said = append(said, line)
			case line == "turn":
				a := answer(now, said)
				if a == "end" {
					out.Close()
					return
				}
				io.WriteString(out, a)
			}
		}
	}()
	return New(in, say, sections, within, cut)
}

func TestTurns(t *testing.T) {
	json := func(dueNs int64, section int16, on bool) string {
		return string(wire.AppendJSON(nil, &sections.Setpoint{DueNs: dueNs, Section: section, On: on}))
	}
	line := func(dueNs int64, n int, on ...int) string {
		s := wire.NewState(n)
		s.DueNs = dueNs
		for _, i := range on {
			s.Set(i, true)
		}
		return string(wire.AppendLine(nil, &s))
	}
	frame := func(n int, on ...int) string {
		s := wire.NewState(n)
		for _, i := range on {
			s.Set(i, true)
		}
		return string(wire.AppendCandump(nil, "can0", &s))
	}
	const now = second + 123
	at := func(ns int64, section int16, on bool) sections.Setpoint {
		return sections.Setpoint{DueNs: ns, Section: section, On: on}
	}
	type want struct {
		told                   []sections.Setpoint
		lines, damaged, tooFar int64
		after                  int
		stale                  int64
	}
	done := string(wire.AppendDone(nil, now))
	for name, tc := range map[string]struct {
		answer string
		want
	}{
		"nothing":                     {done, want{}},
		"one setpoint":                {json(now+5, 1, true) + done, want{told: []sections.Setpoint{at(now+5, 1, true)}, lines: 1}},
		"a state in microseconds":     {line(now, 3, 0, 2) + done, want{told: []sections.Setpoint{at(now, 0, true), at(now, 2, true)}, lines: 1}},
		"a state that is known":       {line(now, 3, 0) + line(now+5000, 3, 0) + done, want{told: []sections.Setpoint{at(now, 0, true)}, lines: 2}},
		"a frame":                     {frame(3, 1) + done, want{told: []sections.Setpoint{at(now, 1, true)}, lines: 1}},
		"for the past":                {json(now-7, 0, true) + done, want{told: []sections.Setpoint{at(now, 0, true)}, lines: 1, after: 1}},
		"too far ahead":               {json(now+FarthestNs+1, 0, true) + done, want{lines: 1, tooFar: 1}},
		"as far ahead as may be":      {json(now+FarthestNs, 0, true) + done, want{told: []sections.Setpoint{at(now+FarthestNs, 0, true)}, lines: 1}},
		"an answer that is over":      {string(wire.AppendDone(nil, now-1)) + json(now, 0, true) + done, want{told: []sections.Setpoint{at(now, 0, true)}, lines: 1, stale: 1}},
		"another number of sections":  {line(now, 4, 0) + done, want{damaged: 1}},
		"a section that is not there": {json(now, 3, true) + done, want{damaged: 1}},
		"rubbish":                     {"\x00\xff\n\nhello\n" + done, want{damaged: 3}},
		"a line without end":          {strings.Repeat("x", 3*lineBytes) + "\n" + done, want{damaged: 1}},
		"ready again":                 {"ready 1\n" + done, want{damaged: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			talk := peer(t, 3, time.Minute, func(string, []string) string { return tc.answer })
			told := talk.Tick(now, nil)
			if err := talk.Err(); err != nil {
				t.Fatal(err)
			}
			c := &talk.Counts
			got := want{told, c.Lines, c.Damaged, c.TooFar, c.After, c.StaleDone}
			if fmt.Sprint(got) != fmt.Sprint(tc.want) {
				t.Errorf("%+v; want %+v; notes %v", got, tc.want, c.Notes)
			}
		})
	}
}

// A controller that says it is quiet is not asked before, unless a position
// comes.
func TestQuiet(t *testing.T) {
	var asked []string
	talk := peer(t, 1, time.Minute, func(now string, said []string) string {
		asked = append(asked, fmt.Sprintf("%s %d", now[len(now)-10:], len(said)))
		return string(wire.AppendDone(nil, second+200e6))
	})
	talk.Tick(second, nil)
	talk.Tick(second+50e6, nil)
	s := nmea.Sentence{Type: nmea.GGA, TimeOfDayNs: nmea.TimeOfDayNs(second + 60e6)}
	talk.Sentence([]byte("$GPGGA"), &s, nil)
	talk.Epoch(&nmea.Fix{TimeNs: second + 60e6})
	talk.FixAt(nil, 0, 0)
	talk.Tick(second+100e6, nil)
	talk.Tick(second+150e6, nil)
	talk.Tick(second+200e6, nil)
	if got := strings.Join(asked, ", "); got != ".000000000 0, .100000000 1, .200000000 0" || talk.QuietTicks != 2 {
		t.Errorf("asked at %s; %d quiet ticks", got, talk.QuietTicks)
	}
}

// The sentence that showed that an epoch was complete belongs to the next one:
// nothing that is still to come is said.
func TestNothingFromTheFuture(t *testing.T) {
	var said [][]string
	talk := peer(t, 1, time.Minute, func(now string, s []string) string {
		said = append(said, s)
		return "done " + now + "\n"
	})
	sentence := func(name string, ms int64) {
		s := nmea.Sentence{Type: nmea.GGA, TimeOfDayNs: nmea.TimeOfDayNs(second + ms*1e6)}
		talk.Sentence([]byte(name), &s, nil)
	}
	turn := func(ms int64) {
		f := nmea.Fix{TimeNs: second + ms*1e6}
		talk.FixAt(&f, 0, 0)
		talk.Tick(f.TimeNs+50e6, nil)
	}
	sentence("$A0", 0)
	sentence("$B0", 0)
	sentence("$A1", 100)
	talk.Epoch(&nmea.Fix{TimeNs: second})
	turn(0)
	sentence("$B1", 100)
	sentence("$A2", 200)
	talk.Epoch(&nmea.Fix{TimeNs: second + 100e6})
	sentence("$B2", 200) // the second fix waits for its date while the third is read
	talk.Epoch(&nmea.Fix{TimeNs: second + 200e6})
	turn(100)
	turn(200)
	if got := fmt.Sprint(said); got != "[[$A0 $B0] [$A1 $B1] [$A2 $B2]]" {
		t.Error(got)
	}
}

// However a talk ends, it says at which instant, and nothing more is asked.
func TestEnds(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		within     time.Duration
		answer     func(string, []string) string
	}{
		{"silent", "gave no answer for 2031-05-08T09:46:40.000Z within 20ms", 20 * time.Millisecond, func(string, []string) string { return "" }},
		{"gone", "ended without an answer for 2031-05-08T09:46:40.000Z", time.Minute, func(string, []string) string { return "end" }},
		{"flood", "said more than 10000 lines at 2031-05-08T09:46:40.000Z", time.Minute, func(string, []string) string { return strings.Repeat("x\n", MaxTurnLines+2) }},
		{"endless line", "within 50ms", 50 * time.Millisecond, func(string, []string) string { return strings.Repeat("x", 1<<20) }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			talk := peer(t, 1, tc.within, tc.answer)
			talk.Tick(second, nil)
			err := talk.Err()
			if !errors.Is(err, ErrEnded) || !strings.Contains(err.Error(), tc.want) {
				t.Fatalf("%v; want %q", err, tc.want)
			}
			if turns := talk.Turns; talk.Tick(second+1e9, nil) != nil || talk.Turns != turns {
				t.Error("asked again")
			}
		})
	}
}

// A turn of a controller that has nothing to say allocates nothing.
func TestTurnAllocates(t *testing.T) {
	in, out := io.Pipe()
	defer out.Close()
	done := wire.AppendDone(nil, second)
	go func() {
		for {
			if _, err := out.Write(done); err != nil {
				return
			}
		}
	}()
	talk := New(in, io.Discard, 24, time.Minute, func() {})
	s := nmea.Sentence{Type: nmea.GGA, TimeOfDayNs: nmea.TimeOfDayNs(second)}
	raw := []byte("$GPGGA,094640.000,5225.0000000,N,01056.0000000,E,4,16,0.7,80.0,M,45.0,M,1.0,0001*44")
	f := nmea.Fix{TimeNs: second}
	told := make([]sections.Setpoint, 0, 24)
	if n := testing.AllocsPerRun(200, func() {
		talk.Sentence(raw, &s, nil)
		talk.Epoch(&f)
		talk.FixAt(&f, 0, 0)
		talk.Tick(second, told)
	}); n != 0 || talk.Err() != nil {
		t.Errorf("%v allocations; %v", n, talk.Err())
	}
}
