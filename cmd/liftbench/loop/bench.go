// One run of bench: a drive played to an outside controller, and its score.

package loop

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/port"
)

// Bench holds the flags of bench.
type Bench struct {
	PlayFlags
	Exec                               string
	Lockstep                           bool
	AnswerWithin                       time.Duration // in lockstep
	From, Against, OutDir, MetricsFile string
	Http                               HttpFlags
	Sheet                              acceptance.Wanted

	toSpec, fromSpec port.Spec
}

// Check checks the flags.
func (b *Bench) Check() error {
	switch {
	case b.To == "" && b.Exec == "":
		return &failure.Usage{Msg: "bench: expected --to PORT, where the controller hears the receiver, or --exec COMMAND, which starts it"}
	case b.To != "" && b.Exec != "":
		return &failure.Usage{Msg: "--to and --exec: expected one of them, as a controller hears the receiver in one place"}
	case b.Exec != "" && b.From != "":
		return &failure.Usage{Msg: "--from: a program that --exec starts says its setpoints on its standard output; expected --from with --to"}
	case b.Lockstep && b.Pace != 1:
		return &failure.Usage{Msg: "--pace: in lockstep the controller sets the pace; expected one of --pace and --lockstep"}
	case b.Lockstep && b.Http.Addr != "":
		return &failure.Usage{Msg: "--http shows a drive in real time; expected one of --http and --lockstep"}
	case b.AnswerWithin < time.Millisecond || b.AnswerWithin > time.Hour:
		return &failure.Usage{Msg: fmt.Sprintf("--answer-within %s: expected 1ms to 1h", b.AnswerWithin)}
	}
	if b.Against != "" && b.Against != "own" {
		return &failure.Usage{Msg: "--against " + b.Against + ": expected own"}
	}
	if err := CheckPace(b.Pace); err != nil {
		return err
	}
	if err := b.Http.check(); err != nil {
		return err
	}
	if err := b.Sheet.Check(); err != nil {
		return err
	}
	if b.Exec != "" {
		b.toSpec = port.Spec{Kind: port.Std}
		return nil
	}
	var err error
	if b.toSpec, err = parsePort("to", b.To); err != nil {
		return err
	}
	if b.From != "" {
		b.fromSpec, err = parsePort("from", b.From)
		return err
	}
	switch b.toSpec.Kind {
	case port.Serial, port.TCP, port.TCPListen:
		return nil
	}
	return &failure.Usage{Msg: "--to " + b.To + " carries one way only; expected --from PORT for the setpoints"}
}

// Run plays the drive to the controller, scores it and prints the score.
func (b *Bench) Run(ctx context.Context, u *settings.Setup, stdout, stderr io.Writer) error {
	if b.OutDir != "" {
		if err := files.MakeDir(b.OutDir); err != nil {
			return err
		}
	}
	toFiles := b.OutDir != "" || b.MetricsFile != ""
	// In lockstep a generated drive is known without our own run of it.
	var own *run.Outcome
	var err error
	if !b.Lockstep || b.Against == "own" || u.Log != "" {
		if own, err = run.Drive(u, nil, stderr, toFiles); err != nil {
			return err
		}
	}
	outside, said, err := b.drive(ctx, u, own, toFiles, stderr)
	if b.OutDir != "" && said != nil {
		// What the controller said on its standard error is wanted most when it failed.
		kept := files.WriteWhole(filepath.Join(b.OutDir, "controller.txt"), func(w io.Writer) error {
			_, err := w.Write(said)
			return err
		})
		err = cmp.Or(err, kept)
	}
	if err != nil {
		return err
	}
	outside.Language = b.Sheet.Language()
	if own != nil {
		own.Language = outside.Language
	}
	notKept := report.Write(outside, b.OutDir, b.MetricsFile) // the score is printed all the same
	if b.Against == "own" && b.OutDir != "" && notKept == nil {
		notKept = files.WriteDir(filepath.Join(b.OutDir, "own"), report.Files(own))
	}
	if notKept == nil {
		notKept = b.Sheet.WriteOf(func() *acceptance.Sheet { return acceptance.FromRun(outside) })
	}
	err = report.WriteTable(outside, stdout)
	if err == nil && b.Against == "own" {
		err = report.WriteBeside(outside, stdout, own)
	}
	if err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	if notKept != nil {
		return notKept
	}
	return outside.Exceeded(&u.Scenario.Limits)
}
