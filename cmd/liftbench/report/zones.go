// Zones found from a track, as files.

package report

import (
	"io"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/run"
)

// ZonesFiles are the zones as a field file, and a picture of them over the way
// that was driven.
func ZonesFiles(z *run.Zones, title string) []files.File {
	return []files.File{
		{Name: "zones.geojson", Write: func(w io.Writer) error {
			_, err := w.Write(z.JSON)
			return err
		}},
		{Name: "zones.svg", Write: func(w io.Writer) error {
			_, err := io.WriteString(w, figure.Way(title, z.Field, z.Driven, z.Rounds).SVG())
			return err
		}},
	}
}
