// Reception around crossings.

package evidence

import (
	"math"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/score"
)

func between(fromNs, untilNs int64) Crossing {
	return Crossing{Crossing: score.Crossing{FromNs: fromNs, UntilNs: untilNs}}
}

// Reception is judged against what is usual on the day.
func TestReception(t *testing.T) {
	const ms = int64(1e6)
	build := func(n int, stepMs int64, change func(i int, h *Fix)) []Fix {
		var out []Fix
		at := int64(0)
		for i := range n {
			h := Fix{TimeNs: at, AgeNs: 80 * ms, Quality: nmea.RTKFixed}
			if change != nil {
				change(i, &h)
			}
			at = h.TimeNs + stepMs*ms
			out = append(out, h)
		}
		return out
	}
	later := func(by int64) func(i int, h *Fix) {
		return func(i int, h *Fix) {
			if i == 50 {
				h.TimeNs += by * ms
			}
		}
	}
	for _, tc := range []struct {
		name  string
		fixes []Fix
		want  Poor
	}{
		{"as usual", build(100, 100, nil), Poor{}},
		{"390 ms of 100", build(100, 100, later(290)), Poor{}},
		{"410 ms of 100", build(100, 100, later(310)), Poor{Gaps: 1}},
		{"2.4 s of 1 s", build(100, 1000, later(1400)), Poor{}},
		{"2.6 s of 1 s", build(100, 1000, later(1600)), Poor{Gaps: 1}},
		{"480 ms of 200 ms", build(100, 200, later(290)), Poor{}},
		{"520 ms of 200 ms", build(100, 200, later(320)), Poor{Gaps: 1}},
		{"float", build(100, 100, func(i int, h *Fix) {
			if i == 50 || i == 60 {
				h.Quality = nmea.RTKFloat
			}
		}), Poor{Worse: 2}},
		{"as good by another name", build(100, 100, func(i int, h *Fix) {
			if i == 50 {
				h.Quality = nmea.Simulator
			}
		}), Poor{}},
		{"375 ms old", build(100, 100, func(i int, h *Fix) {
			if i == 50 {
				h.AgeNs = 375 * ms
			}
		}), Poor{}},
		{"380 ms old", build(100, 100, func(i int, h *Fix) {
			if i == 50 {
				h.AgeNs = 380 * ms
			}
		}), Poor{}},
		{"385 ms old", build(100, 100, func(i int, h *Fix) {
			if i == 50 {
				h.AgeNs = 385 * ms
			}
		}), Poor{Old: 1}},
		{"age not measured", build(100, 100, func(i int, h *Fix) { h.AgeNs = -1 }), Poor{}},
	} {
		r := NewReception(tc.fixes)
		got := r.Between(0, 200_000*ms)
		if got != tc.want || got.Any() != (tc.want != Poor{}) {
			t.Errorf("%s: %+v; want %+v", tc.name, got, tc.want)
		}
	}
	// The ends belong to it, and a gap that reaches in from either side does.
	fixes := build(100, 100, func(i int, h *Fix) {
		if i == 50 || i == 60 {
			h.Quality = nmea.RTKFloat
		}
	})
	r := NewReception(fixes)
	for _, tc := range []struct{ from, to, worse int64 }{{5000, 6000, 2}, {5001, 6000, 1}, {5000, 5999, 1}, {5001, 5999, 0}} {
		if got := r.Between(tc.from*ms, tc.to*ms); got.Worse != int(tc.worse) {
			t.Errorf("%d to %d ms: %+v; want %d worse", tc.from, tc.to, got, tc.worse)
		}
	}
	if got := (&Reception{}).Between(0, 1); got != (Poor{}) {
		t.Errorf("no fixes: %+v", got)
	}
	// A crossing looks back 1.5 s before its commands, a lead before its first.
	for _, tc := range []struct {
		from, to int64
		lead     int64
		want     Poor
	}{
		{7000, 8000, 600, Poor{}}, {8000, 9000, 490, Poor{}}, {8000, 9000, 600, Poor{Worse: 1}}, {8200, 9000, 690, Poor{}}, {4000, 4900, 0, Poor{}}, {4000, 5000, 0, Poor{Worse: 1}}, {8110, 9000, 600, Poor{}},
	} {
		if tc.from == 7000 { // 4.9 s on: both
			tc.want = Poor{Worse: 1}
		}
		list := []Crossing{between(tc.from*ms, tc.to*ms)}
		if got := r.Mark(list, tc.lead*ms); got != tc.want || list[0].Poor != tc.want.Any() {
			t.Errorf("crossing %d to %d, lead %d: %+v, poor %v; want %+v", tc.from, tc.to, tc.lead, got, list[0].Poor, tc.want)
		}
	}
	// Each crossing counts once for each of the three.
	fixes = build(100, 100, func(i int, h *Fix) {
		switch {
		case i > 40 && i < 45:
			h.AgeNs = 900 * ms
		case i == 46:
			h.TimeNs += 1000 * ms
		}
	})
	r = NewReception(fixes)
	list := []Crossing{between(5000*ms, 6000*ms), between(5200*ms, 6000*ms), between(9000*ms, 9900*ms)}
	if got := r.Mark(list, 0); got != (Poor{Gaps: 2, Old: 2}) || !list[0].Poor || !list[1].Poor || list[2].Poor {
		t.Errorf("%+v, %v; want two of three with gaps and old fixes", got, list)
	}
	if got := (Poor{1, 2, 3}).String(); got != "a less accurate solution at 1, a gap at 2, old fixes at 3" {
		t.Errorf("%q", got)
	}
}

// A fix without a position is no fix; its age is known if the log has arrival times.
func TestFixOf(t *testing.T) {
	f := nmea.Fix{TimeNs: 1_700_000_000e9, LatDeg: 52, LonDeg: 9, Quality: nmea.RTKFixed}
	if got := FixOf(&f); got != (Fix{TimeNs: f.TimeNs, AgeNs: -1, Quality: nmea.RTKFixed}) {
		t.Errorf("%+v", got)
	}
	f.LatDeg = math.NaN()
	if got := FixOf(&f); got.Quality != nmea.NoFix {
		t.Errorf("without a position: %+v", got)
	}
}

// The better the usual solution, the less scatter it explains.
func TestScatterM(t *testing.T) {
	for q, want := range map[nmea.Quality]float64{nmea.RTKFixed: 0.1, nmea.Simulator: 0.1, nmea.RTKFloat: 0.5, nmea.Differential: 1, nmea.Autonomous: 3, nmea.Estimated: 3} {
		r := NewReception([]Fix{{TimeNs: 1, Quality: q}, {TimeNs: 2, Quality: q}, {TimeNs: 3, Quality: nmea.RTKFixed}, {TimeNs: 4, Quality: q}})
		if got := r.ScatterM(); got != want {
			t.Errorf("quality %v: %g m; want %g", q, got, want)
		}
	}
	if r := NewReception(nil); !math.IsInf(r.ScatterM(), 1) {
		t.Errorf("nothing known: %g m; want no limit", r.ScatterM())
	}
}
