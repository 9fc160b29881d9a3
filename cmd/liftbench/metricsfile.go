// The figures of a drive that has ended, as Prometheus text: metrics.prom for the
// dashboards that follow an integrator's builds, or a file for a node exporter.

package main

import (
	"io"
)

func (o *outcome) writeMetrics(w io.Writer) error { return o.figures.WriteText(w) }
