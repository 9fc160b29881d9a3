// Error over speed: the line, and that a diagnosis draws the same.

package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
)

// crossed is one crossing of six sections at a speed: e = Δx + v·Δt and a
// position error that they share.
func addCrossing(list []score.Event, on bool, atS, speedMps, placeM, timeS, noiseM float64) []score.Event {
	for s := range 6 {
		list = append(list, score.Event{
			Section: int16(s), On: on, Kind: score.Paired, IdealNs: int64(atS*1e9) + int64(s)*100e6,
			ActualNs: int64(atS*1e9) + 1, SpeedMps: speedMps, PlaceErrorM: placeM + speedMps*timeS + noiseM, TimeErrorS: (placeM+noiseM)/speedMps + timeS,
		})
	}
	return list
}

// TestLine: exact data give the line exactly; a few crossings that went wrong do
// not move it; what cannot be told is not told.
func TestLine(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	var exact, one, wild []score.Event
	for i := range 40 {
		at, v := 60*float64(i), 1+0.05*float64(i)
		exact = addCrossing(exact, i%2 == 1, at, v, 0.2, 0.15, 0)
		one = addCrossing(one, i%2 == 1, at, 2, 0.2, 0.15, 0.01*random.NormFloat64())
		noise := 0.01 * random.NormFloat64()
		if i == 10 || i == 31 {
			noise = 3
		}
		wild = addCrossing(wild, i%2 == 1, at, v, 0.2, 0.15, noise)
	}
	for _, c := range []struct {
		name    string
		drives  [][]score.Event
		known   bool
		withinS float64
	}{
		{"exact", [][]score.Event{exact}, true, 1e-9},
		{"in two drives at once", [][]score.Event{exact[:120], exact[120:]}, true, 1e-9},
		{"two wild crossings", [][]score.Event{wild}, true, 0.01},
		{"one speed", [][]score.Event{one}, false, 0},
		{"two crossings", [][]score.Event{exact[:24]}, false, 0},
		{"none", nil, false, 0},
	} {
		lift, drop := Line(c.drives...)
		for _, f := range []Fit{lift, drop} {
			if (f.TimeErrorS != nil) != c.known || (f.PlaceErrorM != nil) != c.known {
				t.Errorf("%s: %+v; want known: %v", c.name, f, c.known)
				continue
			}
			if c.known && !(math.Abs(*f.TimeErrorS-0.15) <= c.withinS && math.Abs(*f.PlaceErrorM-0.2) <= 2*c.withinS) {
				t.Errorf("%s: %g m and %g s; want 0.2 and 0.15", c.name, *f.PlaceErrorM, *f.TimeErrorS)
			}
		}
	}
	if lift, _ := Line(exact); lift.Count != 120 {
		t.Errorf("%d lifts; want 120", lift.Count)
	}
}

// TestLineIsTheDiagnosis: a day without causes beside time and place has one
// line, whoever asks.
func TestLineIsTheDiagnosis(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	var day []score.Event
	for i := range 80 {
		day = addCrossing(day, i%2 == 1, 60*float64(i), 1+2.5*random.Float64(), 0.1, 0.2, 0.012*random.NormFloat64())
	}
	lift, drop := Line(day)
	m := &sections.Machine{Sections: make([]sections.Section, 6)}
	for i := range m.Sections {
		m.Sections[i] = sections.Section{XM: -2, YM: float64(i) - 2.5, WidthM: 1}
	}
	d, err := Run(evidence.Day{Machine: m, Actual: day})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]Fit{{lift, d.Lift}, {drop, d.Drop}} {
		if c[1].TimeErrorS == nil || *c[0].TimeErrorS != *c[1].TimeErrorS || *c[0].PlaceErrorM != *c[1].PlaceErrorM || *c[0].TimeErrorCI != *c[1].TimeErrorCI {
			t.Errorf("the line %+v; the diagnosis %+v", c[0], c[1])
		}
	}
}
