// The scenario file: which machine works which field, how it is driven or
// which log recorded it, and the limits that make a run pass.

package main

import (
	"fmt"
	"path/filepath"
	"time"

	"liftbench/sections"
	"liftbench/sim/drive"
)

// scenarioConfig is a scenario file.
type scenarioConfig struct {
	Name          string           `key:"name" doc:"what the scenario is called in the results"`
	Machine       machineRef       `key:"machine" need:"yes" doc:"the machine file, relative to this file, or the machine itself"`
	Measured      measuredConfig   `key:"measured" doc:"what the controller of a generated drive is told, where the machine was measured wrong"`
	Field         fieldRef         `key:"field" need:"yes" doc:"the field's GeoJSON file, relative to this file, or the GeoJSON itself"`
	HeadlandM     *float64         `key:"headland_m" unit:"m" above:"0" max:"500" doc:"headland width, for a field that comes without zones"`
	RowBearingDeg *float64         `key:"row_bearing_deg" unit:"°" min:"-360" max:"360" doc:"direction of the body's rows, clockwise from north, for a field that does not give it"`
	Leave         []string         `key:"leave" doc:"zones that are not worked in this job, as a headland done before or after: headland, body, or their names"`
	Drive         driveConfig      `key:"drive" doc:"the drive to generate"`
	Receiver      receiverConfig   `key:"receiver" doc:"what the receiver of the generated drive does"`
	Spread        spreadConfig     `key:"spread" doc:"how the tools of the simulated hydraulics differ from what the machine file says; the controller is not told"`
	Log           string           `key:"log" doc:"a recorded log in place of a generated drive, relative to this file"`
	States        string           `key:"states" doc:"recorded work states in place of the simulated hydraulics, relative to this file"`
	Controller    controllerConfig `key:"controller" doc:"settings that replace those of the machine, key by key"`
	Limits        limitsConfig     `key:"limits" doc:"what a run must keep, or it ends with exit status 1"`

	doc *document
}

// defaultScenario holds what a scenario file need not say.
func defaultScenario() *scenarioConfig {
	return &scenarioConfig{
		Drive: driveConfig{
			Start:    time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC),
			SpeedKmh: 8,
			Turn:     turnNames[drive.Bulb],
			Headland: headlandNames[drive.NoHeadland],
		},
		Receiver:   presetReceiver(rtkFixed),
		Spread:     spreadConfig{OilWarmingMin: 20},
		Controller: defaultController(),
	}
}

// measuredConfig is the machine as the controller knows it, where that is not
// the machine that drives.
type measuredConfig struct {
	AntennaForwardM *float64 `key:"antenna_forward_m" unit:"m" min:"-20" max:"20" doc:"antenna ahead of the rear axle, as the controller is told; as on the machine when absent"`
	AntennaRightM   *float64 `key:"antenna_right_m" unit:"m" min:"-5" max:"5" doc:"antenna right of the tractor's middle, as the controller is told; as on the machine when absent"`
}

// told returns the machine that the controller knows, nil where that is m.
func (c *measuredConfig) told(m *sections.Machine) *sections.Machine {
	if *c == (measuredConfig{}) {
		return nil
	}
	t := *m
	if c.AntennaForwardM != nil {
		t.AntennaXM = *c.AntennaForwardM
	}
	if c.AntennaRightM != nil {
		t.AntennaYM = *c.AntennaRightM
	}
	return &t
}

// limitsConfig is what an integrator's build must keep; an absent key is not
// checked.
type limitsConfig struct {
	LiftTimeP95Ms  *float64 `key:"lift_time_error_p95_ms" unit:"ms" min:"0" doc:"95 % of lifts are within this of the ideal instant"`
	DropTimeP95Ms  *float64 `key:"drop_time_error_p95_ms" unit:"ms" min:"0" doc:"95 % of drops are within this of the ideal instant"`
	LiftPlaceP95Cm *float64 `key:"lift_place_error_p95_cm" unit:"cm" min:"0" doc:"95 % of lifts are within this of the ideal place"`
	DropPlaceP95Cm *float64 `key:"drop_place_error_p95_cm" unit:"cm" min:"0" doc:"95 % of drops are within this of the ideal place"`
	MaxPlaceCm     *float64 `key:"max_place_error_cm" unit:"cm" min:"0" doc:"every lift and drop is within this of the ideal place"`
	Missed         *int     `key:"missed" min:"0" doc:"lifts and drops that ought to have been and were not, at most"`
	Spurious       *int     `key:"spurious" min:"0" doc:"lifts and drops that ought not to have been, at most"`
	OverrunM2      *float64 `key:"overrun_m2" unit:"m²" min:"0" doc:"area worked outside the zones, at most"`
	MissM2         *float64 `key:"miss_m2" unit:"m²" min:"0" doc:"area passed over and not worked, at most"`
	AcrossM2       *float64 `key:"across_rows_m2" unit:"m²" min:"0" doc:"area worked across the rows, at most"`
	OverrunPercent *float64 `key:"overrun_percent" unit:"%" min:"0" max:"100" doc:"overrun as a share of the area worked, at most"`
}

// source is where configuration files come from: the disk, or the demo in the
// program. what names the kind of file for errors.
type source func(path, what string) ([]byte, error)

// loadScenario reads a scenario file and the machine it names, or the machine
// file given in its place. The scenario's controller block changes the
// machine's key by key, and its receiver block those of a preset, so these are
// read into it first.
func loadScenario(file string, read source, machineFile string) (*scenarioConfig, *machineConfig, error) {
	data, err := read(file, "a scenario file")
	if err != nil {
		return nil, nil, err
	}
	first := defaultScenario()
	if _, err := bindYAML(file, data, "a scenario", first); err != nil {
		return nil, nil, err
	}
	var m *machineConfig
	if machineFile == "" {
		m, err = first.Machine.load(file, read)
	} else {
		m, err = loadMachine(machineFile, readFile)
	}
	if err != nil {
		return nil, nil, err
	}
	s := defaultScenario()
	s.Controller, s.Receiver = m.Controller, presetReceiver(first.Receiver.Preset)
	if s.doc, err = bindYAML(file, data, "a scenario", s); err != nil {
		return nil, nil, err
	}
	m.Controller = s.Controller
	if err := s.check(); err != nil {
		return nil, nil, err
	}
	return s, m, s.checkSpread(m)
}

// check reports the first setting that contradicts another.
func (s *scenarioConfig) check() error {
	if s.Log != "" {
		for _, k := range []string{"drive", "receiver", "measured"} {
			if s.doc.has(k) {
				return s.doc.errorAt(k, "%s: found beside log; expected a recorded log or a generated drive, not both", k)
			}
		}
		if s.States != "" && s.doc.has("spread") {
			return s.doc.errorAt("spread", "spread: found beside states; expected simulated hydraulics or recorded work states, not both")
		}
	} else if s.States != "" {
		return s.doc.errorAt("states", "states: found without log; expected recorded work states beside the log of the same day")
	}
	if s.Log == "" {
		return s.checkDrive()
	}
	return nil
}

// checkDrive reports what of a drive to generate cannot be.
func (s *scenarioConfig) checkDrive() error {
	if y := s.Drive.Start.Year(); y < 1980 || y > 2200 {
		return s.doc.errorAt("drive.start", "drive.start: found %s; expected a year from 1980 to 2200", s.Drive.Start.Format(time.RFC3339))
	}
	for i, f := range s.Receiver.Faults {
		if f.ToS <= f.FromS {
			path := fmt.Sprintf("receiver.faults[%d].to_s", i)
			return s.doc.errorAt(path, "%s: found %g; expected more than from_s, %g s", path, f.ToS, f.FromS)
		}
	}
	return nil
}

// beside returns path as seen from the file that names it.
func beside(file, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(file), path)
}
