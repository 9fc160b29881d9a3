// What tune looks for, step by step.

package main

import (
	"fmt"
	"math"
	"slices"

	"liftbench/sim/sweep"
	"liftbench/sim/tune"
)

// tuned is what tune found.
type tuned struct {
	title   string
	options tuneOptions
	base    *setup
	ran     int // drives in all

	modes    []tunedMode // fixed leads, then flow-aware ones
	best     int         // of modes
	settings *setup      // with the best of everything
	atBest   []driven
	rules    []alternative // edge rules, the scenario's first
	times    []alternative // shortest times
	speeds   []speedShare
	holdsKmh float64       // the largest speed that keeps the tolerance; NaN = none that was tried
	gains    []alternative // most gained first
}

// tunedMode is one way of timing: leads in milliseconds, or automatic ones with
// a trim.
type tunedMode struct {
	name       string
	flowAware  bool
	lift, drop tune.Minimum // of the lead, or of the trim
	liftCurve  *tune.Curve
	dropCurve  *tune.Curve
	setup      *setup
	driven     []driven
	against    sweep.Interval // cost over that of the best mode
}

// alternative is a setting beside the one found.
type alternative struct {
	name   string
	cost   float64
	change sweep.Interval // of the cost, against the settings found so far
	setup  *setup
	driven []driven
}

// speedShare is the share within the tolerance at one speed.
type speedShare struct {
	kmh   float64
	share sweep.Interval
}

const (
	// longestLeadMs is the longest lead that is tried.
	longestLeadMs = 3000
	// mostTrimMs is the largest trim of an automatic lead that is tried.
	mostTrimMs = 300
	// leadStepMs is the finest difference of leads: 0.3 cm at 10 km/h.
	leadStepMs = 2
)

// findLeads finds the leads of both modes and the better mode.
func (t *tuned) findLeads(b *tuneBench) error {
	fixed := t.base.copy()
	c := &fixed.machine.Controller
	lift, drop := fixed.leadsMs()
	c.FlowAware, c.LiftTrimMs, c.DropTrimMs = false, 0, 0
	c.LiftLead, c.DropLead = leadTime{ms: lift}, leadTime{ms: drop}
	aware := t.base.copy()
	c = &aware.machine.Controller
	c.FlowAware, c.LiftLead, c.DropLead = true, leadTime{auto: true}, leadTime{auto: true}
	for _, m := range []struct {
		tunedMode
		liftKey, dropKey string
		lo, hi           float64
	}{
		{tunedMode{name: "fixed leads", setup: fixed}, "controller.lift_lead", "controller.drop_lead", 0, longestLeadMs},
		{tunedMode{name: "flow-aware leads", flowAware: true, setup: aware}, "controller.lift_trim_ms", "controller.drop_trim_ms", -mostTrimMs, mostTrimMs},
	} {
		var err error
		find := func(what, key string) (tune.Minimum, *tune.Curve, error) {
			s := &tune.Search{Lo: m.lo, Hi: m.hi, Step: leadStepMs, Drives: b.options.drives, Costs: func(values []float64, drives int) ([][]float64, error) {
				return b.over(m.name+", "+what, m.setup, key, values, drives)
			}}
			least, curve, err := s.Run()
			if err == nil {
				m.setup, err = with(m.setup, change{key, math.Round(least.At)})
			}
			return least, curve, err
		}
		if m.lift, m.liftCurve, err = find("lift", m.liftKey); err != nil {
			return err
		}
		if m.drop, m.dropCurve, err = find("drop", m.dropKey); err != nil {
			return err
		}
		t.modes = append(t.modes, m.tunedMode)
	}
	d, err := b.run("modes", []*setup{t.modes[0].setup, t.modes[1].setup}, b.options.drives)
	if err != nil {
		return err
	}
	for i := range t.modes {
		t.modes[i].driven = d[i]
	}
	if meanCost(d[1]) < meanCost(d[0]) {
		t.best = 1
	}
	for i := range t.modes {
		t.modes[i].against = difference(d[t.best], d[i])
	}
	t.settings, t.atBest = t.modes[t.best].setup, d[t.best]
	return nil
}

// leadsMs returns the setup's leads of a section alone, in milliseconds.
func (u *setup) leadsMs() (lift, drop float64) {
	s := u.job().Settings
	return math.Round(float64(s.LiftLead.AloneNs()) * 1e-6), math.Round(float64(s.DropLead.AloneNs()) * 1e-6)
}

// over returns the costs at values of one setting.
func (b *tuneBench) over(what string, u *setup, key string, values []float64, drives int) ([][]float64, error) {
	setups := make([]*setup, len(values))
	for i, v := range values {
		var err error
		if setups[i], err = with(u, change{key, v}); err != nil {
			return nil, err
		}
	}
	d, err := b.run(what, setups, drives)
	return costs(d), err
}

// compareRules tries the other edge rules, at the leads found.
func (t *tuned) compareRules(b *tuneBench) error {
	var list []alternative
	for _, name := range edgeRuleNames {
		u := t.settings.copy()
		u.machine.Controller.EdgeRule = name
		list = append(list, alternative{name: name, setup: u})
	}
	var err error
	t.rules, err = t.compare(b, "edge rules", list)
	t.take(t.rules)
	return err
}

// compareTimes tries shortest up and down times.
func (t *tuned) compareTimes(b *tuneBench) error {
	var list []alternative
	for _, ms := range []float64{0, 300, 1000, 2000} {
		u := t.settings.copy()
		c := &u.machine.Controller
		c.ShortestUpMs, c.ShortestDownMs = ms, ms
		list = append(list, alternative{name: fmt.Sprintf("%g ms", ms), setup: u})
	}
	var err error
	t.times, err = t.compare(b, "shortest times", list)
	t.take(t.times)
	return err
}

// compare runs alternatives beside the settings found, and returns them with
// the cheapest first.
func (t *tuned) compare(b *tuneBench, what string, list []alternative) ([]alternative, error) {
	setups := make([]*setup, len(list))
	for i := range list {
		setups[i] = list[i].setup
	}
	d, err := b.run(what, setups, b.options.drives)
	if err != nil {
		return nil, err
	}
	for i := range list {
		list[i].driven, list[i].cost, list[i].change = d[i], meanCost(d[i]), difference(t.atBest, d[i])
	}
	slices.SortStableFunc(list, func(x, y alternative) int {
		switch {
		case x.cost < y.cost:
			return -1
		case x.cost > y.cost:
			return 1
		}
		return 0
	})
	return list, nil
}

// take makes the cheapest alternative the settings found, where it is surely
// cheaper.
func (t *tuned) take(list []alternative) {
	if len(list) > 0 && list[0].change.Hi < 0 {
		t.settings, t.atBest = list[0].setup, list[0].driven
	}
}

// findSpeed finds the largest speed at which the tolerance is kept, first on a
// wide grid and then to half a km/h.
func (t *tuned) findSpeed(b *tuneBench) error {
	try := func(speeds []float64) error {
		setups := make([]*setup, len(speeds))
		for i, kmh := range speeds {
			var err error
			if setups[i], err = with(t.settings, change{"drive.speed_kmh", kmh}); err != nil {
				return err
			}
		}
		d, err := b.run("speeds", setups, b.options.drives)
		if err != nil {
			return err
		}
		for i, kmh := range speeds {
			t.speeds = append(t.speeds, speedShare{kmh, shareWithin(d[i], len(t.base.machine.rowsOf()))})
		}
		slices.SortFunc(t.speeds, func(x, y speedShare) int { return int(math.Copysign(1, x.kmh-y.kmh)) })
		return nil
	}
	if err := try([]float64{3, 6, 9, 12, 15, 18}); err != nil {
		return err
	}
	for step := 1.0; step >= 0.5; step /= 2 {
		last := t.lastThatHolds()
		if last+1 >= len(t.speeds) {
			break
		}
		lo, hi := 0.0, t.speeds[last+1].kmh
		if last >= 0 {
			lo = t.speeds[last].kmh
		}
		var between []float64
		for v := lo + step; v < hi-1e-9; v += step {
			if v >= 1 {
				between = append(between, v)
			}
		}
		if err := try(between); err != nil {
			return err
		}
	}
	t.holdsKmh = math.NaN()
	if last := t.lastThatHolds(); last >= 0 {
		t.holdsKmh = t.speeds[last].kmh
	}
	return nil
}

// lastThatHolds is the number of the largest speed up to which every speed
// that was tried keeps the tolerance; -1 = none.
func (t *tuned) lastThatHolds() int {
	for i := range t.speeds {
		if !(100*t.speeds[i].share.Value >= t.options.sharePercent) {
			return i - 1
		}
	}
	return len(t.speeds) - 1
}

// compareMachines tries what a better receiver, a bigger pump and narrower
// sections would gain, with leads that fit.
func (t *tuned) compareMachines(b *tuneBench) error {
	var list []alternative
	add := func(name string, edit func(u *setup) bool) {
		u := t.settings.copy()
		if edit(u) {
			list = append(list, alternative{name: name, setup: u})
		}
	}
	add("a receiver with half the noise, twice the rate", func(u *setup) bool {
		r := &u.scenario.Receiver
		r.NoiseCm, r.VelocityCmS, r.JitterMs = r.NoiseCm/2, r.VelocityCmS/2, r.JitterMs/2
		r.RateHz = min(2*r.RateHz, 100)
		return true
	})
	add("a pump of twice the flow", func(u *setup) bool {
		u.machine.Hydraulics.PumpLMin = min(2*u.machine.Hydraulics.PumpLMin, 1000)
		return true
	})
	add("sections half as wide", func(u *setup) bool {
		n := 2 * len(u.machine.rowsOf())
		u.machine.Sections = sectionSplit{count: n}
		return u.machine.Rows.Count%n == 0
	})
	if !t.modes[t.best].flowAware {
		for i := range list {
			if err := t.fit(b, list[i].setup); err != nil {
				return err
			}
		}
	}
	var err error
	t.gains, err = t.compare(b, "machines", list)
	return err
}

// fit finds fixed leads that fit a changed machine, near those found.
func (t *tuned) fit(b *tuneBench, u *setup) error {
	c := &u.machine.Controller
	for _, l := range []struct {
		key string
		at  *leadTime
	}{{"controller.lift_lead", &c.LiftLead}, {"controller.drop_lead", &c.DropLead}} {
		const spanMs, stepMs = 80, 20
		var values []float64
		for v := l.at.ms - spanMs; v <= l.at.ms+spanMs; v += stepMs {
			values = append(values, max(v, 0))
		}
		costs, err := b.over("leads of another machine", u, l.key, values, min(b.options.drives, 4))
		if err != nil {
			return err
		}
		curve := tune.Curve{At: values, Costs: costs}
		*l.at = leadTime{ms: values[curve.Least()]}
	}
	return nil
}
