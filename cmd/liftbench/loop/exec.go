// The controller under test as a program that the bench starts, and in lockstep.

package loop

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/replay/crash"
	"liftbench/replay/lockstep"
	"liftbench/replay/port"
	"liftbench/replay/program"
	"liftbench/replay/wire"
)

// drive plays the drive to the controller and scores it. said is what a program
// said on its standard error; nil where none was started.
func (b *Bench) drive(ctx context.Context, u *settings.Setup, own *run.Outcome, toFiles bool, stderr io.Writer) (o *run.Outcome, said []byte, err error) {
	return b.with(ctx, stderr, nil, func(p *program.Program) (*run.Outcome, error) {
		if b.Lockstep {
			measured := run.Measures(u)
			if own != nil {
				measured = own.Reception.Measured > 0
			}
			return b.inLockstep(ctx, u, measured, p, toFiles, stderr)
		}
		heard, err := b.play(ctx, u, own, p, stderr)
		if err != nil {
			return nil, err
		}
		return heard.Score(u, own, toFiles)
	})
}

// DriveLockstep runs a generated drive in lockstep with the controller that the
// checked flags name, and returns what a program said on its standard error. env
// is added to the program's environment.
func (b *Bench) DriveLockstep(ctx context.Context, u *settings.Setup, env []string, stderr io.Writer) (o *run.Outcome, said []byte, err error) {
	return b.with(ctx, stderr, env, func(p *program.Program) (*run.Outcome, error) {
		return b.inLockstep(ctx, u, run.Measures(u), p, false, stderr)
	})
}

// with starts the program, if there is one to start, for as long as play goes on.
func (b *Bench) with(ctx context.Context, stderr io.Writer, env []string, play func(*program.Program) (*run.Outcome, error)) (o *run.Outcome, said []byte, err error) {
	var p *program.Program
	if b.Exec != "" {
		if p, err = program.Start(ctx, b.Exec, env...); err != nil {
			return nil, nil, &failure.Input{File: b.Exec, Msg: "cannot be started: " + err.Error(), Err: err}
		}
		defer func() {
			ended := p.Close()
			said = p.Stderr()
			switch {
			case err != nil && len(said) > 0:
				err = &failure.Input{File: b.Exec, Msg: strings.TrimPrefix(err.Error(), b.Exec+": ") + "; it said last: " + lastLine(said), Err: err}
			case err == nil && ended != nil:
				fmt.Fprintf(stderr, "%s: %v after the drive\n", b.Exec, ended)
			}
		}()
	}
	o, err = play(p)
	return o, nil, err
}

// lastLine is the last line of a text that is not empty, shortened.
func lastLine(text []byte) string {
	s := strings.TrimSpace(string(text))
	s = s[strings.LastIndexByte(s, '\n')+1:]
	return s[:min(len(s), 200)]
}

// inLockstep runs the drive in lockstep with a program, or on the ports where p is
// nil.
func (b *Bench) inLockstep(ctx context.Context, u *settings.Setup, measured bool, p *program.Program, toFiles bool, stderr io.Writer) (*run.Outcome, error) {
	c := terminal.NewConsole(stderr)
	defer c.Finish()
	var r io.Reader
	var w io.Writer
	var cut func()
	if p != nil {
		r, w, cut = p.Out, p.In, p.Kill
	} else {
		Warn(c, b.toSpec, b.fromSpec)
		to, from, err := b.openPorts(c, nil)
		if err != nil {
			return nil, err
		}
		defer to.Close()
		if from != to {
			defer from.Close()
		}
		awaitPeer(c, ctx, b.To, to)
		hearing, deaf := context.WithCancel(ctx)
		defer deaf()
		r, w, cut = from.Until(hearing), &sender{port: to}, deaf
	}
	name := b.name()
	job := run.Job(u)
	told := run.LockstepJob(job, measured)
	talk := lockstep.New(r, w, len(job.Machine.Sections), b.AnswerWithin, cut)
	defer context.AfterFunc(ctx, crash.Guard(cut))()
	begun := time.Now()
	err := talk.Begin(told)
	var o *run.Outcome
	if err != nil {
		err = run.TalkError(name, err)
	} else {
		o, err = run.DriveLockstep(u, talk, name, toFiles)
	}
	switch {
	case ctx.Err() != nil:
		return nil, &failure.Usage{Msg: "interrupted: the drive was not played to its end, so nothing is scored"}
	case err != nil:
		return nil, err
	}
	took := time.Since(begun)
	c.Say("in lockstep: %d turns in %s, %.0f times real time", talk.Turns, took.Round(time.Millisecond), o.DurationS/took.Seconds())
	return o, nil
}

// name is how messages call the controller under test.
func (b *Bench) name() string {
	switch {
	case b.Exec != "":
		return b.Exec
	case b.From != "":
		return b.From
	}
	return b.To
}

// openPorts opens the ports to and from the controller, which may be the same, or
// those of a program.
func (b *Bench) openPorts(c *terminal.Console, p *program.Program) (to, from *port.Port, err error) {
	open := func(name string, spec port.Spec, mode port.Mode) (*port.Port, error) {
		if p != nil {
			return openPort(c, context.Background(), name, spec, mode, p.Out, p.In)
		}
		return openPort(c, context.Background(), name, spec, mode, strings.NewReader(""), io.Discard)
	}
	mode := port.Duplex
	if b.From != "" {
		mode = port.Out
	}
	if to, err = open(b.name(), b.toSpec, mode); err != nil || b.From == "" {
		return to, to, err
	}
	if from, err = open(b.From, b.fromSpec, port.In); err != nil {
		to.Close()
	}
	return to, from, err
}

// tellJob tells a program the job before sentences come in real time.
func tellJob(p *program.Program, u *settings.Setup, own *run.Outcome) error {
	told := run.LockstepJob(run.Job(u), own.Reception.Measured > 0)
	told.Paced = true
	_, err := p.In.Write(wire.AppendLockstepJob(nil, told))
	return err
}
