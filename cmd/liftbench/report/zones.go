// Zones found from a track: printed, and as files.

package report

import (
	"fmt"
	"io"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
)

// WriteZones prints what was found from a log and, where dir is not empty, writes
// there the zones as a field file and a picture of them over the way that was
// driven.
func WriteZones(z *run.Zones, log, dir string, w io.Writer) error {
	var notKept error // what was found is printed all the same
	if dir != "" {
		notKept = files.WriteDir(dir, []files.File{
			{Name: "zones.geojson", Write: func(w io.Writer) error {
				_, err := w.Write(z.JSON)
				return err
			}},
			{Name: "zones.svg", Write: func(w io.Writer) error {
				_, err := io.WriteString(w, figure.Way("Zones found from "+log, z.Field, z.Driven, z.Rounds).SVG())
				return err
			}},
		})
	}
	for _, s := range z.Sentences() {
		if _, err := io.WriteString(w, wording.Wrap("", "  ", s)); err != nil {
			return fmt.Errorf("standard output: %w", err)
		}
	}
	return notKept
}
