// What a run leaves behind, so that the one after it can lift what was left in
// work and go on.

package live

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"liftbench/nmea"
	"liftbench/sections"
)

// State is what is to be known of an engine after its process has been killed.
type State struct {
	// Setup is a checksum of machine, zones and settings: the controller goes on only
	// with the same ones.
	Setup  string
	HostNs int64 // the host's clock when the state was taken, UTC, ns since 1970
	NowNs  int64 // the engine's clock then
	FixNs  int64 // time of the newest fix; 0 = there was none
	// InWork are the sections that were told to be in work, or were about to be,
	// from 0 and in order.
	InWork []int
	// Controller is its saved state but for worked ground; nil where no other run can go
	// on with it.
	Controller []byte
	// Worked is what is known of worked ground (Engine.Worked), which may be some seconds
	// older: rows worked since are then worked again. It has a file of its own.
	Worked []byte
}

// State returns what the engine leaves behind if it is killed now. Any goroutine
// may call it.
func (e *Engine) State() State {
	setup := e.setup()
	e.mu.Lock()
	defer e.mu.Unlock()
	s := State{Setup: setup, HostNs: e.cfg.Now().UnixNano(), NowNs: e.clock.nowNs()}
	for i := range e.cfg.Machine.Sections {
		if e.ctl.On(i) || e.out.state.On(i) {
			s.InWork = append(s.InWork, i)
		}
	}
	// Where the receiver's clock was set, times go on as before; another run would
	// begin with the clock as it is.
	if e.started && e.fix.ClockSetNs == 0 {
		s.FixNs, s.Controller = e.fix.TimeNs, e.ctl.AppendBrief(nil)
	}
	return s
}

// Worked appends to b what the controller knows of worked ground, for State.Worked:
// nothing where it leaves none. Any goroutine may call it.
func (e *Engine) Worked(b []byte) []byte {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.ctl.AppendWorked(b)
}

// setup is the checksum of what the engine works with.
func (e *Engine) setup() string {
	e.setupOnce.Do(func() {
		sum := sha256.New()
		fmt.Fprintln(sum, *e.cfg.Machine, e.cfg.Settings, e.cfg.Field.Plane, e.cfg.Field.Zones)
		e.setupSum = hex.EncodeToString(sum.Sum(nil))
	})
	return e.setupSum
}

// FreshNs is how old a state may be for a run to go on with its controller: as
// long as a restart may take. What was done in between cannot have been much more
// than a silence of the receiver.
const FreshNs = 10e9

// ErrLeft is wrapped by the errors of Resume and ParseState.
var ErrLeft = errors.New("the controller starts afresh, because the saved state does not fit")

// Resume takes what an earlier run left behind. It is called before Run, which
// then begins with a second in which it tells every section to be up, whatever the
// state says of it: the last change may not have reached the file. Unless there is
// an error, which says why not, Run goes on with the controller that was left.
// Resume must not be called before Replay.
func (e *Engine) Resume(left *State) error {
	setup := e.setup()
	e.mu.Lock()
	defer e.mu.Unlock()
	e.left = true
	age := e.cfg.Now().UnixNano() - left.HostNs
	switch {
	case left.Controller == nil:
		return fmt.Errorf("%w: there was no position yet, or the receiver's clock had been set", ErrLeft)
	case left.Setup != setup:
		return fmt.Errorf("%w: it is of another machine, field or settings", ErrLeft)
	case age < 0 || age > FreshNs:
		return fmt.Errorf("%w: it is %.0f s old; expected 0 to %.0f s", ErrLeft, float64(age)*1e-9, FreshNs*1e-9)
	}
	if err := e.ctl.Restore(slices.Concat(left.Controller, left.Worked)); err != nil {
		return fmt.Errorf("%w: %w", ErrLeft, err)
	}
	e.leftFixNs, e.leftAheadNs = left.FixNs, left.NowNs-left.HostNs
	// The controller learns that all is up.
	e.hold(sections.HoldUp)
	e.batch = e.ctl.Tick(left.NowNs+age, e.batch[:0])
	c := e.ctl.Counts()
	e.failSafes, e.heldAtRest = c.FailSafe, c.HeldAtRest
	return nil
}

func (e *Engine) hold(h sections.Hold) {
	for i := range e.cfg.Machine.Sections {
		e.ctl.Hold(i, h)
	}
}

const (
	// raised is how long a run begins with every section up where an earlier one
	// left something behind: outputs connect, and their peers come back.
	raised = time.Second
	// raisedRepeatNs is how often the state is sent meanwhile.
	raisedRepeatNs = 100e6
)

// raise tells every section to be up, where an earlier run left something behind,
// and has it stay so for a while.
func (e *Engine) raise() {
	if !e.left {
		return
	}
	e.clock.set(e.clock.nowNs() + e.leftAheadNs)
	e.hold(sections.HoldUp)
	e.raisedTill = e.cfg.Now().Add(raised)
	e.out.everyNs = raisedRepeatNs
	e.tellUp()
}

func (e *Engine) tellUp() {
	now := e.clock.nowNs()
	for i := range e.cfg.Machine.Sections {
		e.out.tell(sections.Setpoint{DueNs: now, Section: int16(i), Reason: sections.HeldUp})
	}
	e.out.finish(now)
}

// release lets the controller decide once every section has been up for long
// enough. Setpoints as JSON, which are not repeated, are told again.
func (e *Engine) release() {
	if e.raisedTill.IsZero() || e.cfg.Now().Before(e.raisedTill) {
		return
	}
	e.raisedTill = time.Time{}
	e.out.everyNs = repeatNs
	e.tellUp()
	e.hold(sections.Released)
}

// rejoin is asked of the first fix. It begins with a new controller where the one
// that was left has seen a later fix, or one long ago: the receiver's clock is
// another now.
func (e *Engine) rejoin(f *nmea.Fix) {
	if e.leftFixNs == 0 || f.TimeNs > e.leftFixNs && f.TimeNs-e.leftFixNs <= 2*FreshNs {
		return
	}
	ctl, err := sections.New(e.cfg.Machine, e.cfg.Field, e.cfg.Settings)
	if err != nil {
		return // it was made of them before
	}
	e.ctl, e.failSafes, e.heldAtRest = ctl, 0, 0
	if !e.raisedTill.IsZero() {
		e.hold(sections.HoldUp)
	}
}

// savedState is a State in its file.
type savedState struct {
	Format     string    `json:"format"`
	Version    string    `json:"controller_version"` // sections.StateVersion
	Setup      string    `json:"setup"`
	Saved      time.Time `json:"saved"` // host's clock
	Clock      time.Time `json:"clock"` // engine's
	Fix        time.Time `json:"fix"`
	InWork     []int     `json:"in_work"` // from 1
	Controller []byte    `json:"controller,omitempty"`
}

var majorVersion, _, _ = strings.Cut(sections.StateVersion, ".")

const stateFormat = "liftbench live state 2"

// AppendJSON appends the state but for Worked as one line of JSON, sections counted
// from 1.
func (s *State) AppendJSON(b []byte) ([]byte, error) {
	at := func(ns int64) time.Time { return time.Unix(0, ns).UTC() }
	x := savedState{Format: stateFormat, Version: sections.StateVersion, Setup: s.Setup, Saved: at(s.HostNs), Clock: at(s.NowNs), Fix: at(s.FixNs),
		InWork: make([]int, len(s.InWork)), Controller: s.Controller}
	for i := range s.InWork {
		x.InWork[i] = s.InWork[i] + 1
	}
	text, err := json.Marshal(&x)
	if err != nil {
		return b, err
	}
	return append(append(b, text...), '\n'), nil
}

// ParseState reads what AppendJSON wrote. Its errors wrap ErrLeft.
func ParseState(text []byte) (State, error) {
	var x savedState
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	switch err := d.Decode(&x); {
	case errors.Is(err, io.EOF):
		return State{}, fmt.Errorf("%w: it is empty", ErrLeft)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return State{}, fmt.Errorf("%w: it is cut short, after %d bytes", ErrLeft, len(text))
	case err != nil:
		return State{}, fmt.Errorf("%w: %w", ErrLeft, err)
	}
	if rest := bytes.TrimSpace(text[d.InputOffset():]); len(rest) > 0 {
		return State{}, fmt.Errorf("%w: found %.20q after it; expected nothing", ErrLeft, rest)
	}
	if x.Format != stateFormat {
		return State{}, fmt.Errorf("%w: format %q; expected %q", ErrLeft, x.Format, stateFormat)
	}
	// A major number of its own is another form (semantic versioning, semver.org).
	if found, _, _ := strings.Cut(x.Version, "."); found != majorVersion {
		return State{}, fmt.Errorf("%w: it is of another version of the program, whose controller's state is %q; this one's is %q", ErrLeft, x.Version, sections.StateVersion)
	}
	s := State{Setup: x.Setup, Controller: x.Controller}
	for _, t := range []struct {
		ns   *int64
		time time.Time
	}{{&s.HostNs, x.Saved}, {&s.NowNs, x.Clock}, {&s.FixNs, x.Fix}} {
		if u := t.time.Unix(); u < 0 || u >= math.MaxInt64/1_000_000_000 {
			return State{}, fmt.Errorf("%w: a time in the year %d; expected 1970 to 2262", ErrLeft, t.time.Year())
		}
		*t.ns = t.time.UnixNano()
	}
	for _, n := range x.InWork {
		if n < 1 || n > sections.MaxSections {
			return State{}, fmt.Errorf("%w: section %d; expected 1 to %d", ErrLeft, n, sections.MaxSections)
		}
		s.InWork = append(s.InWork, n-1)
	}
	return s, nil
}
