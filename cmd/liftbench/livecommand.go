// liftbench live: the controller against the clock.

package main

import (
	"io"
	"os/signal"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/metrics"
)

func newLiveCommand() *cobra.Command {
	var sel selection
	var alerts string
	flags := liveFlags{in: "-", out: []string{"-"}, pace: 1, recordSync: time.Second}
	cmd := &cobra.Command{
		Use:   "live [SCENARIO]",
		Short: "Run the controller against the clock: receiver in, setpoints out",
		Long: `live takes what a receiver says and gives the setpoints of the sections, by the
same controller as run. On what live recorded, run decides the same.

` + portNames + `

Setpoints go out as json (a line for each, when decided), line (one checksummed
line with the state of all sections, when due and once a second) or candump
(ISO 11783 process data as candump prints it): --out line=tcp:127.0.0.1:9000.
A port that is gone is waited for; a peer that does not read delays nothing.

SIGINT, SIGTERM, SIGHUP and SIGQUIT lift what is in work, then end.`,
		Example: `  liftbench drive --out beets.nmea
  liftbench live --in file:beets.nmea --pace 1000 --out json=file:setpoints.jsonl`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if alerts != "" {
				return writeWhole(alerts, func(w io.Writer) error {
					_, err := w.Write(metrics.Alerts)
					return err
				})
			}
			if err := sel.take(cmd, args); err != nil {
				return err
			}
			if !sel.isScenario() {
				return &usageError{"--in file:" + sel.arg + " takes a log; expected a scenario file, whose name ends in .yaml"}
			}
			u, err := sel.load()
			if err != nil {
				return err
			}
			l, err := newLiveRun(u, &flags, cmd.Flags().Changed("pace"))
			if err != nil {
				return err
			}
			// A pipe whose reader is gone is an error of that output, and no reason to
			// die with tools in work.
			signal.Ignore(syscall.SIGPIPE)
			defer signal.Reset(syscall.SIGPIPE)
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
			defer stop()
			return l.run(ctx, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	sel.addFlags(cmd)
	flags.http.addFlags(cmd)
	f := cmd.Flags()
	f.StringVar(&flags.in, "in", flags.in, "`PORT` of the receiver")
	f.StringArrayVar(&flags.out, "out", flags.out, "`[FORM=]PORT` for the setpoints; may be given several times")
	f.Float64Var(&flags.pace, "pace", flags.pace, "`times` real time at which a log is taken; with --in file:")
	f.StringVar(&flags.record, "record", "", "record what arrives, to `PREFIX`-YYYYMMDDThhmmss.nmea, a new file each hour or 64 MiB")
	f.DurationVar(&flags.recordSync, "record-sync", flags.recordSync, "`time` between two writes to the disk: what kill -9 loses at most")
	f.StringVar(&flags.metrics, "metrics-file", "", metricsFileHelp)
	f.StringVar(&alerts, "write-alerts", "", "write Prometheus's alerting rules for lateness and lost position to `FILE`, and end")
	return cmd
}
