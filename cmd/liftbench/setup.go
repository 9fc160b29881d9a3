// What a command works on: the machine, the field and the drive that its
// arguments and flags name.

package main

import (
	"bytes"
	"cmp"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"liftbench/sections/field"
)

// selection is what the command line says.
type selection struct {
	arg           string // SCENARIO or LOG; empty = the demo
	demo          string // which of the demo's scenarios; empty = demoScenario
	machine       string
	field         string
	states        string
	headlandM     float64 // 0 = as the scenario says
	rowBearingDeg float64 // used where the flag is set
	bearingSet    bool
}

// isScenario reports whether the argument names a scenario file; anything else
// is a log.
func (s *selection) isScenario() bool {
	ext := strings.ToLower(filepath.Ext(s.arg))
	return s.arg == "" || ext == ".yaml" || ext == ".yml"
}

// statesAlone says that work states without a log tell nothing.
func (s *selection) statesAlone() error {
	return &usageError{"--states " + s.states + ": recorded work states go with the log of the same day; expected LOG, or a scenario with log"}
}

// setup is what a command works on.
type setup struct {
	title    string
	scenario *scenarioConfig // defaults where there is only a log
	machine  *machineConfig  // with the scenario's controller
	field    *field.Field
	// headlandM is the width of the headland made from the boundary; 0 where
	// the file has zones.
	headlandM float64
	fieldFile string
	fieldData []byte // its content
	log       string // the log to read, "-" = standard input; empty = generate the drive
	states    string // recorded work states; empty = simulate the hydraulics
}

// load reads all files that the selection names.
func (s *selection) load() (*setup, error) {
	u := &setup{states: s.states}
	read := onDisk
	fieldFile := s.field
	switch {
	case s.arg == "" && s.machine != "" && s.field != "":
		if err := u.alone(s.machine); err != nil {
			return nil, err
		}
	case s.isScenario():
		file := s.arg
		if file == "" {
			file, read = cmp.Or(s.demo, demoScenario), inDemo
		}
		from := read
		var err error
		if u.scenario, u.machine, err = loadScenario(file, from, s.machine); err != nil {
			return nil, err
		}
		if fieldFile == "" {
			fieldFile, read = u.scenario.Field.in(file, from)
		} else {
			read = onDisk
		}
		if u.title = u.scenario.Name; u.title == "" {
			u.title = file
		}
		if u.scenario.Log != "" {
			u.log = from.beside(file, u.scenario.Log)
		}
		if u.states == "" && u.scenario.States != "" {
			u.states = from.beside(file, u.scenario.States)
		}
		if u.states != "" && u.log == "" {
			return nil, s.statesAlone()
		}
	default:
		if s.machine == "" || s.field == "" {
			if info, err := os.Stat(s.arg); s.arg != "-" && (err != nil || info.IsDir()) {
				return nil, openError(s.arg, "a scenario file, or a log", cmp.Or(err, error(syscall.EISDIR)))
			}
			return nil, &usageError{s.arg + " is taken for a log, as its name does not end in .yaml; expected --machine and --field with it"}
		}
		if err := u.alone(s.machine); err != nil {
			return nil, err
		}
		u.title, u.log = s.arg, s.arg
		if s.arg == "-" {
			u.title = "standard input"
		}
	}
	return u, u.loadField(fieldFile, read, s)
}

// alone loads a machine to which no scenario says anything.
func (u *setup) alone(file string) error {
	var err error
	if u.machine, err = loadMachine(file, onDisk); err != nil {
		return err
	}
	u.scenario = defaultScenario()
	u.scenario.Controller = u.machine.Controller
	u.title = file
	return nil
}

// loadField reads the field.
func (u *setup) loadField(file string, read source, s *selection) error {
	data, err := read.read(file, "a field file (GeoJSON)")
	if err != nil {
		return err
	}
	opt := field.Options{HeadlandM: s.headlandM, RowBearingDeg: u.scenario.RowBearingDeg}
	if s.headlandM == 0 && u.scenario.HeadlandM != nil {
		opt.HeadlandM = *u.scenario.HeadlandM
	}
	if s.bearingSet {
		opt.RowBearingDeg = &s.rowBearingDeg
	}
	if u.field, err = field.Read(bytes.NewReader(data), file, opt); err != nil {
		return err
	}
	u.headlandM, u.fieldFile, u.fieldData = opt.HeadlandM, file, data
	return nil
}
