// The built-in demo: a machine, a field and a drive of our own invention.

package main

import (
	"embed"
	"io"
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

// inDemo is the source of the demo's files.
var inDemo = named(func(name, what string) ([]byte, error) {
	data, err := demoFiles.ReadFile(name)
	if err != nil {
		return nil, openError(name, what, err)
	}
	return data, nil
})

// writeDemo writes the demo's files to dir, to start from.
func writeDemo(dir string) error {
	list, err := demoOutFiles("machine.yaml", "field.geojson", "scenario.yaml", "study.yaml")
	if err != nil {
		return err
	}
	return writeFresh(dir, list)
}

// demoOutFiles returns files of the demo, to be written.
func demoOutFiles(names ...string) ([]outFile, error) {
	var list []outFile
	for _, name := range names {
		data, err := inDemo.read(path.Join("demo", name), "a file of the demo")
		if err != nil {
			return nil, err
		}
		list = append(list, outFile{name, func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}})
	}
	return list, nil
}
