// Stops for no reason of the path: the driver clears a stone, waits, telephones,
// in the row, at the border, half across it or in a turn.

package drive

import (
	"math"
	"math/rand/v2"
	"slices"
)

// stopsOn draws where the driver stops: so many times an hour of driving, at
// any instant alike. Places are metres along the whole path.
func stopsOn(speeds []stretch, p *Params) []float64 {
	if p.StopsPerH == 0 {
		return nil
	}
	rng := rand.New(rand.NewPCG(p.Seed, 0x73746f70))
	meanS := 3600 / p.StopsPerH
	var stops []float64
	nextS := meanS * rng.ExpFloat64()
	timeS, wayM := 0.0, 0.0
	for i := range speeds {
		st := &speeds[i]
		duration := st.durationS()
		for ; nextS < timeS+duration; nextS += float64(meanS * rng.ExpFloat64()) {
			t := nextS - timeS
			stops = append(stops, wayM+float64(t*(st.v0+float64((st.v1-st.v0)*t/duration/2))))
		}
		timeS += duration
		wayM += st.lengthM
	}
	return stops
}

// halt returns the stretches with the driver stopping at the places, in order:
// before each he brakes at BrakeMps2, after it he starts at StartMps2.
//
// v² is linear along a stretch, and so it is while braking and starting:
// v² = 2·a·s, s from the stop. What is driven is the least of the three, in
// pieces from crossing to crossing.
func halt(speeds []stretch, stops []float64, p *Params) []stretch {
	if len(stops) == 0 {
		return speeds
	}
	out := make([]stretch, 0, len(speeds)+5*len(stops))
	wayM := 0.0
	for _, st := range speeds {
		from, to := wayM, wayM+st.lengthM
		wayM = to
		cuts := []float64{from, to}
		for _, s := range stops {
			if s > from && s < to {
				cuts = append(cuts, s)
			}
		}
		slices.Sort(cuts)
		for i := 1; i < len(cuts); i++ {
			out = st.between(out, from, cuts[i-1], cuts[i], stops, p)
			if i+1 < len(cuts) && len(out) > 0 {
				out[len(out)-1].pauseS = p.StopS
			}
		}
		if st.pauseS > 0 {
			out[len(out)-1].pauseS = st.pauseS
		}
	}
	return out
}

// between appends the part of st from a to b, with no stop in between; st
// itself begins at the place from.
func (st *stretch) between(out []stretch, from, a, b float64, stops []float64, p *Params) []stretch {
	k, _ := slices.BinarySearch(stops, b)
	last, next := math.Inf(-1), math.Inf(1)
	if k < len(stops) {
		next = stops[k]
	}
	if k > 0 {
		last = stops[k-1]
	}
	slope := (float64(st.v1*st.v1) - float64(st.v0*st.v0)) / st.lengthM
	lines := [3][2]float64{ // v² at a and its slope
		{float64(st.v0*st.v0) + float64(slope*(a-from)), slope},
		{2 * p.StartMps2 * (a - last), 2 * p.StartMps2},
		{2 * p.BrakeMps2 * (next - a), -2 * p.BrakeMps2},
	}
	cuts := []float64{0, b - a}
	for i := range lines {
		for j := range i {
			if x := (lines[i][0] - lines[j][0]) / (lines[j][1] - lines[i][1]); x > 0 && x < b-a {
				cuts = append(cuts, x)
			}
		}
	}
	slices.Sort(cuts)
	speed := func(x float64) float64 {
		least := math.Inf(1)
		for _, l := range lines {
			least = min(least, l[0]+float64(l[1]*x))
		}
		return math.Sqrt(max(0, least))
	}
	for i := 1; i < len(cuts); i++ {
		if x, y := cuts[i-1], cuts[i]; y-x > lengthTolM {
			out = append(out, stretch{leg: st.leg, fromM: st.fromM + a - from + x, lengthM: y - x, v0: speed(x), v1: speed(y)})
		}
	}
	return out
}
