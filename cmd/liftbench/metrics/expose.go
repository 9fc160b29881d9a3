// The two ways out: a scrape over HTTP, and a text file for a node exporter.

package metrics

import (
	"io"
	"net/http"
	"slices"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
)

// mostScrapes is how many scrapes run at a time; a further one is turned away.
const mostScrapes = 2

// Handler answers scrapes with the set and with what the process takes: memory,
// processor time, open files. It answers in the text format, whatever the scraper
// would rather have: the client library's own handler, which knows all formats,
// makes the program half a megabyte larger. A query such as name[]=go_goroutines
// asks for these metrics alone.
func (s *Set) Handler() http.Handler {
	process := prometheus.NewRegistry()
	process.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	all := prometheus.Gatherers{s.registry, process}
	running := make(chan struct{}, mostScrapes)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		select {
		case running <- struct{}{}:
			defer func() { <-running }()
		default:
			http.Error(w, "two scrapes are being answered; ask again in a second", http.StatusServiceUnavailable)
			return
		}
		families, err := all.Gather()
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		if asked := r.URL.Query()["name[]"]; asked != nil {
			families = slices.DeleteFunc(families, func(f *dto.MetricFamily) bool { return !slices.Contains(asked, f.GetName()) })
		}
		w.Header().Set("Content-Type", string(expfmt.NewFormat(expfmt.TypeTextPlain)))
		_ = writeText(w, families) // the scraper has gone
	})
}

// WriteText writes the set in Prometheus's text format, sorted by name and
// labels.
func (s *Set) WriteText(w io.Writer) error {
	families, err := s.registry.Gather()
	if err != nil {
		return err
	}
	return writeText(w, families)
}

func writeText(w io.Writer, families []*dto.MetricFamily) error {
	for _, f := range families {
		if _, err := expfmt.MetricFamilyToText(w, f); err != nil {
			return err
		}
	}
	return nil
}
