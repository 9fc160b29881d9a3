// Drivers who brake for the turn and accelerate out of it, in closed form: the
// way and the time of a speed that changes by pieces of constant acceleration.

package diagnose

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"pgregory.net/rapid"
)

// foot is how one driver changes speed for his turns.
type foot struct {
	mps2      float64 // both ways
	turnShare float64 // speed of the turn, of that of the pass
	rng       *rand.Rand
}

// footOf draws a driver. It uses random numbers of its own, so that a drive is
// otherwise the same with him.
func footOf(s *shape) *foot {
	if !s.braking {
		return nil
	}
	rng := rand.New(rand.NewPCG(s.seed, 79))
	return &foot{mps2: 0.2 + 0.4*rng.Float64(), turnShare: 0.6 + 0.25*rng.Float64(), rng: rng}
}

// knot is the speed at a place along the way; between two the acceleration is
// constant, so that the square of the speed is a straight line over the way.
type knot struct{ atM, mps float64 }

// run is a way with its speeds, from its first knot on.
type run struct {
	knots []knot
	timeS []float64 // of each knot
}

func runOf(knots ...knot) *run {
	r := &run{knots: knots, timeS: make([]float64, len(knots))}
	for i := 1; i < len(knots); i++ {
		// The mean speed under constant acceleration is the mean of both ends.
		r.timeS[i] = r.timeS[i-1] + 2*(knots[i].atM-knots[i-1].atM)/(knots[i].mps+knots[i-1].mps)
	}
	return r
}

// piece returns the knot that the way goes on from, and the acceleration after it.
func (r *run) piece(i int) (k knot, timeS, mps2 float64) {
	k, timeS = r.knots[i], r.timeS[i]
	if i+1 < len(r.knots) {
		n := r.knots[i+1]
		mps2 = (n.mps*n.mps - k.mps*k.mps) / (2 * (n.atM - k.atM))
	}
	return k, timeS, mps2
}

// at returns the place and the speed at an instant.
func (r *run) at(timeS float64) (atM, mps float64) {
	i := max(0, sort.Search(len(r.timeS), func(i int) bool { return r.timeS[i] > timeS })-1)
	k, from, a := r.piece(i)
	if timeS < from {
		a = 0
	}
	t := timeS - from
	return k.atM + k.mps*t + a*t*t/2, k.mps + a*t
}

// when returns the instant at which a place is reached.
func (r *run) when(atM float64) float64 {
	i := max(0, sort.Search(len(r.knots), func(i int) bool { return r.knots[i].atM > atM })-1)
	k, from, a := r.piece(i)
	if atM < k.atM {
		a = 0
	}
	// d = v·t + a·t²/2, with the root that stays for a = 0.
	d := atM - k.atM
	return from + 2*d/(k.mps+math.Sqrt(k.mps*k.mps+2*a*d))
}

// TestRun: the instant of a place is that at which it is reached, and speeds are
// the slopes of places.
func TestRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var knots []knot
		at := rapid.Float64Range(-50, 50).Draw(t, "from")
		for range rapid.IntRange(1, 5).Draw(t, "knots") {
			knots = append(knots, knot{at, rapid.Float64Range(0.5, 5).Draw(t, "speed")})
			at += rapid.Float64Range(0.1, 30).Draw(t, "length")
		}
		r := runOf(knots...)
		x := rapid.Float64Range(knots[0].atM-10, at+10).Draw(t, "place")
		when := r.when(x)
		back, v := r.at(when)
		const h = 1e-5
		before, _ := r.at(when - h)
		after, _ := r.at(when + h)
		if math.Abs(back-x) > 1e-9 || math.Abs((after-before)/(2*h)-v) > 1e-3 {
			t.Fatalf("%v: at %g m after %g s; back at %g m, %g m/s, slope %g", knots, x, when, back, v, (after-before)/(2*h))
		}
	})
}

// crossing returns the speed before and after a border at 0 m, that is passed at
// about v: on the way out of a turn, with on, or into one. The change begins or
// ends somewhere between 3 m before the border and 2 m beyond it.
func (f *foot) crossing(v float64, on bool) *run {
	if f == nil {
		return runOf(knot{0, v})
	}
	u := v * f.turnShare
	at := -3 + 5*f.rng.Float64()
	overM := (v*v - u*u) / (2 * f.mps2)
	if on {
		return runOf(knot{at - overM, u}, knot{at, v})
	}
	return runOf(knot{at, v}, knot{at + overM, u})
}
