// The built-in demo: a machine, a field and a drive of our own invention.

package settings

import (
	"embed"
	"io"
	"path"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
)

//go:embed demo/machine.yaml demo/field.geojson demo/scenario.yaml demo/day.yaml demo/study.yaml demo/sheet.yaml
var DemoFiles embed.FS

// demoScenario is where a command starts when it is given no file, DemoStudy
// where sweep does.
const (
	demoScenario = "demo/scenario.yaml"
	DemoStudy    = "demo/study.yaml"
)

// InDemo is the source of the demo's files.
var InDemo = Named(func(name, what string) ([]byte, error) {
	data, err := DemoFiles.ReadFile(name)
	if err != nil {
		return nil, failure.Opening(name, what, err)
	}
	return data, nil
})

// WriteDemo writes the demo's files to dir, to start from.
func WriteDemo(dir string) error {
	list, err := DemoOutFiles("machine.yaml", "field.geojson", "scenario.yaml", "study.yaml", "sheet.yaml")
	if err != nil {
		return err
	}
	return files.WriteFresh(dir, list)
}

// DemoOutFiles returns files of the demo, to be written.
func DemoOutFiles(names ...string) ([]files.File, error) {
	var list []files.File
	for _, name := range names {
		data, err := InDemo.Read(path.Join("demo", name), "a file of the demo")
		if err != nil {
			return nil, err
		}
		list = append(list, files.File{Name: name, Write: func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}})
	}
	return list, nil
}
