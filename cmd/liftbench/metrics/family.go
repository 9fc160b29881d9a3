// Families of metrics and Prometheus's text format, version 0.0.4 ("Exposition
// formats" in Prometheus's documentation). The client library writes the same,
// and tests compare the two; by way of protocol buffers, which make the program
// two megabytes larger.

package metrics

import (
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
)

// kind is what a metric's values are.
type kind string

const (
	counter   kind = "counter" // only grows
	gauge     kind = "gauge"
	histogram kind = "histogram"
	summary   kind = "summary"
)

// family is the metrics of one name, which differ in the values of labels.
type family struct {
	name, help string
	kind       kind
	labels     []string  // in alphabetical order
	bounds     []float64 // of a histogram: the upper ends of its buckets but for the last, which has none

	sync.Mutex // of all that follows, also in series
	series     map[string]*series
}

// series is one metric of a family. Its methods may be called from any goroutine
// and allocate nothing.
type series struct {
	of     *family
	values []string // of the labels
	value  float64  // of a histogram or summary, the sum
	count  uint64   // of a histogram or summary
	inside []uint64 // how many of them are in each bucket, and in none before
	// of a summary: shares, and what so large a share is not more than
	shares, quantiles []float64
}

// newFamily returns a family without metrics. The name is without the program's.
func newFamily(k kind, name, help string, labels ...string) *family {
	return &family{name: namespace + "_" + name, help: help, kind: k, labels: labels, series: map[string]*series{}}
}

// of returns the metric with these values of the labels, which is 0 where it is
// new.
func (f *family) of(values ...string) *series {
	key := strings.Join(values, "\x00")
	f.Lock()
	defer f.Unlock()
	x := f.series[key]
	if x == nil {
		x = &series{of: f, values: values}
		if f.kind == histogram {
			x.inside = make([]uint64, len(f.bounds)+1)
		}
		f.series[key] = x
	}
	return x
}

func (x *series) set(v float64) {
	x.of.Lock()
	x.value = v
	x.of.Unlock()
}

func (x *series) add(v float64) {
	x.of.Lock()
	x.value += v
	x.of.Unlock()
}

// observe adds a value to a histogram.
func (x *series) observe(v float64) {
	i := sort.SearchFloat64s(x.of.bounds, v)
	x.of.Lock()
	x.value += v
	x.count++
	x.inside[i]++
	x.of.Unlock()
}

// append appends the family as text, or nothing if it has no metrics.
func (f *family) append(b []byte) []byte {
	f.Lock()
	defer f.Unlock()
	if len(f.series) == 0 {
		return b
	}
	sorted := make([]*series, 0, len(f.series))
	for _, x := range f.series {
		sorted = append(sorted, x)
	}
	sort.Slice(sorted, func(i, k int) bool { return slices.Compare(sorted[i].values, sorted[k].values) < 0 })
	b = append(b, "# HELP "+f.name+" "+helpEscapes.Replace(f.help)+"\n# TYPE "+f.name+" "+string(f.kind)+"\n"...)
	for _, x := range sorted {
		switch f.kind {
		case histogram:
			sum := uint64(0)
			for i, n := range x.inside {
				sum += n
				bound := math.Inf(1)
				if i < len(f.bounds) {
					bound = f.bounds[i]
				}
				b = x.line(b, "_bucket", "le", bound, float64(sum))
			}
		case summary:
			for i, share := range x.shares {
				b = x.line(b, "", "quantile", share, x.quantiles[i])
			}
		default:
			b = x.line(b, "", "", 0, x.value)
			continue
		}
		b = x.line(b, "_sum", "", 0, x.value)
		b = x.line(b, "_count", "", 0, float64(x.count))
	}
	return b
}

// line appends one line, with a label of a number if it has a name.
func (x *series) line(b []byte, suffix, label string, number, v float64) []byte {
	b = append(b, x.of.name+suffix...)
	before := byte('{')
	for i, name := range x.of.labels {
		b = append(b, before)
		b = append(b, name+`="`+valueEscapes.Replace(x.values[i])+`"`...)
		before = ','
	}
	if label != "" {
		b = append(b, before)
		b = append(b, label+`="`...)
		b = append(strconv.AppendFloat(b, number, 'g', -1, 64), '"')
		before = ','
	}
	if before == ',' {
		b = append(b, '}')
	}
	b = append(b, ' ')
	if v == 0 {
		v = 0 // without a sign
	}
	return append(strconv.AppendFloat(b, v, 'g', -1, 64), '\n')
}

var (
	helpEscapes  = strings.NewReplacer(`\`, `\\`, "\n", `\n`)
	valueEscapes = strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`)
)
