// liftbench import: a day as machines record it, as plain files.

package main

import (
	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/report"
)

func newImportCommand() *cobra.Command {
	var choice recording.Choice
	outDir := ""
	cmd := &cobra.Command{
		Use:   "import FILE... --out DIR",
		Short: "Turn task data or a CAN trace into plain files",
		Long: `import reads a day as a terminal or a bus logger recorded it, ISO 11783-10 task
data (a folder or a zip) or a CAN trace, and writes it to DIR: day.nmea,
states.csv, field.geojson, machine.yaml, a scenario that names them, day.yaml,
and a page that says what was found, chosen and left out. What nothing tells is a
usual value, and marked as one. Files there that were changed stay. Several FILEs
of one day become one, with NMEA logs among them; of times in two the first counts.

Every command takes such a FILE as it is, too: liftbench diagnose stick.zip.`,
		Example: `  liftbench drive --out candump=bus.log
  liftbench import --out day bus.log`,
		Args: commandline.Logs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if outDir == "" {
				return &failure.Usage{Msg: "import: expected --out DIR, where the files are written"}
			}
			d, err := recording.ReadAll(args, choice, cmd.InOrStdin(), cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			return report.WriteImported(d, args, outDir, commandline.Again(cmd, args)+" --out DIR", cmd.OutOrStdout())
		},
	}
	flags.AddChoice(&choice, cmd)
	cmd.Flags().StringVar(&outDir, "out", "", "write the files to `DIR`")
	_ = cmd.MarkFlagDirname("out")
	return cmd
}
