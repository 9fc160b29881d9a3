// liftbench run: one drive through controller, hydraulics and score.

package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"liftbench/nmea"
	"liftbench/replay"
	"liftbench/sim"
	"liftbench/sim/receiver"
)

func newRunCommand() *cobra.Command {
	var sel selection
	var outDir, metricsFile string
	var play playFlags
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

A limit stated in the scenario and exceeded ends with exit status 1.`,
		Example: `  liftbench run
  liftbench check --write-demo beets
  liftbench run --out results beets/scenario.yaml
  liftbench drive --out beets.nmea
  liftbench run --machine beets/machine.yaml --field beets/field.geojson beets.nmea`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := sel.take(cmd, args); err != nil {
				return err
			}
			if err := play.check(cmd); err != nil {
				return err
			}
			u, err := sel.load()
			if err != nil {
				return err
			}
			if play.to != "" {
				if u.log == "-" {
					return &usageError{"--to: standard input can be read once; expected a file"}
				}
				if err := play.play(u, cmd); err != nil {
					return err
				}
			}
			o, err := u.run(cmd.InOrStdin(), cmd.ErrOrStderr(), outDir != "" || metricsFile != "")
			if err != nil {
				return err
			}
			o.command = commandLine(cmd, args)
			if err := o.writeOut(outDir, metricsFile); err != nil {
				return err
			}
			if err := o.writeTable(cmd.OutOrStdout()); err != nil {
				return fmt.Errorf("standard output: %w", err)
			}
			return o.exceeded(&u.scenario.Limits)
		},
	}
	sel.addFlags(cmd)
	cmd.Flags().StringVar(&sel.states, "states", "", "recorded work states, CSV `FILE`, in place of the simulated hydraulics")
	cmd.Flags().StringVar(&outDir, "out", "", "write summary.json, events.csv, ground.geojson, metrics.prom and report.html to `DIR`")
	play.addFlags(cmd)
	cmd.Flags().StringVar(&metricsFile, "metrics-file", "", metricsFileHelp)
	_ = cmd.MarkFlagDirname("out")
	return cmd
}

// run takes the setup's drive through the bench. files asks for what the files
// of --out say beyond the table.
func (u *setup) run(stdin io.Reader, stderr io.Writer, files bool) (*outcome, error) {
	job := u.job()
	o := u.outcome()
	if files {
		job.Strips, job.Heights = true, true
		o.measure(job)
	}
	o.simulated = u.states == ""
	if u.states != "" {
		states, err := readStates(u.states, len(job.Machine.Sections))
		if err != nil {
			return nil, err
		}
		job.Recorded = states.Work()
	}

	in, err := u.open(job, o, stdin, stderr)
	if err != nil {
		return nil, err
	}
	defer in.close()
	return o, o.take(job, in, u.states)
}

// open begins the setup's drive: its log, or what a receiver says of the
// generated drive, of which the job then knows the truth.
func (u *setup) open(job *sim.Job, o *outcome, stdin io.Reader, stderr io.Writer) (*logInput, error) {
	if u.log != "" {
		return openLog(u.log, aLog, stdin, stderr)
	}
	m := u.machine.geometry()
	d, err := u.plan(m)
	if err != nil {
		return nil, err
	}
	r, err := u.receiver(m, d)
	if err != nil {
		return nil, err
	}
	job.Truth = d.Track
	if r := &u.scenario.Receiver; r.Stamp == stampNames[receiver.NoStamp] {
		job.ClockBehindNs = int64(r.LatencyMs*1e6) - job.Settings.LatencyNs
	} else {
		job.ClockAheadNs = int64(r.ClockAheadMs * 1e6)
	}
	o.passes, o.warnings = d.Passes, d.Warnings
	return &logInput{name: u.title, progress: newProgress(&spokenDrive{receiver: r}, 0, "generated drive", stderr)}, nil
}

// job is a drive of the setup's machine on its field, with simulated
// hydraulics.
func (u *setup) job() *sim.Job {
	m := u.machine.geometry()
	p := u.machine.params()
	job := &sim.Job{
		Machine:    m,
		Field:      u.field,
		Settings:   u.machine.Controller.settings(&p, len(m.Sections)),
		Hydraulics: p,
		Spread:     u.scenario.Spread.spread(uint64(u.scenario.Drive.Seed)),
		Warming:    u.scenario.Spread.warming(),
	}
	if told := u.scenario.Measured.told(m); told != nil {
		job.Machine, job.TrueMachine = told, m
	}
	return job
}

// outcome is what is to become one of the setup's drive.
func (u *setup) outcome() *outcome {
	return &outcome{setup: u, title: u.title, machine: u.machine, field: u.field}
}

// take runs the job on what in says; states names the file of recorded work
// states for errors.
func (o *outcome) take(job *sim.Job, in *logInput, states string) error {
	rd := nmea.NewReader(in)
	job.LogBytes = in.total
	var err error
	o.Outcome, err = job.Run(rd)
	c := rd.Counts()
	if err != nil {
		if errors.Is(err, sim.ErrNoEpoch) {
			return emptyLog(in.name, in.done, &c, 0)
		}
		file := in.name
		if errors.Is(err, sim.ErrOtherDrive) {
			file = states
		}
		return &inputError{file: file, msg: err.Error(), err: err}
	}
	o.reader = c
	if o.figures != nil {
		o.addFigures()
	}
	return nil
}

// readStates reads recorded work states of n sections.
func readStates(path string, n int) (*replay.States, error) {
	f, err := openLog(path, "recorded work states (CSV)", strings.NewReader(""), io.Discard)
	if err != nil {
		return nil, err
	}
	defer f.close()
	return replay.ReadStates(f, path, n)
}
