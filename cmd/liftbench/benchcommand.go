// liftbench bench: an outside controller in the loop.

package main

import (
	"os/signal"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/settings"
)

func newBenchCommand() *cobra.Command {
	var sel settings.Selection
	b := loop.Bench{PlayFlags: loop.PlayFlags{Pace: 1}, AnswerWithin: 10 * time.Second}
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
the receiver; one that has passed means at once, one more than 10 s ahead is not
believed), for each 16 sections a word of eight hexadecimal digits with two bits
a section, leftmost lowest: 00 lift, 01 drop, 11 no action. The checksum is that of NMEA 0183.

--exec starts a program as the shell does and speaks over its standard input and
output. --lockstep stops the drive's clock until the controller has answered for
each instant, so that a day takes as long as the controller needs, with the same
result every time, on a busy computer too. Its words, "now", "turn" and "done",
stand in replay/wire/README.md.

` + loop.PortNames + `

A limit stated in the scenario and exceeded ends with exit status 1.`,
		Example: `  liftbench bench --to tcp-listen::9000 --against own
  liftbench bench --lockstep --exec ./my-controller
  liftbench bench --to serial:/dev/ttyUSB0?baud=115200 --out results beets/scenario.yaml`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			if err := b.Check(); err != nil {
				return err
			}
			u, err := sel.Load()
			if err != nil {
				return err
			}
			switch {
			case u.Log == "-":
				return &failure.Usage{Msg: "a log on standard input is read once; expected a file"}
			case u.States != "":
				return &failure.Usage{Msg: u.States + ": recorded work states leave nothing to command; expected a drive without states"}
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			return b.Run(ctx, u, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	flags.AddSelection(&sel, cmd)
	flags.AddHTTP(&b.Http, cmd)
	flags.AddSheet(&b.Sheet, cmd)
	f := cmd.Flags()
	f.StringVar(&b.To, "to", "", "`PORT` of the controller, as tcp-listen::9000 or serial:DEVICE?baud=115200")
	f.StringVar(&b.Exec, "exec", "", "`COMMAND` that starts the controller, which hears on standard input and answers on standard output")
	f.BoolVar(&b.Lockstep, "lockstep", false, "stop the drive's clock until the controller has answered for each instant")
	f.DurationVar(&b.AnswerWithin, "answer-within", b.AnswerWithin, "`time` after which a controller in lockstep is given up")
	f.StringVar(&b.From, "from", "", "`PORT` on which its setpoints come, where that is another")
	f.Float64Var(&b.Pace, "pace", b.Pace, "`times` real time, for a controller that can follow")
	f.StringVar(&b.Against, "against", "", "`own`: score our controller on the same drive beside it")
	f.StringVar(&b.OutDir, "out", "", "write summary.json, events.csv, ground.geojson, metrics.prom and report.html to `DIR`, ours to DIR/own, and what --exec said on standard error to controller.txt")
	f.StringVar(&b.MetricsFile, "metrics-file", "", metricsFileHelp)
	_ = cmd.MarkFlagDirname("out")
	_ = cmd.RegisterFlagCompletionFunc("against", cobra.FixedCompletions([]string{"own"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}
