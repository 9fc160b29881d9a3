// Ticks and arrivals in one order.

package schedule

import (
	"math"
	"slices"
	"testing"

	"liftbench/nmea"
	"liftbench/sections"
)

// Calls of a controller with a tick of 50 ms, in ms since some whole second:
// ticks on the grid, fixes as F and the tick that follows each.
func TestSchedule(t *testing.T) {
	const second = int64(1_936_000_000e9)
	set := sections.DefaultSettings()
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
			s := New(&set)
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

// Arrival times are believed at ages from 0 to 2 s; up to 60 s once clocks have
// agreed, while no more time has passed since than the age and another minute.
func TestArrivals(t *testing.T) {
	const base = int64(1_936_000_000e9)
	set := sections.DefaultSettings()
	set.LatencyNs = 70e6
	type fix struct{ timeS, ageS float64 }
	for _, tc := range []struct {
		name     string
		fixes    []fix
		believed bool // of the last
	}{
		{"age 0", []fix{{0, 0}}, true},
		{"age of a ns", []fix{{0, 1e-9}}, true},
		{"age of 2 s", []fix{{0, 2}}, true},
		{"age of 2.001 s", []fix{{0, 2.001}}, false},
		{"age below 0", []fix{{0, -1e-9}}, false},
		{"late after clocks agreed", []fix{{0, 0.1}, {1, 30}}, true},
		{"60 s after clocks agreed", []fix{{0, 0.1}, {0.1, 60}}, true},
		{"60.1 s after clocks agreed", []fix{{0, 0.1}, {0.1, 60.1}}, false},
		{"late, but clocks never agreed", []fix{{0, 5}, {1, 4}}, false},
		{"agreed long ago: 60 s and its age", []fix{{0, 0.1}, {60, 3}}, true},
		{"agreed a minute and its age ago", []fix{{0, 0.1}, {60.1, 3}}, true},
		{"agreed too long ago", []fix{{0, 0.1}, {60.2, 3}}, false},
		{"earlier than the one that agreed", []fix{{100, 0.1}, {90, 9}}, false},
		{"agreed again", []fix{{0, 0.1}, {100, 0.1}, {101, 20}}, true},
	} {
		s := New(&set)
		var got, want int64
		for _, f := range tc.fixes {
			n := nmea.Fix{TimeNs: base + int64(math.Round(f.timeS*1e9))}
			n.ReadyNs = n.TimeNs + int64(math.Round(f.ageS*1e9))
			got, want = s.ArrivalNs(&n), n.TimeNs+70e6
			if tc.believed {
				want = n.ReadyNs
			}
		}
		if got != want {
			t.Errorf("%s: given %d ns after the fix is valid for; want %d", tc.name, got-base, want-base)
		}
	}
	s := New(&set)
	if n := (nmea.Fix{TimeNs: 0, ReadyNs: 0}); s.ArrivalNs(&n) != 70e6 {
		t.Error("no arrival time is taken for one of 1970")
	}
	for ageMs, ok := range map[int64]bool{-1: false, 0: true, 1999: true, 2000: true, 2001: false} {
		n := nmea.Fix{TimeNs: base, ArrivalNs: base + ageMs*1e6}
		if age, is := MeasuredAgeNs(&n); is != ok || age != ageMs*1e6 {
			t.Errorf("age of %d ms: %d ns, measured %v", ageMs, age, is)
		}
	}
	if _, is := MeasuredAgeNs(&nmea.Fix{TimeNs: -5, ArrivalNs: 0}); is {
		t.Error("no arrival time is an age")
	}
}

// Ticks stop three minutes after the last fix, and lie on the grid.
func TestTicksStop(t *testing.T) {
	const base = int64(1_936_000_000e9)
	set := sections.DefaultSettings()
	s := New(&set)
	if _, ok := s.Upcoming(); ok {
		t.Error("a tick before the first fix")
	}
	if got := s.Take(base + 12e6); got != base+12e6 {
		t.Errorf("the tick with the fix is at %d", got-base)
	}
	n, last := 0, int64(0)
	for at, ok := s.Next(math.MaxInt64); ok; at, ok = s.Next(math.MaxInt64) {
		n, last = n+1, at
	}
	if n != 3600 || last != base+180e9 {
		t.Errorf("%d ticks until %d ns; want 3600 until 180 s", n, last-base)
	}
	// A fix that is given late is followed by a tick no earlier than the last.
	if got := s.Take(base + 20e9); got != base+180e9 {
		t.Errorf("the tick with a late fix is at %d", got-base)
	}
	if at, _ := s.Upcoming(); at != base+180e9+50e6 {
		t.Errorf("the next tick is at %d", at-base)
	}
	if _, ok := s.Next(base + 180e9 + 50e6); ok {
		t.Error("a tick at the very instant it is to lie before")
	}
}
