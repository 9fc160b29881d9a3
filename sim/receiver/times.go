// This file computes the times of a receiver's epochs.

package receiver

import "math"

// Limits of a receiver's rate, Hz.
const (
	minRateHz = 0.01
	maxRateHz = 1000.0
)

// times gives the epochs one by one: at whole multiples of the period from a UTC
// second on, rounded to 1 ms, because a sentence's time field holds milliseconds.
type times struct {
	originNs int64
	rateHz   float64
	epoch    int64
}

// newTimes returns the epochs from startNs on, startNs included.
func newTimes(startNs int64, rateHz float64) times {
	t := times{originNs: startNs - mod(startNs, 1e9), rateHz: rateHz}
	for t.at(t.epoch) < startNs {
		t.epoch++
	}
	return t
}

func (t *times) at(epoch int64) int64 {
	return t.originNs + int64(math.Round(float64(epoch)/t.rateHz*1e3))*1e6
}

func (t *times) next() int64 {
	t.epoch++
	return t.at(t.epoch - 1)
}

func mod(a, b int64) int64 { return (a%b + b) % b }
