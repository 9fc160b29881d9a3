// Drivers who brake or accelerate between the ideal and the actual instant:
// which speed carries a time error, and what a place error is beside it.

package evidence

import (
	"liftbench/sections/score/sample"
)

// A controller with a place error d believes that the border is d further on. One
// that is late by Δt, or whose tools are, acts Δt after it has reached that place.
// With t(d) the time in which the section drives the first d metres beyond its ideal
// place, and ε the position error,
//
//	time error = t(d + ε) + Δt.
//
// A driver who brakes changes t(d + ε) and not Δt. The diagnosis explains the time
// error times the speed v at the ideal instant, e = v·(time error). In it a time error
// has the column v, which does not depend on ε, and a place error d has the column
//
//	v·t(d)/d = v / (mean speed over the first d metres).
//
// At constant speed that is 1, and e is the place error itself. The speed could also
// be taken as place error over time error. That is exact for a time error too, but
// when the tractor slows down by a, in m/s², the column is off by a·ε/(2v): it
// contains the error that the response contains.

const (
	// leastSlowing bounds the mean speed up to a place: at least this share of the speed
	// at the ideal instant, and at most the inverse. mostReach bounds how far the change
	// of speed is extrapolated, in place errors of the transition itself.
	leastSlowing = 0.25
	mostReach    = 2.0
)

// PerPlaceAt is v·t(d)/d for a place error of d metres.
//
// The mean speed from the ideal instant to the actual one is known exactly: the place
// error over the time error. Up to there the mean speed is taken to change linearly
// with the distance. Under constant acceleration it is (v + √(v²+2·a·d))/2, which is
// linear to first order. With a fixed d the result does not depend on ε.
func (m *Move) PerPlaceAt(d float64) float64 {
	if m.TimeErrorS == 0 || m.PlaceErrorM == 0 {
		return 1
	}
	mean := m.PlaceErrorM / m.TimeErrorS
	reach := max(-mostReach, min(d/m.PlaceErrorM, mostReach))
	slowest, fastest := leastSlowing*m.SpeedMps, m.SpeedMps/leastSlowing
	return m.SpeedMps / max(slowest, min(m.SpeedMps+(mean-m.SpeedMps)*reach, fastest))
}

// SetPerPlace sets what a metre of place error is for each move, if its place error
// is placeM.
func SetPerPlace(moves []Move, placeM []float64) {
	for i := range moves {
		moves[i].PerPlace = moves[i].PerPlaceAt(placeM[i])
	}
}

// TypicalPlaces returns for each move the median place error of its kind, lift or
// drop, in m.
func TypicalPlaces(moves []Move) []float64 {
	var errors [2][]float64
	for i := range moves {
		way := Way(moves[i].On)
		errors[way] = append(errors[way], moves[i].PlaceErrorM)
	}
	typical := [2]float64{sample.Median(errors[0]), sample.Median(errors[1])}
	out := make([]float64, len(moves))
	for i := range moves {
		out[i] = typical[Way(moves[i].On)]
	}
	return out
}

// MeanSpeedMps is the mean speed of the moves.
func MeanSpeedMps(moves []Move) float64 {
	sum := 0.0
	for i := range moves {
		sum += moves[i].SpeedMps
	}
	return sum / float64(len(moves))
}
