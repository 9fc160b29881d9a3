// How long a section takes that shares its pump.

package pump

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func tookBy(p Pump, starts []float64) []float64 {
	took, _ := p.Took(starts)
	return took
}

func TestTook(t *testing.T) {
	p := Pump{MoveS: 0.2, WholeS: 1, Fed: 2}
	for _, tc := range []struct {
		name         string
		starts, want []float64
	}{
		{"alone", []float64{5}, []float64{0.2}},
		{"as many as are fed", []float64{5, 5}, []float64{0.2, 0.2}},
		{"six at once", []float64{1, 1, 1, 1, 1, 1}, []float64{0.6, 0.6, 0.6, 0.6, 0.6, 0.6}},
		{"one after another", []float64{4, 0, 2}, []float64{0.2, 0.2, 0.2}},
		{"four on their way up, then another", []float64{0, 0, 0, 0, 1}, []float64{0.4, 0.4, 0.4, 0.4, 0.5}},
		{"the late one has the pump to itself", []float64{0, 0, 0, 1.5}, []float64{0.3, 0.3, 0.3, 0.2}},
	} {
		for i, s := range tookBy(p, tc.starts) {
			if math.Abs(s-tc.want[i]) > 1e-9 {
				t.Errorf("%s: lift %d takes %g s; want %g", tc.name, i+1, s, tc.want[i])
			}
		}
	}
	p.Fed = math.Inf(1)
	if got := tookBy(p, []float64{1, 1, 1}); slices.Max(got) > 0.2+1e-9 {
		t.Errorf("a pump that feeds all: %v; want 0.2 s each", got)
	}
}

// Lifts that begin as planned are through when they were meant to be.
func TestPlanned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends := rapid.SliceOfN(rapid.Float64Range(0, 3), 1, 8).Draw(t, "ends")
		p := Pump{MoveS: 0.2, WholeS: 0.7, Fed: 2.5}
		took := p.Planned(ends)
		starts := make([]float64, len(ends))
		for i := range starts {
			starts[i] = ends[i] - took[i]
		}
		for i, s := range tookBy(p, starts) {
			if !(math.Abs(s-took[i]) <= 0.02) {
				t.Errorf("lift %d is planned to take %g s and takes %g", i, took[i], s)
			}
		}
	})
}

// tookStepwise is a second way to compute Pump.Took: in small steps of time each lift on its
// way up advances by what the pump gives it.
func tookStepwise(p Pump, starts []float64, stepS float64) []float64 {
	took, risen := make([]float64, len(starts)), make([]float64, len(starts))
	for at := slices.Min(starts); slices.Contains(took, 0); at += stepS {
		rising := 0.0
		for i := range starts {
			if at >= starts[i] && risen[i] < p.WholeS {
				rising++
			}
		}
		for i := range starts {
			if at >= starts[i] && risen[i] < p.WholeS {
				if risen[i] += stepS * min(1, p.Fed/rising); risen[i] >= p.MoveS && took[i] == 0 {
					took[i] = at + stepS - starts[i]
				}
			}
		}
	}
	return took
}

func TestTookStepwise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Pump{MoveS: 0.2, WholeS: rapid.Float64Range(0.2, 0.6).Draw(t, "whole"), Fed: rapid.Float64Range(0.7, 4).Draw(t, "fed")}
		starts := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 6).Draw(t, "starts")
		const stepS = 2e-4
		want := tookStepwise(p, starts, stepS)
		for i, s := range tookBy(p, starts) {
			if !(math.Abs(s-want[i]) <= 40*stepS) {
				t.Fatalf("lift %d takes %g s; in steps %g", i, s, want[i])
			}
		}
	})
}

// Of two lifts that are due one after the other, both begin earlier than alone, by hand: each
// has half the speed while both rise.
func TestPlannedOnAPump(t *testing.T) {
	p := Pump{MoveS: 0.2, WholeS: 0.2, Fed: 1}
	for _, tc := range []struct {
		name       string
		ends, want []float64
	}{
		{"together", []float64{1, 1}, []float64{0.4, 0.4}},
		{"half a stroke apart", []float64{1, 1.1}, []float64{0.3, 0.3}},
		{"three", []float64{1, 1, 1.1}, []float64{0.5, 0.5, 0.4}},
		{"three, the first alone at first", []float64{1, 1.1, 1.1}, []float64{0.5, 0.55, 0.55}},
	} {
		for i, s := range p.Planned(tc.ends) {
			if !(math.Abs(s-tc.want[i]) <= 5e-6) {
				t.Errorf("%s: lift %d is planned to take %g s; want %g", tc.name, i, s, tc.want[i])
			}
		}
	}
}
