// This file decides at each epoch whether the receiver has a fixed solution, a
// float one, dead reckoning or none, and how large the position error is.

package receiver

import (
	"math/rand/v2"

	"liftbench/nmea"
	"liftbench/sections/exact"
)

// unitNoise is the position noise of one epoch with variance 1, for a fixed and
// for a float solution.
type unitNoise struct{ fixedE, fixedN, floatE, floatN float64 }

// solution is the quality and the error of a position.
type solution struct {
	quality        nmea.Quality
	silent         bool    // the receiver sends no sentence
	errorE, errorN float64 // m
	sigmaM         float64 // the receiver's own estimate of its error
	driftE, driftN float64 // velocity error, m/s
}

// States of reception besides the faults that Params.Faults can ask for.
const (
	sound FaultKind = iota + Silence + 1
	reckoned
)

// signal is the state of the reception from one epoch to the next.
type signal struct {
	p               *Params
	startNs         int64
	floats, outages spells
	refix, drift    *rand.Rand

	lost         bool    // the fix was lost and is not back yet
	stepE, stepN float64 // present offset, m; see Params.RefixSigmaM

	last           solution // the last one that was not dead reckoning
	lastNs         int64
	reckoning      bool    // there was dead reckoning since then
	drifts         int     // velocity errors drawn so far, one for each outage
	driftE, driftN float64 // the last of them, m/s
}

// solve returns the solution at timeNs.
func (s *signal) solve(timeNs int64, at *unitNoise) solution {
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
		s.last = solution{quality: nmea.RTKFloat, errorE: sigma * at.floatE, errorN: sigma * at.floatN, sigmaM: sigma}
	default:
		if s.lost {
			s.lost = false
			s.stepE, s.stepN = s.p.RefixSigmaM*s.refix.NormFloat64(), s.p.RefixSigmaM*s.refix.NormFloat64()
		}
		sigma := s.p.SigmaM
		s.last = solution{quality: s.p.Quality, errorE: s.stepE + float64(sigma*at.fixedE), errorN: s.stepN + float64(sigma*at.fixedN), sigmaM: sigma}
	}
	s.lastNs, s.reckoning = timeNs, false
	return s.last
}

// carryOn returns the solution by dead reckoning. Its error is that of the last
// solution plus what the constant velocity error has added since:
// error = last + drift·t.
func (s *signal) carryOn(timeNs int64) solution {
	for ; !s.reckoning && s.drifts < s.outages.number; s.drifts++ {
		s.driftE, s.driftN = s.p.DriftMps*s.drift.NormFloat64(), s.p.DriftMps*s.drift.NormFloat64()
	}
	s.reckoning = true
	t := float64(timeNs-s.lastNs) * 1e-9
	return solution{
		quality: nmea.Estimated,
		errorE:  s.last.errorE + float64(s.driftE*t), errorN: s.last.errorN + float64(s.driftN*t),
		sigmaM: exact.Hypot(s.last.sigmaM, s.p.DriftMps*t),
		driftE: s.driftE, driftN: s.driftN,
	}
}

// state returns the state of reception at timeNs: that of a fault in
// Params.Faults, otherwise that of a random spell.
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
