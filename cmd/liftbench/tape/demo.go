// The demo's readings, of our own invention, to start from.

package tape

import (
	"embed"
	"io"

	"liftbench/cmd/liftbench/files"
)

//go:embed demo/passes.csv demo/standstill.csv
var demo embed.FS

// writeDemo writes the demo's readings to dir.
func writeDemo(dir string) error {
	var list []files.File
	for _, name := range []string{"passes.csv", "standstill.csv"} {
		data, err := demo.ReadFile("demo/" + name)
		if err != nil {
			return err
		}
		list = append(list, files.File{Name: name, Write: func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}})
	}
	return files.WriteFresh(dir, list)
}
