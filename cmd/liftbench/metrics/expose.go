// The two ways out: a scrape over HTTP, and a text file for a node exporter.

package metrics

import (
	"io"
	"net/http"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"github.com/prometheus/common/expfmt"
)

// Handler answers scrapes with the set and with what the process takes: memory,
// processor time, open files. At most two scrapes run at a time.
func (s *Set) Handler() http.Handler {
	process := prometheus.NewRegistry()
	process.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return promhttp.HandlerFor(prometheus.Gatherers{s.registry, process}, promhttp.HandlerOpts{MaxRequestsInFlight: 2})
}

// WriteText writes the set in Prometheus's text format, sorted by name and
// labels.
func (s *Set) WriteText(w io.Writer) error {
	families, err := s.registry.Gather()
	if err != nil {
		return err
	}
	for _, f := range families {
		if _, err := expfmt.MetricFamilyToText(w, f); err != nil {
			return err
		}
	}
	return nil
}
