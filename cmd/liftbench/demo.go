// The built-in demo: a machine, a field and a drive of our own invention.

package main

import (
	"embed"
	"io"
	"io/fs"
	"path"
)

//go:embed demo/machine.yaml demo/field.geojson demo/scenario.yaml
var demoFiles embed.FS

// demoScenario is where a command starts when it is given no file.
const demoScenario = "demo/scenario.yaml"

// readDemo is the source of the demo's files.
func readDemo(name, what string) ([]byte, error) {
	data, err := demoFiles.ReadFile(name)
	if err != nil {
		return nil, openError(name, what, err)
	}
	return data, nil
}

// writeDemo writes the demo's files to dir, to start from.
func writeDemo(dir string) error {
	entries, err := demoFiles.ReadDir("demo")
	if err != nil {
		return err
	}
	var files []outFile
	for _, e := range entries {
		data, err := fs.ReadFile(demoFiles, path.Join("demo", e.Name()))
		if err != nil {
			return err
		}
		files = append(files, outFile{e.Name(), func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}})
	}
	return writeDir(dir, files)
}
