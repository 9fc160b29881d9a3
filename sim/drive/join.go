// From one zone to the next: the shortest way that spares crop and fence.

package drive

import (
	"math"

	"liftbench/sections/motion"
)

// A metre over a body zone, or outside the field, counts as so many more.
const offLimitsFactor = 10.0

// A metre on which the tools would work counts as so many more: a driver goes a
// long way round before he switches them off by hand.
const strayFactor = 50.0

// joinStepsM are how far the driver may go straight on before turning away,
// and be straight before the next zone, on top of what is asked.
var joinStepsM = [...]float64{0, 6, 12, 18}

// join returns the cheapest path between two places, how much of each
// straight step it uses, and its cost in metres. outM and aheadM: see strayM.
func (pl *planner) join(from place, outM float64, to place, aheadM float64) (best path, steps [2]float64, cost float64) {
	cost = math.Inf(1)
	consider := func(p path, ok bool, a, b float64) {
		if !ok {
			return
		}
		c := p.lengthM() + a + b
		if c < cost { // looking costs time: only where it can still win
			c += float64(offLimitsFactor * pl.offLimitsM(p))
		}
		if c < cost {
			c += float64(strayFactor * pl.strayM(from.ahead(a, 0), outM+a, p, to.ahead(-b, 0), aheadM+b))
		}
		if c < cost {
			best, steps, cost = p, [2]float64{a, b}, c
		}
	}
	for _, a := range joinStepsM {
		for _, b := range joinStepsM {
			f, t := from.ahead(a, 0), to.ahead(-b, 0)
			for _, s1 := range [2]float64{toLeft, toRight} {
				for _, s2 := range [2]float64{toLeft, toRight} {
					p, ok := pl.wheel.turnStraightTurn(f, t, s1, s2, pl.s.TurnMps)
					consider(p, ok, a, b)
				}
				p, ok := pl.wheel.threeTurns(f, t, s1, pl.s.TurnMps)
				consider(p, ok, a, b)
			}
		}
	}
	return best, steps, cost
}

// offLimitsM is how many metres of p the turning point spends over a body
// zone or outside the field.
func (pl *planner) offLimitsM(p path) float64 {
	total, off := 0, 0
	sweep(p, pl.m, func(pose *motion.Pose) {
		total++
		bad := len(pl.fence.bins) > 0 && pl.fence.beyond(pose.EastM, pose.NorthM) > 0
		for _, r := range pl.bodies {
			bad = bad || r.beyond(pose.EastM, pose.NorthM) < 0
		}
		if bad {
			off++
		}
	})
	return p.lengthM() * float64(off) / float64(max(total, 1))
}

// joinTo drives from the current lane to l, whichever way l runs.
func (pl *planner) joinTo(l *lane) {
	leaveM, enterM := pl.on.lastM+straightAfterM, l.firstM-l.stationsOf(pl.s.StraightBeforeM, l.firstM)
	outM, aheadM := leaveM-pl.on.leftM, l.enterM-enterM
	way, steps, _ := pl.join(pl.on.at(leaveM), outM, l.at(enterM), aheadM)
	along := pl.strayM(pl.on.at(leaveM+steps[0]), outM+steps[0], way, l.at(enterM-steps[1]), aheadM+steps[1])
	for i := range way {
		if way[i].straight() {
			way[i].capMps = pl.s.HeadlandMps
		}
	}
	pl.path = pl.on.append(pl.path, pl.onFromM, leaveM+steps[0], &pl.s)
	pl.path = append(pl.path, way...)
	pl.onFromM = enterM - steps[1]
	if off := pl.offLimitsM(way); off > 1 {
		pl.warn("the way to zone %q runs %.0f m over a body zone or outside the field", l.zone.Name, off)
	}
	if along > strayedM {
		pl.warn("the way to zone %q runs %.0f m along the rows of zones that are worked: there the sections drop as on a pass, unless they are switched off", l.zone.Name, along)
	}
}
