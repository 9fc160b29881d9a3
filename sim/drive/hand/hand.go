// Package hand is the driver's: a slow lateral error that never quite settles.
package hand

import (
	"math"
	"math/rand/v2"

	"liftbench/sections/exact"
)

// Wander is the lateral distance from the line as a function of the distance
// driven (forward minus reverse): sinusoids of many wavelengths and random
// phase. It has as many derivatives as heading and yaw rate need.
type Wander struct {
	amp, k, phase [24]float64
}

const (
	shortestWaveM = 20.0
	longestWaveM  = 400.0
	cornerWaveM   = 80.0 // below it the error falls as of a first-order process
)

// New returns a wander with the standard deviation sigmaM.
func New(sigmaM float64, seed uint64) *Wander {
	rng := rand.New(rand.NewPCG(seed, 0x6472697665))
	w := &Wander{}
	var power float64
	for i := range w.amp {
		// Wave numbers evenly spread in their logarithm, each at random within
		// its share; power density 1/(1 + (k/k_corner)²), times k for the
		// logarithmic spacing.
		x := (float64(i) + float64(rng.Float64())) / float64(len(w.amp))
		wave := longestWaveM * exact.Exp(x*exact.Log(shortestWaveM/longestWaveM))
		ratio := cornerWaveM / wave
		p := ratio / (1 + float64(ratio*ratio))
		w.k[i], w.amp[i], w.phase[i] = 2*math.Pi/wave, math.Sqrt(p), 2*math.Pi*rng.Float64()
		power += float64(p / 2)
	}
	for i := range w.amp {
		w.amp[i] *= sigmaM / math.Sqrt(power)
	}
	return w
}

// At returns the lateral distance (positive right) and its first two
// derivatives by the distance driven.
func (w *Wander) At(s float64) (y, dy, ddy float64) {
	for i, k := range w.k {
		sin, cos := exact.Sincos(float64(k*s) + w.phase[i])
		y += float64(w.amp[i] * sin)
		dy += float64(w.amp[i] * k * cos)
		ddy -= float64(w.amp[i] * k * k * sin)
	}
	return y, dy, ddy
}
