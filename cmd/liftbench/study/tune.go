// The search of tune, step by step.

package study

import (
	"fmt"
	"math"
	"sort"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/split"
	"liftbench/sections"
	"liftbench/sim/sweep"
	"liftbench/sim/tune"
)

// Tuned is the result of tune.
type Tuned struct {
	title   string
	Options TuneOptions
	Base    *settings.Setup
	ran     int // drives in all

	Modes    []tunedMode     // fixed leads, then flow-aware ones
	best     int             // of modes
	settings *settings.Setup // with the best of everything
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
	Name       string
	FlowAware  bool
	Lift, Drop tune.Minimum // of the lead, or of the trim
	liftCurve  *tune.Curve
	dropCurve  *tune.Curve
	setup      *settings.Setup
	driven     []driven
	against    sweep.Interval // cost over that of the best mode
}

// alternative is another setting that was tried beside the one found.
type alternative struct {
	name   string
	cost   float64
	change sweep.Interval // of the cost, against the settings found so far
	setup  *settings.Setup
	driven []driven
}

// speedShare is the share of transitions within the tolerance at one speed.
type speedShare struct {
	kmh   float64
	share sweep.Interval
}

const (
	// LongestLeadMs is the longest lead that is tried.
	LongestLeadMs = 3000
	// mostTrimMs is the largest trim of an automatic lead that is tried.
	mostTrimMs = 300
	// LeadStepMs is the finest difference of leads: 0.3 cm at 10 km/h.
	LeadStepMs = 2
)

// FindLeads finds the leads of both modes, and which mode costs less.
func (t *Tuned) FindLeads(b *tuneBench) error {
	fixed := t.Base.Copy()
	c := &fixed.Machine.Controller
	lift, drop := leadsMs(fixed)
	c.FlowAware, c.LiftTrimMs, c.DropTrimMs = false, 0, 0
	c.LiftLead, c.DropLead = settings.LeadTime{Ms: lift}, settings.LeadTime{Ms: drop}
	aware := t.Base.Copy()
	c = &aware.Machine.Controller
	c.FlowAware, c.LiftLead, c.DropLead = true, settings.LeadTime{Auto: true}, settings.LeadTime{Auto: true}
	for _, m := range []struct {
		tunedMode
		liftKey, dropKey string
		lo, hi           float64
	}{
		{tunedMode{Name: "fixed leads", setup: fixed}, "controller.lift_lead", "controller.drop_lead", 0, LongestLeadMs},
		{tunedMode{Name: "flow-aware leads", FlowAware: true, setup: aware}, "controller.lift_trim_ms", "controller.drop_trim_ms", -mostTrimMs, mostTrimMs},
	} {
		var err error
		find := func(what, key string) (tune.Minimum, *tune.Curve, error) {
			s := &tune.Search{Lo: m.lo, Hi: m.hi, Step: LeadStepMs, Drives: b.options.Drives, Costs: func(values []float64, drives int) ([][]float64, error) {
				return b.Over(m.Name+", "+what, m.setup, key, values, drives)
			}}
			least, curve, err := s.Run()
			if err == nil {
				m.setup, err = With(m.setup, Change{key, math.Round(least.At)})
			}
			return least, curve, err
		}
		if m.Lift, m.liftCurve, err = find("lift", m.liftKey); err != nil {
			return err
		}
		if m.Drop, m.dropCurve, err = find("drop", m.dropKey); err != nil {
			return err
		}
		t.Modes = append(t.Modes, m.tunedMode)
	}
	d, err := b.run("modes", []*settings.Setup{t.Modes[0].setup, t.Modes[1].setup}, b.options.Drives)
	if err != nil {
		return err
	}
	for i := range t.Modes {
		t.Modes[i].driven = d[i]
	}
	if meanCost(d[1]) < meanCost(d[0]) {
		t.best = 1
	}
	for i := range t.Modes {
		t.Modes[i].against = difference(d[t.best], d[i])
	}
	t.settings, t.atBest = t.Modes[t.best].setup, d[t.best]
	return nil
}

// leadsMs returns the leads, in milliseconds, that the setup gives a section
// that moves alone.
func leadsMs(u *settings.Setup) (lift, drop float64) {
	s := run.Job(u).Settings
	return math.Round(float64(s.LiftLead.AloneNs()) * 1e-6), math.Round(float64(s.DropLead.AloneNs()) * 1e-6)
}

// Over returns the costs at several values of one setting.
func (b *tuneBench) Over(what string, u *settings.Setup, key string, values []float64, drives int) ([][]float64, error) {
	setups := make([]*settings.Setup, len(values))
	for i, v := range values {
		var err error
		if setups[i], err = With(u, Change{key, v}); err != nil {
			return nil, err
		}
	}
	d, err := b.run(what, setups, drives)
	return costs(d), err
}

// compareRules tries the other edge rules, at the leads found.
func (t *Tuned) compareRules(b *tuneBench) error {
	var list []alternative
	for rule := sections.CropFirst; rule <= sections.Even; rule++ {
		u := t.settings.Copy()
		u.Machine.Controller.EdgeRule = rule
		list = append(list, alternative{name: rule.String(), setup: u})
	}
	var err error
	t.rules, err = t.compare(b, "edge rules", list)
	t.take(t.rules)
	return err
}

// compareTimes tries shortest up and down times.
func (t *Tuned) compareTimes(b *tuneBench) error {
	var list []alternative
	for _, ms := range []float64{0, 300, 1000, 2000} {
		u := t.settings.Copy()
		c := &u.Machine.Controller
		c.ShortestUpMs, c.ShortestDownMs = ms, ms
		list = append(list, alternative{name: fmt.Sprintf("%g ms", ms), setup: u})
	}
	var err error
	t.times, err = t.compare(b, "shortest times", list)
	t.take(t.times)
	return err
}

// compare runs other settings beside those found and returns them, the cheapest
// first.
func (t *Tuned) compare(b *tuneBench, what string, list []alternative) ([]alternative, error) {
	setups := make([]*settings.Setup, len(list))
	for i := range list {
		setups[i] = list[i].setup
	}
	d, err := b.run(what, setups, b.options.Drives)
	if err != nil {
		return nil, err
	}
	for i := range list {
		list[i].driven, list[i].cost, list[i].change = d[i], meanCost(d[i]), difference(t.atBest, d[i])
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].cost < list[j].cost })
	return list, nil
}

// take adopts the cheapest alternative if it is cheaper beyond doubt.
func (t *Tuned) take(list []alternative) {
	if len(list) > 0 && list[0].change.Hi < 0 {
		t.settings, t.atBest = list[0].setup, list[0].driven
	}
}

// findSpeed finds the highest speed at which the tolerance is kept, first on a
// coarse grid and then to half a km/h.
func (t *Tuned) findSpeed(b *tuneBench) error {
	try := func(speeds []float64) error {
		setups := make([]*settings.Setup, len(speeds))
		for i, kmh := range speeds {
			var err error
			if setups[i], err = With(t.settings, Change{"drive.speed_kmh", kmh}); err != nil {
				return err
			}
		}
		d, err := b.run("speeds", setups, b.options.Drives)
		if err != nil {
			return err
		}
		for i, kmh := range speeds {
			t.speeds = append(t.speeds, speedShare{kmh, shareWithin(d[i], len(t.Base.Machine.RowsOf()))})
		}
		sort.Slice(t.speeds, func(i, j int) bool { return t.speeds[i].kmh < t.speeds[j].kmh })
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

// lastThatHolds returns the index of the highest speed such that it and every
// lower speed tried keep the tolerance; -1 = none.
func (t *Tuned) lastThatHolds() int {
	for i := range t.speeds {
		if !(100*t.speeds[i].share.Value >= t.Options.SharePercent) {
			return i - 1
		}
	}
	return len(t.speeds) - 1
}

// compareMachines computes what a better receiver, a bigger pump and narrower
// sections would gain, each with leads that fit it.
func (t *Tuned) compareMachines(b *tuneBench) error {
	var list []alternative
	add := func(name string, edit func(u *settings.Setup) bool) {
		u := t.settings.Copy()
		if edit(u) {
			list = append(list, alternative{name: name, setup: u})
		}
	}
	add("a receiver with half the noise, twice the rate", func(u *settings.Setup) bool {
		r := &u.Scenario.Receiver
		r.NoiseCm, r.VelocityCmS, r.JitterMs = r.NoiseCm/2, r.VelocityCmS/2, r.JitterMs/2
		r.RateHz = min(2*r.RateHz, 100)
		return true
	})
	add("a pump of twice the flow", func(u *settings.Setup) bool {
		u.Machine.Hydraulics.PumpLMin = min(2*u.Machine.Hydraulics.PumpLMin, 1000)
		return true
	})
	add("sections half as wide", func(u *settings.Setup) bool {
		n, units := 2*len(u.Machine.RowsOf()), 0
		for _, k := range u.Machine.RowsOf() {
			units += k
		}
		u.Machine.Sections = split.Sections{Count: n}
		return units%n == 0
	})
	if !t.Modes[t.best].FlowAware {
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

// fit finds fixed leads for a changed machine, near those found.
func (t *Tuned) fit(b *tuneBench, u *settings.Setup) error {
	c := &u.Machine.Controller
	for _, l := range []struct {
		key string
		at  *settings.LeadTime
	}{{"controller.lift_lead", &c.LiftLead}, {"controller.drop_lead", &c.DropLead}} {
		const spanMs, stepMs = 80, 20
		var values []float64
		for v := l.at.Ms - spanMs; v <= l.at.Ms+spanMs; v += stepMs {
			values = append(values, max(v, 0))
		}
		costs, err := b.Over("leads of another machine", u, l.key, values, min(b.options.Drives, 4))
		if err != nil {
			return err
		}
		curve := tune.Curve{At: values, Costs: costs}
		*l.at = settings.LeadTime{Ms: values[curve.Least()]}
	}
	return nil
}
