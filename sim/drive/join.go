// From one zone to the next: the shortest way that spares crop and fence.

package drive

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

// A metre over a body zone, or outside the field, counts as so many more.
const offLimitsFactor = 10.0

// joinStepsM are how far the driver may go straight on before turning away,
// and be straight before the next zone, on top of what is asked.
var joinStepsM = [...]float64{0, 6, 12, 18}

// join returns the cheapest path between two places, how much of each
// straight step it uses, and its cost in metres.
func (pl *planner) join(from, to place) (best path, steps [2]float64, cost float64) {
	cost = math.Inf(1)
	consider := func(p path, ok bool, a, b float64) {
		if !ok {
			return
		}
		c := p.lengthM() + a + b
		if c < cost { // looking costs time: only where it can still win
			c += float64(offLimitsFactor * (pl.offLimitsM(p) + pl.alongRowsM(p)))
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
	leaveM, enterM := pl.on.lastM+straightAfterM, l.firstM-pl.s.StraightBeforeM
	way, steps, _ := pl.join(pl.on.at(leaveM), l.at(enterM))
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
	if along := pl.alongRowsM(way); along > closingM {
		pl.warn("the way to zone %q runs %.0f m along the rows of zones that are worked: there the sections drop as on a pass, unless they are switched off", l.zone.Name, along)
	}
}

const (
	// alongRad is how far from the rows a way still runs along them: more than
	// most controllers are set to.
	alongRad = 12 * math.Pi / 180
	// straightRadiusM is the tightest path that runs along rows.
	straightRadiusM = 20.0
	// closingM is the way that the end of a turn onto the rows takes, and more.
	closingM = 6.0
)

// alongRowsM is how many metres of p any part of the bar is in a zone that is
// worked while the tractor runs along its rows.
func (pl *planner) alongRowsM(p path) float64 {
	total, along := 0, 0
	sweep(p, pl.m, func(pose *motion.Pose) {
		total++
		if math.Abs(pose.YawRateRadPerS)*straightRadiusM > 1 || pose.SpeedMps < 0 {
			return
		}
		sin, cos := exact.Sincos(pose.ToolHeadingRad)
		zones := pl.f.Participating(sin, cos, cosAlong) &^ pl.f.Unbound()
		if zones == 0 {
			return
		}
		f := pl.m.Frame(pose)
		for i := range pl.m.Sections {
			le, ln, re, rn := pl.m.Line(i, &f)
			if (pl.f.At(le, ln)|pl.f.At(re, rn))&zones != 0 {
				along++
				return
			}
		}
	})
	return p.lengthM() * float64(along) / float64(max(total, 1))
}

var cosAlong = exact.Cos(alongRad)
