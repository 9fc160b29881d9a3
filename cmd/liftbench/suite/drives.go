// The drives of the suite: where they come from, their classes, their files for a
// controller.

package suite

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings"
)

// Version is that of the drives: results of two versions are not compared.
const Version = 1

//go:embed drives
var embedded embed.FS

// classes are those of the built-in drives in the order in which they are told, and
// what each asks.
var classes = []struct{ name, asks string }{
	{"closed-form", "geometry and leads without any error: what comes out is known beforehand"},
	{"everyday", "fields of five shapes, three machines, four speeds, an ordinary RTK receiver"},
	{"hard", "point rows, ditches, stops, cold oil, a starved pump, 1 Hz, float"},
	{"faults", "silence, no position, a jump, a frozen position, reverse, a wrong date"},
	{"long", "hours of work under typical conditions"},
}

// Drive is one drive of the suite.
type Drive struct {
	Name  string // class/name
	Class string
	file  string
	from  *settings.Source // nil = the disk
}

// builtIn is the source of the suite's files.
var builtIn = settings.Named(func(name, what string) ([]byte, error) {
	data, err := embedded.ReadFile(path.Clean(name))
	if err != nil {
		return nil, failure.Opening(name, what, err)
	}
	return data, nil
})

// Drives returns the built-in drives, by class and name, and after them those of the
// folder own, whose class is "own"; "" = none.
func Drives(own string) ([]Drive, error) {
	var list []Drive
	for _, c := range classes {
		files, err := embedded.ReadDir("drives/" + c.name)
		if err != nil {
			return nil, err
		}
		for _, f := range files {
			list = append(list, Drive{c.name + "/" + strings.TrimSuffix(f.Name(), ".yaml"), c.name, "drives/" + c.name + "/" + f.Name(), &builtIn})
		}
	}
	if own == "" {
		return list, nil
	}
	names, err := filepath.Glob(filepath.Join(own, "*.yaml"))
	if err != nil || len(names) == 0 {
		return nil, &failure.Input{File: own, Msg: "no scenario; expected a folder with scenarios as NAME.yaml", Err: cmpErr(err)}
	}
	sort.Strings(names)
	for _, n := range names {
		data, err := os.ReadFile(n)
		if err != nil {
			return nil, failure.Opening(n, "a scenario", err)
		}
		if !strings.Contains(string(data), "machine:") {
			continue // a machine that scenarios beside it name
		}
		list = append(list, Drive{"own/" + strings.TrimSuffix(filepath.Base(n), ".yaml"), "own", n, nil})
	}
	return list, nil
}

func cmpErr(err error) error {
	if err == nil {
		return fs.ErrNotExist
	}
	return err
}

// Load reads the drive. seed is added to the seed of its chances.
func (d *Drive) Load(seed uint64) (*settings.Setup, error) {
	u, err := (&settings.Selection{Arg: d.file, From: d.from}).Load()
	if err != nil {
		return nil, err
	}
	if u.Log != "" {
		return nil, &failure.Input{File: d.file, Msg: "holds a recorded drive; expected one that is generated", Err: errors.New("log")}
	}
	u.Scenario.Drive.Seed += int(seed)
	if d.from != nil {
		u.Spoil = spoiled[d.Name]
	}
	return u, nil
}

// extract writes the built-in files to dir, for controllers that are programs.
func extract(dir string) error {
	return fs.WalkDir(embedded, "drives", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := embedded.ReadFile(name)
		if err != nil {
			return err
		}
		to := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
			return err
		}
		return os.WriteFile(to, data, 0o666)
	})
}

// environment tells a program which drive it is about to hear, and where its files
// are. dir is where extract wrote those of the built-in drives.
func (d *Drive) environment(dir string) []string {
	file := d.file
	if d.from != nil {
		file = filepath.Join(dir, filepath.FromSlash(d.file))
	}
	return []string{"LIFTBENCH_DRIVE=" + d.Name, "LIFTBENCH_SCENARIO=" + file}
}

// find returns the drive of that name.
func find(list []Drive, name string) (*Drive, error) {
	for i := range list {
		if list[i].Name == name || path.Base(list[i].Name) == name {
			return &list[i], nil
		}
	}
	return nil, &failure.Usage{Msg: fmt.Sprintf("no drive %q; `liftbench suite --list` names them", name)}
}
