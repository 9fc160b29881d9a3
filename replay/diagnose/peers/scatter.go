// Scatter of all sections, beyond what the positions explain.

package peers

import (
	"math"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

const (
	// All are erratic if sections of one crossing scatter by leastWithinS and leastWithinM,
	// which no position explains, or crossings by more than the positions do.
	leastWithinS = 0.06
	leastWithinM = 0.12
	// With fewer crossings than leastScattered the whole machine is not called erratic.
	leastScattered = 12
)

// Residuals are what the causes leave of the lateness of the sections of one crossing.
// Crossings are in order of time.
type Residuals struct {
	On       bool
	LateS    []float64
	SpeedMps float64 // mean of the sections
}

// Scatter is how far all sections come early and late at random.
type Scatter struct {
	SizeS     float64 // standard deviation of a move
	CI95      [2]float64
	SumM2     float64 // of all moves, squared
	SpeedMps  float64 // mean
	Crossings int
}

// FindScatter returns the scatter of residuals around so many terms; ok is false if the
// positions explain it, which scatter crossings by up to limitM. single is whether sections
// were recorded one by one. gridS is the standard deviation that a grid of the recorded
// times explains by itself, in s; it is taken out.
//
// Sections that scatter each by themselves and crossings that scatter as a whole are one
// number: the standard deviation of a move. Its degrees of freedom follow from those of
// its two parts (Satterthwaite; from memory).
func FindScatter(rows []Residuals, terms int, single bool, limitM, gridS float64) (out Scatter, ok bool) {
	var apart []float64    // sections from their crossing's mean, s
	var means [2][]float64 // of crossings, lifts and drops apart, s
	var moves, between, within, sumM2, speed float64
	for _, x := range rows {
		size, mean := float64(len(x.LateS)), 0.0
		for _, late := range x.LateS {
			mean += late / size
		}
		moves, speed = moves+size, speed+size*x.SpeedMps
		way := evidence.Way(x.On)
		means[way] = append(means[way], mean)
		between += mean * mean
		sumM2 += mean * mean * x.SpeedMps * x.SpeedMps
		for _, late := range x.LateS {
			within += (late - mean) * (late - mean)
			if size > 1 {
				apart = append(apart, (late-mean)*math.Sqrt(size/(size-1)))
			}
		}
	}
	n, p := float64(len(rows)), float64(terms)
	if n < leastScattered || n < 2*p {
		return out, false
	}
	speed /= moves
	withinS := 0.0
	if len(apart) > 0 && single {
		withinS = regress.Spread(apart, make([]float64, len(apart)), 0, 0)
		if gridS > 0 { // the median of values on steps is one
			_, sd := sample.MeanSD(apart)
			withinS = surelyBeyond(sd, gridS, len(apart))
		}
	}
	crossingM := surelyBeyond(math.Sqrt(sumM2/(n-p)), gridS*speed, len(rows))
	if !(withinS > leastWithinS && withinS*speed > leastWithinM) && !(crossingM > limitM && regress.AtRandom(means[0], means[1])) {
		return out, false
	}
	between, within = between/(n-p), within/moves
	df := (between + within) * (between + within) / (between*between/(n-p) + within*within/max(1, moves-n))
	out = Scatter{SizeS: beyond(math.Sqrt(between+within), gridS), SpeedMps: speed, Crossings: len(rows)}
	out.CI95 = regress.Deviation(out.SizeS, df)
	out.SumM2 = (between + within) * moves * speed * speed
	return out, true
}

// surelyBeyond is beyond, if the standard deviation of so many is certainly more than the
// part: a grid's even distribution has the fourth moment 9/5, so that of a mean square
// scatters by √(0.8/n) of it. Otherwise it is 0.
func surelyBeyond(all, part float64, n int) float64 {
	if all*all < part*part*(1+3*math.Sqrt(0.8/float64(n))) {
		return 0
	}
	return beyond(all, part)
}

// beyond is what is left of a standard deviation without a part of it.
func beyond(all, part float64) float64 { return math.Sqrt(max(0, all*all-part*part)) }
