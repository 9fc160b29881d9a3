package cause

import (
	"fmt"
	"testing"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
)

func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		ci      Interval
		unit    float64
		atLeast int
		want    int
	}{
		{Interval{0.17, 0.19}, 1e-3, 0, 0},
		{Interval{0.1798, 0.1802}, 1e-3, 0, 1},
		{Interval{0.297, 0.301}, 1e-2, 0, 1},
		{Interval{0.297, 0.301}, 1e-2, 1, 1},
		{Interval{0.18, 0.18}, 1e-3, 0, mostDecimals},
		{Interval{0.1, 0.1182}, 1, 2, 3},
		{Interval{0.1, 0.1202}, 1, 2, 2},
	} {
		if got := c.ci.Decimals(c.unit, c.atLeast); got != c.want {
			t.Errorf("%v in %g: %d decimals; want %d", c.ci, c.unit, got, c.want)
		}
	}
}

// A bar that is 30 cm further back than the terminal was told.
func Example() {
	day := evidence.Day{Machine: &sections.Machine{AntennaXM: 1, Sections: []sections.Section{{XM: -2.1, WidthM: 1}}}}
	f := Fact{Cause: Geometry, Size: 0.3, CI95: Interval{0.28, 0.32}, Crossings: 40, SlowestKmh: 5, FastestKmh: 10}
	fmt.Println(f.Evidence())
	fmt.Println(f.Change(&day))
	// Output:
	// Lifts and drops come 30 cm late at every speed from 5.0 to 10.0 km/h (95 % interval 28 to 32 cm, 40 crossings).
	// Distance antenna to tool: set it to 3.10 m, tool behind, as measured on the machine; it works as with 3.40 m, tool behind, the bar 30 cm too far back (tool.forward_m less antenna.forward_m, -3.10 m; ISO 11783-11 DDI 134).
}
