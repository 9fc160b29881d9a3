package score_test

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sections/score"
)

// A bar of 3 m crosses a field of 50 m at 2.5 m/s; its tools answer each border 0.2 s late.
func ExampleRun() {
	body := field.Zone{Kind: field.Body, RowBearingRad: math.NaN(),
		Polygons: orb.MultiPolygon{{{{-10, 0}, {10, 0}, {10, 50}, {-10, 50}, {-10, 0}}}}}
	f, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{body})
	if err != nil {
		fmt.Println(err)
		return
	}
	gate := &sections.Gate{
		Field:   f,
		Machine: &sections.Machine{Sections: []sections.Section{{YM: -0.75, WidthM: 1.5}, {YM: 0.75, WidthM: 1.5}}},
		Rule:    sections.CropFirst,
	}
	track := motion.Track{
		{TimeNs: 0, NorthM: -20, SpeedMps: 2.5},
		{TimeNs: 40e9, NorthM: 80, SpeedMps: 2.5},
	}
	changes := []sections.WorkChange{
		{TimeNs: 8.2e9, Section: 0, On: true}, {TimeNs: 8.2e9, Section: 1, On: true},
		{TimeNs: 28.2e9, Section: 0}, {TimeNs: 28.2e9, Section: 1},
	}
	res, err := score.Run(track, gate, changes, nil, score.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("lift: %d of %d, %.2f s and %.2f m late\n", res.Lift.Paired, res.Lift.Count, res.Lift.TimeErrorS.Mean, res.Lift.PlaceErrorM.Mean)
	fmt.Printf("zone %.0f m², worked %.1f, overrun %.1f, miss %.1f\n", res.ZoneM2, res.Area.WorkedM2, res.Area.OverrunM2, res.Area.MissM2)
	// Output:
	// lift: 2 of 2, 0.20 s and 0.50 m late
	// zone 1000 m², worked 150.0, overrun 1.5, miss 1.5
}

// Three sections meet a slanting border one after another: one crossing. A minute later
// they are lifted together.
func ExampleCrossings() {
	changes := []sections.WorkChange{
		{TimeNs: 0, Section: 2, On: true}, {TimeNs: 0.4e9, Section: 1, On: true}, {TimeNs: 0.8e9, Section: 0, On: true},
		{TimeNs: 60e9, Section: 0}, {TimeNs: 60e9, Section: 1}, {TimeNs: 60e9, Section: 2},
	}
	for _, c := range score.Crossings(changes) {
		fmt.Printf("drop %t, changes %v, over %.1f s\n", c.On, c.Changes, float64(c.UntilNs-c.FromNs)*1e-9)
	}
	// Output:
	// drop true, changes [0 1 2], over 0.8 s
	// drop false, changes [3 4 5], over 0.0 s
}

// The statistics of events picked from one score, or put together from several.
func ExampleTally() {
	events := []score.Event{
		{Kind: score.Paired, On: true, TimeErrorS: 0.10, PlaceErrorM: 0.22},
		{Kind: score.Paired, On: true, TimeErrorS: -0.04, PlaceErrorM: -0.09},
		{Kind: score.Missed},
	}
	lifts, drops := score.Tally(events)
	fmt.Printf("lifts: %d ideal, %d missed\n", lifts.Count, lifts.Missed)
	fmt.Printf("drops: %d ideal, %d missed, at worst %.2f m\n", drops.Count, drops.Missed, drops.PlaceErrorM.MaxAbs)
	// Output:
	// lifts: 1 ideal, 1 missed
	// drops: 2 ideal, 0 missed, at worst 0.22 m
}
