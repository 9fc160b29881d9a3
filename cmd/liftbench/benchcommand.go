// liftbench bench: an outside controller in the loop.

package main

import (
	"context"
	"fmt"
	"io"
	"os/signal"
	"path/filepath"
	"syscall"

	"github.com/spf13/cobra"

	"liftbench/replay/port"
)

func newBenchCommand() *cobra.Command {
	var sel selection
	b := benchRun{playFlags: playFlags{pace: 1}}
	cmd := &cobra.Command{
		Use:   "bench [SCENARIO or LOG]",
		Short: "Put an outside controller in the loop and score it",
		Long: `bench plays the receiver of a drive, generated or recorded, to an outside
controller, reads back its setpoints, lets the simulated hydraulics and the soil
answer, and scores the controller as run scores our own. --against own scores
ours on the same drive beside it.

The controller says its setpoints as compact lines, on the port it hears the
receiver on, or on --from:
  $PLBS,17,24,1936274587.250000,00005555,FFFF0000*hh
sequence number, sections, instant from which they hold (seconds since 1970 by
the receiver; one that has passed means at once), for each 16 sections a word of
eight hexadecimal digits with two bits a section, leftmost lowest: 00 lift, 01
drop, 11 no action. The checksum is that of NMEA 0183.

` + portNames + `

A limit stated in the scenario and exceeded ends with exit status 1.`,
		Example: `  liftbench bench --to tcp-listen::9000 --against own
  liftbench bench --to serial:/dev/ttyUSB0?baud=115200 --out results beets/scenario.yaml`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := sel.take(cmd, args); err != nil {
				return err
			}
			if err := b.check(); err != nil {
				return err
			}
			u, err := sel.load()
			if err != nil {
				return err
			}
			switch {
			case u.log == "-":
				return &usageError{"a log on standard input is read once; expected a file"}
			case u.states != "":
				return &usageError{u.states + ": recorded work states leave nothing to command; expected a drive without states"}
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			return b.run(ctx, u, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	sel.addFlags(cmd)
	b.http.addFlags(cmd)
	f := cmd.Flags()
	f.StringVar(&b.to, "to", "", "`PORT` of the controller, as tcp-listen::9000 or serial:DEVICE?baud=115200")
	f.StringVar(&b.from, "from", "", "`PORT` on which its setpoints come, where that is another")
	f.Float64Var(&b.pace, "pace", b.pace, "`times` real time, for a controller that can follow")
	f.StringVar(&b.against, "against", "", "`own`: score our controller on the same drive beside it")
	f.StringVar(&b.outDir, "out", "", "write summary.json, events.csv, ground.geojson, metrics.prom and report.html to `DIR`, ours to DIR/own")
	f.StringVar(&b.metricsFile, "metrics-file", "", metricsFileHelp)
	_ = cmd.MarkFlagDirname("out")
	_ = cmd.RegisterFlagCompletionFunc("against", cobra.FixedCompletions([]string{"own"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

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
	files := b.outDir != "" || b.metricsFile != ""
	own, err := u.run(nil, stderr, files)
	if err != nil {
		return err
	}
	heard, err := b.play(ctx, u, own, stderr)
	if err != nil {
		return err
	}
	outside, err := heard.score(u, own, files)
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
