// The built-in bad day: the demo's field hoed at two speeds by a machine with
// two faults that are known, so that the answer can be judged.

package main

import (
	"bytes"
	"io"
	"time"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sim"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// What was wrong on that day.
const (
	// The terminal was told that the antenna is this much further forward than
	// it is, so it took the tools to be further back: all came late.
	badDayAntennaM = 0.30
	// The valve of one section, from 1, answered late both ways.
	badDaySection = 4
	badDayValveNs = 180e6
)

// badDayHalves are the drives of the day: slow in the morning, fast in the
// afternoon.
var badDayHalves = [...]struct {
	start time.Time
	kmh   float64
}{
	{time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC), 6},
	{time.Date(2026, 5, 12, 9, 30, 0, 0, time.UTC), 10},
}

const badDayScenario = "demo/day.yaml"

// badDay returns the log and the work states that badDayScenario names.
func badDay() (log, states []byte, err error) {
	u, err := new(selection).load()
	if err != nil {
		return nil, nil, err
	}
	m := u.machine.geometry()
	var said bytes.Buffer
	for i, half := range badDayHalves {
		d := &u.scenario.Drive
		d.Start, d.SpeedKmh, d.Seed = half.start, half.kmh, i+1
		driven, err := u.plan(m)
		if err != nil {
			return nil, nil, err
		}
		if err := receiver.Write(&said, driven.Track, &u.field.Plane, m, u.receiverParams()); err != nil {
			return nil, nil, err
		}
	}

	told := *u.machine
	told.Antenna.ForwardM += badDayAntennaM
	p := told.params()
	set := told.Controller.settings(&p, len(m.Sections))
	ctl, err := sections.New(told.geometry(), u.field, set)
	if err != nil {
		return nil, nil, err
	}
	bank, err := hydraulics.New(p, len(m.Sections))
	if err != nil {
		return nil, nil, err
	}
	if err := bank.SetFault(badDaySection-1, hydraulics.Fault{ExtraDeadNs: badDayValveNs}); err != nil {
		return nil, nil, err
	}
	bench := sim.NewBench(ctl, set, bank)
	rd := nmea.NewReader(bytes.NewReader(said.Bytes()))
	for rd.Next() {
		f := rd.Fix()
		bench.Fix(&f)
	}
	if err := rd.Err(); err != nil {
		return nil, nil, err
	}
	bench.Finish()
	return said.Bytes(), appendStates(nil, bench.Setpoints, bench.Changes), nil
}

// writeBadDay writes the files of the bad day to dir.
func writeBadDay(dir string) error {
	list, err := demoOutFiles("machine.yaml", "field.geojson", "day.yaml")
	if err != nil {
		return err
	}
	log, states, err := badDay()
	if err != nil {
		return err
	}
	whole := func(data []byte) func(io.Writer) error {
		return func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}
	}
	return writeFresh(dir, append(list, outFile{"day.nmea.gz", zipped(whole(log))}, outFile{"day.states.csv", whole(states)}))
}
