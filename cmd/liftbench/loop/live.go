// One run of live: ports, recording, metrics and the engine between them.

package loop

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/web"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/crash"
	"liftbench/replay/live"
	"liftbench/replay/port"
	"liftbench/replay/record"
	"liftbench/replay/trace/sentences"
	"liftbench/sections"
	"liftbench/sim"
)

const (
	statusEvery  = 500 * time.Millisecond
	pageEvery    = time.Second
	metricsEvery = 15 * time.Second // as often as a node exporter is scraped
)

// openedLive holds the ports, the recording and the engine of a run.
type openedLive struct {
	*terminal.Console
	engine   *live.Engine
	recorder *record.Recorder // nil: nothing is recorded
	unkept   bool             // it was said that nothing is recorded at present
	state    *stateFile       // nil: none is kept
	unsaved  bool             // it was said that it cannot be written at present
	shown    *shown
	names    []string // of the ports
	ports    []*port.Port
	outs     []bool
}

// Run runs the controller until the input ends or ctx is done. A panic in any
// goroutine ends it like ctx: what is in work is lifted, and the panic is the
// error.
func (l *LiveRun) Run(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer) (err error) {
	ctx, end := context.WithCancelCause(ctx)
	defer end(nil)
	defer crash.Catch(func(p *crash.Panic) { end(p) })()
	crash.Run(func() { err = l.run(ctx, stdin, stdout, stderr) })
	var p *crash.Panic
	if errors.As(context.Cause(ctx), &p) {
		return p
	}
	return err
}

func (l *LiveRun) run(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer) error {
	o := &openedLive{Console: terminal.NewConsole(stderr)}
	defer o.Finish()
	defer o.close()
	var driven []port.Spec
	for i := range l.out {
		driven = append(driven, l.out[i].Spec)
	}
	Warn(o.Console, driven...)

	in, log, err := l.openAll(o, stdin, stdout)
	if err != nil {
		return err
	}
	if log != nil {
		defer log.Close()
		// A pipe that nobody writes to would be read from for ever.
		defer context.AfterFunc(ctx, crash.Guard(log.Interrupt))()
	}
	supervisor, err := newSupervisor()
	if err != nil {
		return err
	}
	defer supervisor.close()
	if l.Http.Addr != "" {
		server, err := o.shown.serve(o.Console, &l.Http, o.wanting)
		if err != nil {
			return err
		}
		defer server.close()
	}

	if l.State != "" {
		if o.state, err = openState(o.Console, l.State, o.engine); err != nil {
			return err
		}
	}
	// Reading the settings took more than control does: on a small computer the rest has
	// better use for it.
	debug.FreeOSMemory()
	background, stop := context.WithCancel(context.Background())
	var work sync.WaitGroup
	defer work.Wait()
	defer stop()
	work.Go(crash.Guard(func() { every(background, statusEvery, o.look) }))
	if o.state != nil {
		work.Go(crash.Guard(func() { o.state.keep(background) }))
	}
	if l.Metrics != "" {
		push := l.pushMetrics(o)
		push() // a file that cannot be written is told of at once
		work.Go(crash.Guard(func() { every(background, metricsEvery, push) }))
	}
	if supervisor != nil {
		work.Go(crash.Guard(func() { supervisor.watch(background, newPulse(o, l.Pace)) }))
	}
	if log != nil {
		err = o.engine.Replay(ctx, epoch.NewReader(log), l.Pace)
		if errors.Is(err, nmea.ErrIncomplete) {
			o.Say("%s: %v", log.Name, err)
			err = nil
		}
		if err != nil {
			err = &failure.Input{File: log.Name, Msg: err.Error(), Err: err}
		}
	} else if err = o.engine.Run(ctx, l.sentences(ctx, o.Console, in)); err != nil {
		err = &failure.Input{File: l.LiveFlags.In, Msg: err.Error(), Err: err}
	}
	stop()
	work.Wait()
	if l.Metrics != "" {
		if writeErr := files.WriteWhole(l.Metrics, o.shown.set.WriteText); err == nil {
			err = writeErr
		}
	}
	o.sum()
	return err
}

// openAll opens the ports and the recording and makes the engine. log is the
// input, if it is a file.
func (l *LiveRun) openAll(o *openedLive, stdin io.Reader, stdout io.Writer) (in *port.Port, log *files.Log, err error) {
	open := func(name string, spec port.Spec, mode port.Mode) (*port.Port, error) {
		p, err := openPort(o.Console, context.Background(), name, spec, mode, stdin, stdout)
		if err == nil {
			o.names, o.ports, o.outs = append(o.names, name), append(o.ports, p), append(o.outs, mode&port.Out != 0)
		}
		return p, err
	}
	var outputs []live.Output
	if l.in.Kind == port.File {
		if log, err = recording.OpenPositions(l.in.Addr, nil, recording.Choice{}, stdin, io.Discard); err != nil {
			return nil, nil, err
		}
	}
	for i := range l.out {
		out := &l.out[i]
		mode, name := port.Out, out.name
		// A receiver and a listener on the same line or socket share it.
		both := out.Spec == l.in && in == nil && (l.in.Kind == port.Serial || l.in.Kind == port.TCP || l.in.Kind == port.TCPListen)
		if both {
			mode, name = port.Duplex, l.LiveFlags.In
		}
		p, err := open(name, out.Spec, mode)
		if err != nil {
			return nil, log, err
		}
		if both {
			in = p
		}
		outputs = append(outputs, live.Output{Port: p, Form: out.Form})
	}
	if in == nil && log == nil {
		if in, err = open(l.LiveFlags.In, l.in, port.In); err != nil {
			return nil, nil, err
		}
	}
	if l.Record != "" {
		if o.recorder, err = record.New(l.Record, record.Options{Sync: l.RecordSync}); err != nil {
			return nil, log, &failure.Input{File: l.Record, Msg: err.Error(), Err: err}
		}
	}

	job := run.Job(l.Setup)
	if o.shown, err = newShown(l.Setup, job, o.counts, o.now(job), &l.Http); err != nil {
		return nil, log, err
	}
	o.engine, err = live.New(live.Config{
		Machine: job.Machine, Field: job.Field, Settings: job.Settings,
		Outputs: outputs, Record: o.recorder, Hooks: o.hooks(),
	})
	return in, log, err
}

// sentences returns what the engine reads: the port itself, or the sentences of
// the receiver on the bus whose frames the port gives.
func (l *LiveRun) sentences(ctx context.Context, c *terminal.Console, in *port.Port) io.Reader {
	if !l.bus {
		return in
	}
	start := time.Now()
	r := sentences.New(in.Until(ctx), func() int64 { return start.UnixNano() + int64(time.Since(start)) }) // as even as the engine's clock
	r.Sender = l.sender
	r.Told = func(lines []string) {
		for _, line := range lines {
			c.Say("%s: %s", l.LiveFlags.In, line)
		}
	}
	return r
}

// hooks returns the engine's hooks. They pass fixes and setpoints on to what is
// shown, and report on the console what is out of the ordinary.
func (o *openedLive) hooks() live.Hooks {
	return live.Hooks{
		Fix: o.shown.fix,
		Setpoints: func(list []sections.Setpoint) {
			o.shown.setpoints(list)
			if o.state != nil {
				o.state.changed()
			}
		},
		Decision: o.shown.set.Decided,
		FailSafe: func(reason sections.Reason) { o.Say("position lost (%s): fail-safe", reason.String()) },
		HeldAtRest: func(reason sections.Reason) {
			o.Say("position lost (%s) while the machine stands: everything is held until it moves", reason.String())
		},
		ClockStep: func(stepNs int64) {
			if step := time.Duration(stepNs); step.Abs() >= time.Second {
				o.Say("the receiver's clock is %s off this computer's; the receiver's counts", step.Round(time.Millisecond))
			}
		},
	}
}

// counts returns the counts of everything that runs, for a scrape.
func (o *openedLive) counts() metrics.Counts {
	s := o.engine.Status()
	c := metrics.Counts{Reader: s.Reader, Controller: s.Controller, Lost: s.Lost}
	for i, p := range o.ports {
		c.Ports = append(c.Ports, run.MetricsPort(o.names[i], p.Counts(), o.outs[i]))
	}
	if o.recorder != nil {
		c.RecordLost = o.recorder.Counts().Lost
	}
	return c
}

// now returns a function that tells the page the state of the run at each
// instant.
func (o *openedLive) now(job *sim.Job) func() web.Instant {
	set, bound := &job.Settings, job.Field.Bound()
	return func() web.Instant {
		s := o.engine.Status()
		x := web.Instant{
			ClockMs: (s.NowNs + s.Fix.ClockSetNs) / 1e6, Started: s.Started, AgeMs: s.FixAgeNs / 1e6, MaxAgeMs: set.MaxAgeNs / 1e6,
			Quality: s.Fix.Quality.String(), SpeedMmS: speedOf(&s.Fix), Standing: s.Standing, Told: toldText(s.On),
		}
		if s.Fix.HasPosition() {
			e, n := job.Field.Plane.ToPlane(s.Fix.LatDeg, s.Fix.LonDeg)
			x.AwayM = int64(math.Hypot(max(bound.Min[0]-e, e-bound.Max[0], 0), max(bound.Min[1]-n, n-bound.Max[1], 0)))
		}
		if s.Lost {
			x.Lost, x.LostMs = s.LostReason.String(), (s.NowNs-s.LostSinceNs)/1e6
		}
		if s.FailedSafe {
			x.FailSafe = set.FailSafe.String()
		}
		return x
	}
}

// wanting says why positions cannot be relied on, or that they are not being
// recorded; "" = all is well.
func (o *openedLive) wanting() string {
	var list []string
	if lost := positionLost(o.engine.Status()); lost != "" {
		list = append(list, lost)
	}
	if o.recorder != nil && o.recorder.Err() != nil {
		list = append(list, o.recorder.Err().Error())
	}
	if o.state != nil && o.state.Err() != nil {
		list = append(list, o.state.Err().Error())
	}
	return strings.Join(list, "; ")
}

// positionLost says why positions cannot be relied on; "" = they can.
func positionLost(s live.Status) string {
	switch {
	case !s.Started:
		return "no position yet"
	case s.Lost && s.Standing:
		return "position lost: " + s.LostReason.String() + "; held while the machine stands"
	case s.Lost:
		return "position lost: " + s.LostReason.String()
	}
	return ""
}

// look draws the status line, and tells once that the recording or the state
// cannot be written and once that it goes on.
func (o *openedLive) look() {
	if o.recorder != nil {
		err := o.recorder.Err()
		switch {
		case err != nil && !o.unkept:
			o.Say("%v; control goes on", err)
		case err == nil && o.unkept:
			o.Say("recording goes on; %s not recorded so far", wording.Counted(int(o.recorder.Counts().Lost), "sentence"))
		}
		o.unkept = err != nil
	}
	if o.state != nil {
		err := o.state.Err()
		switch {
		case err != nil && !o.unsaved:
			o.Say("%v; control goes on", err)
		case err == nil && o.unsaved:
			o.Say("%s is kept again", o.state.path)
		}
		o.unsaved = err != nil
	}
	if !o.Status {
		return
	}
	s := o.engine.Status()
	if !s.Started {
		o.Draw("waiting for a position")
		return
	}
	var line strings.Builder
	fmt.Fprintf(&line, "%s  %s, %d ms old", time.Unix(0, s.Fix.TimeNs).UTC().Format(time.TimeOnly), s.Fix.Quality, s.FixAgeNs/1e6)
	if !math.IsNaN(s.Fix.SpeedMps) {
		fmt.Fprintf(&line, ", %.1f km/h", s.Fix.SpeedMps*3.6)
	}
	line.WriteString("  ")
	for _, on := range s.On {
		line.WriteByte("-#"[btoi(on)])
	}
	if s.Lost {
		fmt.Fprintf(&line, "  position lost (%s)", s.LostReason.String())
	}
	o.Draw(line.String())
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// sum prints the counts at the end of the run.
func (o *openedLive) sum() {
	s := o.engine.Status()
	o.Say("%s; %s used, %s, %s", files.CountsText(&s.Reader), wording.Counted(int(s.Controller.Accepted), "position"),
		wording.Late(&s.Controller, "setpoint"), wording.Counted(int(s.Controller.FailSafe), "fail-safe"))
}

// pushMetrics writes the metrics file. Of several failures in a row it reports
// the first.
func (l *LiveRun) pushMetrics(o *openedLive) func() {
	failing := false
	return func() {
		err := files.WriteWhole(l.Metrics, o.shown.set.WriteText)
		if err != nil && !failing {
			o.Say("%v", err)
		}
		failing = err != nil
	}
}

// close sends what is queued and ends ports and recording. Nothing is in work by
// then.
func (o *openedLive) close() {
	var closing sync.WaitGroup
	for _, p := range o.ports {
		closing.Go(crash.Guard(func() { p.Close() }))
	}
	closing.Wait()
	if o.recorder != nil {
		if err := o.recorder.Close(); err != nil && !o.unkept {
			o.Say("%v", err)
		}
	}
	if o.state != nil {
		if err := o.state.remove(); err != nil {
			o.Say("%v", err)
		}
	}
}
