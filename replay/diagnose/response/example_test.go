package response_test

import (
	"fmt"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/response"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Of two sections the second does not lift at twelve of twenty borders.
func ExampleExamine() {
	day := evidence.Day{Machine: &sections.Machine{Sections: make([]sections.Section, 2)}}
	for k := range int64(40) {
		on := k%2 == 1
		for s := range int16(2) {
			e := score.Event{Section: s, On: on, Kind: score.Paired, IdealNs: k * 60e9, ActualNs: k * 60e9, SpeedMps: 2}
			if s == 1 && k >= 4 && k < 28 { // and needs no drop in between
				e.Kind = score.Missed
			}
			day.Actual = append(day.Actual, e)
		}
	}
	reception := evidence.NewReception(nil)
	report, _ := response.Examine(day, &reception)
	for _, u := range report.Unmet {
		fmt.Printf("section %d: %d of %d lifts did not happen\n", u.Section+1, u.Lift.Failed, u.Lift.Asked)
	}
	// Output:
	// section 2: 12 of 20 lifts did not happen
}
