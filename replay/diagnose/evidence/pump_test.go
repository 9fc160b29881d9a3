// How long a lift takes that shares its pump.

package evidence

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"liftbench/sections/score"
)

func TestTook(t *testing.T) {
	p := pump{moveS: 0.2, wholeS: 1, fed: 2}
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
		for i, s := range p.took(tc.starts) {
			if math.Abs(s-tc.want[i]) > 1e-9 {
				t.Errorf("%s: lift %d takes %g s; want %g", tc.name, i+1, s, tc.want[i])
			}
		}
	}
	p.fed = math.Inf(1)
	if got := p.took([]float64{1, 1, 1}); slices.Max(got) > 0.2+1e-9 {
		t.Errorf("a pump that feeds all: %v; want 0.2 s each", got)
	}
}

// Lifts that begin as planned are through when they were meant to be.
func TestPlanned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends := rapid.SliceOfN(rapid.Float64Range(0, 3), 1, 8).Draw(t, "ends")
		p := pump{moveS: 0.2, wholeS: 0.7, fed: 2.5}
		took := p.planned(ends)
		starts := make([]float64, len(ends))
		for i := range starts {
			starts[i] = ends[i] - took[i]
		}
		for i, s := range p.took(starts) {
			if !(math.Abs(s-took[i]) <= 0.02) {
				t.Errorf("lift %d is planned to take %g s and takes %g", i, took[i], s)
			}
		}
	})
}

// A setpoint and the transition that followed it are of one crossing though two
// scores place that some µs apart.
func TestTold(t *testing.T) {
	var in Day
	for k := range 40 {
		for s := range 6 {
			e := score.Event{Section: int16(s), On: k%2 == 1, Kind: score.Paired, IdealNs: int64(k)*45e9 + int64(s)*1e9, SpeedMps: float64(k)}
			in.Actual = append(in.Actual, e)
			e.IdealNs += int64((k+s)%7-3) * 1000
			in.Setpoint = append(in.Setpoint, e)
		}
	}
	slices.Reverse(in.Setpoint)
	for i, k := range in.setpoints() {
		if k < 0 || in.Setpoint[k].Section != in.Actual[i].Section || in.Setpoint[k].SpeedMps != in.Actual[i].SpeedMps {
			t.Fatalf("transition %d goes with setpoint %d", i, k)
		}
	}
	in.Setpoint = in.Setpoint[:len(in.Setpoint)/2]
	if k := in.setpoints(); k[0] != -1 || k[len(k)-1] != 0 {
		t.Errorf("first %d, last %d; want none, and the first of the setpoints that are left", k[0], k[len(k)-1])
	}
}
