// The engine: a controller that is called by the clock.

package live

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
	"time"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/crash"
	"liftbench/replay/port"
	"liftbench/replay/record"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/schedule"
)

// Config is what an engine needs.
type Config struct {
	Machine  *sections.Machine
	Field    *field.Field
	Settings sections.Settings
	Outputs  []Output
	// Record, when set, is given every sentence that Run reads, with the
	// arrival time by which it was decided on. Its owner closes it.
	Record *record.Recorder
	Hooks  Hooks
	// Now is the host's clock; nil is time.Now.
	Now func() time.Time
}

// Hooks are called from the engine, one at a time and in order; they must be
// quick and must not keep what they are handed. Any may be nil.
type Hooks struct {
	// Fix: a fix was given to the controller, ageNs after the instant it is
	// valid for and intervalNs after the one before; 0 for the first.
	Fix func(f *nmea.Fix, ageNs, intervalNs int64)
	// Setpoints: decided, and handed to the outputs.
	Setpoints func(s []sections.Setpoint)
	// Decision: latencyNs is the time, by the host's clock, from the arrival of a
	// fix's last byte (or the end of the stream) until all outputs had been handed
	// what was decided on that fix.
	Decision func(latencyNs int64)
	// FailSafe: the fail-safe was reached.
	FailSafe func(reason sections.Reason)
	// HeldAtRest: a lost position is held for as long as the machine stands;
	// the fail-safe waits until it moves.
	HeldAtRest func(reason sections.Reason)
	// ClockStep: the host's clock disagreed with the receiver's, and the
	// engine's was set by the receiver's, stepNs ahead.
	ClockStep func(stepNs int64)
}

// Engine is a controller that runs. Call Run or Replay once.
type Engine struct {
	cfg Config

	mu     sync.Mutex // whoever is not waiting for time or bytes holds it
	ctl    *sections.Controller
	when   schedule.Schedule
	dates  epoch.Dating
	clock  clock
	drift  drift
	out    outputs
	reader *epoch.Reader
	batch  []sections.Setpoint
	read   time.Time // when the bytes that are being used arrived

	// A log that Replay waits for, such as a pipe, does not keep others waiting:
	// what has been read of it stands beside it.
	replaying bool
	replayed  epoch.ReaderCounts

	wake   chan struct{}
	wakeNs int64 // when the ticker wakes by itself

	// Of an earlier run: whether it left something behind, and of the controller
	// that goes on the time of its newest fix, 0 = none goes on, and how far its
	// clock was ahead of the host's.
	left        bool
	leftFixNs   int64
	leftAheadNs int64
	raisedTill  time.Time // until when every section is told to be up; zero = released
	setupOnce   sync.Once
	setupSum    string

	started    bool
	fix        nmea.Fix
	failSafes  int64
	heldAtRest int64
}

// New returns an engine. It fails on a machine or settings that cannot work.
func New(cfg Config) (*Engine, error) {
	ctl, err := sections.New(cfg.Machine, cfg.Field, cfg.Settings)
	if err != nil {
		return nil, err
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	return &Engine{
		cfg:   cfg,
		ctl:   ctl,
		when:  schedule.New(&cfg.Settings),
		clock: newClock(cfg.Now, 1),
		batch: make([]sections.Setpoint, 0, sections.MaxSections),
		wake:  make(chan struct{}, 1),
	}, nil
}

// Run takes bytes from r until the stream ends, which is no error, or ctx is
// done, which is none either. If r is no port, its Read must end when ctx is
// done. Before it returns it lifts whatever is in work (reason
// sections.HeldUp) and sends the state once more: nobody is there any longer
// to lift it at the border. It does so, too, before a panic leaves it. A panic
// of its other goroutine is told by the package crash; whoever catches it must
// end ctx.
func (e *Engine) Run(ctx context.Context, r io.Reader) error {
	if p, ok := r.(*port.Port); ok {
		r = p.Until(ctx)
	}
	var ticker sync.WaitGroup
	defer ticker.Wait()
	e.mu.Lock()
	defer e.mu.Unlock()
	e.clock = newClock(e.cfg.Now, 1)
	e.out = newOutputs(e.cfg.Outputs, len(e.cfg.Machine.Sections), 1)
	e.reader = epoch.NewReader(&letGo{e, r})
	e.reader.Scanner.Clock = e.stamp
	e.reader.Assembler.Live = true
	if e.cfg.Record != nil {
		e.reader.Each = func(raw []byte, s *nmea.Sentence, _ error) { e.cfg.Record.Add(s.ArrivalNs, raw) }
	}
	ticking, stop := context.WithCancel(ctx)
	defer func() {
		stop() // what is lifted stays so
		e.lift(e.clock.nowNs())
	}()
	e.raise()
	ticker.Go(crash.Guard(func() { e.tick(ticking) }))
	for e.reader.Next() && ctx.Err() == nil {
		e.dates.Add(e.reader.Fix(), e.take)
	}
	if err := e.reader.Err(); err != nil && ctx.Err() == nil {
		return err
	}
	return nil
}

// letGo lets the engine go while it waits for bytes.
type letGo struct {
	e *Engine
	r io.Reader
}

func (l *letGo) Read(b []byte) (int, error) {
	n, err := l.read(b)
	if n == 0 {
		l.e.read = l.e.cfg.Now() // the stream ends, and with it its last epoch
	}
	return n, err
}

func (l *letGo) read(b []byte) (int, error) {
	l.e.mu.Unlock()
	defer l.e.mu.Lock()
	return l.r.Read(b)
}

// stamp is the arrival time of bytes just read.
func (e *Engine) stamp() int64 {
	e.read = e.cfg.Now()
	return e.clock.nowNs()
}

// take gives a dated fix to the controller.
func (e *Engine) take(f *nmea.Fix) {
	e.release()
	at := e.when.ArrivalNs(f)
	now := e.clock.nowNs()
	if f.ClockSetNs != e.fix.ClockSetNs {
		e.resetDue(f)
	}
	if at > now || !e.started && at != f.ReadyNs {
		set := at
		if ago := now - f.ArrivalNs; !e.started && ago >= 0 && ago <= oneEpochNs {
			// It came when its first sentence did, not when the next epoch
			// showed that it was complete.
			set += ago
		}
		e.clock.set(set)
		e.drift.reset(e.cfg.Settings.LatencyNs)
		if e.cfg.Hooks.ClockStep != nil {
			e.cfg.Hooks.ClockStep(set - now)
		}
	} else if at == f.ReadyNs && f.ArrivalNs > e.clock.utcNs { // stamped by the clock as it is
		defer e.steer(f.ArrivalNs - f.TimeNs) // what is stamped already stays
	}
	for t, ok := e.when.Next(at); ok; t, ok = e.when.Next(at) {
		e.decide(t)
	}
	e.use(f, at)
	if e.cfg.Hooks.Decision != nil {
		e.cfg.Hooks.Decision(int64(e.cfg.Now().Sub(e.read)))
	}
	if e.next() < e.wakeNs {
		select {
		case e.wake <- struct{}{}:
		default:
		}
	}
}

// resetDue takes note that the receiver's clock was set. The engine's goes on as
// if it had not been; what it sends is told by the clock, of before and after,
// that agrees with the host's.
func (e *Engine) resetDue(f *nmea.Fix) {
	agrees := func(timeNs int64) bool {
		ageNs := e.cfg.Now().UnixNano() - timeNs
		return ageNs >= 0 && ageNs <= oneEpochNs
	}
	switch {
	case agrees(f.TimeNs):
		e.out.setNs = 0
	case agrees(f.TimeNs + f.ClockSetNs):
		e.out.setNs = f.ClockSetNs
	}
}

// steer keeps the clock right by the delay of a fix.
func (e *Engine) steer(delayNs int64) {
	lagNs, rate := e.drift.add(delayNs, e.clock.nowNs())
	if lagNs > 0 {
		e.clock.set(e.clock.nowNs() + lagNs)
	}
	if rate != 0 {
		e.clock.run(rate)
	}
}

// oneEpochNs is more than there is between two epochs.
const oneEpochNs = 2e9

// use gives a fix to the controller when all ticks before its arrival are run.
func (e *Engine) use(f *nmea.Fix, at int64) {
	if !e.started {
		e.rejoin(f)
	}
	if e.cfg.Hooks.Fix != nil {
		var interval int64
		if e.started {
			interval = f.TimeNs - e.fix.TimeNs
		}
		e.cfg.Hooks.Fix(f, at-f.TimeNs, interval)
	}
	e.started, e.fix = true, *f
	e.ctl.Fix(f)
	e.decide(e.when.Take(at))
}

// decide lets the controller decide at tickNs and hands on what it decided.
func (e *Engine) decide(tickNs int64) {
	e.batch = e.ctl.Tick(tickNs, e.batch[:0])
	if len(e.batch) > 0 {
		e.out.add(e.clock.nowNs(), e.batch)
		if e.cfg.Hooks.Setpoints != nil {
			e.cfg.Hooks.Setpoints(e.batch)
		}
	}
	if n := e.ctl.Counts().FailSafe; n != e.failSafes {
		e.failSafes = n
		if _, reason, _ := e.ctl.Lost(); e.cfg.Hooks.FailSafe != nil {
			e.cfg.Hooks.FailSafe(reason)
		}
	}
	if n := e.ctl.Counts().HeldAtRest; n != e.heldAtRest {
		e.heldAtRest = n
		if _, reason, _ := e.ctl.Lost(); e.cfg.Hooks.HeldAtRest != nil {
			e.cfg.Hooks.HeldAtRest(reason)
		}
	}
}

// tick calls the controller on the grid and sends what is due, until ctx is
// done.
func (e *Engine) tick(ctx context.Context) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		case <-e.wake:
		}
		timer.Reset(e.tickOnce(ctx))
	}
}

// tickOnce does what is to be done by now, and returns how long to wait for the
// next time.
func (e *Engine) tickOnce(ctx context.Context) time.Duration {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.release()
	// Bytes that arrive at this very instant come before its tick.
	now := e.clock.nowNs()
	for t, ok := e.when.Next(now); ok && ctx.Err() == nil; t, ok = e.when.Next(now) {
		e.decide(t)
	}
	if ctx.Err() == nil {
		e.out.sendDue(now)
	}
	e.wakeNs = e.next()
	return max(e.clock.until(e.wakeNs+1), 0)
}

// next returns when something is to be done, be there bytes or not.
func (e *Engine) next() int64 {
	next := e.out.next()
	if t, ok := e.when.Upcoming(); ok {
		next = min(next, t)
	}
	return next
}

// lift lifts whatever is in work, at once and for good: past the controller if
// that panics.
func (e *Engine) lift(now int64) {
	defer e.out.lift(now)
	e.hold(sections.HoldUp)
	e.decide(now)
	e.out.finish(now)
}

// Replay takes a log at pace times real time (above 0) and decides, command
// for command, what sim.Job decides on it: it reads it in the same way, and
// waits for the arrival of each fix, as the log tells it, before it uses it.
// It ends as Run does, with nmea.ErrIncomplete after the last fix of a log that
// is cut short or damaged; nothing is recorded. Reading the log must end when ctx
// is done.
func (e *Engine) Replay(ctx context.Context, log *epoch.Reader, pace float64) error {
	if !(pace > 0 && pace <= maxPace) {
		return fmt.Errorf("pace %g; expected more than 0 up to %g times real time", pace, float64(maxPace))
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	e.clock = newClock(e.cfg.Now, pace)
	e.out = newOutputs(e.cfg.Outputs, len(e.cfg.Machine.Sections), pace)
	e.reader = log
	log.ReadAsLive()
	atNs := int64(math.MaxInt64) // of the last fix: the clock may have run on far, at a great pace
	use := func(f *nmea.Fix) { atNs = e.replay(ctx, f) }
	e.replaying = true
	next := func() bool {
		e.mu.Unlock()
		defer e.mu.Lock()
		return log.Next()
	}
	defer func() { e.lift(min(e.clock.nowNs(), atNs)) }()
	for next() && ctx.Err() == nil {
		e.replayed = log.Counts()
		e.dates.Add(log.Fix(), use)
	}
	e.replayed = log.Counts()
	if ctx.Err() == nil {
		e.dates.Flush(use)
	}
	if ctx.Err() != nil {
		return nil
	}
	if err := log.Err(); err != nil && (e.started || !errors.Is(err, nmea.ErrIncomplete)) {
		return err
	}
	if !e.started {
		return errors.New("no position: no GGA, GNS, RMC or GLL sentence with a good checksum")
	}
	return nil
}

// maxPace is faster than any computer decides.
const maxPace = 1e6

// replay lets the time pass until a fix arrives, and gives it to the
// controller. It returns until when it came.
func (e *Engine) replay(ctx context.Context, f *nmea.Fix) (atNs int64) {
	at := e.when.ArrivalNs(f)
	if !e.started {
		e.clock.set(at)
	}
	for t, ok := e.when.Next(at); ok; t, ok = e.when.Next(at) {
		if !e.wait(ctx, t) {
			return t
		}
		e.decide(t)
	}
	if e.wait(ctx, at) {
		e.read = e.cfg.Now()
		e.use(f, at)
		if e.cfg.Hooks.Decision != nil {
			e.cfg.Hooks.Decision(int64(e.cfg.Now().Sub(e.read)))
		}
	}
	return at
}

// wait lets the engine go until utcNs, and sends what falls due meanwhile. It
// returns false when ctx is done.
func (e *Engine) wait(ctx context.Context, utcNs int64) bool {
	for {
		if ctx.Err() != nil {
			return false
		}
		now := e.clock.nowNs()
		e.out.sendDue(now)
		if now >= utcNs {
			return true
		}
		timer := time.NewTimer(e.clock.until(min(utcNs, e.out.next())))
		e.mu.Unlock()
		select {
		case <-ctx.Done():
		case <-timer.C:
		}
		timer.Stop()
		e.mu.Lock()
	}
}
