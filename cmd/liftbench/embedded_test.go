// Files inside the program are found on every system, whatever its separator.

package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"
)

// TestEmbeddedNames: a file inside the program that names another has it
// looked up with slashes, and a backslash is part of a name, not a separator.
func TestEmbeddedNames(t *testing.T) {
	demo := func(name string) *fstest.MapFile {
		data, err := demoFiles.ReadFile("demo/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return &fstest.MapFile{Data: data}
	}
	scenario := "machine: ../machine.yaml\nfield: fields/field.geojson\n"
	from := embedded(fstest.MapFS{
		"farm/machine.yaml":             demo("machine.yaml"),
		"farm/day/fields/field.geojson": demo("field.geojson"),
		"farm/day/scenario.yaml":        {Data: []byte(scenario)},
		"farm/day/windows.yaml":         {Data: []byte(strings.ReplaceAll(scenario, "../", `..\`))},
		"farm/study.yaml":               {Data: []byte("scenario: day/scenario.yaml\nvary:\n  - {key: drive.speed_kmh, from: 8, to: 9, steps: 2}\n")},
		`farm/day\scenario.yaml`:        {Data: []byte("found by its backslash")},
		`farm/day/fields\field.geojson`: {Data: []byte("found by its backslash")},
	})
	_, u, err := loadStudy("farm/study.yaml", from)
	if err != nil {
		t.Fatal(err)
	}
	if u.fieldFile != "farm/day/fields/field.geojson" {
		t.Errorf("field file %s", u.fieldFile)
	}
	_, _, err = loadScenario("farm/day/windows.yaml", from, "")
	if want := `farm/day/..\machine.yaml: no such file`; err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("error %v; want %s", err, want)
	}
}

// TestEmbeddedSourceHasOwnSeparator: the source of the files inside the program
// and that of uploads join names themselves; the disk's rule is another.
func TestEmbeddedSourceHasOwnSeparator(t *testing.T) {
	for name, from := range map[string]source{"demo": demoSource, "in memory": slashed(nil)} {
		if got := from.beside("demo/scenario.yaml", "machine.yaml"); got != "demo/machine.yaml" {
			t.Errorf("%s: machine.yaml beside demo/scenario.yaml is %s", name, got)
		}
	}
}

// TestEmbeddingFilesKeepFilepathOut: no file of the program that embeds files or
// reads from a file system imports path/filepath, whose names have the
// system's separator.
func TestEmbeddingFilesKeepFilepathOut(t *testing.T) {
	seen := 0
	err := fs.WalkDir(os.DirFS("."), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		imports := map[string]bool{}
		for _, i := range file.Imports {
			imports[strings.Trim(i.Path.Value, `"`)] = true
		}
		if !imports["embed"] {
			return nil
		}
		seen++
		if imports["path/filepath"] {
			t.Errorf("%s embeds files and imports path/filepath; their names have slashes, so path joins them", name)
		}
		return nil
	})
	if err != nil || seen < 4 {
		t.Errorf("%d files that embed, %v; expected 4 at least", seen, err)
	}
}
