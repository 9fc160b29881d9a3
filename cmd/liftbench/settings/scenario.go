// The scenario file: which machine works which field, how it is driven or
// which log recorded it, and the limits that make a run pass.

package settings

import (
	"fmt"
	"path"
	"path/filepath"
	"time"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/settings/timezone"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sim/drive"
)

// Scenario is a scenario file.
type Scenario struct {
	Name          string         `key:"name" doc:"what the scenario is called in the results"`
	Machine       machineRef     `key:"machine" need:"yes" doc:"the machine file, relative to this file, or the machine itself"`
	Measured      measuredConfig `key:"measured" doc:"what the controller of a generated drive is told, where the machine was measured wrong"`
	Field         fieldRef       `key:"field" need:"yes" doc:"the field's file (GeoJSON, KML, KMZ, GPX or shapefile), relative to this file, or GeoJSON itself"`
	HeadlandM     *float64       `key:"headland_m" unit:"m" above:"0" max:"500" doc:"headland width, for a field that comes without zones"`
	RowBearingDeg *float64       `key:"row_bearing_deg" unit:"°" min:"-360" max:"360" doc:"direction of the body's rows, clockwise from north, for a field that does not give it"`
	Drill         Drill          `key:"drill" doc:"where the drill laid the body's rows, for a field that does not say"`
	Leave         []string       `key:"leave" doc:"zones that are not worked in this job, as a headland done before or after: headland, body, or their names"`
	Conditions    string         `key:"conditions" words:"ideal|typical" doc:"what drive, receiver and spread are where their keys are absent: ideal, as the table says; typical, dead times ± 15 ms, flow ± 8 %, speed ± 4 %, oil from 15 °C, arrivals up to 30 ms late and stamped, 2 float spells an hour, steps of 2 cm after them"`
	Drive         Drive          `key:"drive" doc:"the drive to generate"`
	Receiver      Receiver       `key:"receiver" doc:"what the receiver of the generated drive does"`
	Spread        Spread         `key:"spread" doc:"how the tools of the simulated hydraulics differ from what the machine file says; the controller is not told"`
	Log           string         `key:"log" doc:"a recorded log in place of a generated drive, relative to this file"`
	States        string         `key:"states" doc:"recorded work states in place of the simulated hydraulics, relative to this file"`
	StatesZone    string         `key:"states_zone" doc:"zone of the states' clock, where their times say none: Europe/Berlin, or an offset like +02:00"`
	Controller    Controller     `key:"controller" doc:"settings that replace those of the machine, key by key"`
	Limits        Limits         `key:"limits" doc:"what a run must keep, or it ends with exit status 1"`

	Doc *bind.Document
}

// DefaultScenario holds what a scenario file may leave out.
func DefaultScenario() *Scenario {
	return &Scenario{
		Conditions: Ideal,
		Drive: Drive{
			Start:    time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC),
			SpeedKmh: 8,
			Turn:     drive.Bulb,
			Headland: drive.NoHeadland,
		},
		Receiver:   PresetReceiver(RtkFixed),
		Spread:     Spread{OilWarmingMin: 20},
		Controller: defaultController(),
	}
}

// Drill is where the rows lie.
type Drill struct {
	RowA    []float64 `key:"row_a" unit:"°" doc:"[longitude, latitude] on the leftmost row of a drill pass, seen along the rows"`
	RowB    []float64 `key:"row_b" unit:"°" doc:"another point on that row: the rows run from row_a to it, in place of row_bearing_deg"`
	WidthM  float64   `key:"width_m" unit:"m" min:"0" max:"50" doc:"width of the drill, from whose passes the hoe's begin; 0 = not known"`
	LeftOut []float64 `key:"rows_left_out" doc:"rows that a drill pass leaves out, as tramlines, from 1 at its left"`
}

// options returns the rows as a field takes them.
func (d *Drill) options() field.DrillOptions {
	o := field.DrillOptions{A: d.RowA, B: d.RowB, WidthM: d.WidthM}
	for _, k := range d.LeftOut {
		o.LeftOut = append(o.LeftOut, int(k))
	}
	return o
}

// measuredConfig is the machine as the controller knows it, where that differs
// from the machine that drives.
type measuredConfig struct {
	AntennaForwardM *float64 `key:"antenna_forward_m" unit:"m" min:"-20" max:"20" doc:"antenna ahead of the rear axle, as the controller is told; as on the machine when absent"`
	AntennaRightM   *float64 `key:"antenna_right_m" unit:"m" min:"-5" max:"5" doc:"antenna right of the tractor's middle, as the controller is told; as on the machine when absent"`
}

// Told returns the machine that the controller is told of; nil if it is m
// itself.
func (c *measuredConfig) Told(m *sections.Machine) *sections.Machine {
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

// Limits are what a run must not exceed. An absent key is not checked.
type Limits struct {
	LiftTimeP95Ms  *float64 `key:"lift_time_error_p95_ms" unit:"ms" min:"0" doc:"95 % of lifts are within this of the ideal instant"`
	DropTimeP95Ms  *float64 `key:"drop_time_error_p95_ms" unit:"ms" min:"0" doc:"95 % of drops are within this of the ideal instant"`
	LiftPlaceP95Cm *float64 `key:"lift_place_error_p95_cm" unit:"cm" min:"0" doc:"95 % of lifts are within this of the ideal place"`
	DropPlaceP95Cm *float64 `key:"drop_place_error_p95_cm" unit:"cm" min:"0" doc:"95 % of drops are within this of the ideal place"`
	MaxPlaceCm     *float64 `key:"max_place_error_cm" unit:"cm" min:"0" doc:"every lift and drop is within this of the ideal place"`
	Missed         *int     `key:"missed" min:"0" doc:"lifts and drops that ought to have been and were not, at most"`
	Spurious       *int     `key:"spurious" min:"0" doc:"extra lifts and drops, where no border was crossed, at most"`
	OverrunM2      *float64 `key:"overrun_m2" unit:"m²" min:"0" doc:"area worked outside the zones, at most"`
	MissM2         *float64 `key:"miss_m2" unit:"m²" min:"0" doc:"area passed over and not worked, at most"`
	AcrossM2       *float64 `key:"across_rows_m2" unit:"m²" min:"0" doc:"area worked across the rows, at most"`
	OverrunPercent *float64 `key:"overrun_percent" unit:"%" min:"0" max:"100" doc:"overrun as a share of the area worked, at most"`
}

// Source is where configuration files come from: the disk, or the demo in the
// program.
type Source struct {
	// read returns a file's content; what names the kind of file for errors.
	Read func(name, what string) ([]byte, error)
	// beside returns the path of name, which stands in file from.
	beside func(file, name string) string
}

// OnDisk reads files by the system's paths.
var OnDisk = Source{files.ReadFile, func(file, name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(filepath.Dir(file), name)
}}

// Named is a source of files that are not on the disk. Their names have slashes
// on every system, so that a system's separator never finds them.
func Named(read func(name, what string) ([]byte, error)) Source {
	return Source{read, func(file, name string) string { return path.Join(path.Dir(file), name) }}
}

// LoadScenario reads a scenario file and the machine it names, or the machine
// file given in its place. The scenario's controller block changes the
// machine's key by key, and its receiver block those of a preset, so these are
// read into it first.
func LoadScenario(file string, read Source, machineFile string) (*Scenario, *Machine, error) {
	data, err := read.Read(file, "a scenario file")
	if err != nil {
		return nil, nil, err
	}
	first := DefaultScenario()
	if _, err := readKind(file, data, "scenario", first); err != nil {
		return nil, nil, err
	}
	var m *Machine
	if machineFile == "" {
		m, err = first.Machine.load(file, read)
	} else {
		m, err = LoadMachine(machineFile, OnDisk)
	}
	if err != nil {
		return nil, nil, err
	}
	s := DefaultScenario()
	s.Controller, s.Receiver = m.Controller, PresetReceiver(first.Receiver.Preset)
	if s.Doc, err = bind.YAML(file, data, "a scenario", s); err != nil {
		return nil, nil, err
	}
	m.Controller = s.Controller
	if s.Conditions == Typical && s.Log == "" {
		s.typical(m)
	}
	if err := s.check(); err != nil {
		return nil, nil, err
	}
	return s, m, s.checkSpread(m)
}

// check reports the first setting that contradicts another.
func (s *Scenario) check() error {
	if s.Log != "" {
		for _, k := range []string{"drive", "receiver", "measured"} {
			if s.Doc.Has(k) {
				return s.Doc.ErrorAt(k, "%s: found beside log; expected a recorded log or a generated drive, not both", k)
			}
		}
		if s.States != "" && s.Doc.Has("spread") {
			return s.Doc.ErrorAt("spread", "spread: found beside states; expected simulated hydraulics or recorded work states, not both")
		}
		if s.States == "" && s.StatesZone != "" {
			return s.Doc.ErrorAt("states_zone", "states_zone: found without states; expected it beside the recorded work states whose times it is for")
		}
		if _, err := timezone.Named(s.StatesZone); err != nil {
			return s.Doc.ErrorAt("states_zone", "states_zone: %v", err)
		}
	} else if s.States != "" {
		return s.Doc.ErrorAt("states", "states: found without log; expected recorded work states beside the log of the same day")
	} else if s.StatesZone != "" {
		return s.Doc.ErrorAt("states_zone", "states_zone: found without log; expected it beside log and states")
	}
	if s.Log == "" {
		return s.checkDrive()
	}
	return nil
}

// checkDrive reports settings with which no drive can be generated.
func (s *Scenario) checkDrive() error {
	if y := s.Drive.Start.Year(); y < 1980 || y > 2079 {
		return s.Doc.ErrorAt("drive.start", "drive.start: found %s; expected a year from 1980 to 2079, since NMEA sentences have two digits of it", s.Drive.Start.Format(time.RFC3339))
	}
	for i, f := range s.Receiver.Faults {
		if f.ToS <= f.FromS {
			path := fmt.Sprintf("receiver.faults[%d].to_s", i)
			return s.Doc.ErrorAt(path, "%s: found %g; expected more than from_s, %g s", path, f.ToS, f.FromS)
		}
	}
	return nil
}
