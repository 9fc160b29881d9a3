// The instants at which a receiver measures.

package receiver

import "math"

// The rates at which a receiver measures, 1/s.
const (
	minRateHz = 0.01
	maxRateHz = 1000.0
)

// times counts the epochs: whole multiples of the period from a UTC second on,
// each at a whole millisecond, which any receiver's time field can say.
type times struct {
	originNs int64
	rateHz   float64
	epoch    int64
}

// newTimes returns the epochs from startNs on.
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
