// liftbench diagnose: why were lifts and drops late on a recorded day.

package main

import (
	"cmp"
	"fmt"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
)

func newDiagnoseCommand() *cobra.Command {
	sel := settings.Selection{Demo: run.BadDayScenario, FieldOptional: true}
	var outDir, demoDir string
	var sheet acceptance.Wanted
	cmd := &cobra.Command{
		Use:   "diagnose [SCENARIO or LOG]",
		Short: "Find out why lifts and drops were late on a recorded day",
		Long: `diagnose reads the positions and the work states of a recorded day, and answers
on one page: how late, where, why, and what to change. Errors are positive when
late.

A LOG (NMEA, - for standard input, gzip is unpacked) needs --machine and --states;
without zones in --field or --headland, they are found from the track. A SCENARIO (.yaml) names them with log and states. With none, a
bad day built into the program is diagnosed. Measure the machine file's numbers
on the machine: what the terminal was told may be what is wrong.

With setpoint and actual in the states, a command that came late is told from
a machine that was slow to follow.`,
		Example: `  liftbench diagnose
  liftbench diagnose --write-demo badday
  liftbench diagnose --out results badday/day.yaml
  liftbench diagnose --machine badday/machine.yaml --field badday/field.geojson --states badday/day.states.csv badday/day.nmea.gz`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if demoDir != "" {
				return run.WriteBadDay(demoDir)
			}
			if err := cmp.Or(flags.TakeSelection(&sel, cmd, args), sheet.Check()); err != nil {
				return err
			}
			if sel.Arg == "" && sel.States != "" {
				return sel.StatesAlone()
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
			d, err := run.Diagnose(u, sel.Arg == "", cmd.InOrStdin(), cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			d.Command, d.Language = commandline.Again(cmd, args), sheet.Language()
			var notKept error // the answer is printed all the same
			if outDir != "" {
				notKept = files.WriteDir(outDir, report.DiagnosisFiles(d))
			}
			notKept = cmp.Or(notKept, sheet.WriteOf(func() *acceptance.Sheet { return acceptance.FromDiagnosis(d) }))
			if err := report.WriteDiagnosis(d, cmd.OutOrStdout()); err != nil {
				return fmt.Errorf("standard output: %w", err)
			}
			if notKept != nil {
				return notKept
			}
			return d.Wrong()
		},
	}
	flags.AddSelection(&sel, cmd)
	flags.AddSheet(&sheet, cmd)
	f := cmd.Flags()
	f.StringVar(&sel.States, "states", "", "work states recorded with LOG, CSV `FILE`")
	f.StringVar(&sel.Zone, "zone", "", "`ZONE` of the times of --states that say none: Europe/Berlin, or an offset like +02:00")
	f.StringVar(&outDir, "out", "", "write diagnosis.json and diagnosis.html to `DIR`")
	f.StringVar(&demoDir, "write-demo", "", "write the bad day's files to `DIR`, to see what is wanted")
	_ = cmd.MarkFlagDirname("out")
	_ = cmd.MarkFlagDirname("write-demo")
	return cmd
}
