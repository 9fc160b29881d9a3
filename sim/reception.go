// What the receiver did during a drive: the first thing to look at when a
// lift was late.

package sim

import (
	"liftbench/nmea"
	"liftbench/sections/schedule"
)

// Reception counts epochs by quality and how they were spaced and aged.
type Reception struct {
	Epochs    int64    // with or without a position
	Fixes     int64    // with a position
	ByQuality [9]int64 // epochs by GGA quality
	FirstNs   int64    // time of the first epoch; UTC, ns since 1970
	LastNs    int64
	Gaps      int64 // intervals longer than GapS
	LongestNs int64 // interval between two epochs
	// Measured counts the epochs whose age on arrival could be measured;
	// AgeSumNs and AgeMaxNs are over those.
	Measured, AgeSumNs, AgeMaxNs int64
	// MinuteDecimals are those of the minutes of latitude and longitude, as far as
	// they are coarse: coarseDecimals + 1 means that many or more.
	MinuteDecimals int

	intervals [maxIntervalMs + 1]int32
}

// GapS is the interval from which on an epoch counts as having been missed by
// any receiver that steers sections.
const GapS = 2.0

// maxIntervalMs is the longest interval that the median can tell apart.
const maxIntervalMs = 5000

// Add counts one epoch.
func (r *Reception) Add(f *nmea.Fix) {
	if r.Epochs == 0 {
		r.FirstNs = f.TimeNs
	} else {
		interval := f.TimeNs - r.LastNs
		r.LongestNs = max(r.LongestNs, interval)
		if float64(interval) > GapS*1e9 {
			r.Gaps++
		}
		r.intervals[max(0, min((interval+500_000)/1e6, maxIntervalMs))]++
	}
	r.Epochs++
	r.LastNs = f.TimeNs
	r.ByQuality[min(int(f.Quality), len(r.ByQuality)-1)]++
	if f.HasPosition() {
		r.Fixes++
	}
	if age, ok := schedule.MeasuredAgeNs(f); ok {
		r.Measured++
		r.AgeSumNs += age
		r.AgeMaxNs = max(r.AgeMaxNs, age)
	}
}

// MedianIntervalS returns the median interval between epochs, to the
// millisecond; 0 with fewer than two epochs.
func (r *Reception) MedianIntervalS() float64 {
	half, seen := (r.Epochs-1)/2, int64(0)
	for ms, n := range r.intervals {
		seen += int64(n)
		if n > 0 && seen > half {
			return float64(ms) / 1000
		}
	}
	return 0
}
