// The limits of a scenario beside what was found: run and bench end with exit status 1 when
// one is exceeded.

package run

import (
	"fmt"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/score"
)

// LimitCheck is one limit of a scenario beside what was found.
type LimitCheck struct {
	Key          string // of the scenario file
	Unit         string // may be empty
	Limit, Found float64
	Nothing      bool // there was no transition to measure, which keeps no limit
}

// Exceeded reports whether the limit is not kept.
func (c *LimitCheck) Exceeded() bool { return c.Nothing || c.Found > c.Limit }

// String says what was found and what the limit is.
func (c *LimitCheck) String() string {
	unit := ""
	if c.Unit != "" {
		unit = " " + c.Unit
	}
	if c.Nothing {
		return fmt.Sprintf("%s: no transition to measure; the limit is %g%s", c.Key, c.Limit, unit)
	}
	return fmt.Sprintf("%s: found %.4g%s; the limit is %g%s", c.Key, c.Found, unit, c.Limit, unit)
}

// Limits returns the limits that are stated, in the order of the scenario's keys.
func (o *Outcome) Limits(l *settings.Limits) []LimitCheck {
	r := o.Score
	p95 := func(s *score.Spread) float64 {
		if s == nil {
			return 0
		}
		return s.P95Abs
	}
	worst := func(s *score.Spread) float64 {
		if s == nil {
			return 0
		}
		return s.MaxAbs
	}
	count := func(n *int) *float64 {
		if n == nil {
			return nil
		}
		x := float64(*n)
		return &x
	}
	overrunPercent := 0.0
	if r.Area.WorkedM2 > 0 {
		overrunPercent = 100 * r.Area.OverrunM2 / r.Area.WorkedM2
	}
	var list []LimitCheck
	for _, c := range []struct {
		limit      *float64
		key, unit  string
		found      float64
		transition *score.Stats // what the figure is of; nil = no transitions needed
	}{
		{l.LiftTimeP95Ms, "lift_time_error_p95_ms", "ms", 1e3 * p95(r.Lift.TimeErrorS), &r.Lift},
		{l.DropTimeP95Ms, "drop_time_error_p95_ms", "ms", 1e3 * p95(r.Drop.TimeErrorS), &r.Drop},
		{l.LiftPlaceP95Cm, "lift_place_error_p95_cm", "cm", 1e2 * p95(r.Lift.PlaceErrorM), &r.Lift},
		{l.DropPlaceP95Cm, "drop_place_error_p95_cm", "cm", 1e2 * p95(r.Drop.PlaceErrorM), &r.Drop},
		{l.MaxPlaceCm, "max_place_error_cm", "cm", 1e2 * max(worst(r.Lift.PlaceErrorM), worst(r.Drop.PlaceErrorM)), nil},
		{count(l.Missed), "missed", "", float64(r.Lift.Missed + r.Drop.Missed), nil},
		{count(l.Spurious), "spurious", "", float64(r.Lift.Spurious + r.Drop.Spurious), nil},
		{l.OverrunM2, "overrun_m2", "m²", r.Area.OverrunM2, nil},
		{l.MissM2, "miss_m2", "m²", r.Area.MissM2, nil},
		{l.AcrossM2, "across_rows_m2", "m²", r.Area.AcrossRowsM2, nil},
		{l.OverrunPercent, "overrun_percent", "%", overrunPercent, nil},
	} {
		if c.limit != nil {
			list = append(list, LimitCheck{Key: c.key, Unit: c.unit, Limit: *c.limit, Found: c.found, Nothing: c.transition != nil && c.transition.Paired == 0})
		}
	}
	return list
}

// Exceeded returns a failure.Limit for the limits that the outcome exceeds, in the order
// of the scenario's keys; nil = none.
func (o *Outcome) Exceeded(l *settings.Limits) error {
	var sentences []string
	for _, c := range o.Limits(l) {
		if c.Exceeded() {
			sentences = append(sentences, c.String())
		}
	}
	if sentences == nil {
		return nil
	}
	return &failure.Limit{Exceeded: sentences}
}
