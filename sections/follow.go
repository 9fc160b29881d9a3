// Which zones the machine works as it goes along: those whose rows it follows
// on a pass, and not those it merely turns over.
//
// A zone with a row bearing takes part while the machine follows its rows on a pass.
// It begins to take part when the heading is within the row tolerance and the turn
// is closed: once the path has been no tighter than MinWorkRadiusM for closedM
// metres. (A turn whose curvature changes sign is briefly straight in its middle, but
// for less than that.) In two cases the machine is probably still turning, and the
// zone takes part only after the straight of a turn: when the bar was already inside
// the zone as the turn closed, since a pass begins outside its zone; and when the
// zone is a headland and the machine has just made its first turn after a pass in a
// body. Neither wait applies to the rows that were followed before the turn. The
// straight of a turn is taken to be turnBars bar widths. It is shorter for a
// driver whose turns have had next to no straight, at least habitTurns times
// from one pass in a body to the next: such a driver is on a pass in a headland
// littleBars bar widths beyond the longest straight so far, if the heading is
// within onRowsRad of its rows. A zone stops taking part when the heading is
// leaveRad beyond the tolerance, or has changed by turnedRad more than a drive
// at MinWorkRadiusM would explain. Until then sections in work stay in work, but
// none drops while the path is too tight. All of this is measured in metres
// driven, not in time: at rest nothing changes. Zones without a row bearing take
// part at any heading: they have no rows by which a turn could be told from a
// pass.

package sections

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

const (
	// turnBars: when k passes are left out, the straight stretch of the turn is at
	// most (k+1)·width - 2·radius, so 3 widths cover k = 2.
	turnBars = 3.0
	// roundM is what the rest of a turn takes beside its straight: two quarter
	// circles of 8 m.
	roundM = 25.0
	// Where passes are left out, the straights of one driver's turns differ by bar
	// widths, as at a slanting border. Where none is, there is next to no straight.
	littleBars = 0.5
	habitTurns = 2
	closedM    = 3.0
	// settleBars drawbars later a trailed tool is in line with its tractor but for
	// e^-2 of the angle.
	settleBars = 2.0
	leaveRad   = 2 * math.Pi / 180
	// onRowsRad is how far the heading strays from the rows on a pass. Common practice,
	// no source.
	onRowsRad = 2 * math.Pi / 180
	turnedRad = 3 * math.Pi / 180
	// Slower than followMps the yaw rate says nothing of the path, and a way
	// shorter than creptM is none.
	followMps = 0.05
	creptM    = 0.01
	// Where a driver brakes hard the estimate runs past standstill and comes back; who
	// reverses to turn goes further than backM.
	backM = 0.3
)

// Follow is what there is to remember of the way for Gate.Follow. The zero
// value is before the first pose. It is plain numbers: a copy is a snapshot.
type Follow struct {
	Started bool
	Zones   field.Mask
	// Turning: the path is tighter than MinWorkRadiusM. A section in work goes on in
	// Zones for a little while; none drops in a zone with rows.
	Turning bool
	// Last are the zones with rows that the bar worked last. StraightM is the way
	// since the last turn closed, and Inside are the zones that the bar was in then and
	// has not left since.
	Last, Inside field.Mask
	StraightM    float64
	// TurnedM is the way since the first turn after that began; 0 before it.
	TurnedM float64
	// BackM is how far the path has gone back without a break.
	BackM float64
	// RunM is the longest straight of this turn so far, and HabitM that of all turns from
	// one pass to the next in a body, of which there were Turns.
	RunM, HabitM float64
	Turns        int32
	// Under are the zones that any part of the bar is in.
	Under field.Mask
	// RightRad and LeftRad are how much further the path has turned than
	// MinWorkRadiusM allows.
	RightRad, LeftRad float64
	// Of the tractor at the newest pose that it had moved to.
	EastM, NorthM, HeadingRad float64
	// Bend is MinWorkRadiusM over the radius of the path there.
	Bend float64
}

// Follow updates w for the move to pose p, and reads from the field which zones lie
// under the bar there. Poses must come in order of time, near enough to each other
// that nothing begins and ends in between.
func (g *Gate) Follow(w *Follow, p *motion.Pose) {
	f := g.Machine.Frame(p)
	g.FollowTo(w, p, &f)
}

// FollowTo is Follow where the bar's frame f at p is known.
func (g *Gate) FollowTo(w *Follow, p *motion.Pose, f *Frame) {
	g.goOn(w, p, f.Sin, f.Cos, g.Under(f), g.underClosing(w, p))
}

// May returns the zones in which a section may be in work: w.Zones; while the machine
// is turning, for a section that is up, only those of them without rows.
func (g *Gate) May(w *Follow, on bool) field.Mask {
	if w.Turning && !on {
		return w.Zones & g.Field.Unbound()
	}
	return w.Zones
}

// foresee is Follow to a pose predicted from the newest one, with the sine and cosine
// of the tool's heading. The zones under the bar stay those that it was over when that
// prediction was made: where a turn closes is not foreseen.
func (g *Gate) foresee(w *Follow, p *motion.Pose, sin, cos float64) {
	g.goOn(w, p, sin, cos, w.Under, w.Under)
}

// bendAt is MinWorkRadiusM over the radius of the path at p; as it was where p is too
// slow to tell.
func (g *Gate) bendAt(w *Follow, p *motion.Pose) float64 {
	if math.Abs(p.SpeedMps) < followMps {
		return w.Bend
	}
	bend := math.Abs(p.YawRateRadPerS) * g.MinWorkRadiusM / math.Abs(p.SpeedMps)
	if bend > 1 && g.Field.Bends() {
		// What follows rows as tight as that does not turn.
		k := p.YawRateRadPerS / p.SpeedMps
		bend = math.Abs(k-g.rowCurvature(p, k)) * g.MinWorkRadiusM
	}
	return bend
}

// underClosing returns the zones under the bar where a turn closes on the way to p, if
// one does, so that it does not matter how near to that place a fix is.
func (g *Gate) underClosing(w *Follow, p *motion.Pose) field.Mask {
	bend := g.bendAt(w, p)
	if !w.Started || w.Bend <= 1 || bend > 1 {
		return w.Under
	}
	left := 1 - closedFrom(w.Bend, bend)
	q := *p
	q.EastM += float64(left * (w.EastM - p.EastM))
	q.NorthM += float64(left * (w.NorthM - p.NorthM))
	q.HeadingRad += float64(left * math.Remainder(w.HeadingRad-p.HeadingRad, 2*math.Pi))
	if g.Machine.Mount == Trailed {
		backS := left * exact.Hypot(p.EastM-w.EastM, p.NorthM-w.NorthM) / math.Abs(p.SpeedMps)
		q.TimeNs -= int64(backS * 1e9)
		q.ToolHeadingRad = motion.TrailStep(p, &q, g.Machine.HitchBehindM, g.Machine.DrawbarM)
	}
	f := g.Machine.Frame(&q)
	return g.Under(&f)
}

// goOn is Follow with the sine and cosine of the tool's heading. The bar is over the
// zones of under at p, and was over those of closing where a turn closed on the way.
func (g *Gate) goOn(w *Follow, p *motion.Pose, sin, cos float64, under, closing field.Mask) {
	at := g.heads(p, sin, cos, 0)
	aligned := at.along(g, g.CosRowTolerance)
	unbound := g.Field.Unbound()
	if !w.Started {
		*w = Follow{Started: true, Zones: unbound, Under: under, EastM: p.EastM, NorthM: p.NorthM, HeadingRad: p.HeadingRad}
		w.Bend = math.Abs(p.YawRateRadPerS) * g.MinWorkRadiusM / max(math.Abs(p.SpeedMps), followMps)
		if math.Abs(p.SpeedMps) >= followMps {
			w.Bend = g.bendAt(w, p)
		}
		if w.Turning = w.Bend > 1; !w.Turning {
			w.Zones = aligned
		}
		w.Last = w.Zones & under &^ unbound
		return
	}
	way := math.Copysign(exact.Hypot(p.EastM-w.EastM, p.NorthM-w.NorthM), p.SpeedMps)
	bend := g.bendAt(w, p)
	if math.Abs(p.SpeedMps) < followMps {
		// At rest the position wanders: only what it has gone forward counts.
		sin, cos := exact.Sincos(p.HeadingRad)
		way = float64((p.EastM-w.EastM)*sin) + float64((p.NorthM-w.NorthM)*cos)
		if way < creptM || bend > 1 {
			return
		}
	}
	// After a gap a heading may begin again within one turn.
	turn := motion.Wrap(p.HeadingRad - w.HeadingRad)
	if g.MinWorkRadiusM > 0 {
		allowed := math.Abs(way) / g.MinWorkRadiusM
		if way != 0 && g.Field.Bends() {
			turn -= float64(way * g.rowCurvature(p, turn/way))
		}
		w.RightRad = max(0, w.RightRad+turn-allowed)
		w.LeftRad = max(0, w.LeftRad-turn-allowed)
	}
	// What it follows goes on up to a little beyond.
	if w.Zones&^unbound&^aligned != 0 {
		w.Zones &= at.along(g, g.cosLeave())
	}
	w.Zones |= unbound
	if max(w.RightRad, w.LeftRad) > turnedRad {
		w.Zones = unbound
	}
	inTurn := w.TurnedM > 0
	w.BackM -= way
	if way > 0 {
		w.BackM = 0
	}
	gone := way
	if w.BackM > backM {
		gone = math.Abs(way)
	}
	if w.Turning = bend > 1; w.Turning || w.TurnedM > 0 {
		if w.TurnedM == 0 {
			gone *= 1 - tightFrom(w.Bend, bend)
		}
		w.TurnedM = max(w.TurnedM+gone, math.SmallestNonzeroFloat64)
	}
	switch {
	case bend > 1 || w.BackM > backM:
		if inTurn {
			w.RunM = max(w.RunM, w.StraightM)
		}
		w.StraightM, w.Inside = 0, under
	case way < 0:
		w.StraightM = max(0, w.StraightM+way)
	default:
		w.StraightM += float64(way * (1 - closedFrom(w.Bend, bend)))
		if w.Bend > 1 {
			w.Inside = closing
		}
		w.Inside &= under // what it has left it may begin anew
		aligned &^= unbound
		if aligned&^w.Zones == 0 {
			break // all that may begin has begun
		}
		if v := p.SpeedMps; math.Abs(v) >= followMps {
			// So it was closedM ago, on a path as curved as it is here.
			before := g.heads(p, sin, cos, closedM)
			before.sin, before.cos = exact.Sincos(g.Machine.heading(p) - float64(p.YawRateRadPerS/v*closedM))
			aligned &= before.along(g, g.CosRowTolerance)
		}
		onRows := at.along(g, cosOnRows)
		w.begin(g, aligned, onRows)
		// Work on the one pass may let a headland beside it begin, at the same place.
		w.work(g, under&^unbound)
		w.begin(g, aligned, onRows)
	}
	w.EastM, w.NorthM, w.HeadingRad, w.Under, w.Bend = p.EastM, p.NorthM, p.HeadingRad, under, bend
	w.work(g, under&^unbound)
}

// work notes the zones with rows, of those under the bar, that it works.
func (w *Follow) work(g *Gate, under field.Mask) {
	worked := w.Zones & under
	if worked == 0 {
		return
	}
	if !w.Turning {
		if w.TurnedM > 0 && worked&w.Last&^g.Field.Headlands() != 0 {
			w.Turns, w.HabitM = w.Turns+1, max(w.HabitM, w.RunM)
		}
		w.TurnedM, w.RunM = 0, 0
	}
	w.Last = worked
}

// begin lets zones take part whose rows the machine is aligned to.
func (w *Follow) begin(g *Gate, aligned, onRows field.Mask) {
	if aligned&^w.Zones == 0 {
		return
	}
	turnM := float64(turnBars * g.Machine.WidthM())
	closed := closedM
	if g.Machine.Mount == Trailed {
		closed += float64(settleBars * g.Machine.DrawbarM)
	}
	wait := field.Mask(0)
	switch {
	case w.Last == 0: // there was no pass yet to turn from
	case w.StraightM < closed:
		wait = ^field.Mask(0)
	case w.StraightM < turnM:
		wait = w.Inside
		if headlands := g.Field.Headlands(); w.Last&headlands == 0 {
			if w.TurnedM > 0 && w.TurnedM < turnM+roundM {
				wait |= headlands
			}
			little := float64(littleBars * g.Machine.WidthM())
			if w.Turns >= habitTurns && w.HabitM <= little && w.StraightM >= w.HabitM+little {
				wait &^= headlands & onRows
			}
		}
		wait &^= w.Last
	}
	if fresh := aligned &^ wait &^ w.Zones; fresh != 0 {
		w.Zones |= fresh
		w.RightRad, w.LeftRad = 0, 0
	}
}

// closedFrom returns the part of a step, 0 to 1, until which the path was too
// tight, with Bend as it was and as it is now, 1 or less: a path's curvature is
// as good as linear in the way.
func closedFrom(was, is float64) float64 {
	if was <= 1 {
		return 0
	}
	return (was - 1) / (was - is)
}

// tightFrom is the same from which on it is too tight.
func tightFrom(was, is float64) float64 {
	if was > 1 {
		return 0
	}
	return (1 - was) / (is - was)
}

// cosLeave is the cosine of the angle to the rows at which a zone that takes
// part no longer does: cos(a + b) = cos a·cos b - sin a·sin b.
func (g *Gate) cosLeave() float64 {
	c := g.CosRowTolerance
	return float64(c*cosLeaveRad) - float64(math.Sqrt(max(0, 1-float64(c*c)))*sinLeaveRad)
}

var cosOnRows = exact.Cos(onRowsRad)

var sinLeaveRad, cosLeaveRad = exact.Sincos(leaveRad)

// Under returns the zones that any part of the bar at f is in, as far as the
// ends of its sections tell.
func (g *Gate) Under(f *Frame) field.Mask {
	m := g.Field.At(f.EastM, f.NorthM)
	reach := g.reachM
	if reach == 0 {
		reach = g.Machine.ReachM()
	}
	if g.Field.ClearanceM(f.EastM, f.NorthM) > reach {
		return m
	}
	m = 0
	for i := range g.Machine.Sections {
		le, ln, re, rn := g.Machine.Line(i, f)
		m |= g.Field.At(le, ln)
		if i+1 == len(g.Machine.Sections) || g.Machine.Sections[i+1].XM != g.Machine.Sections[i].XM {
			m |= g.Field.At(re, rn)
		}
	}
	return m
}
