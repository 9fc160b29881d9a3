// The turn from one pass to the next: which kind, how far out, and what it
// takes up.

package drive

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/motion"
)

// turnUse is what the turns of one zone take up.
type turnUse struct {
	needM    float64 // beside the zone, square to its border
	outsideM float64 // beyond the limit
	outside  int     // turns that leave the limit
	overCrop int     // turns that sweep over the zone
	alongM   float64 // on which sections would work, the longest
}

// furthestTurnM is how far past the border the driver looks for room.
const furthestTurnM = 40.0

// turnTo drives from the current lane to the next, in the opposite direction,
// by the first kind of turn that can be driven clear of the zone, as near to
// the border as it can.
func (pl *planner) turnTo(l *lane, limit *rows, use *turnUse) {
	a := pl.on
	turn, leaveM, enterM, clear := pl.chooseTurn(a, l)
	use.alongM = max(use.alongM, pl.strayM(a.at(leaveM), leaveM-a.leftM, turn, l.at(enterM), l.enterM-enterM))
	if !clear {
		use.overCrop++
	}
	pl.path = a.append(pl.path, pl.onFromM, leaveM, &pl.s)
	pl.path = append(pl.path, turn...)
	pl.on, pl.onFromM = l, enterM

	var furthest orb.Point
	furthestM, outsideM := 0.0, 0.0
	sweep(turn, pl.m, func(p *motion.Pose) {
		outline(p, pl.m, pl.bar, func(e, n float64) {
			if d := l.rows.beyond(e, n); !math.IsInf(d, 0) && d > furthestM {
				furthestM, furthest = d, orb.Point{e, n}
			}
			if len(pl.limit) > 0 && limit.beyond(e, n) > 0 {
				// Past the limit's last border along the rows, or beside it: a row on
				// a side of the limit meets no more than its corner.
				outsideM = max(outsideM, limit.distanceM(e, n))
			}
		})
	})
	if furthestM > 0 {
		use.needM = max(use.needM, l.rows.distanceM(furthest[0], furthest[1]))
	}
	if outsideM > 0.05 {
		use.outside++
		use.outsideM = max(use.outsideM, outsideM)
	}
}

// chooseTurn returns the turn from lane a to lane b, the stations at which it
// leaves a and meets b, and whether it is clear of the zone. Of turns on which the
// tools would work the one with the least of that is taken where there is no other.
func (pl *planner) chooseTurn(a, b *lane) (turn path, leaveM, enterM float64, clear bool) {
	side, apart := toRight, a.dir*(b.v-a.v)
	if apart < 0 {
		side, apart = toLeft, -apart
	}
	kinds := []func(from, to place) (path, bool){
		pl.uTurn(side), pl.wideTurn(side, apart), pl.bulb,
	}
	if pl.s.Turn == Fishtail {
		kinds = []func(from, to place) (path, bool){
			pl.uTurn(side), pl.wideTurn(side, apart), pl.fishtail(side), pl.bulb,
		}
	}
	leave0, enter0 := a.lastM+a.stationsOf(straightAfterM, a.lastM), b.firstM-b.stationsOf(pl.s.StraightBeforeM, b.firstM)
	// Seen along a, b is met at -enter0. A level turn begins and ends as far out.
	out := max(leave0, -enter0)
	least := math.Inf(1)
	for _, kind := range kinds {
		for more := 0.0; more <= furthestTurnM; more += sweepStepM {
			for _, s := range [2][2]float64{{leave0, enter0}, {out, -out}} {
				leave, enter := s[0]+more, s[1]-more
				p, ok := kind(a.at(leave), b.at(enter))
				if !ok || !pl.clear(p, b.rows) {
					continue
				}
				if stray := pl.strayM(a.at(leave), leave-a.leftM, p, b.at(enter), b.enterM-enter); stray < least {
					if turn, leaveM, enterM, least = p, leave, enter, stray; stray <= strayedM {
						return turn, leaveM, enterM, true
					}
				}
			}
		}
	}
	if turn != nil {
		return turn, leaveM, enterM, true
	}
	turn, _ = pl.shortest(a.at(out), b.at(-out))
	return turn, out, -out, false
}

// uTurn turns through half a circle in all, with a straight between.
func (pl *planner) uTurn(side float64) func(from, to place) (path, bool) {
	return func(from, to place) (path, bool) {
		p, ok := pl.wheel.turnStraightTurn(from, to, side, side, pl.s.TurnMps)
		return p, ok && p.turnedRad() < math.Pi+1e-6
	}
}

// wideTurn is one turn by half a circle, at the radius that ends on the pass
// apart metres away. It leaves and meets the passes at one level.
func (pl *planner) wideTurn(side, apartM float64) func(from, to place) (path, bool) {
	narrow, wide := pl.s.MinRadiusM, apartM/2
	if 2*pl.wheel.sideM > apartM {
		return func(_, _ place) (path, bool) { return nil, false }
	}
	w := pl.wheel
	for range 60 { // sideM grows with the radius; it is more than the radius
		r := (narrow + wide) / 2
		if w = newWheel(r, pl.s.sharpness()); 2*w.sideM > apartM {
			wide = r
		} else {
			narrow = r
		}
	}
	return func(from, to place) (path, bool) {
		p := w.turn(nil, from, side, math.Pi, pl.s.TurnMps)
		d, _ := toward(p.end(), to)
		return p, d < 1e-6
	}
}

func (pl *planner) fishtail(side float64) func(from, to place) (path, bool) {
	return func(from, to place) (path, bool) {
		return pl.wheel.turnBackTurn(from, to, side, pl.s.TurnMps)
	}
}

func (pl *planner) bulb(from, to place) (path, bool) {
	left, okL := pl.wheel.threeTurns(from, to, toLeft, pl.s.TurnMps)
	right, okR := pl.wheel.threeTurns(from, to, toRight, pl.s.TurnMps)
	if okL && (!okR || left.lengthM() <= right.lengthM()) {
		return left, true
	}
	return right, okR
}

// shortest is the shortest path of up to three pieces, of any kind.
func (pl *planner) shortest(from, to place) (path, float64) {
	var best path
	bestM := math.Inf(1)
	consider := func(p path, ok bool) {
		if !ok {
			return
		}
		if l := p.lengthM(); l < bestM {
			best, bestM = p, l
		}
	}
	for _, s1 := range [2]float64{toLeft, toRight} {
		for _, s2 := range [2]float64{toLeft, toRight} {
			consider(pl.wheel.turnStraightTurn(from, to, s1, s2, pl.s.TurnMps))
		}
		consider(pl.wheel.threeTurns(from, to, s1, pl.s.TurnMps))
	}
	return best, bestM
}

// clear reports whether bar and tractor stay off the ground between the first
// and the last border of r along the rows.
func (pl *planner) clear(p path, r *rows) bool {
	ok := true
	sweep(p, pl.m, func(pose *motion.Pose) {
		if !ok {
			return
		}
		outline(pose, pl.m, pl.bar, func(e, n float64) {
			if ok && r.beyond(e, n) < -1e-6 {
				ok = false
			}
		})
	})
	return ok
}
