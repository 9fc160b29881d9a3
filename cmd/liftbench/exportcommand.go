// liftbench export: a drive as a terminal would have recorded it.

package main

import (
	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
)

func newExportCommand() *cobra.Command {
	var sel settings.Selection
	out := ""
	cmd := &cobra.Command{
		Use:   "export [SCENARIO or LOG]",
		Short: "Write a drive as ISO 11783-10 task data",
		Long: `export runs a drive, generated or recorded, on the bench and writes what a
terminal would have recorded of it to a zip of ISO 11783-10 task data: positions,
what the controller told the sections and what they did, machine, leads and
field. What was told and done on a recorded day is written as it was recorded.

liftbench drive --out candump=FILE writes the same drive as frames of a CAN bus.`,
		Example: `  liftbench export --taskdata beets.zip
  liftbench diagnose beets.zip`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return &failure.Usage{Msg: "export: expected --taskdata FILE, the zip to write"}
			}
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			u, err := sel.Load()
			if err != nil {
				return err
			}
			return run.WriteTaskData(u, out, cmd.InOrStdin(), cmd.ErrOrStderr())
		},
	}
	flags.AddSelection(&sel, cmd)
	f := cmd.Flags()
	f.StringVar(&sel.States, "states", "", "work states recorded with LOG, CSV `FILE`, in place of the simulated hydraulics")
	f.StringVar(&out, "taskdata", "", "write the zip to `FILE`")
	return cmd
}
