// Times and places that the speeds of a day cannot tell apart: a time error makes as much
// of a place error as the speed says, so at one speed either explains the other.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/suspect"
	"liftbench/replay/diagnose/terms"
)

// hiddenM is the place error, and the effect of a time error, that a day must be able to
// show beside a cause; otherwise the interval of that cause allows for it. A judgement: few
// bars are measured better.
const hiddenM = 0.10

// opposite returns the terms of lifts and of drops that may stand in for a term: places for
// a time, times for a place, of the transitions that it concerns. With the terms that stand
// beside them already, they are no more than two.
func (a *analysis) opposite(q int, beside []int) []int {
	t := &a.terms[q]
	other := map[string]string{"time": "place", "place": "time"}[t.Family()]
	known := 0 // of the two that make up the other family
	for _, p := range beside {
		if a.terms[p].Family() == other {
			known++
		}
	}
	var out []int
	for p := range a.terms {
		o := &a.terms[p]
		if known+len(out) < 2 && o.Family() == other && o.Moves != evidence.Both && (t.Moves == evidence.Both || t.Moves == o.Moves) &&
			!slices.Contains(beside, p) && !a.bearsOnNothing(p) {
			out = append(out, p)
		}
	}
	return out
}

// besideOpposite returns the interval of the i-th chosen cause, with standard errors by times
// as wide, beside the opposite ones; wide is true if the day would not show one of those.
func (a *analysis) besideOpposite(g *regress.Gram, i int, by float64) (ci Interval, wide bool) {
	others := a.opposite(a.chosen.Set[i], a.chosen.Set)
	if len(others) == 0 {
		return ci, false
	}
	f, ok := g.Fit(slices.Concat(a.chosen.Set, others)...)
	if !ok {
		return ci, false
	}
	for _, p := range others {
		shown := (regress.Quantile(mistakenlyApart, f.DF) + regress.Power) * f.SE(f.At(p))
		if a.terms[p].Family() == "time" {
			shown *= evidence.MeanSpeedMps(a.moves)
		}
		wide = wide || shown > hiddenM
	}
	// It was named only because it stands out beside them; that it is at least worth naming is known.
	least := max(regress.Quantile(mistakenlyApart, f.DF)*f.SE(i), terms.ApartM*terms.PerApart(g, &f, i))
	ci = Interval(regress.Selected(f.Beta[i], f.SE(i)*by, least, f.DF))
	if worth := a.terms[a.chosen.Set[i]].LeastSize; f.Beta[i] > 0 {
		ci[0] = max(ci[0], min(worth, f.Beta[i]))
	} else {
		ci[1] = min(ci[1], max(-worth, f.Beta[i]))
	}
	return ci, wide
}

// twoInOne returns the opposite terms of the i-th chosen cause, one of lifts and one of
// drops, if both together explain the day as well: lifts late and drops early by a time,
// at one speed, are a border that is too far out.
func (a *analysis) twoInOne(g *regress.Gram, i int) []int {
	q := a.chosen.Set[i]
	others := a.opposite(q, a.chosen.Set)
	if a.terms[q].Moves != evidence.Both || len(others) != 2 || a.chosen.DF < 4 {
		return nil
	}
	f, ok := g.Fit(slices.Concat(a.chosen.Set, others)...)
	if !ok || !(f.P(i) < mistakenlyApart) || math.Abs(f.Beta[i]) < terms.ApartM*terms.PerApart(g, &f, i) {
		return others
	}
	return nil
}

// cancelM is how far a time and a place of opposite signs must move some crossing together to
// be told as two causes. A judgement: a scenario's usual limit is 8 cm.
const cancelM = 0.05

// withoutCancelling leaves out a time and a place that cancel at the speeds that were driven,
// and returns the doubt about them.
func (a *analysis) withoutCancelling(list []found) ([]found, *Doubt) {
	i, j, ok := suspect.Opposite(list)
	if !ok {
		return list, nil
	}
	time, place, most := &list[i], &list[j], 0.0
	for _, k := range a.rows {
		most = max(most, math.Abs(a.mean(k, func(m *evidence.Move) float64 {
			return time.Size*time.PerUnitM(m) + place.Size*place.PerUnitM(m)
		})))
	}
	if most >= cancelM {
		return list, nil
	}
	q := &Doubt{Between: []Cause{time.Cause, place.Cause}}
	lo, hi := a.speeds(time.Moves)
	q.Why, q.Drive = cause.Cancelling(time.Moves, time.Size, place.Size, most, lo, hi)
	return slices.Concat(list[:min(i, j)], list[min(i, j)+1:max(i, j)], list[max(i, j)+1:]), q
}

// mapDoubt is the doubt that a place error leaves on a day driven one way.
func (a *analysis) mapDoubt(f *found) Doubt {
	q := Doubt{Between: []Cause{f.Cause, WrongBorder}}
	q.Why, q.Drive = cause.OneWay(f.Moves, f.Size)
	return q
}

// beforeTold is the doubt of a day whose work states change before their setpoints; nil
// if they do not.
func (a *analysis) beforeTold(day *evidence.Day) *Doubt {
	if a.leg != evidence.Machine {
		return nil
	}
	byS := day.BeforeCommandS(a.moves)
	if byS <= 0 {
		return nil
	}
	q := &Doubt{Between: []Cause{ClockOffset, MachineSlow, CommandTiming, Sensor}}
	q.Why, q.Drive = cause.BeforeTold(byS)
	return q
}
