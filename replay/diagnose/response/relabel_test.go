// When an order of sections is better than the recorded one, by crossings whose scatter is known,
// and what becomes of each event under other numbers.

package response

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"liftbench/sections/score"
)

// swappedPair is crossings of four sections at v m/s, of which the last two are recorded under each
// other's numbers. They cross staggerS apart, in turn one and the other first, so that each
// is early and late by staggerS·v. Besides, each is off by noiseM, with signs that go with neither.
func swappedPair(crossings int, mps, staggerS, noiseM float64) (events []score.Event) {
	for k := range crossings {
		slant, noise := float64(1-2*(k%2)), float64(1-2*(k/4%2))
		ideal := [4]float64{-3 * slant, -1.5 * slant, 0, slant * staggerS}
		actual := [4]float64{ideal[0], ideal[1], ideal[3] + noise*noiseM/mps, ideal[2] - noise*noiseM/mps}
		for s := range 4 {
			e := paired(int16(s), k%4 > 1, 60*float64(k)+ideal[s], 0)
			e.SpeedMps, e.ActualNs = mps, at(60*float64(k)+actual[s])
			e.TimeErrorS = actual[s] - ideal[s]
			e.PlaceErrorM = e.TimeErrorS * mps
			events = append(events, e)
		}
	}
	return events
}

// An order is better if five crossings with sections 150 ms apart show it, its sections scatter
// by more than 8 cm as recorded, and by less than half of that in the order, or by so much less that
// it is six standard errors.
func TestOrderLimits(t *testing.T) {
	for _, tc := range []struct {
		name                       string
		crossings                  int
		mps, staggerS, noiseM      float64
		found                      bool
		wantBeforeM, wantCrossings float64
	}{
		{"clear", 8, 1, 0.5, 0, true, 0.5, 8},
		{"five crossings", 5, 1, 0.5, 0, true, 0, 5},
		{"four crossings", 4, 1, 0.5, 0, false, 0, 0},
		{"8.2 cm", 8, 0.41, 0.2, 0, true, 0.082, 8},
		{"7.8 cm", 8, 0.39, 0.2, 0, false, 0, 0},
		// Both before: √(1 + 0.57²) · 0.5 m = 0.575 m, of which 0.285 m are 49.5 %; with 0.585, 50.5 %.
		{"halved", 8, 1, 0.5, 0.285, true, 0.575, 8},
		{"not halved, but seven standard errors", 8, 1, 0.5, 0.2925, true, 0, 8},
		// 16 changes, 0.5 m off: 16·0.25/36 = 0.333².
		{"six standard errors", 8, 1, 0.5, 0.33, true, 0, 8},
		{"not quite six", 8, 1, 0.5, 0.337, false, 0, 0},
	} {
		events := swappedPair(tc.crossings, tc.mps, tc.staggerS, tc.noiseM)
		day := dayOf(4, slices.Clone(events), nil)
		o := orderOf(day)
		if (o != nil) != tc.found {
			t.Errorf("%s: %+v", tc.name, o)
			continue
		}
		if o == nil {
			if !slices.Equal(day.Actual, events) {
				t.Errorf("%s: the day was changed", tc.name)
			}
			continue
		}
		if o.Kind != Exchanged || !slices.Equal(o.Wrong, []int{2, 3}) || o.Crossings != int(tc.wantCrossings) ||
			tc.wantBeforeM > 0 && (!(math.Abs(o.BeforeM-tc.wantBeforeM) <= 1e-3) || !(math.Abs(o.AfterM-tc.noiseM) <= 1e-3)) {
			t.Errorf("%s: %+v; want sections 3 and 4 exchanged, %g m and then %g m", tc.name, o, tc.wantBeforeM, tc.noiseM)
		}
		for _, e := range day.Actual {
			if !(math.Abs(e.PlaceErrorM) <= tc.noiseM+1e-6) {
				t.Errorf("%s: %+v is left; want no more than %g m", tc.name, e, tc.noiseM)
			}
		}
	}
	// The setpoints of a day are put in order if that makes them scatter less, and left alone else.
	for _, wrong := range []bool{false, true} {
		actual, setpoint := swappedPair(8, 1, 0.5, 0), swappedPair(8, 1, 0.5, 0)
		if !wrong {
			setpoint = relabelled(setpoint, []int{0, 1, 3, 2})
		}
		day := dayOf(4, actual, setpoint)
		if o := orderOf(day); o == nil {
			t.Fatal("no order found")
		}
		for _, e := range day.Setpoint {
			if e.Kind != score.Paired || !(math.Abs(e.PlaceErrorM) <= 1e-6) {
				t.Errorf("setpoints in the wrong order %v: %+v is left", wrong, e)
			}
		}
	}
	// Of two sections each is the other, reversed, if they cross 150 ms apart.
	for staggerS, want := range map[float64]bool{0.5: true, 0.150: true, 0.149: false} {
		var two []score.Event
		for _, e := range swappedPair(8, 1, staggerS, 0) {
			if e.Section -= 2; e.Section >= 0 {
				two = append(two, e)
			}
		}
		if o := orderOf(dayOf(2, nil, two)); (o != nil) != want || want && o.Kind != Reversed {
			t.Errorf("two sections %g s apart: %+v; want them reversed %v", staggerS, o, want)
		}
	}
}

// The residuals of a recorded number are its squared distances from the line over speed of
// all lifts, or drops; with steady, also from its own mean time.
func TestScatterBesideLines(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 7))
	const n, crossings = 3, 12
	var events []score.Event
	late := map[[2]int]float64{}
	speed := map[int]float64{}
	for k := range crossings {
		speed[k] = 1 + rng.Float64()
		for s := range n {
			late[[2]int{k, s}] = 0.1*rng.NormFloat64() + 0.2*float64(s)
			e := paired(int16(s), k%2 == 1, 60*float64(k)+0.3*float64(s), late[[2]int{k, s}])
			e.SpeedMps = speed[k]
			events = append(events, e)
		}
	}
	for _, steady := range []bool{false, true} {
		r := scatter(columns(events, n), identity(n), view{steady: steady})
		want := make([]float64, n)
		for way := range 2 {
			// The line by its equations for one variable.
			var m, v, e, vv, ve float64
			for k := way; k < crossings; k += 2 {
				for s := range n {
					x := late[[2]int{k, s}] * speed[k]
					m, v, e, vv, ve = m+1, v+speed[k], e+x, vv+speed[k]*speed[k], ve+speed[k]*x
				}
			}
			slope := (m*ve - v*e) / (m*vv - v*v)
			base := (e - slope*v) / m
			for s := range n {
				mean := 0.0
				for k := way; k < crossings; k += 2 {
					mean += (late[[2]int{k, s}]*speed[k] - base - slope*speed[k]) / speed[k] / (crossings / 2)
				}
				if !steady {
					mean = 0
				}
				for k := way; k < crossings; k += 2 {
					want[s] += math.Pow(late[[2]int{k, s}]*speed[k]-base-slope*speed[k]-mean*speed[k], 2)
				}
			}
		}
		for s := range n {
			if r.count[s] != crossings || !(math.Abs(r.bySection[s]-want[s]) <= 1e-6) {
				t.Errorf("steady %v, section %d: %d changes, %g m²; want %d, %g", steady, s, r.count[s], r.bySection[s], crossings, want[s])
			}
		}
		if sum, count := r.over(func(s int) bool { return s != 1 }); r.crossings != crossings || count != 2*crossings || !(math.Abs(sum-want[0]-want[2]) <= 1e-6) {
			t.Errorf("steady %v: %d crossings, %d changes with %g m²", steady, r.crossings, count, sum)
		}
	}
}

// Under other numbers a change goes with the border of its section: it is late by that, a border
// without one is missed, a change without one is spurious.
func TestRelabelled(t *testing.T) {
	braking := paired(1, true, 200.5, 0.2)
	braking.PlaceErrorM = 0.3 // at 1.5 m/s, slower than at the border
	for _, tc := range []struct {
		name   string
		events []score.Event
		want   string // kind, section, ideal and actual instant, errors in s and m
	}{
		{"both", []score.Event{paired(0, true, 100, 0.5), paired(1, true, 100.5, 0)},
			"[paired 0 100 100.5 0.5 1] [paired 1 100.5 100.5 0 0]"},
		{"one is missed", []score.Event{paired(0, true, 100, 0.4), ignored(1, true, 100.5)},
			"[missed 0 100 0 NaN NaN] [paired 1 100.5 100.4 -0.1 -0.2]"},
		{"both are missed", []score.Event{ignored(0, true, 100), ignored(1, true, 100.5)},
			"[missed 0 100 0 NaN NaN] [missed 1 100.5 0 NaN NaN]"},
		{"one has no border", []score.Event{paired(0, true, 100, 0.4)},
			"[missed 0 100 0 NaN NaN] [spurious 1 0 100.4 NaN NaN]"},
		{"not at a border", []score.Event{moved(0, true, 100), {Section: 1, Kind: score.Start, ActualNs: at(50)}},
			"[start 0 0 50 0 0] [spurious 1 0 100 0 0]"},
		{"at the mean speed there", []score.Event{paired(0, true, 200, 0.1), braking},
			"[paired 0 200 200.7 0.7 1.4] [paired 1 200.5 200.1 -0.4 -0.6]"},
	} {
		got := ""
		for _, e := range relabelled(tc.events, []int{1, 0}) {
			got += fmt.Sprintf(" [%v %d %.9g %.9g %.9g %.9g]", e.Kind, e.Section, float64(e.IdealNs)*1e-9, float64(e.ActualNs)*1e-9, e.TimeErrorS, e.PlaceErrorM)
		}
		if got != " "+tc.want {
			t.Errorf("%s:%s; want %s", tc.name, got, tc.want)
		}
	}
}
