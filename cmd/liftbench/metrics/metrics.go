// Package metrics holds the figures of a controller at work, live or on the
// bench, as Prometheus metrics: one set of names, scraped over HTTP or written
// as a text file.
//
// Label values are known beforehand: sections of the machine, sentence types,
// reasons, and the ports of the command line. Errors are actual minus ideal,
// positive = late; their histograms hold negative values too.
package metrics

import (
	"math"
	"strconv"
	"strings"

	"github.com/prometheus/client_golang/prometheus"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Set is the figures of one controller. Its methods may be called while it is
// being scraped; those that observe fixes and setpoints allocate nothing.
type Set struct {
	registry *prometheus.Registry

	epochs   [qualities]prometheus.Counter
	quality  prometheus.Gauge
	fixAge   prometheus.Histogram
	interval prometheus.Histogram
	lastFix  prometheus.Gauge

	setpoint  []prometheus.Gauge      // by section
	setpoints [][2]prometheus.Counter // by reason, then Setpoint.On
	latency   prometheus.Histogram

	transitions *prometheus.CounterVec
	timeError   *prometheus.HistogramVec
	placeError  *prometheus.HistogramVec
	timeSpread  *prometheus.GaugeVec
	placeSpread *prometheus.GaugeVec
	area        *prometheus.GaugeVec
	worked      []prometheus.Gauge // of area, by section

	duration, distance, zoneArea, workRate *prometheus.GaugeVec
}

const qualities = int(nmea.Simulator) + 1

// qualityLabel returns a quality as the value of a label, such as rtk_fixed.
func qualityLabel(q nmea.Quality) string {
	return strings.ReplaceAll(strings.ToLower(q.String()), " ", "_")
}

// moveNames are the directions, by Setpoint.On.
var moveNames = [2]string{"lift", "drop"}

func moveName(on bool) string { return moveNames[moveIndex(on)] }

func moveIndex(on bool) int {
	if on {
		return 1
	}
	return 0
}

// New returns the figures of a machine with so many sections, all 0. counts is
// asked at each scrape for what others count, from any goroutine.
func New(sectionCount int, counts func() Counts) *Set {
	s := &Set{registry: prometheus.NewPedanticRegistry()}
	s.registry.MustRegister(countsCollector(counts))

	epochs := prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: namespace, Name: "epochs_total",
		Help: "Epochs by the quality of their position."}, []string{"quality"})
	s.registry.MustRegister(epochs)
	for q := range s.epochs {
		s.epochs[q] = epochs.WithLabelValues(qualityLabel(nmea.Quality(q)))
	}
	s.quality = s.gauge("fix_quality", "GGA quality number of the newest epoch.")
	s.lastFix = s.gauge("last_fix_timestamp_seconds", "When the newest position is of, since 1970.")
	s.fixAge = s.histogram("fix_age_seconds", "Age of positions on arrival, where it could be measured.",
		0.01, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1, 2)
	s.interval = s.histogram("fix_interval_seconds", "Time between two epochs.",
		0.03, 0.06, 0.11, 0.15, 0.21, 0.3, 0.55, 1.1, 2, 5, 30)
	s.latency = s.histogram("decision_latency_seconds", "From the last byte of an epoch to the setpoints that it led to.",
		25e-6, 50e-6, 100e-6, 250e-6, 500e-6, 1e-3, 2e-3, 5e-3, 10e-3, 50e-3)

	setpoint := s.gauges("section_setpoint", "What the section was last told: 0 = up, 1 = in work.", "section")
	s.area = s.gauges("area_square_meters", "Ground swept by a section, by what became of it.", "section", "ground")
	for i := range sectionCount {
		s.setpoint = append(s.setpoint, setpoint.WithLabelValues(strconv.Itoa(i+1)))
	}
	setpoints := prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: namespace, Name: "setpoints_total",
		Help: "Setpoints by direction and by why they were given."}, []string{"move", "reason"})
	s.registry.MustRegister(setpoints)
	for r := range sections.FrozenFix + 1 {
		var by [2]prometheus.Counter
		for m, move := range moveNames {
			by[m] = setpoints.WithLabelValues(move, r.String())
		}
		s.setpoints = append(s.setpoints, by)
	}

	s.transitions = prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: namespace, Name: "transitions_total",
		Help: "Lifts and drops by how they match the ideal ones."}, []string{"section", "move", "match"})
	s.timeError = prometheus.NewHistogramVec(prometheus.HistogramOpts{Namespace: namespace, Name: "transition_time_error_seconds",
		Help: "Actual minus ideal instant of lifts and drops, positive = late.", Buckets: timeErrorBuckets}, []string{"section", "move"})
	s.placeError = prometheus.NewHistogramVec(prometheus.HistogramOpts{Namespace: namespace, Name: "transition_place_error_meters",
		Help: "Actual minus ideal place of lifts and drops along the path, positive = late.", Buckets: placeErrorBuckets}, []string{"section", "move"})
	s.registry.MustRegister(s.transitions, s.timeError, s.placeError)
	s.timeSpread = s.gauges("time_error_seconds", "Actual minus ideal instant over the pairs; mean is signed, positive = late.", "section", "move", "statistic")
	s.placeSpread = s.gauges("place_error_meters", "Actual minus ideal place along the path over the pairs; mean is signed, positive = late.", "section", "move", "statistic")
	s.duration = s.gauges("drive_duration_seconds", "From the first to the last epoch.")
	s.distance = s.gauges("drive_distance_meters", "Way of the tractor's turning point.")
	s.workRate = s.gauges("work_rate_square_meters_per_second", "Ground worked inside zones, each piece once, over the whole time of the drive.")
	s.zoneArea = s.gauges("zone_area_square_meters", "Body and headland zones on the map, without keep-out.")
	return s
}

const namespace = "liftbench"

// A controller that is well set keeps within 50 ms and 10 cm: common practice,
// no source. Signed, so that early and late are told apart.
var (
	timeErrorBuckets  = []float64{-1, -0.3, -0.1, -0.05, -0.02, 0, 0.02, 0.05, 0.1, 0.3, 1}
	placeErrorBuckets = []float64{-2, -0.5, -0.2, -0.1, -0.05, 0, 0.05, 0.1, 0.2, 0.5, 2}
)

func (s *Set) gauge(name, help string) prometheus.Gauge {
	g := prometheus.NewGauge(prometheus.GaugeOpts{Namespace: namespace, Name: name, Help: help})
	s.registry.MustRegister(g)
	return g
}

// gauges returns gauges of which none is there until it is set.
func (s *Set) gauges(name, help string, labels ...string) *prometheus.GaugeVec {
	g := prometheus.NewGaugeVec(prometheus.GaugeOpts{Namespace: namespace, Name: name, Help: help}, labels)
	s.registry.MustRegister(g)
	return g
}

func (s *Set) histogram(name, help string, buckets ...float64) prometheus.Histogram {
	h := prometheus.NewHistogram(prometheus.HistogramOpts{Namespace: namespace, Name: name, Help: help, Buckets: buckets})
	s.registry.MustRegister(h)
	return h
}

// Fix counts one epoch that has arrived ageNs after the instant it is of,
// negative where that is not known, intervalNs after the one before, 0 for the
// first.
func (s *Set) Fix(f *nmea.Fix, ageNs, intervalNs int64) {
	s.epochs[min(int(f.Quality), qualities-1)].Inc()
	s.quality.Set(float64(f.Quality))
	if f.HasPosition() {
		s.lastFix.Set(float64(f.TimeNs) / 1e9)
	}
	if intervalNs > 0 {
		s.interval.Observe(float64(intervalNs) * 1e-9)
	}
	if ageNs >= 0 {
		s.fixAge.Observe(float64(ageNs) * 1e-9)
	}
}

// Setpoint counts one setpoint.
func (s *Set) Setpoint(sp sections.Setpoint) {
	m := moveIndex(sp.On)
	s.setpoint[sp.Section].Set(float64(m))
	s.setpoints[sp.Reason][m].Inc()
}

// Decided notes how long a decision took, from the last byte of the epoch to
// the setpoint's way out.
func (s *Set) Decided(latencyNs int64) { s.latency.Observe(float64(latencyNs) * 1e-9) }

// Worked adds ground that a section swept while it was told to be in work:
// all that can be known without scoring.
func (s *Set) Worked(section int, m2 float64) {
	for i := len(s.worked); i <= section; i++ {
		s.worked = append(s.worked, s.area.WithLabelValues(strconv.Itoa(i+1), score.Worked.String()))
	}
	s.worked[section].Add(m2)
}

// sixDecimals rounds a figure of a whole drive. Further decimals mean nothing, and where a
// library computes with fused products they differ from processor to processor.
func sixDecimals(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// Drive sets what a whole drive amounted to. It is for drives that have ended.
func (s *Set) Drive(durationS, distanceM, workRateM2PerS float64) {
	s.workRate.WithLabelValues().Set(sixDecimals(workRateM2PerS))
	s.duration.WithLabelValues().Set(sixDecimals(durationS))
	s.distance.WithLabelValues().Set(sixDecimals(distanceM))
}

// Score adds a scored drive. It is to be called once.
func (s *Set) Score(r *score.Result) {
	s.zoneArea.WithLabelValues().Set(sixDecimals(r.ZoneM2))
	for i := range r.Events {
		e := &r.Events[i]
		if e.Kind != score.Paired {
			continue
		}
		section, move := strconv.Itoa(int(e.Section)+1), moveName(e.On)
		s.timeError.WithLabelValues(section, move).Observe(sixDecimals(e.TimeErrorS))
		s.placeError.WithLabelValues(section, move).Observe(sixDecimals(e.PlaceErrorM))
	}
	for i := range r.Sections {
		x := &r.Sections[i]
		section := strconv.Itoa(i + 1)
		s.stats(section, false, &x.Lift)
		s.stats(section, true, &x.Drop)
		for _, a := range []struct {
			ground score.Ground
			m2     float64
		}{
			{score.Worked, x.Area.WorkedM2}, {score.Miss, x.Area.MissM2},
			{score.Overrun, x.Area.OverrunM2}, {score.AcrossRows, x.Area.AcrossRowsM2},
		} {
			s.area.WithLabelValues(section, a.ground.String()).Set(sixDecimals(a.m2))
		}
		s.area.WithLabelValues(section, "repeat").Set(sixDecimals(x.Area.RepeatM2))
	}
}

func (s *Set) stats(section string, on bool, x *score.Stats) {
	move := moveName(on)
	for _, m := range []struct {
		match score.Kind
		n     int
	}{{score.Paired, x.Paired}, {score.Missed, x.Missed}, {score.Spurious, x.Spurious}} {
		s.transitions.WithLabelValues(section, move, m.match.String()).Add(float64(m.n))
	}
	for _, p := range []struct {
		of     *prometheus.GaugeVec
		spread *score.Spread
	}{{s.timeSpread, x.TimeErrorS}, {s.placeSpread, x.PlaceErrorM}} {
		if p.spread == nil {
			continue
		}
		p.of.WithLabelValues(section, move, "mean").Set(sixDecimals(p.spread.Mean))
		p.of.WithLabelValues(section, move, "p95_abs").Set(sixDecimals(p.spread.P95Abs))
		p.of.WithLabelValues(section, move, "max_abs").Set(sixDecimals(p.spread.MaxAbs))
	}
}
