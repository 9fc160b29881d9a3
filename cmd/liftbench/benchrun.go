// One run of bench: a drive played to an outside controller, and its score.

package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"liftbench/replay/port"
)

// benchRun is what the flags of bench say.
type benchRun struct {
	playFlags
	from, against, outDir, metricsFile string
	http                               httpFlags

	toSpec, fromSpec port.Spec
}

// check checks the flags.
func (b *benchRun) check() error {
	if b.to == "" {
		return &usageError{"bench: expected --to PORT, where the controller hears the receiver"}
	}
	if b.against != "" && b.against != "own" {
		return &usageError{"--against " + b.against + ": expected own"}
	}
	if err := checkPace(b.pace); err != nil {
		return err
	}
	if err := b.http.check(); err != nil {
		return err
	}
	var err error
	if b.toSpec, err = parsePort("to", b.to); err != nil {
		return err
	}
	if b.from != "" {
		b.fromSpec, err = parsePort("from", b.from)
		return err
	}
	switch b.toSpec.Kind {
	case port.Serial, port.TCP, port.TCPListen:
		return nil
	}
	return &usageError{"--to " + b.to + " carries one way only; expected --from PORT for the setpoints"}
}

// run plays the drive to the controller, scores it and prints the score.
func (b *benchRun) run(ctx context.Context, u *setup, stdout, stderr io.Writer) error {
	if b.outDir != "" {
		if err := makeDir(b.outDir); err != nil {
			return err
		}
	}
	toFiles := b.outDir != "" || b.metricsFile != ""
	own, err := u.run(nil, stderr, toFiles)
	if err != nil {
		return err
	}
	heard, err := b.play(ctx, u, own, stderr)
	if err != nil {
		return err
	}
	outside, err := heard.score(u, own, toFiles)
	if err != nil {
		return err
	}
	if err := outside.writeOut(b.outDir, b.metricsFile); err != nil {
		return err
	}
	if b.against == "own" && b.outDir != "" {
		if err := writeDir(filepath.Join(b.outDir, "own"), own.files()); err != nil {
			return err
		}
	}
	err = outside.writeTable(stdout)
	if err == nil && b.against == "own" {
		err = outside.writeBeside(stdout, own)
	}
	if err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return outside.exceeded(&u.scenario.Limits)
}
