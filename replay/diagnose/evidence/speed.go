// Drivers who brake or accelerate between the ideal and the actual instant:
// which speed carries a time error, and what a place error is beside it.

package evidence

import "liftbench/replay/diagnose/regress"

// A controller that is wrong by a place d believes the border to be d further
// on; one that is late by Δt, or tools that are, act Δt after it was reached. So
// with t(d) the time in which the section goes the first d metres beyond its
// ideal place, and ε the error of the position,
//
//	time error = t(d + ε) + Δt.
//
// Every time error, whatever its cause, adds to this the same whether the
// driver brakes or not. The diagnosis explains this time at the speed v of the
// ideal instant, e = v·(time error): the column of a time error is v, which is
// known apart from e and so from ε, and that of a place error d is
//
//	v·t(d)/d = v / (mean speed over the first d metres).
//
// At constant speed that is 1, and e is the place error itself. To divide the
// place error by the time error instead, and to take that as the speed, is exact
// for a time error as well, but under a deceleration a it takes a·ε/(2v) of the
// error into the column and ties it to the response.

const (
	// leastSlowing is the least share of the speed at the ideal instant that the
	// mean speed up to a place is taken for; mostReach is how many times
	// as far as a place error was seen the change of speed is carried on.
	leastSlowing = 0.25
	mostReach    = 2.0
)

// perPlaceOf is v·t(d)/d for a place error of d metres.
//
// The mean speed from the ideal instant to the actual one is known exactly, the
// place error over the time error. In between the mean speed is taken to change
// evenly with the way: under constant acceleration it is (v + √(v²+2·a·d))/2,
// which is that to first order. For d a fixed size the result is free of ε.
func (m *Move) PerPlaceAt(d float64) float64 {
	if m.TimeErrorS == 0 || m.PlaceErrorM == 0 {
		return 1
	}
	mean := m.PlaceErrorM / m.TimeErrorS
	reach := max(-mostReach, min(d/m.PlaceErrorM, mostReach))
	slowest, fastest := leastSlowing*m.SpeedMps, m.SpeedMps/leastSlowing
	return m.SpeedMps / max(slowest, min(m.SpeedMps+(mean-m.SpeedMps)*reach, fastest))
}

// setPerPlace follows the speed of each move over the place error placeM.
func SetPerPlace(moves []Move, placeM []float64) {
	for i := range moves {
		moves[i].PerPlace = moves[i].PerPlaceAt(placeM[i])
	}
}

// typicalPlaces are the place errors that a place alone would have to be wrong by:
// the median of lifts, and of drops.
func TypicalPlaces(moves []Move) []float64 {
	var errors [2][]float64
	for i := range moves {
		way := Way(moves[i].On)
		errors[way] = append(errors[way], moves[i].PlaceErrorM)
	}
	typical := [2]float64{regress.Median(errors[0]), regress.Median(errors[1])}
	out := make([]float64, len(moves))
	for i := range moves {
		out[i] = typical[Way(moves[i].On)]
	}
	return out
}
