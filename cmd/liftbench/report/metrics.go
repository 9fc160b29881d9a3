// The figures of a drive that has ended, as Prometheus text: metrics.prom for the
// dashboards that follow an integrator's builds, or a file for a node exporter.

package report

import (
	"io"

	"liftbench/cmd/liftbench/run"
)

// WriteMetrics writes metrics.prom.
func WriteMetrics(o *run.Outcome, w io.Writer) error { return o.Figures.WriteText(w) }
