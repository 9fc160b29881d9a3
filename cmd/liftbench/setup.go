// What a command works on: the machine, the field and the drive that its
// arguments and flags name.

package main

import (
	"bytes"
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

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
	leave         []string // beside those of the scenario
}

// addFlags adds the flags that choose machine and field.
func (s *selection) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.machine, "machine", "", "machine `FILE`, in place of the scenario's")
	f.StringVar(&s.field, "field", "", "field `FILE` (GeoJSON), in place of the scenario's")
	f.Float64Var(&s.headlandM, "headland", 0, "width in `m` of a headland along the boundary, for a field without zones")
	f.Float64Var(&s.rowBearingDeg, "row-bearing", 0, "direction of the body's rows in `degrees` from north, for a field that does not give it")
	f.StringArrayVar(&s.leave, "leave", nil, "`ZONE` that is not worked in this job, as a headland done before or after: headland, body or a name; may be given again")
	for flag, exts := range map[string][]string{"machine": {"yaml", "yml"}, "field": {"geojson", "json"}} {
		// The error is of a flag that does not exist.
		_ = cmd.MarkFlagFilename(flag, exts...)
	}
}

// take reads the arguments and checks the flags' numbers.
func (s *selection) take(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		s.arg = args[0]
	}
	s.bearingSet = cmd.Flags().Changed("row-bearing")
	if cmd.Flags().Changed("headland") && !(s.headlandM > 0 && s.headlandM <= 500) {
		return &usageError{"--headland " + cmd.Flag("headland").Value.String() + ": expected a width above 0 up to 500 m"}
	}
	if s.bearingSet && !(s.rowBearingDeg >= -360 && s.rowBearingDeg <= 360) {
		return &usageError{"--row-bearing " + cmd.Flag("row-bearing").Value.String() + ": expected -360 to 360 degrees"}
	}
	return nil
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
	read := source(readFile)
	fieldFile := s.field
	switch {
	case s.arg == "" && s.machine != "" && s.field != "":
		if err := u.alone(s.machine); err != nil {
			return nil, err
		}
	case s.isScenario():
		file := s.arg
		if file == "" {
			file, read = cmp.Or(s.demo, demoScenario), readDemo
		}
		var err error
		if u.scenario, u.machine, err = loadScenario(file, read, s.machine); err != nil {
			return nil, err
		}
		if fieldFile == "" {
			fieldFile, read = u.scenario.Field.in(file, read)
		} else {
			read = readFile
		}
		if u.title = u.scenario.Name; u.title == "" {
			u.title = file
		}
		if u.scenario.Log != "" {
			u.log = beside(file, u.scenario.Log)
		}
		if u.states == "" && u.scenario.States != "" {
			u.states = beside(file, u.scenario.States)
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
	if u.machine, err = loadMachine(file, readFile); err != nil {
		return err
	}
	u.scenario = defaultScenario()
	u.scenario.Controller = u.machine.Controller
	u.title = file
	return nil
}

// loadField reads the field.
func (u *setup) loadField(file string, read source, s *selection) error {
	data, err := read(file, "a field file (GeoJSON)")
	if err != nil {
		return err
	}
	opt := field.Options{HeadlandM: s.headlandM, RowBearingDeg: u.scenario.RowBearingDeg}
	if s.headlandM == 0 && u.scenario.HeadlandM != nil {
		opt.HeadlandM = *u.scenario.HeadlandM
	}
	opt.Leave = slices.Concat(u.scenario.Leave, s.leave)
	if s.bearingSet {
		opt.RowBearingDeg = &s.rowBearingDeg
	}
	if u.field, err = field.Read(bytes.NewReader(data), file, opt); err != nil {
		return err
	}
	u.headlandM, u.fieldFile, u.fieldData = opt.HeadlandM, file, data
	return nil
}
