// Lifts and drops that no border asked for, counted by hand.

package response

import (
	"math"
	"testing"

	"liftbench/nmea"
	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// Of 60 lifts and drops some have no border: they count one by one in the
// share, and by hand in its interval.
func TestByHand(t *testing.T) {
	const places = 60
	build := func(change func(i int) []score.Event) (list []score.Event) {
		for i := range places {
			list = append(list, change(i)...)
		}
		return list
	}
	at := func(i int) int64 { return int64(i) * 60e9 }
	good := func(i int) score.Event {
		return score.Event{On: i%2 == 1, Kind: score.Paired, IdealNs: at(i), ActualNs: at(i) + 100e6, TimeErrorS: 0.1, PlaceErrorM: 0.2}
	}
	spurious := func(i, section int, laterS float64) score.Event {
		return score.Event{On: i%2 == 1, Kind: score.Spurious, Section: int16(section), ActualNs: at(i) + int64(laterS*1e9)}
	}
	off := func(i int, placeM, timeS float64) score.Event {
		e := good(i)
		e.PlaceErrorM, e.TimeErrorS = placeM, timeS
		return e
	}
	for _, tc := range []struct {
		name     string
		change   func(i int) []score.Event
		far, all int // 0 = no finding
		kept     int
	}{
		{"none", func(i int) []score.Event { return []score.Event{good(i)} }, 0, 60, 60},
		{"two", func(i int) []score.Event {
			if i == 5 || i == 30 {
				return []score.Event{spurious(i, 0, 0)}
			}
			return []score.Event{good(i)}
		}, 0, 60, 58},
		{"twelve", func(i int) []score.Event {
			if i%5 == 0 {
				return []score.Event{spurious(i, 0, 0)}
			}
			return []score.Event{good(i)}
		}, 12, 60, 48},
		{"both in place and in time", func(i int) []score.Event {
			switch {
			case i%5 == 0:
				return []score.Event{off(i, -2.1, -1.6)}
			case i%5 == 1:
				return []score.Event{off(i, 2.1, 1.4)}
			case i%5 == 2:
				return []score.Event{off(i, 1.9, 1.6)}
			}
			return []score.Event{good(i)}
		}, 12, 60, 48},
		{"three sections by one hand", func(i int) []score.Event {
			if i == 10 || i == 20 {
				return []score.Event{spurious(i, 0, 0), spurious(i, 1, 4), spurious(i, 2, 8)}
			}
			return []score.Event{good(i)}
		}, 0, 64, 58},
		{"three sections by four hands", func(i int) []score.Event {
			if i%15 == 10 {
				return []score.Event{spurious(i, 0, 0), spurious(i, 1, 4), spurious(i, 2, 8)}
			}
			return []score.Event{good(i)}
		}, 12, 68, 56},
		{"missed ones are none", func(i int) []score.Event {
			if i%5 == 0 {
				return []score.Event{{On: i%2 == 1, Kind: score.Missed, IdealNs: at(i)}}
			}
			return []score.Event{good(i)}
		}, 0, 48, 48},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f, kept := ByHand(build(tc.change), &evidence.Reception{})
			if len(kept) != tc.kept {
				t.Errorf("%d kept; want %d", len(kept), tc.kept)
			}
			if (f != nil) != (tc.far > 0) {
				t.Fatalf("found %+v; want it %v", f, tc.far > 0)
			}
			if f == nil {
				return
			}
			share := float64(tc.far) / float64(tc.all)
			lo, hi := sample.Wilson(share, 60, sample.Z95)
			if f.Count != tc.far || !(math.Abs(f.Share-share) <= 1e-12) || !(math.Abs(f.CI95[0]-lo) <= 1e-12) || !(math.Abs(f.CI95[1]-hi) <= 1e-12) {
				t.Errorf("%+v; want %d of %d, %g to %g", f, tc.far, tc.all, lo, hi)
			}
		})
	}
	// Those just after a gap may be the fail-safe's.
	var fixes []evidence.Fix
	for i := range 36000 {
		s := float64(i) * 0.1
		if math.Mod(s, 300) < 297 || s < 10 {
			fixes = append(fixes, evidence.Fix{TimeNs: int64(s * 1e9), AgeNs: -1, Quality: nmea.RTKFixed})
		}
	}
	r := evidence.NewReception(fixes)
	f, kept := ByHand(build(func(i int) []score.Event {
		if i%5 == 0 && i > 0 {
			return []score.Event{spurious(i, 0, 1)}
		}
		return []score.Event{good(i)}
	}), &r)
	if f != nil || len(kept) != 49 {
		t.Errorf("after gaps: %+v, %d kept; want none, 49", f, len(kept))
	}
}

// A lift that the pump makes two seconds late is no hand's work, and one on time among such
// lifts neither.
func TestByHandBeside(t *testing.T) {
	for _, usuallyLate := range []bool{false, true} {
		var list []score.Event
		var lateS []float64
		for i := range 60 {
			e := score.Event{Kind: score.Paired, IdealNs: int64(i) * 60e9, SpeedMps: 1.5}
			x := 0.0
			if (i%5 == 0) != usuallyLate {
				x = 2
			}
			e.TimeErrorS, e.PlaceErrorM, e.ActualNs = x, x*e.SpeedMps, e.IdealNs+int64(x*1e9)
			list, lateS = append(list, e), append(lateS, x)
		}
		if h, kept := ByHand(list, &evidence.Reception{}); h == nil || h.Count != 12 || len(kept) != 48 {
			t.Errorf("without the pump: %+v, %d kept; want 12 of 60 by hand", h, len(kept))
		}
		h, kept := ByHandBeside(list, &evidence.Reception{}, lateS)
		if h != nil || len(kept) != 60 {
			t.Errorf("beside the pump: %+v, %d kept; want none by hand", h, len(kept))
		}
		for _, e := range kept {
			if want := float64(e.ActualNs-e.IdealNs) * 1e-9; math.Abs(e.TimeErrorS-want) > 1e-6 {
				t.Errorf("time error %g s of a kept lift; want its own, %g", e.TimeErrorS, want)
			}
		}
	}
}
