// What the receiver makes of its satellites from one epoch to the next: fixed,
// float, carried on without them, or nothing.

package receiver

import (
	"math"
	"math/rand/v2"

	"liftbench/nmea"
)

// epoch is the chance of one epoch: the noise of unit variance.
type epoch struct{ settledE, settledN, afloatE, afloatN float64 }

// solution is a position as it is worked out: how far off, and by what.
type solution struct {
	quality        nmea.Quality
	silent         bool    // no sentence comes
	errorE, errorN float64 // m
	sigmaM         float64 // what the receiver takes that to be
	driftE, driftN float64 // of the velocity, m/s
}

// What may be besides the kinds of faults that can be asked for.
const (
	sound FaultKind = iota + Silence + 1
	reckoned
)

// signal is the state of the reception.
type signal struct {
	p               *Params
	startNs         int64
	floats, outages spells
	refix, drift    *rand.Rand

	lost         bool // the fix was, and is not back yet
	stepE, stepN float64

	last           solution // the last that was worked out, in truth
	lastNs         int64
	carried        bool // it has been carried on since
	drifts         int  // drawn: one an outage
	driftE, driftN float64
}

// solve returns the solution at an instant.
func (s *signal) solve(timeNs int64, at *epoch) solution {
	switch s.state(timeNs) {
	case Silence:
		return solution{silent: true}
	case NoFix:
		s.lost = true
		return solution{quality: nmea.NoFix}
	case reckoned:
		s.lost = true
		return s.carryOn(timeNs)
	case Float:
		s.lost = true
		sigma := s.p.FloatSigmaM
		s.last = solution{quality: nmea.RTKFloat, errorE: sigma * at.afloatE, errorN: sigma * at.afloatN, sigmaM: sigma}
	default:
		if s.lost {
			s.lost = false
			s.stepE, s.stepN = s.p.RefixSigmaM*s.refix.NormFloat64(), s.p.RefixSigmaM*s.refix.NormFloat64()
		}
		sigma := s.p.SigmaM
		s.last = solution{quality: s.p.Quality, errorE: s.stepE + sigma*at.settledE, errorN: s.stepN + sigma*at.settledN, sigmaM: sigma}
	}
	s.lastNs, s.carried = timeNs, false
	return s.last
}

// carryOn is dead reckoning: the error of the last solution, and what a speed
// that is off by a constant has added since: error = last + drift·t.
func (s *signal) carryOn(timeNs int64) solution {
	for ; !s.carried && s.drifts < s.outages.number; s.drifts++ {
		s.driftE, s.driftN = s.p.DriftMps*s.drift.NormFloat64(), s.p.DriftMps*s.drift.NormFloat64()
	}
	s.carried = true
	t := float64(timeNs-s.lastNs) * 1e-9
	return solution{
		quality: nmea.Estimated,
		errorE:  s.last.errorE + s.driftE*t, errorN: s.last.errorN + s.driftN*t,
		sigmaM: math.Hypot(s.last.sigmaM, s.p.DriftMps*t),
		driftE: s.driftE, driftN: s.driftN,
	}
}

// state returns what is wrong at an instant: a fault that was asked for, or
// what chance has it.
func (s *signal) state(timeNs int64) FaultKind {
	for i := len(s.p.Faults) - 1; i >= 0; i-- {
		seconds := float64(timeNs-s.startNs) * 1e-9
		if f := &s.p.Faults[i]; seconds >= f.FromS && seconds < f.ToS {
			return f.Kind
		}
	}
	switch {
	case s.outages.on(timeNs):
		if s.last.quality != nmea.NoFix && float64(timeNs-s.lastNs)*1e-9 < s.p.ReckonedS {
			return reckoned
		}
		return NoFix
	case s.floats.on(timeNs):
		return Float
	}
	return sound
}
