// liftbench live: the controller against the clock.

package main

import (
	"io"
	"time"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/wording"
)

func newLiveCommand() *cobra.Command {
	var sel settings.Selection
	var alerts string
	want := loop.LiveFlags{In: "-", Out: []string{"-"}, Pace: 1, RecordSync: time.Second}
	cmd := &cobra.Command{
		Use:   "live [SCENARIO]",
		Short: "Run the controller against the clock: receiver in, setpoints out",
		Long: `live takes what a receiver says and gives the setpoints of the sections, by the
same controller as run. On what live recorded, run decides the same.

` + loop.PortNames + `

Setpoints go out as json (a line for each, when decided), line (one checksummed
line with the state of all sections, when due and once a second) or candump
(ISO 11783 process data as candump prints it): --out line=tcp:127.0.0.1:9000.
A port that is gone is waited for; a peer that does not read delays nothing.

Whatever signal ends the program, and a fault in it, lift what is in work first;
kill -9 and a computer that stops cannot. Setpoints are sent once a second, so
that their receiver lifts by itself when they stop.

` + wording.StandClearEverywhere,
		Example: `  liftbench drive --out beets.nmea
  liftbench live --in file:beets.nmea --pace 1000 --out json=file:setpoints.jsonl`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if alerts != "" {
				return files.WriteWhole(alerts, func(w io.Writer) error {
					_, err := w.Write(metrics.Alerts)
					return err
				})
			}
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			if !sel.IsScenario() {
				return &failure.Usage{Msg: "--in file:" + sel.Arg + " takes a log; expected a scenario file, whose name ends in .yaml"}
			}
			u, err := sel.Load()
			if err != nil {
				return err
			}
			l, err := loop.NewLive(u, &want, sel.Choice, cmd.Flags().Changed("pace"))
			if err != nil {
				return err
			}
			ctx, stop := loop.UntilSignal(cmd.Context())
			defer stop()
			return l.Run(ctx, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	flags.AddSelection(&sel, cmd)
	flags.AddHTTP(&want.Http, cmd)
	f := cmd.Flags()
	f.StringVar(&want.In, "in", want.In, "`PORT` of the receiver; candump:PORT and can: frames of the bus it is on")
	f.StringArrayVar(&want.Out, "out", want.Out, "`[FORM=]PORT` for the setpoints; may be given several times")
	f.Float64Var(&want.Pace, "pace", want.Pace, "`times` real time at which a log is taken; with --in file:")
	f.StringVar(&want.Record, "record", "", "record what arrives, to `PREFIX`-YYYYMMDDThhmmss.nmea, a new file each hour or 64 MiB")
	f.DurationVar(&want.RecordSync, "record-sync", want.RecordSync, "`time` between two writes to the disk: what kill -9 loses at most")
	f.StringVar(&want.State, "state", "", "keep in `FILE` what is in work and what the controller knows; after kill -9 the next run lifts that first, and goes on")
	f.StringVar(&want.Metrics, "metrics-file", "", metricsFileHelp)
	f.StringVar(&alerts, "write-alerts", "", "write Prometheus's alerting rules for lateness and lost position to `FILE`, and end")
	return cmd
}
