// The built-in demo: a machine, a field and a drive of our own invention.

package main

import (
	"embed"
	"io"
	"io/fs"
	"path"
)

//go:embed demo/machine.yaml demo/field.geojson demo/scenario.yaml demo/day.yaml demo/study.yaml
var demoFiles embed.FS

// demoScenario is where a command starts when it is given no file, demoStudy
// where sweep does.
const (
	demoScenario = "demo/scenario.yaml"
	demoStudy    = "demo/study.yaml"
)

// demoSource reads the demo's files.
var demoSource = embedded(demoFiles)

// embedded returns the source of files that are part of the program. Their
// names have slashes on every system.
func embedded(files fs.FS) source {
	return slashed(func(name, what string) ([]byte, error) {
		data, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, openError(name, what, err)
		}
		return data, nil
	})
}

// slashed returns the source of files that are not on the disk and whose names
// have slashes on every system.
func slashed(read func(name, what string) ([]byte, error)) source {
	return source{read: read, beside: func(file, name string) string {
		if path.IsAbs(name) {
			return name
		}
		return path.Join(path.Dir(file), name)
	}}
}

// writeDemo writes the demo's files to dir, to start from.
func writeDemo(dir string) error {
	files, err := demoOutFiles("machine.yaml", "field.geojson", "scenario.yaml", "study.yaml")
	if err != nil {
		return err
	}
	return writeFresh(dir, files)
}

// demoOutFiles returns files of the demo, to be written.
func demoOutFiles(names ...string) ([]outFile, error) {
	var files []outFile
	for _, name := range names {
		data, err := demoSource.read(path.Join("demo", name), "a file of the demo")
		if err != nil {
			return nil, err
		}
		files = append(files, outFile{name, func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}})
	}
	return files, nil
}
