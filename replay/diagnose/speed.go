// Drivers who brake or accelerate between the ideal and the actual instant:
// which speed carries a time error, and what a place error is beside it.

package diagnose

import "math"

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
	// bentPlace is how far perPlace of a move may be off after a choice of causes.
	bentPlace = 0.005
)

// perPlaceOf is v·t(d)/d for a place error of d metres.
//
// The mean speed from the ideal instant to the actual one is known exactly, the
// place error over the time error. In between the mean speed is taken to change
// evenly with the way: under constant acceleration it is (v + √(v²+2·a·d))/2,
// which is that to first order. For d a fixed size the result is free of ε.
func (m *move) perPlaceOf(d float64) float64 {
	if m.timeErrorS == 0 || m.placeErrorM == 0 {
		return 1
	}
	mean := m.placeErrorM / m.timeErrorS
	reach := max(-mostReach, min(d/m.placeErrorM, mostReach))
	slowest, fastest := leastSlowing*m.speedMps, m.speedMps/leastSlowing
	return m.speedMps / max(slowest, min(m.speedMps+(mean-m.speedMps)*reach, fastest))
}

// setPerPlace follows the speed of each move over the place error placeM.
func setPerPlace(moves []move, placeM []float64) {
	for i := range moves {
		moves[i].perPlace = moves[i].perPlaceOf(placeM[i])
	}
}

// typicalPlaces are the place errors that a place alone would have to be wrong by:
// the median of lifts, and of drops.
func typicalPlaces(moves []move) []float64 {
	var errors [2][]float64
	for i := range moves {
		way := wayOf(moves[i].on)
		errors[way] = append(errors[way], moves[i].placeErrorM)
	}
	typical := [2]float64{median(errors[0]), median(errors[1])}
	out := make([]float64, len(moves))
	for i := range moves {
		out[i] = typical[wayOf(moves[i].on)]
	}
	return out
}

// placesM returns the place error of each move by the causes that were chosen,
// the usual one where no place was, and whether it changes what a metre is.
func (a *analysis) placesM() (placeM []float64, bent bool) {
	if a.part == machine || len(a.moves) == 0 {
		return nil, false
	}
	placeM = typicalPlaces(a.moves)
	var chosen [2]bool
	sum := make([]float64, len(a.moves))
	for j, q := range a.best.set {
		t := &a.terms[q]
		if t.family() != "place" && t.arc == nil {
			continue
		}
		for r, k := range a.rows {
			if t.arc != nil && a.cols[q][r] == 0 {
				continue
			}
			for _, i := range a.list[k].of {
				m := &a.moves[i]
				x := outward
				if t.arc == nil {
					x = t.x
				}
				sum[i] += a.best.beta[j] * x(m) / m.perPlace
			}
		}
		if t.arc == nil {
			for way := range chosen {
				chosen[way] = chosen[way] || t.of.sign(way == 1) != 0
			}
		}
	}
	for i := range a.moves {
		m := &a.moves[i]
		if chosen[wayOf(m.on)] || sum[i] != 0 {
			placeM[i] = sum[i]
		}
		bent = bent || math.Abs(m.perPlaceOf(placeM[i])-m.perPlace) > bentPlace
	}
	return placeM, bent
}
