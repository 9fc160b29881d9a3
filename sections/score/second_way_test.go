// Parts of the score beside a second way to compute them: by looking at everything, or from
// the circle on which a section moves.

package score

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// Together is how many other sections change the same way within 250 ms: by looking at all pairs
// of events, and for those without an ideal instant at all moves.
func TestTogetherBesideAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// On a grid of 125 ms, so that many are just 250 ms apart.
		instant := rapid.Map(rapid.IntRange(0, 12), func(i int) int64 { return startNs + int64(i)*125e6 })
		event := rapid.Custom(func(t *rapid.T) Event {
			e := Event{Section: int16(rapid.IntRange(0, 3).Draw(t, "section")), On: rapid.Bool().Draw(t, "on")}
			e.Kind = rapid.SampledFrom([]Kind{Paired, Missed, Spurious, Start}).Draw(t, "kind")
			if e.Kind != Spurious && e.Kind != Start {
				e.IdealNs = instant.Draw(t, "ideal")
			}
			if e.Kind != Missed {
				e.ActualNs = instant.Draw(t, "actual")
			}
			return e
		})
		list := rapid.SliceOfN(event, 1, 14).Draw(t, "events")
		slices.SortStableFunc(list, func(a, b Event) int { return cmp.Compare(a.TimeNs(), b.TimeNs()) })
		var moves []sections.WorkChange
		for _, e := range list {
			if e.Kind != Missed {
				moves = append(moves, sections.WorkChange{TimeNs: e.ActualNs, Section: e.Section, On: e.On})
			}
		}
		slices.SortStableFunc(moves, func(a, b sections.WorkChange) int { return cmp.Compare(a.TimeNs, b.TimeNs) })
		countTogether(list, moves, 4)
		for i, e := range list {
			others := map[int16]bool{}
			see := func(section int16, on bool, ns int64) {
				if section != e.Section && on == e.On && max(ns-e.TimeNs(), e.TimeNs()-ns) <= 250e6 {
					others[section] = true
				}
			}
			if e.Kind == Spurious || e.Kind == Start {
				for _, c := range moves {
					see(c.Section, c.On, c.TimeNs)
				}
			} else {
				for _, o := range list {
					if o.Kind == Paired || o.Kind == Missed {
						see(o.Section, o.On, o.IdealNs)
					}
				}
			}
			if e.Together != len(others) {
				t.Fatalf("event %d of %+v: %d together; want %d", i, list, e.Together, len(others))
			}
		}
	})
}

// The tractor stands on a leg if it is at 5 cm/s or slower at both ends; the time it stands
// between two instants is that of all seconds in which it does.
func TestRestBesideEverySecond(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const n = 20
		track := make(motion.Track, n)
		for i := range track {
			track[i] = motion.Pose{TimeNs: int64(i) * 1e9, SpeedMps: rapid.SampledFrom([]float64{0, 0.05, -0.05, 0.06, -0.06, 2}).Draw(t, "speed")}
		}
		rest := pauses(track)
		for k := 1; k < len(rest); k++ {
			if rest[k].fromNs <= rest[k-1].toNs {
				t.Fatalf("pauses %v touch", rest)
			}
		}
		from := rapid.IntRange(0, n-1).Draw(t, "from")
		to := rapid.IntRange(from, n-1).Draw(t, "to")
		want := int64(0)
		for i := from; i < to; i++ {
			if math.Abs(track[i].SpeedMps) < 0.055 && math.Abs(track[i+1].SpeedMps) < 0.055 {
				want += 1e9
			}
		}
		if got := restNs(rest, int64(from)*1e9, int64(to)*1e9); got != want {
			t.Fatalf("from %d s to %d s: stands %d ns; want %d", from, to, got, want)
		}
		if from < to && want == int64(to-from)*1e9 {
			// Within one pause.
			if got := restNs(rest, int64(from)*1e9+2e8, int64(to)*1e9-3e8); got != want-5e8 {
				t.Fatalf("from %d.2 s to 0.3 s before %d s: stands %d ns; want %d", from, to, got, want-5e8)
			}
		}
	})
}

// On a steady circle each section's middle moves on a circle of its own about the same point:
// its speed, way, place and bearing, forward and backwards, on a rigid bar and on a trailed one
// that has settled.
func TestPathOnACircle(t *testing.T) {
	const radiusM, drawbarM = 15.0, 4.0
	for _, mps := range []float64{2, -2} {
		for _, trailed := range []bool{false, true} {
			m := rearBar(4, 1.5, -3)
			track := newDrive(7, -5, 0.4).along(60, mps, 1/radiusM).track
			// Radius and phase of the tool's axle: behind the tractor's by the angle of the drawbar.
			axleM, lag := radiusM, 0.0
			if trailed {
				m.Mount, m.HitchBehindM, m.DrawbarM = sections.Trailed, 1, drawbarM
				axleM = math.Sqrt(radiusM*radiusM + 1 - drawbarM*drawbarM)
				lag = math.Atan(1/radiusM) + math.Asin(drawbarM/math.Hypot(radiusM, 1))
				for i := range track {
					track[i].ToolHeadingRad = track[i].HeadingRad - lag
				}
			}
			b := newBar(m)
			way := path{track: track, bar: &b}
			omega := mps / radiusM
			for i, s := range m.Sections {
				ahead := s.XM
				if trailed {
					ahead += 1 + drawbarM // from the axle: the hitch is 1 m behind the tractor's, a drawbar before the tool's
				}
				sectionM := math.Hypot(axleM-s.YM, ahead)
				at := func(ns int64) int64 { return track[0].TimeNs + ns }
				l, ok := way.leg(at(12.34e9))
				if !ok {
					t.Fatal("no leg at 12.34 s")
				}
				near(t, "speed", way.speed(l, int16(i), at(12.34e9)), omega*sectionM, 2e-3)
				near(t, "way", way.lengthM(int16(i), at(3.21e9), at(17.05e9)), omega*sectionM*13.84, 2e-3)
				near(t, "way back", way.lengthM(int16(i), at(17.05e9), at(3.21e9)), -omega*sectionM*13.84, 2e-3)
				near(t, "way within a leg", way.lengthM(int16(i), at(3.21e9), at(3.26e9)), omega*sectionM*0.05, 2e-3)
				near(t, "way from before the drive", way.lengthM(int16(i), at(-5e9), at(1e9)), omega*sectionM, 2e-3)
				near(t, "way to beyond the drive", way.lengthM(int16(i), at(29e9), at(99e9)), omega*sectionM, 2e-3)

				// The centre of the circle is to the right of the start.
				centre := orb.Point{7 + radiusM*math.Cos(0.4), -5 - radiusM*math.Sin(0.4)}
				e := Event{Section: int16(i), Kind: Paired, IdealNs: at(10e9), ActualNs: at(10.5e9)}
				way.describe(&e)
				near(t, "distance from the centre", math.Hypot(e.EastM-centre[0], e.NorthM-centre[1]), sectionM, 2e-3)
				near(t, "time error", e.TimeErrorS, 0.5, 1e-12)
				near(t, "place error", e.PlaceErrorM, omega*sectionM*0.5, 2e-3)
				near(t, "speed of the event", e.SpeedMps, omega*sectionM, 2e-3)
				near(t, "yaw rate", e.YawRateRadPerS, omega, 1e-6)
				near(t, "heading", math.Remainder(e.HeadingRad-(0.4+10*omega-lag), 2*math.Pi), 0, 1e-6)
				e = Event{Section: int16(i), Kind: Missed, IdealNs: at(99e9), TimeErrorS: 7, PlaceErrorM: 8}
				way.describe(&e)
				if e.SpeedMps != 0 || e.YawRateRadPerS != 0 || e.TimeErrorS != 7 || e.PlaceErrorM != 8 {
					t.Errorf("after the end of the drive: %+v; want it standing, and no errors", e)
				}
				near(t, "distance from the centre at the end", math.Hypot(e.EastM-centre[0], e.NorthM-centre[1]), sectionM, 2e-3)
			}
		}
	}
}

// The leg of an instant is found whatever was asked for before; there is none before the drive
// and after it.
func TestLegOfAnInstant(t *testing.T) {
	track := newDrive(0, 0, 0).along(2, 2, 0).track // 10 legs of 0.1 s
	b := newBar(rearBar(2, 1, -2))
	way := path{track: track, bar: &b}
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.Int64Range(-3, 23).Draw(t, "twentieths of a second")
		l, ok := way.leg(startNs + at*50e6)
		if ok != (at >= 0 && at < 20) {
			t.Fatalf("at %d twentieths: a leg %v", at, ok)
		}
		if ok && (l.a.pose != &track[at/2] || l.b.pose != &track[at/2+1]) {
			t.Fatalf("at %d twentieths: from %d ns to %d ns", at, l.a.pose.TimeNs-startNs, l.b.pose.TimeNs-startNs)
		}
	})
}

// Statistics count lifts and drops apart, each kind by itself.
func TestTallyCounts(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	var events []Event
	var want [2][4]int
	for range 200 {
		e := Event{On: rng.IntN(3) == 0, Kind: []Kind{Paired, Missed, Spurious, Start}[rng.IntN(4)], TimeErrorS: 1}
		way := 0
		if e.On {
			way = 1
		}
		want[way][slices.Index([]Kind{Paired, Missed, Spurious, Start}, e.Kind)]++
		events = append(events, e)
	}
	lift, drop := Tally(events)
	for way, s := range []Stats{lift, drop} {
		if w := want[way]; s.Paired != w[0] || s.Missed != w[1] || s.Spurious != w[2] || s.Count != w[0]+w[1] {
			t.Errorf("%+v; want %v paired, missed, spurious, start", s, w)
		}
	}
}
