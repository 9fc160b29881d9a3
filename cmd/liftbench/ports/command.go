// Package ports is the command that lists the serial lines of this computer.
package ports

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/replay/port/lines"
)

// NewCommand returns liftbench ports.
func NewCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List the serial ports of this computer",
		Long: `ports lists the serial ports, one a line, as they are written after --in, --out
and --to; what the device says of itself stands beside it. Under Linux a name that
stays with the device, whatever else is plugged in, stands in place of the short
one where there is one. No port is opened.`,
		Example: `  liftbench ports`,
		Args:    commandline.None,
		RunE: func(cmd *cobra.Command, _ []string) error {
			found, err := lines.List()
			if err != nil {
				return &failure.Input{File: "serial ports", Msg: "cannot be listed: " + err.Error(), Err: err}
			}
			return write(cmd.OutOrStdout(), cmd.ErrOrStderr(), found)
		},
	}
}

// write writes the lines that were found, and to stderr what to do if there are none.
func write(stdout, stderr io.Writer, found []lines.Line) error {
	for _, l := range found {
		name, what := l.Name, l.What
		if len(l.Stable) > 0 {
			name, what = l.Stable[0], "now "+l.Name
			if l.What != "" {
				what = l.What + ", " + what
			}
		}
		text := "serial:" + name
		if what != "" {
			text += "   " + what
		}
		if _, err := fmt.Fprintln(stdout, text); err != nil {
			return fmt.Errorf("standard output: %w", err)
		}
	}
	if len(found) == 0 {
		fmt.Fprintln(stderr, "This computer has no serial port. Plug in the receiver or its USB adapter and ask again; where it stays away, its driver is\n"+
			"missing or the cable only charges. A receiver in the network needs none: --in tcp:HOST:PORT.")
	}
	return nil
}
