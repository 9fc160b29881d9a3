// Which zones the machine works as it goes along: those whose rows it follows
// on a pass, and not those it merely turns over.
//
// A zone with a row bearing takes part while the machine follows its rows. It
// begins to when the turn onto them has closed: the heading is within the row
// tolerance, forward, on a path no tighter than MinWorkRadiusM, and stays so for
// closedM metres, longer than the straight moment of a turn whose curvature changes
// sign. A pass begins outside its zone. So where the bar is inside a zone already
// whose rows are not the ones followed last, the machine may be turning over it:
// then it must go straight for turnBars widths of the bar, longer than the straight
// of a turn that leaves out two passes. It ends when the heading is leaveRad beyond the tolerance, or the path
// has turned by turnedRad more than MinWorkRadiusM allows. All of it goes by the
// way: at rest nothing changes. Zones without a row bearing take part at any
// heading: they have no rows by which a turn could be told from a pass.

package sections

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

const (
	// turnBars: a turn to the pass k+1 bars away is straight for no more than
	// (k+1)·width less two radii.
	turnBars  = 3.0
	closedM   = 3.0
	leaveRad  = 2 * math.Pi / 180
	turnedRad = 3 * math.Pi / 180
	// followMps: slower, nothing changes.
	followMps = 0.05
)

// Follow is what there is to remember of the way for Gate.Follow. The zero
// value is before the first pose. It is plain numbers: a copy is a snapshot.
type Follow struct {
	Started bool
	Zones   field.Mask
	// Last are the zones with rows that the bar worked last; Inside are those
	// that it was already in when the turn onto their rows ended. StraightM is the
	// distance driven since.
	Last, Inside field.Mask
	StraightM    float64
	// Under are the zones that any part of the bar is in.
	Under field.Mask
	// RightRad and LeftRad are how much further the path has turned than
	// MinWorkRadiusM allows.
	RightRad, LeftRad float64
	// Of the tractor at the newest pose that it was not standing at.
	EastM, NorthM, HeadingRad float64
	ToolRad                   float64 // the heading that rows are compared with
	// Bend is MinWorkRadiusM over the radius of the path there.
	Bend float64
}

// Follow goes on along the way to pose p, at which the bar stands over what
// lies under it. Poses must come in order of time, near enough to each other
// that nothing begins and ends in between.
func (g *Gate) Follow(w *Follow, p *motion.Pose) {
	f := g.Machine.Frame(p)
	g.goOn(w, p, g.Under(&f))
}

// Foresee is Follow to a pose predicted from the newest one. The zones under
// the bar stay those that it was over when that prediction was made: where a
// turn closes is not foreseen.
func (g *Gate) Foresee(w *Follow, p *motion.Pose) { g.goOn(w, p, w.Under) }

func (g *Gate) goOn(w *Follow, p *motion.Pose, under field.Mask) {
	heading := p.HeadingRad
	if g.Machine.Mount == Trailed {
		heading = p.ToolHeadingRad
	}
	sin, cos := exact.Sincos(heading)
	aligned := g.Field.Participating(sin, cos, g.CosRowTolerance)
	unbound := g.Field.Unbound()
	if !w.Started {
		*w = Follow{Started: true, Zones: unbound, Under: under, EastM: p.EastM, NorthM: p.NorthM, HeadingRad: p.HeadingRad, ToolRad: heading}
		w.Bend = math.Abs(p.YawRateRadPerS) * g.MinWorkRadiusM / max(math.Abs(p.SpeedMps), followMps)
		if w.Bend <= 1 {
			w.Zones = aligned
		}
		w.Last = w.Zones & under &^ unbound
		return
	}
	if math.Abs(p.SpeedMps) < followMps {
		return
	}
	way := math.Copysign(exact.Hypot(p.EastM-w.EastM, p.NorthM-w.NorthM), p.SpeedMps)
	turn := p.HeadingRad - w.HeadingRad
	bend, from := w.Bend, w.ToolRad
	w.EastM, w.NorthM, w.HeadingRad, w.ToolRad = p.EastM, p.NorthM, p.HeadingRad, heading
	w.Under, w.Bend = under, math.Abs(p.YawRateRadPerS)*g.MinWorkRadiusM/math.Abs(p.SpeedMps)
	if g.MinWorkRadiusM > 0 {
		allowed := math.Abs(way) / g.MinWorkRadiusM
		w.RightRad = max(0, w.RightRad+turn-allowed)
		w.LeftRad = max(0, w.LeftRad-turn-allowed)
	}
	// What it follows goes on up to a little beyond.
	leaving := g.Field.Participating(sin, cos, g.cosLeave())
	w.Zones = w.Zones&leaving | unbound
	if max(w.RightRad, w.LeftRad) > turnedRad {
		w.Zones = unbound
	}
	if w.Bend > 1 || p.SpeedMps < 0 {
		aligned = 0
	}
	aligned &^= unbound
	if w.StraightM == 0 && aligned&^w.Zones != 0 {
		way *= 1 - max(g.alignedFrom(from, heading, aligned&^w.Zones), closedFrom(bend, w.Bend))
	}
	w.begin(g, aligned, under, way)
	if worked := w.Zones & under &^ unbound; worked != 0 {
		w.Last = worked
	}
}

// begin lets zones take part whose rows the machine is aligned to, since wayM
// at least.
func (w *Follow) begin(g *Gate, aligned, under field.Mask, wayM float64) {
	if aligned&^w.Zones == 0 {
		w.Inside, w.StraightM = 0, 0
		return
	}
	if w.StraightM == 0 {
		w.Inside = under
	}
	w.StraightM += max(wayM, 0)
	w.Inside &= under // what it has left it may begin anew
	wait := field.Mask(0)
	switch {
	case w.Last == 0: // there was no pass yet to turn from
	case w.StraightM < closedM:
		wait = ^field.Mask(0)
	case w.StraightM < turnBars*g.Machine.WidthM():
		wait = w.Inside &^ w.Last
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

// alignedFrom returns the part of a step, 0 to 1, from which on all zones of m
// were aligned, as they are at its end.
func (g *Gate) alignedFrom(fromRad, toRad float64, m field.Mask) float64 {
	aligned := func(u float64) bool {
		sin, cos := exact.Sincos(fromRad + float64(u*(toRad-fromRad)))
		return g.Field.Participating(sin, cos, g.CosRowTolerance)&m == m
	}
	if aligned(0) {
		return 0
	}
	lo, hi := 0.0, 1.0
	for range 12 {
		if u := (lo + hi) / 2; aligned(u) {
			hi = u
		} else {
			lo = u
		}
	}
	return hi
}

// cosLeave is the cosine of the angle to the rows at which a zone that takes
// part no longer does: cos(a + b) = cos a·cos b - sin a·sin b.
func (g *Gate) cosLeave() float64 {
	c := g.CosRowTolerance
	return float64(c*cosLeaveRad) - float64(math.Sqrt(max(0, 1-float64(c*c)))*sinLeaveRad)
}

var sinLeaveRad, cosLeaveRad = exact.Sincos(leaveRad)

// Under returns the zones that any part of the bar at f is in, as far as the
// ends of its sections tell.
func (g *Gate) Under(f *Frame) field.Mask {
	m := g.Field.At(f.EastM, f.NorthM)
	if g.Field.ClearanceM(f.EastM, f.NorthM) > g.Machine.ReachM() {
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
