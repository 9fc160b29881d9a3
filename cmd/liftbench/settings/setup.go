// The input of a command: the machine, the field and the drive that its
// arguments and flags name.

package settings

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/settings/timezone"
	"liftbench/replay/day"
	"liftbench/replay/taskdata"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/field/form"
)

// Selection holds the arguments and flags that choose the input.
type Selection struct {
	Arg  string // SCENARIO or LOG; empty = the demo
	Demo string // which of the demo's scenarios; empty = demoScenario
	// From is where a scenario and what it names are read from; nil = the disk.
	From          *Source
	Machine       string
	Field         string
	States        string
	Zone          string   // of the times of States that say none
	HeadlandM     float64  // 0 = as the scenario says
	RowBearingDeg float64  // used where the flag is set
	Leave         []string // zones not worked, beside those of the scenario
	BearingSet    bool
	FieldOptional bool // zones can be found from the log
	Choice        recording.Choice
	Told          io.Writer // what a recording holds, and what was taken of it; nil = it is not said
}

// IsScenario reports whether the argument names a scenario file; anything else
// is a log.
func (s *Selection) IsScenario() bool {
	ext := strings.ToLower(filepath.Ext(s.Arg))
	return s.Arg == "" || ext == ".yaml" || ext == ".yml"
}

// StatesAlone is the error about work states without a log.
func (s *Selection) StatesAlone() error {
	return &failure.Usage{Msg: "--states " + s.States + ": recorded work states go with the log of the same day; expected LOG, or a scenario with log"}
}

// Setup is the input of a command.
type Setup struct {
	Title    string
	Scenario *Scenario // defaults where there is only a log
	Machine  *Machine  // with the scenario's controller
	Field    *field.Field
	// headlandM is the width of the headland made from the boundary; 0 if the
	// file has zones.
	HeadlandM float64
	FieldFile string
	FieldData []byte // its content; of a shapefile, with what lies beside it
	Log       string // the log to read, "-" = standard input; empty = generate the drive
	States    string // recorded work states; empty = simulate the hydraulics
	// StatesZone is that of times of States that say none; nil = each says its own.
	StatesZone *time.Location
	// Day is the recorded day where Log is no log of sentences: then it may hold machine, field
	// and work states, and States is Log where those are taken. nil = a log of sentences.
	Day *day.Day
	// Usual are the values of the machine that neither the day nor a file tells.
	Usual []Usual
	// Stop is asked, several times a second, whether the work is still wanted; what it
	// returns ends it. nil = nobody asks.
	Stop func() error
	// Spoil changes what the receiver of a generated drive says, as a stream that has
	// faults of its own; nil = nothing does.
	Spoil func(io.Reader) io.Reader
}

// Load reads all files that the selection names.
func (s *Selection) Load() (*Setup, error) {
	u := &Setup{States: s.States}
	read := OnDisk
	fieldFile := s.Field
	switch {
	case s.Arg == "" && s.Machine != "" && s.Field != "":
		if err := u.alone(s.Machine); err != nil {
			return nil, err
		}
	case s.IsScenario():
		file := s.Arg
		if file == "" {
			file, read = cmp.Or(s.Demo, demoScenario), InDemo
		} else if s.From != nil {
			read = *s.From
		}
		from := read
		var err error
		if u.Scenario, u.Machine, err = LoadScenario(file, from, s.Machine); err != nil {
			return nil, err
		}
		if fieldFile == "" {
			fieldFile, read = u.Scenario.Field.In(file, from)
		} else {
			read = OnDisk
		}
		if u.Title = u.Scenario.Name; u.Title == "" {
			u.Title = file
		}
		if u.Scenario.Log != "" {
			u.Log = from.beside(file, u.Scenario.Log)
		}
		if u.States == "" && u.Scenario.States != "" {
			u.States = from.beside(file, u.Scenario.States)
			u.StatesZone, _ = timezone.Named(u.Scenario.StatesZone) // which the scenario's check has read
		}
		if u.States != "" && u.Log == "" {
			return nil, s.StatesAlone()
		}
	default:
		if done, err := u.recorded(s); done {
			return u, err
		}
		if s.Machine == "" || s.Field == "" && !s.FieldOptional {
			if info, err := os.Stat(s.Arg); s.Arg != "-" && (err != nil || info.IsDir()) {
				return nil, failure.Opening(s.Arg, "a scenario file, or a recorded day: "+recording.Expected, cmp.Or(err, error(syscall.EISDIR)))
			}
			return nil, &failure.Usage{Msg: s.Arg + " is taken for a log, as its name does not end in .yaml; expected --machine and --field with it"}
		}
		if err := u.alone(s.Machine); err != nil {
			return nil, err
		}
		u.Title, u.Log = s.Arg, s.Arg
		if s.Arg == "-" {
			u.Title = "standard input"
		}
	}
	if s.Zone != "" || u.StatesZone == nil {
		var err error
		if u.StatesZone, err = timezone.OfStates(s.Zone, u.States); err != nil {
			return nil, err
		}
	}
	if fieldFile == "" && s.FieldOptional {
		return u, nil
	}
	return u, u.LoadField(fieldFile, read, s)
}

// recorded takes machine, work states and field from a recording that may hold them. It
// reports whether the argument is one, or cannot be read.
func (u *Setup) recorded(s *Selection) (done bool, err error) {
	if info, err := os.Stat(s.Arg); s.Arg == "-" || err != nil {
		return false, nil
	} else if info.IsDir() {
		if list, err := taskdata.Folders(os.DirFS(s.Arg)); err != nil || len(list) == 0 {
			return false, nil
		}
	}
	if u.Day, _, err = recording.Read(s.Arg, s.Choice, nil); err != nil || u.Day == nil {
		return err != nil, err
	}
	if s.Told != nil {
		recording.Tell(s.Arg, u.Day, s.Told)
	}
	if u.StatesZone, err = timezone.OfStates(s.Zone, s.States); err != nil {
		return true, err
	}
	u.Title, u.Log = s.Arg, s.Arg
	if u.States == "" && u.Day.Work != nil {
		u.States = u.Log
	}
	switch {
	case u.Day.Machine != nil:
		text, usual := MachineText(u.Day.Machine)
		if u.Machine, err = MachineOver(s.Arg, text, s.Machine, OnDisk); err != nil {
			return true, err
		}
		for _, x := range usual {
			if !u.Machine.Doc.Own(x.Key) || s.Machine == "" {
				u.Usual = append(u.Usual, x)
			}
		}
	case s.Machine == "":
		return true, &failure.Usage{Msg: s.Arg + " (" + u.Day.Form + ") tells nothing of the machine; expected --machine with it"}
	default:
		if u.Machine, err = LoadMachine(s.Machine, OnDisk); err != nil {
			return true, err
		}
	}
	u.Scenario = DefaultScenario()
	u.Scenario.Controller = u.Machine.Controller
	if s.Field != "" {
		return true, u.LoadField(s.Field, OnDisk, s)
	}
	if u.Day.Field != nil {
		return true, u.LoadField(s.Arg, Named(func(string, string) ([]byte, error) { return u.Day.Field, nil }), s)
	}
	if !s.FieldOptional {
		return true, &failure.Usage{Msg: s.Arg + " (" + u.Day.Form + ") holds no field; expected --field with it"}
	}
	return true, nil
}

// WithoutZones reports whether neither the field file says where body and headland
// are, nor a headland's width.
func (u *Setup) WithoutZones() bool {
	if u.HeadlandM > 0 {
		return false
	}
	features, _, err := field.Features(u.FieldData)
	if err != nil {
		return u.FieldData == nil
	}
	for _, f := range features {
		if f.Properties["zone"] == "body" || f.Properties["zone"] == "headland" {
			return false
		}
	}
	return true
}

// alone loads a machine that no scenario changes.
func (u *Setup) alone(file string) error {
	var err error
	if u.Machine, err = LoadMachine(file, OnDisk); err != nil {
		return err
	}
	u.Scenario = DefaultScenario()
	u.Scenario.Controller = u.Machine.Controller
	u.Title = file
	return nil
}

// fieldKinds is what errors call a field's file.
const fieldKinds = "a field file (" + form.Taken + ")"

// Shapes reads the file of a field or its boundary, in any of its forms. Of a shapefile it reads
// the table and the coordinate system that lie beside it, too, and returns all as one zip.
func (s Source) Shapes(file, what string) ([]byte, error) {
	data, err := s.Read(file, what)
	if err != nil || !form.IsShapefile(data) {
		return data, err
	}
	var beside [2][]byte
	stem := strings.TrimSuffix(file, path.Ext(filepath.ToSlash(file)))
	for i, extensions := range [2][2]string{{".dbf", ".DBF"}, {".prj", ".PRJ"}} {
		for _, ext := range extensions {
			side, err := s.Read(stem+ext, "what lies beside a shapefile")
			if err == nil {
				beside[i] = side
				break
			}
			if !errors.Is(err, fs.ErrNotExist) {
				return nil, err
			}
		}
	}
	return form.Zip(data, beside[0], beside[1])
}

// LoadField reads the field.
func (u *Setup) LoadField(file string, read Source, s *Selection) error {
	data, err := read.Shapes(file, fieldKinds)
	if err != nil {
		return err
	}
	opt := field.Options{HeadlandM: s.HeadlandM, RowBearingDeg: u.Scenario.RowBearingDeg}
	if s.HeadlandM == 0 && u.Scenario.HeadlandM != nil {
		opt.HeadlandM = *u.Scenario.HeadlandM
	}
	opt.Stop = u.Stop
	opt.Drill = u.Scenario.Drill.options()
	opt.Leave = slices.Concat(u.Scenario.Leave, s.Leave)
	if s.BearingSet {
		opt.RowBearingDeg = &s.RowBearingDeg
	}
	if u.Field, err = field.Read(bytes.NewReader(data), file, opt); err != nil {
		return err
	}
	u.HeadlandM, u.FieldFile, u.FieldData = opt.HeadlandM, file, data
	g := sections.Gate{Field: u.Field, WorkedGround: u.Machine.Controller.WorkedGround, RowSpacingM: u.Machine.Rows.SpacingM}
	if _, err := g.Record(); err != nil {
		return fmt.Errorf("%s: worked_ground is leave: %w", file, err)
	}
	return nil
}
