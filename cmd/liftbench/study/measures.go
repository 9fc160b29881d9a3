// The results that a study keeps of each drive: one number each.

package study

import (
	"math"
	"slices"

	"liftbench/cmd/liftbench/run"
	"liftbench/sections/score"
)

// measure is one result: its column in the files, its label on an axis, and how
// it is computed from a scored drive. A missing result is NaN.
type measure struct {
	key, label string
	of         func(s *score.Result, toleranceM float64) float64
}

// measures are the results in the order of their columns.
var measures = slices.Concat(
	[]measure{
		{"transitions", "lifts and drops", func(s *score.Result, _ float64) float64 { return float64(s.Lift.Count + s.Drop.Count) }},
		{"within", "lifts and drops within the tolerance", within},
		{"within_percent", "within the tolerance, %", func(s *score.Result, tolM float64) float64 {
			return 100 * within(s, tolM) / float64(s.Lift.Count+s.Drop.Count)
		}},
		{"place_p95_cm", "95 % of place errors within, cm", func(s *score.Result, _ float64) float64 { return 100 * placeP95M(s) }},
		{"off_target_percent", "off target, % of the zone", func(s *score.Result, _ float64) float64 {
			return 100 * (s.Area.OverrunM2 + s.Area.MissM2) / s.ZoneM2
		}},
		{"overrun_m2", "overrun, m²", func(s *score.Result, _ float64) float64 { return s.Area.OverrunM2 }},
		{"miss_m2", "miss, m²", func(s *score.Result, _ float64) float64 { return s.Area.MissM2 }},
		{"repeat_m2", "repeat, m²", func(s *score.Result, _ float64) float64 { return s.Area.RepeatM2 }},
		{"across_rows_m2", "worked across the rows, m²", func(s *score.Result, _ float64) float64 { return s.Area.AcrossRowsM2 }},
		{"sections", "sections", func(s *score.Result, _ float64) float64 { return float64(len(s.Sections)) }},
		{"worked_m2", "worked, m²", func(s *score.Result, _ float64) float64 { return s.Area.WorkedM2 }},
		{"zone_m2", "zone, m²", func(s *score.Result, _ float64) float64 { return s.ZoneM2 }},
	},
	directionMeasures("lift", "lifts", func(s *score.Result) *score.Stats { return &s.Lift }),
	directionMeasures("drop", "drops", func(s *score.Result) *score.Stats { return &s.Drop }),
)

// directionMeasures are the results for lifts alone or for drops alone.
func directionMeasures(key, name string, of func(*score.Result) *score.Stats) []measure {
	count := func(n func(*score.Stats) int) func(*score.Result, float64) float64 {
		return func(s *score.Result, _ float64) float64 { return float64(n(of(s))) }
	}
	spread := func(get func(*score.Stats) *score.Spread, unit float64, of1 func(*score.Spread) float64) func(*score.Result, float64) float64 {
		return func(s *score.Result, _ float64) float64 {
			p := get(of(s))
			if p == nil {
				return math.NaN()
			}
			return unit * of1(p)
		}
	}
	timeOf := func(s *score.Stats) *score.Spread { return s.TimeErrorS }
	placeOf := func(s *score.Stats) *score.Spread { return s.PlaceErrorM }
	mean := func(p *score.Spread) float64 { return p.Mean }
	p95 := func(p *score.Spread) float64 { return p.P95Abs }
	most := func(p *score.Spread) float64 { return p.MaxAbs }
	return []measure{
		{key + "_count", name, count(func(s *score.Stats) int { return s.Count })},
		{key + "_missed", name + " missed", count(func(s *score.Stats) int { return s.Missed })},
		{key + "_spurious", name + " extra", count(func(s *score.Stats) int { return s.Spurious })},
		{key + "_time_mean_ms", name + ", mean time error, ms", spread(timeOf, 1e3, mean)},
		{key + "_time_p95_ms", name + ", 95 % of time errors within, ms", spread(timeOf, 1e3, p95)},
		{key + "_place_mean_cm", name + ", mean place error, cm", spread(placeOf, 1e2, mean)},
		{key + "_place_p95_cm", name + ", 95 % of place errors within, cm", spread(placeOf, 1e2, p95)},
		{key + "_place_max_cm", name + ", worst place error, cm", spread(placeOf, 1e2, most)},
	}
}

// within counts the ideal crossings at which a section moved within the
// tolerance. A missed one does not count.
func within(s *score.Result, toleranceM float64) float64 {
	n := 0
	for i := range s.Events {
		if e := &s.Events[i]; e.Kind == score.Paired && math.Abs(e.PlaceErrorM) <= toleranceM {
			n++
		}
	}
	return float64(n)
}

// placeP95M is the 95th percentile of the sizes of all place errors, by nearest
// rank.
func placeP95M(s *score.Result) float64 {
	var sizes []float64
	for i := range s.Events {
		if e := &s.Events[i]; e.Kind == score.Paired {
			sizes = append(sizes, math.Abs(e.PlaceErrorM))
		}
	}
	if sizes == nil {
		return math.NaN()
	}
	slices.Sort(sizes)
	return sizes[(len(sizes)*95+99)/100-1]
}

// measureNames returns the columns.
func measureNames() []string {
	var names []string
	for i := range measures {
		names = append(names, measures[i].key)
	}
	return names
}

// measureNumber returns the number of a measure by its name, which must exist.
func measureNumber(key string) int {
	return slices.IndexFunc(measures, func(m measure) bool { return m.key == key })
}

// measuresOf returns the results of a drive.
func measuresOf(o *run.Outcome, toleranceM float64) []float64 {
	row := make([]float64, len(measures))
	for i := range measures {
		row[i] = measures[i].of(o.Score, toleranceM)
	}
	return row
}
