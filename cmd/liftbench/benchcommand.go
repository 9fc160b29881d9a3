// liftbench bench: an outside controller in the loop.

package main

import (
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"
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
