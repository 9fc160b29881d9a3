// A setpoint goes with the transition that followed it.

package evidence

import (
	"slices"
	"testing"

	"liftbench/sections/score"
)

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
