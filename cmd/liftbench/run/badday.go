// The built-in bad day: the demo's field hoed at two speeds by a machine with
// two faults that are known, so that the answer can be judged.

package run

import (
	"bytes"
	"io"
	"time"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sim"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// The two faults of that day.
const (
	// The terminal's settings place the antenna this much further forward than
	// it is. The controller therefore takes the tools to be further back than
	// they are, and every lift and drop comes late.
	BadDayAntennaM = 0.30
	// The valve of this section, counted from 1, answers late for lifts and
	// drops alike.
	BadDaySection = 4
	BadDayValveNs = 180e6
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

const BadDayScenario = "demo/day.yaml"

// badDay returns the log and the work states that BadDayScenario names.
func badDay() (log, states []byte, err error) {
	u, err := new(settings.Selection).Load()
	if err != nil {
		return nil, nil, err
	}
	m := u.Machine.Geometry()
	var said bytes.Buffer
	for i, half := range badDayHalves {
		d := &u.Scenario.Drive
		d.Start, d.SpeedKmh, d.Seed = half.start, half.kmh, i+1
		driven, err := Plan(u, m)
		if err != nil {
			return nil, nil, err
		}
		if err := receiver.Write(&said, driven.Track, &u.Field.Plane, m, ReceiverParams(u)); err != nil {
			return nil, nil, err
		}
	}

	told := *u.Machine
	told.Antenna.ForwardM += BadDayAntennaM
	p := told.Params()
	set := told.Settings(&p)
	ctl, err := sections.New(told.Geometry(), u.Field, set)
	if err != nil {
		return nil, nil, err
	}
	bank, err := hydraulics.New(p, len(m.Sections))
	if err != nil {
		return nil, nil, err
	}
	if err := bank.SetFault(BadDaySection-1, hydraulics.Fault{ExtraDeadNs: BadDayValveNs}); err != nil {
		return nil, nil, err
	}
	bench := sim.NewBench(ctl, set, bank)
	rd := epoch.NewReader(bytes.NewReader(said.Bytes()))
	for rd.Next() {
		f := rd.Fix()
		bench.Fix(&f)
	}
	if err := rd.Err(); err != nil {
		return nil, nil, err
	}
	bench.Finish()
	return said.Bytes(), AppendStates(nil, bench.Setpoints, bench.Changes), nil
}

// WriteBadDay writes the files of the bad day to dir.
func WriteBadDay(dir string) error {
	list, err := settings.DemoOutFiles("machine.yaml", "field.geojson", "day.yaml")
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
	return files.WriteFresh(dir, append(list, files.File{Name: "day.nmea.gz", Write: files.Zipped(whole(log))}, files.File{Name: "day.states.csv", Write: whole(states)}))
}
