// One drive of a study: its settings, its field, what it came to.

package main

import (
	"io"
	"sync"

	"liftbench/sections/field"
	"liftbench/sim/sweep"
)

// sweepBench runs one drive of a study.
type sweepBench struct {
	base       *setup
	plan       *sweep.Plan
	toleranceM float64
	fields     sweepFields
}

// do runs a bench and returns what it came to.
func (b *sweepBench) do(bench sweep.Bench) ([]float64, error) {
	u := b.base.copy()
	u.scenario.Drive.Seed = int(bench.Seed)
	for i := range b.plan.Axes {
		if err := u.set(b.plan.Axes[i].Key, bench.Values[i]); err != nil {
			return nil, err
		}
	}
	o, err := b.run(u)
	if err != nil {
		return nil, err
	}
	return o.measured(b.toleranceM), nil
}

// run takes a setup whose settings were changed through the bench.
func (b *sweepBench) run(u *setup) (*outcome, error) {
	if err := u.check(); err != nil {
		return nil, err
	}
	if err := b.fields.give(u); err != nil {
		return nil, err
	}
	return u.run(nil, io.Discard, false)
}

// sweepFields keeps the fields of a study: most settings leave the field as it
// is, and its index takes longer to build than a drive to run.
type sweepFields struct {
	mu sync.Mutex
	of map[[2]float64]*field.Field
}

// give puts the field of its settings into u.
func (f *sweepFields) give(u *setup) error {
	var key [2]float64
	if u.scenario.HeadlandM != nil {
		key[0] = *u.scenario.HeadlandM
	}
	if u.scenario.RowBearingDeg != nil {
		key[1] = 361 + *u.scenario.RowBearingDeg // never 0
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if known, ok := f.of[key]; ok {
		u.field = known
		return nil
	}
	data := u.fieldData
	if err := u.loadField(u.fieldFile, slashed(func(string, string) ([]byte, error) { return data, nil }), &selection{}); err != nil {
		return err
	}
	if f.of == nil {
		f.of = map[[2]float64]*field.Field{}
	}
	f.of[key] = u.field
	return nil
}
