// liftbench drive: the generated drive as NMEA.

package main

import (
	"io"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
)

func newDriveCommand() *cobra.Command {
	var sel settings.Selection
	var out, poses string
	var play loop.PlayFlags
	cmd := &cobra.Command{
		Use:   "drive [SCENARIO]",
		Short: "Write the generated drive as NMEA",
		Long: `drive works the field of a scenario (the demo when none is given) and writes what
the receiver on the tractor says, as NMEA, to standard output or a file. A name
that ends in .gz is compressed. --poses writes where the tractor truly was.

With --out candump=FILE it writes what a CAN bus carries on the same drive, as a
log of candump: ` + run.TraceText + `.

With --to it plays the receiver instead: each sentence at its time, to a serial
line or a socket.

` + loop.PortNames,
		Example: `  liftbench drive --out beets.nmea
  liftbench drive --out beets.nmea.gz --poses beets.csv
  liftbench drive --out candump=beets.log
  liftbench drive --machine beets/machine.yaml beets/scenario.yaml`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			if !sel.IsScenario() {
				return &failure.Usage{Msg: sel.Arg + " is no scenario file; expected a name that ends in .yaml"}
			}
			if err := flags.CheckPlay(&play, cmd); err != nil {
				return err
			}
			u, err := sel.Load()
			if err != nil {
				return err
			}
			if play.To == "" {
				return run.WriteDrive(u, out, poses, cmd.OutOrStdout(), cmd.ErrOrStderr())
			}
			if out != "" {
				return &failure.Usage{Msg: "--to plays the drive, --out writes it; expected one of them"}
			}
			if poses != "" {
				if err := run.WriteDrive(u, "", poses, nil, io.Discard); err != nil {
					return err
				}
			}
			return play.Play(cmd.Context(), u, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	flags.AddSelection(&sel, cmd)
	cmd.Flags().StringVar(&out, "out", "", "write to `FILE` instead of standard output; candump=FILE: as frames of a CAN bus")
	flags.AddPlay(&play, cmd)
	cmd.Flags().StringVar(&poses, "poses", "", "write the true poses as CSV to `FILE`")
	return cmd
}
