// The two ways out: a scrape over HTTP, and a text file for a node exporter.

package metrics

import (
	"io"
	"net/http"
	"slices"
	"sort"

	"liftbench/replay/crash"
)

// mostScrapes is how many scrapes run at a time; a further one is turned away.
const mostScrapes = 2

// Handler answers scrapes with the set and with what the process takes: memory,
// processor time, open files. It answers in the text format, whatever the scraper
// would rather have. A query such as name[]=go_goroutines asks for these metrics
// alone.
func (s *Set) Handler() http.Handler {
	running := make(chan struct{}, mostScrapes)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		select {
		case running <- struct{}{}:
			defer func() { <-running }()
		default:
			http.Error(w, "two scrapes are being answered; ask again in a second", http.StatusServiceUnavailable)
			return
		}
		all := append(s.all(), processFamilies()...)
		if asked := r.URL.Query()["name[]"]; asked != nil {
			all = slices.DeleteFunc(all, func(f *family) bool { return !slices.Contains(asked, f.name) })
		}
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		_ = writeText(w, all) // the scraper has gone
	})
}

// WriteText writes the set in Prometheus's text format, sorted by name and
// labels.
func (s *Set) WriteText(w io.Writer) error { return writeText(w, s.all()) }

// all returns the families of the set, and of what others count now.
func (s *Set) all() (all []*family) {
	crash.Run(func() {
		c := s.counts()
		all = c.families()
	})
	return append(all, s.families...)
}

func writeText(w io.Writer, all []*family) error {
	sort.Slice(all, func(i, k int) bool { return all[i].name < all[k].name })
	var b []byte
	for _, f := range all {
		b = f.append(b)
	}
	_, err := w.Write(b)
	return err
}
