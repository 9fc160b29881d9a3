// liftbench run: one drive through controller, hydraulics and score.

package main

import (
	"cmp"
	"fmt"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/wording"
)

func newRunCommand() *cobra.Command {
	var sel settings.Selection
	var outDir, metricsFile string
	var play loop.PlayFlags
	var sheet acceptance.Wanted
	cmd := &cobra.Command{
		Use:   "run [SCENARIO or LOG]",
		Short: "Run a drive through controller and hydraulics and score it",
		Long: `run takes a drive, generated or recorded, through the section controller, the
hydraulics and the soil, and scores every lift and drop against the field.

A SCENARIO (.yaml) names machine, field and drive; with none, the demo runs. A
LOG (NMEA, - for standard input, gzip is unpacked) needs --machine and --field.
With --states the work states recorded on that day take the place of the
simulated hydraulics, and the recorded day is scored.

With --to it first plays the receiver of the drive to a port, at --pace times
real time; liftbench drive --help lists the ports.

With --sheet it writes an acceptance sheet: whether the agreed tolerance is kept,
by which crossings and statistics, settings, cautions and room for signatures.

A limit stated in the scenario and exceeded ends with exit status 1.

Before a machine drives by these figures:
` + wording.StandClearEverywhere,
		Example: `  liftbench run
  liftbench check --write-demo beets
  liftbench run --out results beets/scenario.yaml
  liftbench run --sheet sheet.html --sheet-file beets/sheet.yaml --lang de
  liftbench drive --out beets.nmea
  liftbench run --machine beets/machine.yaml --field beets/field.geojson beets.nmea`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			if err := cmp.Or(flags.CheckPlay(&play, cmd), sheet.Check()); err != nil {
				return err
			}
			u, err := sel.Load()
			if err != nil {
				return err
			}
			if outDir != "" {
				if err := files.MakeDir(outDir); err != nil {
					return err
				}
			}
			if play.To != "" {
				if u.Log == "-" {
					return &failure.Usage{Msg: "--to: standard input can be read once; expected a file"}
				}
				if err := play.Play(cmd.Context(), u, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()); err != nil {
					return err
				}
			}
			o, err := run.Drive(u, cmd.InOrStdin(), cmd.ErrOrStderr(), outDir != "" || metricsFile != "")
			if err != nil {
				return err
			}
			if err := o.AddTypical(cmd.ErrOrStderr()); err != nil {
				return err
			}
			o.Command, o.Language = commandline.Again(cmd, args), sheet.Language()
			// The table is printed all the same.
			notKept := cmp.Or(report.Write(o, outDir, metricsFile), sheet.WriteOf(func() *acceptance.Sheet { return acceptance.FromRun(o) }))
			if err := report.WriteTable(o, cmd.OutOrStdout()); err != nil {
				return fmt.Errorf("standard output: %w", err)
			}
			if notKept != nil {
				return notKept
			}
			if err := o.Wrong(); err != nil {
				return err
			}
			return o.Exceeded(&u.Scenario.Limits)
		},
	}
	flags.AddSelection(&sel, cmd)
	cmd.Flags().StringVar(&sel.States, "states", "", "recorded work states, CSV `FILE`, in place of the simulated hydraulics")
	cmd.Flags().StringVar(&sel.Zone, "zone", "", "`ZONE` of the times of --states that say none: Europe/Berlin, or an offset like +02:00")
	cmd.Flags().StringVar(&outDir, "out", "", "write summary.json, events.csv, ground.geojson, metrics.prom and report.html to `DIR`")
	flags.AddPlay(&play, cmd)
	flags.AddSheet(&sheet, cmd)
	cmd.Flags().StringVar(&metricsFile, "metrics-file", "", metricsFileHelp)
	_ = cmd.MarkFlagDirname("out")
	return cmd
}

// metricsFileHelp is the flag of every command that has figures.
const metricsFileHelp = "write the metrics to `FILE`, for a node exporter's text file collector (name it *.prom)"
