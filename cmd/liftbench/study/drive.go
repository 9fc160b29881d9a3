// One drive of a study: its settings, its field, its result.

package study

import (
	"io"
	"sync"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/field"
	"liftbench/sim/sweep"
)

// DriveBench runs one drive of a study.
type DriveBench struct {
	Base       *settings.Setup
	Plan       *sweep.Plan
	ToleranceM float64
	fields     sweepFields
}

// Do runs a bench and returns its results.
func (b *DriveBench) Do(bench sweep.Bench) ([]float64, error) {
	u := b.Base.Copy()
	u.Scenario.Drive.Seed = int(bench.Seed)
	for i := range b.Plan.Axes {
		if err := u.Set(b.Plan.Axes[i].Key, bench.Values[i]); err != nil {
			return nil, err
		}
	}
	o, err := b.run(u)
	if err != nil {
		return nil, err
	}
	return measuresOf(o, b.ToleranceM), nil
}

// run runs a setup whose settings were changed.
func (b *DriveBench) run(u *settings.Setup) (*run.Outcome, error) {
	if err := u.Check(); err != nil {
		return nil, err
	}
	if err := b.fields.give(u); err != nil {
		return nil, err
	}
	return run.Drive(u, nil, io.Discard, false)
}

// sweepFields keeps the fields of a study. Most settings leave the field
// unchanged, and building its index takes longer than running a drive.
type sweepFields struct {
	mu sync.Mutex
	of map[[2]float64]*field.Field
}

// give sets u's field to the one that its settings describe.
func (f *sweepFields) give(u *settings.Setup) error {
	var key [2]float64
	if u.Scenario.HeadlandM != nil {
		key[0] = *u.Scenario.HeadlandM
	}
	if u.Scenario.RowBearingDeg != nil {
		key[1] = 361 + *u.Scenario.RowBearingDeg // never 0
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if known, ok := f.of[key]; ok {
		u.Field = known
		return nil
	}
	data := u.FieldData
	if err := u.LoadField(u.FieldFile, settings.Named(func(string, string) ([]byte, error) { return data, nil }), &settings.Selection{}); err != nil {
		return err
	}
	if f.of == nil {
		f.of = map[[2]float64]*field.Field{}
	}
	f.of[key] = u.Field
	return nil
}
