// The generated drive, written as NMEA.

package main

import (
	"fmt"
	"io"

	"liftbench/sim/receiver"
)

// writeDrive generates the drive and writes it; without a stdout and an out, the
// poses alone.
func (u *setup) writeDrive(out, poses string, stdout, stderr io.Writer) error {
	if u.log != "" {
		return &usageError{u.log + " is the scenario's recorded log; expected a scenario that generates its drive"}
	}
	m := u.machine.geometry()
	d, err := u.plan(m)
	if err != nil {
		return err
	}
	for _, w := range d.Warnings {
		fmt.Fprintf(stderr, "%s: %s\n", u.title, w)
	}
	if poses != "" {
		rate := u.scenario.Receiver.RateHz
		err := writeWhole(poses, func(w io.Writer) error {
			return receiver.WriteTruth(w, d.Track, &u.field.Plane, rate)
		})
		if err != nil {
			return err
		}
	}
	if stdout == nil && out == "" {
		return nil
	}
	say := func(w io.Writer) error {
		return receiver.Write(w, d.Track, &u.field.Plane, m, u.receiverParams())
	}
	if out == "" || out == "-" {
		if err := say(stdout); err != nil {
			return fmt.Errorf("standard output: %w", err)
		}
		return nil
	}
	return writeWhole(out, say)
}
