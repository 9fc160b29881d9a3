package schedule

import (
	"testing"

	"liftbench/nmea"
)

const clockSetStartNs = int64(1_936_000_000e9)

// Where the host's clock agrees with what the receiver's was set to, an age of 0 to 2 s is believed, both
// among them, and the fix arrived by that clock.
func TestArrivalByTheClockThatWasSet(t *testing.T) {
	for _, tc := range []struct {
		saidNs int64
		want   bool
	}{{-1, false}, {0, true}, {1e9, true}, {2e9, true}, {2e9 + 1, false}} {
		const set = int64(3600e9)
		f := nmea.Fix{TimeNs: clockSetStartNs, ReadyNs: clockSetStartNs + set + tc.saidNs, ArrivalNs: clockSetStartNs + set + tc.saidNs, ClockSetNs: set}
		s := Schedule{latencyNs: 77}
		want := clockSetStartNs + 77
		if tc.want {
			want = clockSetStartNs + tc.saidNs
		}
		if got := s.ArrivalNs(&f); got != want {
			t.Errorf("%d ns by the clock that was set: arrives %d ns on; want %d", tc.saidNs, got-clockSetStartNs, want-clockSetStartNs)
		}
		if age, ok := MeasuredAgeNs(&f); ok != tc.want || ok && age != tc.saidNs {
			t.Errorf("%d ns by the clock that was set: age %d, %v", tc.saidNs, age, ok)
		}
	}
}

// An age that the receiver's own clock makes 0 to 2 s is believed, both among them, though
// the age by a clock that was set back a little would be believed too.
func TestArrivalByTheReceiversClock(t *testing.T) {
	for _, ageNs := range []int64{0, 1, 1e9, 2e9} {
		f := nmea.Fix{TimeNs: clockSetStartNs, ReadyNs: clockSetStartNs + ageNs, ClockSetNs: -1}
		s := Schedule{latencyNs: 77}
		if got := s.ArrivalNs(&f); got != f.ReadyNs {
			t.Errorf("age %d ns: arrives %d ns on", ageNs, got-clockSetStartNs)
		}
	}
}
