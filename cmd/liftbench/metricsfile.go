// metrics.prom: the figures of a run as Prometheus text, for the dashboards
// that follow an integrator's builds.

package main

import (
	"io"
	"strconv"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/common/expfmt"

	"liftbench/sections/score"
)

func (o *outcome) writeMetrics(w io.Writer) error {
	registry := prometheus.NewPedanticRegistry()
	gauge := func(name, help string, labels ...string) *prometheus.GaugeVec {
		g := prometheus.NewGaugeVec(prometheus.GaugeOpts{Namespace: "liftbench", Name: name, Help: help}, labels)
		registry.MustRegister(g)
		return g
	}
	gauge("fixes", "Epochs with a position.").WithLabelValues().Set(float64(o.Reception.Fixes))
	sentences := gauge("sentences", "NMEA sentences by what became of them.", "result")
	sentences.WithLabelValues("ok").Set(float64(o.sentences.OK))
	sentences.WithLabelValues("bad_checksum").Set(float64(o.sentences.BadChecksum))
	sentences.WithLabelValues("malformed").Set(float64(o.sentences.Malformed))
	sentences.WithLabelValues("unknown").Set(float64(o.sentences.Unknown))
	gauge("drive_duration_seconds", "From the first to the last epoch.").WithLabelValues().Set(o.DurationS)
	gauge("drive_distance_meters", "Way of the tractor's turning point.").WithLabelValues().Set(o.DistanceM)
	gauge("zone_area_square_meters", "Body and headland zones on the map, without keep-out.").WithLabelValues().Set(o.Score.ZoneM2)

	transitions := gauge("transitions", "Lifts and drops by how they match the ideal ones.", "section", "move", "match")
	timeError := gauge("time_error_seconds", "Actual minus ideal instant over the pairs; mean is signed, positive = late.", "section", "move", "statistic")
	placeError := gauge("place_error_meters", "Actual minus ideal place along the path over the pairs; mean is signed, positive = late.", "section", "move", "statistic")
	area := gauge("area_square_meters", "Ground swept by a section, by what became of it.", "section", "ground")
	spread := func(g *prometheus.GaugeVec, section, move string, s *score.Spread) {
		if s == nil {
			return
		}
		g.WithLabelValues(section, move, "mean").Set(s.Mean)
		g.WithLabelValues(section, move, "p95_abs").Set(s.P95Abs)
		g.WithLabelValues(section, move, "max_abs").Set(s.MaxAbs)
	}
	for i := range o.Score.Sections {
		s := &o.Score.Sections[i]
		section := strconv.Itoa(i + 1)
		for _, m := range []struct {
			move  string
			stats *score.Stats
		}{{"lift", &s.Lift}, {"drop", &s.Drop}} {
			transitions.WithLabelValues(section, m.move, "paired").Set(float64(m.stats.Paired))
			transitions.WithLabelValues(section, m.move, "missed").Set(float64(m.stats.Missed))
			transitions.WithLabelValues(section, m.move, "spurious").Set(float64(m.stats.Spurious))
			spread(timeError, section, m.move, m.stats.TimeErrorS)
			spread(placeError, section, m.move, m.stats.PlaceErrorM)
		}
		area.WithLabelValues(section, "worked").Set(s.Area.WorkedM2)
		area.WithLabelValues(section, "miss").Set(s.Area.MissM2)
		area.WithLabelValues(section, "overrun").Set(s.Area.OverrunM2)
		area.WithLabelValues(section, "repeat").Set(s.Area.RepeatM2)
		area.WithLabelValues(section, "across_rows").Set(s.Area.AcrossRowsM2)
	}

	// Gather sorts by name and labels.
	families, err := registry.Gather()
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
