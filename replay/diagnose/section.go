// One sticking valve among good ones: a section against the others of the same
// crossing.

package diagnose

import (
	"fmt"
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

// found is a cause before it is put into words.
type found struct {
	term
	section   int // from 1; 0 = all
	size      float64
	lateS     [2]float64 // of lifts and of drops, of a slow section
	ci        Interval
	crossings int     // crossings that bear it
	explained float64 // m²: what it adds to the sum of squared errors
	note      string  // a fact for the evidence
}

// standsOut is how many times as far off as the usual section a slow one is: a
// bar that hangs askew has all its sections off, the outer ones the most.
const standsOut = 3.0

// leastSections: of two, nobody can say which is the slow one.
const leastSections = 3

// slowSections returns the sections that are later or earlier than the others,
// and takes their part out of the moves; floorS is the smallest delay that would
// have been seen.
//
// In each crossing d = e/v of the section - median of e/v over the others, e
// without what a short pump adds, flowS for each other section. All of them share
// the position error, which d is therefore free of; Student's t on the mean of d,
// Bonferroni over all sections, lifts and drops.
func slowSections(moves []evidence.Move, list []evidence.Crossing, sections int, flowS float64) (out []found, floorS float64) {
	floorS = math.Inf(1)
	if sections < leastSections {
		return nil, floorS
	}
	d := make([][2][]float64, sections) // by section and way
	var times, others []float64
	for k := range list {
		c := &list[k]
		if len(c.Of) < leastSections {
			continue
		}
		times = times[:0]
		for _, i := range c.Of {
			times = append(times, moves[i].LateM/moves[i].SpeedMps-flowS*moves[i].Others)
		}
		way := evidence.Way(c.On)
		for a, i := range c.Of {
			others = slices.Delete(append(others[:0], times...), a, a+1)
			s := moves[i].Section
			d[s][way] = append(d[s][way], times[a]-sample.Median(others))
		}
	}
	var mean, usual [2][]float64
	var floors []float64
	for s := range d {
		for way := range d[s] {
			m, se, df := regress.Mean(d[s][way], leastS)
			mean[way] = append(mean[way], m)
			if df >= 2 {
				floors = append(floors, (regress.Quantile(alpha/float64(4*sections), df)+power)*se)
			}
		}
	}
	if len(floors) > 0 {
		floorS = max(leastS, sample.Median(floors))
	}
	for s := range d {
		var slow [2]bool
		for way := range slow {
			usual[way] = usual[way][:0]
			for q, m := range mean[way] {
				if q != s {
					usual[way] = append(usual[way], math.Abs(m))
				}
			}
			slow[way] = standsApart(d[s][way], sample.Median(usual[way]), sections)
		}
		pick := func(of moveKind, samples []float64) found {
			m, se, df := regress.Mean(samples, leastS)
			return found{
				term:    term{cause: SlowSection, moves: of, leastSize: leastS},
				section: s + 1, size: m, lateS: [2]float64{m, m}, ci: regress.Around(m, se, df), crossings: len(samples),
			}
		}
		switch {
		case slow[0] && slow[1]:
			f := pick(both, slices.Concat(d[s][0], d[s][1]))
			if !alike(d[s][0], d[s][1]) {
				up, _, _ := regress.Mean(d[s][0], leastS)
				down, _, _ := regress.Mean(d[s][1], leastS)
				f.note = fmt.Sprintf("lifts %s, drops %s", msOf(up), msOf(down))
				f.lateS = [2]float64{up, down}
			}
			out = append(out, f)
		case slow[0]:
			out = append(out, pick(lifts, d[s][0]))
		case slow[1]:
			out = append(out, pick(drops, d[s][1]))
		}
	}
	for k := range out {
		f := &out[k]
		for i := range moves {
			if m := &moves[i]; m.Section == f.section-1 {
				part := f.moves.applies(m.On) * f.lateS[evidence.Way(m.On)] * m.SpeedMps
				m.LateM -= part
				f.explained += part * part
			}
		}
	}
	return out, floorS
}

// isSlow reports whether a section's differences from the others are above
// chance, worth it, and more than the others show.
func standsApart(d []float64, usual float64, sections int) bool {
	m, se, df := regress.Mean(d, leastS)
	return df >= 2 && math.Abs(m) >= leastS && math.Abs(m) > standsOut*usual &&
		regress.TwoSided(m/se, df)*float64(2*sections) < alpha/2
}

// alike reports whether two samples may have the same mean.
func alike(a, b []float64) bool {
	m, se, df := regress.Mean(a, leastS)
	n, sf, dg := regress.Mean(b, leastS)
	return math.Abs(m-n) < regress.Quantile(0.01, min(df, dg))*math.Hypot(se, sf)+leastS/2
}
