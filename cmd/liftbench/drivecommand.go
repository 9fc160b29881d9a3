// liftbench drive: the generated drive as NMEA.

package main

import (
	"io"

	"github.com/spf13/cobra"
)

func newDriveCommand() *cobra.Command {
	var sel selection
	var out, poses string
	var play playFlags
	cmd := &cobra.Command{
		Use:   "drive [SCENARIO]",
		Short: "Write the generated drive as NMEA",
		Long: `drive works the field of a scenario (the demo when none is given) and writes what
the receiver on the tractor says, as NMEA, to standard output or a file. A name
that ends in .gz is compressed. --poses writes where the tractor truly was.

With --to it plays the receiver instead: each sentence at its time, to a serial
line or a socket.

` + portNames,
		Example: `  liftbench drive --out beets.nmea
  liftbench drive --out beets.nmea.gz --poses beets.csv
  liftbench drive --machine beets/machine.yaml beets/scenario.yaml`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := sel.take(cmd, args); err != nil {
				return err
			}
			if !sel.isScenario() {
				return &usageError{sel.arg + " is no scenario file; expected a name that ends in .yaml"}
			}
			if err := play.check(cmd); err != nil {
				return err
			}
			u, err := sel.load()
			if err != nil {
				return err
			}
			if play.to == "" {
				return u.writeDrive(out, poses, cmd.OutOrStdout(), cmd.ErrOrStderr())
			}
			if out != "" {
				return &usageError{"--to plays the drive, --out writes it; expected one of them"}
			}
			if poses != "" {
				if err := u.writeDrive("", poses, nil, io.Discard); err != nil {
					return err
				}
			}
			return play.play(cmd.Context(), u, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	sel.addFlags(cmd)
	cmd.Flags().StringVar(&out, "out", "", "write to `FILE` instead of standard output")
	play.addFlags(cmd)
	cmd.Flags().StringVar(&poses, "poses", "", "write the true poses as CSV to `FILE`")
	return cmd
}
