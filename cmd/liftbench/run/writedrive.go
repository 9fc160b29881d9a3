// The generated drive, written as NMEA.

package run

import (
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sim/receiver"
)

// WriteDrive generates the drive and writes it. If stdout is nil and out is empty,
// only the poses are written.
func WriteDrive(u *settings.Setup, out, poses string, stdout, stderr io.Writer) error {
	if u.Log != "" {
		return &failure.Usage{Msg: u.Log + " is the scenario's recorded log; expected a scenario that generates its drive"}
	}
	m := u.Machine.Geometry()
	d, err := Plan(u, m)
	if err != nil {
		return err
	}
	for _, w := range d.Warnings {
		fmt.Fprintf(stderr, "%s: %s\n", u.Title, w)
	}
	if poses != "" {
		rate := u.Scenario.Receiver.RateHz
		err := files.WriteWhole(poses, func(w io.Writer) error {
			return receiver.WriteTruth(w, d.Track, &u.Field.Plane, rate)
		})
		if err != nil {
			return err
		}
	}
	if stdout == nil && out == "" {
		return nil
	}
	if file, ok := strings.CutPrefix(out, "candump="); ok {
		return WriteTrace(u, file, stdout, stderr)
	}
	say := func(w io.Writer) error {
		return receiver.Write(w, d.Track, &u.Field.Plane, m, ReceiverParams(u))
	}
	if out == "" || out == "-" {
		if err := say(stdout); err != nil {
			return fmt.Errorf("standard output: %w", err)
		}
		return nil
	}
	return files.WriteWhole(out, say)
}
