package evidence_test

import (
	"fmt"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Two sections lift at one border, 0.2 s late at 2 m/s.
func ExampleDay_Moves() {
	day := &evidence.Day{
		Machine: &sections.Machine{Sections: []sections.Section{{YM: -1.5, WidthM: 3}, {YM: 1.5, WidthM: 3}}},
		Actual: []score.Event{
			{Section: 0, Kind: score.Paired, IdealNs: 10e9, ActualNs: 10.2e9, SpeedMps: 2, TimeErrorS: 0.2, PlaceErrorM: 0.4},
			{Section: 1, Kind: score.Paired, IdealNs: 11e9, ActualNs: 11.2e9, SpeedMps: 2, TimeErrorS: 0.2, PlaceErrorM: 0.4},
		},
	}
	moves := day.Moves(evidence.Whole, evidence.SlowS{})
	for _, c := range evidence.Crossings(moves) {
		fmt.Printf("%d sections cross within %.0f s\n", len(c.Changes), float64(c.UntilNs-c.FromNs)*1e-9)
		for _, i := range c.Changes {
			fmt.Printf("section %d is %.1f m late\n", moves[i].Section+1, moves[i].LateM)
		}
	}
	// Output:
	// 2 sections cross within 1 s
	// section 1 is 0.4 m late
	// section 2 is 0.4 m late
}
