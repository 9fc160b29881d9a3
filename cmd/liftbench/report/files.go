// The files of --out, in the order they are written.

package report

import (
	"io"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/run"
)

// Write writes the files of --out and --metrics-file, where they are wanted.
func Write(o *run.Outcome, outDir, metricsFile string) error {
	if outDir != "" {
		if err := files.WriteDir(outDir, Files(o)); err != nil {
			return err
		}
	}
	if metricsFile != "" {
		return files.WriteWhole(metricsFile, func(w io.Writer) error { return WriteMetrics(o, w) })
	}
	return nil
}

// Files returns the files of --out, in the order they are written.
func Files(o *run.Outcome) []files.File {
	return []files.File{
		{Name: "summary.json", Write: func(w io.Writer) error { return WriteSummary(o, w) }},
		{Name: "events.csv", Write: func(w io.Writer) error { return WriteEvents(o, w) }},
		{Name: "ground.geojson", Write: func(w io.Writer) error { return WriteGround(o, w) }},
		{Name: "metrics.prom", Write: func(w io.Writer) error { return WriteMetrics(o, w) }},
		{Name: "report.html", Write: func(w io.Writer) error { return WriteHTML(o, w) }},
	}
}

// WriteMetrics writes metrics.prom: the figures of a drive that has ended as Prometheus
// text, for the dashboards that follow an integrator's builds or for a node exporter.
func WriteMetrics(o *run.Outcome, w io.Writer) error { return o.Figures.WriteText(w) }
