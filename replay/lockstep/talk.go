// A talk with one controller over one drive: turn by turn, within limits.

package lockstep

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"liftbench/nmea"
	"liftbench/replay/crash"
	"liftbench/replay/wire"
	"liftbench/sections"
)

// FarthestNs is the farthest instant ahead at which a setpoint is executed, the
// longest lead.
const FarthestNs = sections.MaxLeadNs

// Limits of what a controller may say.
const (
	MaxTurnLines = 10_000  // in one turn
	MaxChanges   = 500_000 // of sections in a drive: ten times those of a day of ten hours with 24 sections
	lineBytes    = 2048    // of one line: 256 sections take 150
	maxNotes     = 5       // different things that are wrong with lines
)

// ErrEnded is wrapped by what Err returns: the controller is no longer asked.
var ErrEnded = errors.New("the controller under test")

// Counts is what came from a controller.
type Counts struct {
	Turns      int64
	Lines      int64 // with setpoints
	Damaged    int64 // that could not be read
	Notes      []Note
	StaleDone  int64 // "done" for an instant before the one asked for
	After      int   // setpoints for an instant that had passed
	AfterNs    int64 // by how much at most
	TooFar     int64 // setpoints for an instant beyond FarthestNs, not executed
	Setpoints  []sections.Setpoint
	ArrivedNs  []int64 // when each was said, by the bench's clock
	AheadNs    []int64 // the instant named less that of the turn, of each line that changed something
	QuietTicks int64   // not asked, as the controller had said that it is quiet
}

// Note is one thing that was wrong with lines.
type Note struct {
	What  string
	Lines int64
}

// Talk speaks with a controller. It is a sim.Outsider.
type Talk struct {
	Counts
	w        io.Writer
	r        *bufio.Reader
	within   time.Duration
	watch    *time.Timer
	timedOut atomic.Bool
	err      error

	on     []bool
	out    []byte
	answer wire.Answer
	quiet  int64 // nothing is asked before, unless sentences come

	// Sentences that have been read and not been said: those of epochs whose fix has
	// not been given yet, whose ends in said stand in ends, and after the last
	// of them the beginning of the next.
	said    []byte
	ends    []int
	timed   []timed
	arrived int // how many bytes of said the next turn brings
}

// timed is a sentence with a time of day, and where it begins in said.
type timed struct {
	at    int
	todNs int64
}

// New returns a Talk with a controller of the job's machine. within is how long
// an answer may take, by the host's clock; then cut is called, which must end
// Read and Write.
func New(r io.Reader, w io.Writer, sections int, within time.Duration, cut func()) *Talk {
	t := &Talk{w: w, r: bufio.NewReaderSize(r, lineBytes), within: within, on: make([]bool, sections)}
	t.watch = time.AfterFunc(time.Hour, crash.Guard(func() {
		t.timedOut.Store(true)
		cut()
	}))
	t.watch.Stop()
	return t
}

// Begin says the job and waits until the controller is ready.
func (t *Talk) Begin(job *wire.LockstepJob) error {
	t.watch.Reset(t.within)
	defer t.watch.Stop()
	if _, err := t.w.Write(wire.AppendLockstepJob(nil, job)); err != nil {
		t.fail(0, err)
		return t.err
	}
	for lines := 0; t.err == nil; lines++ {
		switch line, err := t.readLine(); {
		case err != nil:
			t.fail(0, err)
		case line == nil:
		case wire.ParseAnswer(line, &t.answer) == nil && t.answer.Kind == wire.Ready:
			return nil
		default:
			t.note(fmt.Sprintf("%.60q before the drive; expected ready %d", line, wire.LockstepVersion))
		}
		if lines >= MaxTurnLines {
			t.err = fmt.Errorf("%w said %d lines before the drive, none of them ready %d", ErrEnded, lines, wire.LockstepVersion)
		}
	}
	return t.err
}

// End says that the drive is over. The caller closes the stream.
func (t *Talk) End() {
	t.watch.Stop()
	if t.err == nil {
		_, _ = io.WriteString(t.w, wire.End) // who does not listen has been scored
	}
}

// Err says why the controller is no longer asked; nil = it is.
func (t *Talk) Err() error { return t.err }

// Sentence keeps a sentence for the turn of its epoch.
func (t *Talk) Sentence(raw []byte, s *nmea.Sentence, err error) {
	if err == nil && s.HasTime() {
		t.timed = append(t.timed, timed{len(t.said), s.TimeOfDayNs})
	}
	t.said = append(append(t.said, raw...), '\r', '\n')
}

// Epoch ends the epoch of f. Sentences of a later time wait for the next one, such
// as that which showed that this one was complete: the controller must not see what
// is still to come.
func (t *Talk) Epoch(f *nmea.Fix) {
	const halfDayNs, dayNs = 43_200e9, 86_400e9
	tod, end, kept := nmea.TimeOfDayNs(f.TimeNs+f.ClockSetNs), len(t.said), len(t.timed)
	for i, x := range t.timed {
		if ahead := (x.todNs - tod + dayNs) % dayNs; ahead > 0 && ahead < halfDayNs {
			end, kept = x.at, i
			break
		}
	}
	t.timed = append(t.timed[:0], t.timed[kept:]...)
	if n := len(t.ends); n > 0 {
		end = max(end, t.ends[n-1])
	}
	t.ends = append(t.ends, end)
}

// FixAt lets the sentences of the oldest epoch that has not been given arrive.
func (t *Talk) FixAt(*nmea.Fix, float64, float64) {
	if len(t.ends) > 0 {
		t.arrived = t.ends[0]
		t.ends = append(t.ends[:0], t.ends[1:]...)
	}
}

// Tick asks the controller for an instant and appends what it tells the sections.
func (t *Talk) Tick(nowNs int64, out []sections.Setpoint) []sections.Setpoint {
	if t.err != nil {
		return out
	}
	if t.arrived == 0 && nowNs < t.quiet {
		t.QuietTicks++
		return out
	}
	t.Turns++
	t.out = wire.AppendNow(t.out[:0], nowNs)
	t.out = append(append(t.out, t.said[:t.arrived]...), wire.Turn...)
	t.forget(t.arrived)
	t.watch.Reset(t.within)
	defer t.watch.Stop()
	if _, err := t.w.Write(t.out); err != nil {
		t.fail(nowNs, err)
		return out
	}
	for lines := 0; ; lines++ {
		line, err := t.readLine()
		switch {
		case err != nil:
			t.fail(nowNs, err)
			return out
		case lines >= MaxTurnLines:
			t.err = fmt.Errorf("%w said more than %d lines at %s; expected setpoints and done", ErrEnded, MaxTurnLines, instant(nowNs))
			return out
		case line == nil:
			continue
		}
		if err := wire.ParseAnswer(line, &t.answer); err != nil {
			t.note(strings.TrimPrefix(err.Error(), wire.ErrAnswer.Error()+": "))
			continue
		}
		switch a := &t.answer; a.Kind {
		case wire.Ready:
			t.note("ready in the middle of the drive; expected setpoints and done")
		case wire.Done:
			if a.AtNs < nowNs {
				t.StaleDone++
				continue
			}
			t.quiet = a.AtNs
			return out
		case wire.OneSection:
			t.Lines++
			if s := a.Setpoint; int(s.Section) >= len(t.on) {
				t.Lines--
				t.note(fmt.Sprintf("section %d; the machine has %d", s.Section+1, len(t.on)))
			} else {
				out = t.take(s, nowNs, out, true)
			}
		case wire.AllStates:
			if a.State.Sections != len(t.on) {
				t.note(fmt.Sprintf("%d sections; the machine has %d", a.State.Sections, len(t.on)))
				continue
			}
			t.Lines++
			out = t.takeState(&a.State, nowNs, out)
		case wire.OneFrame:
			s := wire.NewState(len(t.on))
			// Sections that the frame is not of: no action.
			for i := range s.Words {
				s.Words[i] = ^uint32(0)
			}
			if err := s.AddFrame(a.Frame); err != nil {
				t.note(strings.TrimPrefix(err.Error(), wire.ErrFrame.Error()+": "))
				continue
			}
			t.Lines++
			s.DueNs = nowNs
			out = t.takeState(&s, nowNs, out)
		}
		if len(t.Setpoints) > MaxChanges {
			t.err = fmt.Errorf("%w changed sections more than %d times until %s; expected one that does not chatter", ErrEnded, MaxChanges, instant(nowNs))
			return out
		}
	}
}

// takeState takes what a state changes.
func (t *Talk) takeState(s *wire.State, nowNs int64, out []sections.Setpoint) []sections.Setpoint {
	dueNs := s.DueNs
	if dueNs/1000 == nowNs/1000 {
		dueNs = nowNs // the line has microseconds
	}
	first := true
	for i := range t.on {
		if told := s.At(i); told == wire.On && !t.on[i] || told == wire.Off && t.on[i] {
			out = t.take(sections.Setpoint{DueNs: dueNs, Section: int16(i), On: told == wire.On}, nowNs, out, first)
			first = false
		}
	}
	return out
}

// take takes one setpoint: now, if its instant has passed; never, if that is too
// far ahead. first says that it is the first change of its line.
func (t *Talk) take(s sections.Setpoint, nowNs int64, out []sections.Setpoint, first bool) []sections.Setpoint {
	aheadNs := s.DueNs - nowNs
	if first && len(t.AheadNs) < MaxChanges {
		t.AheadNs = append(t.AheadNs, aheadNs)
	}
	if aheadNs > FarthestNs {
		t.TooFar++
		return out
	}
	if aheadNs < 0 {
		t.After++
		t.AfterNs = max(t.AfterNs, -aheadNs)
		s.DueNs = nowNs
	}
	t.on[s.Section] = s.On
	t.Setpoints, t.ArrivedNs = append(t.Setpoints, s), append(t.ArrivedNs, nowNs)
	return append(out, s)
}

// forget drops the first n bytes of what has been read.
func (t *Talk) forget(n int) {
	t.said = append(t.said[:0], t.said[n:]...)
	for i := range t.ends {
		t.ends[i] -= n
	}
	for i := range t.timed {
		t.timed[i].at -= n
	}
	t.arrived = 0
}

// readLine returns the next line; nil = it was too long and has been noted.
func (t *Talk) readLine() ([]byte, error) {
	line, err := t.r.ReadSlice('\n')
	if !errors.Is(err, bufio.ErrBufferFull) {
		return line, err
	}
	// What has no end is read a buffer at a time, until the watch ends it.
	for errors.Is(err, bufio.ErrBufferFull) {
		_, err = t.r.ReadSlice('\n')
	}
	t.note(fmt.Sprintf("longer than %d bytes", lineBytes))
	return nil, err
}

// note counts a line that could not be read, with what was wrong in it.
func (t *Talk) note(what string) {
	t.Damaged++
	for i := range t.Notes {
		if t.Notes[i].What == what {
			t.Notes[i].Lines++
			return
		}
	}
	if len(t.Notes) < maxNotes {
		t.Notes = append(t.Notes, Note{what, 1})
	}
}

// fail keeps why the talk ends. nowNs is the instant asked for, 0 = the job.
func (t *Talk) fail(nowNs int64, err error) {
	what := "for " + instant(nowNs)
	if nowNs == 0 {
		what = fmt.Sprintf("to the job; expected ready %d", wire.LockstepVersion)
	}
	switch {
	case t.timedOut.Load():
		t.err = fmt.Errorf("%w gave no answer %s within %s", ErrEnded, what, t.within)
	case errors.Is(err, io.EOF), errors.Is(err, syscall.EPIPE), errors.Is(err, os.ErrClosed):
		t.err = fmt.Errorf("%w ended without an answer %s", ErrEnded, what)
	default:
		t.err = fmt.Errorf("%w gave no answer %s: %w", ErrEnded, what, err)
	}
}

// instant is how a message names an instant.
func instant(ns int64) string {
	return time.Unix(0, ns).UTC().Format("2006-01-02T15:04:05.000Z07:00")
}
