// The engine.

package live

import (
	"context"
	"errors"
	"io"

	"liftbench/nmea"
	"liftbench/replay/port"
	"liftbench/replay/record"
	"liftbench/sections"
	"liftbench/sections/field"
)

// Form is how setpoints are written.
type Form uint8

const (
	JSON    Form = iota // a line for each setpoint, when decided
	Line                // the compact line, when due, and once a second
	Candump             // ISO 11783 frames as candump prints them, when due, and once a second
)

// Output is one place that setpoints go to.
type Output struct {
	Port *port.Port
	Form Form
}

// Config is what an engine needs.
type Config struct {
	Machine  *sections.Machine
	Field    *field.Field
	Settings sections.Settings
	Outputs  []Output
	Record   *record.Recorder // nil = do not record; closed by its owner
	Hooks    Hooks
}

// Hooks are called from the engine's goroutine, in order; they must be quick
// and must not keep what they are handed. Any may be nil.
type Hooks struct {
	// Fix: a fix was handed to the controller, ageNs after its time;
	// intervalNs since the one before, 0 for the first.
	Fix func(f *nmea.Fix, ageNs, intervalNs int64)
	// Setpoints: decided and handed to the outputs.
	Setpoints func(s []sections.Setpoint)
	// Decision: from the arrival of a fix's last byte to the moment at which
	// what was decided on it had been handed to all outputs. Host time.
	Decision func(latencyNs int64)
	// FailSafe: the fail-safe was reached.
	FailSafe func(reason sections.Reason)
	// ClockStep: the host's clock disagreed with the receiver's by stepNs and was set by it.
	ClockStep func(stepNs int64)
}

// Status is a picture of the engine.
type Status struct {
	Started    bool     // a fix was seen
	NowNs      int64    // the engine's clock: receiver's UTC
	Fix        nmea.Fix // the last
	FixAgeNs   int64    // at NowNs
	Lost       bool
	LostReason sections.Reason
	FailedSafe bool
	On         []bool // setpoints, by section
	Reader     nmea.ReaderCounts
	Controller sections.Counts
}

// Engine is a controller that runs.
type Engine struct{}

// New returns an engine.
func New(cfg Config) (*Engine, error) { return nil, errors.New("live: not built yet") }

// Run takes bytes from r, a port or anything whose Read ends when ctx is done,
// until the stream ends or ctx is done. Before it returns it has lifted
// whatever was in work.
func (e *Engine) Run(ctx context.Context, r io.Reader) error { return nil }

// Replay takes a log at pace times real time and decides, command for command,
// what sim.Job decides on it.
func (e *Engine) Replay(ctx context.Context, log *nmea.Reader, pace float64) error { return nil }

// Status may be called at any time, from any goroutine.
func (e *Engine) Status() Status { return Status{} }
