// Ticks and arrivals in one order.

package sections

import (
	"slices"
	"testing"

	"liftbench/nmea"
)

// Calls of a controller with a tick of 50 ms, in ms since some whole second:
// ticks on the grid, fixes as F and the tick that follows each.
func TestSchedule(t *testing.T) {
	const second = int64(1_936_000_000e9)
	set := DefaultSettings()
	type fix struct{ timeMs, readyMs int64 } // readyMs 0 = no arrival times
	const silent = 1_000_000
	for name, c := range map[string]struct {
		fixes []fix
		want  []int64 // when ticks were called
		at    []int64 // when fixes were given
	}{
		"latency as set":          {[]fix{{0, 0}, {100, 0}, {200, 0}}, []int64{100, 150, 200, 250, 300}, []int64{100, 200, 300}},
		"arrivals off the grid":   {[]fix{{0, 60}, {100, 175}}, []int64{60, 100, 150, 175}, []int64{60, 175}},
		"arrival on the grid":     {[]fix{{0, 60}, {100, 150}, {200, 250}}, []int64{60, 100, 150, 200, 250}, []int64{60, 150, 250}},
		"two at once":             {[]fix{{0, 60}, {100, 210}, {200, 210}}, []int64{60, 100, 150, 200, 210, 210}, []int64{60, 210, 210}},
		"host's clock ahead":      {[]fix{{0, 90_000}, {100, 90_100}}, []int64{100, 150, 200}, []int64{100, 200}},
		"host's clock behind":     {[]fix{{0, -500}, {100, -400}}, []int64{100, 150, 200}, []int64{100, 200}},
		"a stall is no clock":     {[]fix{{0, 30}, {100, 3130}}, nil, []int64{30, 3130}},
		"clock set while running": {[]fix{{0, 30}, {100, 100_000}}, []int64{30, 50, 100, 150, 200}, []int64{30, 200}},
		"silence":                 {[]fix{{0, 0}, {silent, 0}}, nil, []int64{100, silent + 100}},
	} {
		t.Run(name, func(t *testing.T) {
			s := NewSchedule(&set)
			var ticks, at []int64
			for _, f := range c.fixes {
				n := nmea.Fix{TimeNs: second + f.timeMs*1e6}
				if f.readyMs != 0 {
					n.ReadyNs = second + f.readyMs*1e6
				}
				a := s.ArrivalNs(&n)
				at = append(at, (a-second)/1e6)
				for tick, ok := s.Next(a); ok; tick, ok = s.Next(a) {
					ticks = append(ticks, (tick-second)/1e6)
				}
				ticks = append(ticks, (s.Take(a)-second)/1e6)
			}
			if !slices.Equal(at, c.at) {
				t.Errorf("fixes given at %v; expected %v", at, c.at)
			}
			if c.want != nil && !slices.Equal(ticks, c.want) {
				t.Errorf("ticks at %v; expected %v", ticks, c.want)
			}
			if !slices.IsSorted(ticks) {
				t.Error("time went back")
			}
			if limit := int(silenceNs/set.TickNs) + 3; len(ticks) > limit {
				t.Errorf("%d ticks in a silence; expected %d at most", len(ticks), limit)
			}
		})
	}
}
