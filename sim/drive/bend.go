// Passes along rows that bend: parallels of a row line, back and forth, or round after round
// along a line that closes.

package drive

import (
	"fmt"
	"math"
	"slices"

	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/field/rowline"
)

const (
	// bendStepM is how far apart places on a row that bends are driven through, at
	// least; between them the path is a clothoid.
	bendStepM = 2.0
	// borderStepM is how densely borders are seen along a row line.
	borderStepM = 1.0
	// onRowRad is how far from the rows a pass still lies on them.
	onRowRad = 0.01
	// A round gives way to the next over gentleBars bars and gentleM at least, where there
	// is no gap to do it in: 14° off the rows at most.
	gentleBars, gentleM = 8.0, 40.0
	// swayTimes is the sharpest curvature of a smooth step to the side, times its
	// length squared over its height: of 10x³ - 15x⁴ + 6x⁵ it is 10/√3.
	swayTimes = 5.7735
	// easyTimes the tightest radius is that of such a step.
	easyTimes = 1.25
)

// rowsOf returns a zone seen along its rows.
func rowsOf(z *field.Zone) *rows {
	if z.Line == nil {
		return newRows(z.Polygons, zoneBearing(z))
	}
	r := &rows{bearingRad: z.RowBearingRad, line: z.Line}
	z.Line.Path(func(_, _, s float64) { r.stations = append(r.stations, s) })
	var edges []edge
	for _, polygon := range z.Polygons {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				n := math.Ceil(exact.Hypot(b[0]-a[0], b[1]-a[1]) / borderStepM)
				u0, v0 := r.uv(a[0], a[1])
				for k := 1.0; k <= n; k++ {
					u1, v1 := r.uv(a[0]+float64((b[0]-a[0])*k/n), a[1]+float64((b[1]-a[1])*k/n))
					if math.Abs(u1-u0) > 20*borderStepM && !z.Line.Closed() {
						r.torn = true
					}
					if v0 <= v1 {
						edges = append(edges, edge{u0, v0, u1, v1})
					} else {
						edges = append(edges, edge{u1, v1, u0, v0})
					}
					u0, v0 = u1, v1
				}
			}
		}
	}
	r.index(edges)
	return r
}

// alongLine drives a lane whose rows bend from one station to another.
func (l *lane) alongLine(p path, fromM, toM, capMps float64) path {
	r := l.rows
	last := l.at(fromM)
	lastM := fromM
	to := func(stationM float64) {
		at := l.at(stationM)
		p = append(p, bow(last, at, capMps))
		last, lastM = at, stationM
	}
	whole := 0.0
	if r.line.Closed() {
		whole = r.line.LengthM()
	}
	for turn := 0.0; ; turn++ {
		base := float64(turn * whole)
		n := len(r.stations)
		for i := range n {
			s := base + r.stations[i]
			if l.dir < 0 {
				s = -r.stations[n-1-i]
			}
			end := whole == 0 && (i == 0 || i == n-1) // there it begins and ends to bend
			if s > lastM+bendStepM && s < toM-bendStepM || end && s > lastM+lengthTolM && s < toM-lengthTolM {
				to(s)
			}
		}
		if whole == 0 || base+whole >= toM {
			break
		}
	}
	if toM > lastM+lengthTolM {
		to(toM)
	}
	return p
}

// stationsOf is how far stations are apart that lie m metres apart along the lane, about one
// of them.
func (l *lane) stationsOf(m, stationM float64) float64 {
	if l.rows.line == nil {
		return m
	}
	_, _, _, _, perM := l.rows.line.At(l.dir*stationM, 0)
	return m / max(1-float64(l.v*perM), 0.1)
}

// bow is the clothoid from one place to another, G1 as Bertolazzi and Frego 2015 (Math. Methods
// Appl. Sci. 38(5):881-897, from memory) have it: with the ends φ₀ and φ₁ off the chord, the
// heading along it, u from 0 to 1, is φ₀ + (φ₁ - φ₀ - A)u + A·u², with A such that it ends on
// the chord. Newton's method begins at A = 3(φ₀ + φ₁).
func bow(a, b place, capMps float64) leg {
	chordM, bearing := toward(a, b)
	p0, p1 := math.Remainder(a.headingRad-bearing, 2*math.Pi), math.Remainder(b.headingRad-bearing, 2*math.Pi)
	shape := func(x float64) leg {
		return leg{start: place{headingRad: p0}, lengthM: 1, k0: p1 - p0 - x, k1: p1 - p0 + x}
	}
	x := 3 * (p0 + p1)
	for range 8 {
		const d = 1e-4
		at, beside := shape(x), shape(x+d)
		off := at.end().eastM
		slope := (beside.end().eastM - off) / d
		if math.Abs(off) < 1e-14 || slope == 0 {
			break
		}
		x -= off / slope
	}
	s := shape(x)
	lengthM := chordM / s.end().northM
	l := leg{start: a, lengthM: lengthM, k0: s.k0 / lengthM, k1: s.k1 / lengthM, capMps: capMps}
	if math.Abs(l.k0) < straightPerM && math.Abs(l.k1) < straightPerM {
		l.k0, l.k1 = 0, 0
	}
	return l
}

// straightPerM is the curvature of what is a straight but for rounding.
const straightPerM = 1e-7

// bent returns the curvature of the row on which a place lies, 1/m, positive to the right; 0 where
// it lies on none that bends.
func (pl *planner) bent(p place) float64 {
	for _, r := range pl.bodies {
		if r.line == nil {
			continue
		}
		f := r.line.Near(p.eastM, p.northM)
		off := p.headingRad - exact.Atan2(f.Sin, f.Cos)
		if math.Abs(math.Remainder(off, math.Pi)) < onRowRad {
			return math.Copysign(f.CurvaturePerM, f.CurvaturePerM*exact.Cos(off))
		}
	}
	return 0
}

// arc is a piece of path of one curvature that begins, or where lengthM is negative ends, at a place.
func arc(p place, perM, lengthM float64) leg {
	l := leg{start: p, lengthM: math.Abs(lengthM), k0: perM, k1: perM}
	if lengthM < 0 {
		l.start, _ = l.at(lengthM)
	}
	return l
}

// gap is where along a line that closes a round has nothing to work, the longest such
// place; of none, or of all, both are 0.
type gap struct{ fromM, toM float64 }

// gapOf looks around the line, v to its right.
func (pl *planner) gapOf(line *rowline.Line, v float64) gap {
	n := int(math.Ceil(line.LengthM()))
	step := line.LengthM() / float64(n)
	works := func(i int) bool {
		e, m, _, _, _ := line.At(float64(i)*step, v)
		return pl.f.Share(e, m, e, m, ^field.Mask(0)) > 0
	}
	var best gap
	since := -1
	for i := range 2 * n {
		switch on := works(i); {
		case on && since >= 0:
			if since > 0 && float64(i-since)*step > best.toM-best.fromM {
				best = gap{float64(since) * step, float64(i) * step}
			}
			since = -1
		case !on && since < 0:
			since = i
		}
	}
	return best
}

// workRoundsOf works a zone round after round along a line that closes, from the outside
// in. One round gives way to the next in the longest gap of the zone, where the tools are
// up; where there is none, gently, at work.
func (pl *planner) workRoundsOf(i int, r *rows) {
	z := &pl.f.Zones[i]
	list := pl.centres(z, r)
	if !z.Line.Clockwise() { // the last is the outermost
		slices.Reverse(list)
	}
	whole := z.Line.LengthM()
	begin := 0.0 // where there is no gap
	if pl.on != nil {
		at := pl.on.at(pl.on.lastM)
		begin = z.Line.Near(at.eastM, at.northM).StationM + gentleM
	}
	tight, cramped, crossed := 0, 0, 0
	rounds := 0
	for _, centre := range list {
		if pl.s.Stop != nil && pl.err == nil {
			pl.err = pl.s.Stop()
		}
		if pl.err != nil {
			return
		}
		v := centre - pl.bar.middleM()
		if z.Line.TightestM(v) < easyTimes*pl.s.MinRadiusM {
			tight++
			continue
		}
		l := &lane{zone: z, rows: r, dir: 1, v: v, pace: pl.pace.next()}
		// The gap is where no part of the bar has work.
		g := pl.gapOf(z.Line, centre)
		if g.toM == g.fromM {
			g = gap{begin, begin}
		}
		wide := g
		for _, side := range [2]float64{-pl.bar.widthM() / 2, pl.bar.widthM() / 2} {
			if x := pl.gapOf(z.Line, centre+float64(side)); x.toM > x.fromM && x.fromM < g.toM && x.toM > g.fromM {
				wide = gap{min(wide.fromM, x.fromM), max(wide.toM, x.toM)}
				g = gap{max(g.fromM, x.fromM), min(g.toM, x.toM)}
			}
		}
		front, back := l.stationsOf(pl.bar.frontM, 0), l.stationsOf(pl.bar.backM, 0)
		l.enterM, l.insideM = g.toM-front, wide.toM-back
		l.leaveM, l.leftM = wide.fromM+whole-front, g.fromM+whole-back
		l.firstM, l.lastM = min(l.enterM, g.toM), max(l.leftM, g.fromM+whole)
		pl.out.Passes = append(pl.out.Passes, Pass{Zone: i, From: point(l.at(l.enterM)), To: point(l.at(l.leftM))})
		if rounds++; rounds == 1 {
			pl.drive(l)
			continue
		}
		// The step to the side, on the line's stations of the round before.
		last := pl.on
		aside := v - last.v
		fromM, toM := last.lastM+last.stationsOf(straightAfterM, 0), l.firstM+whole-l.stationsOf(pl.s.StraightBeforeM, 0)
		least := l.stationsOf(math.Sqrt(swayTimes*math.Abs(aside)*easyTimes*pl.s.MinRadiusM), 0)
		capMps := pl.s.TurnMps
		switch {
		case g.toM == g.fromM:
			crossed++
			half := l.stationsOf(max(gentleM, gentleBars*math.Abs(aside)), 0) / 2
			fromM, toM, capMps = begin+whole-half, begin+whole+half, pl.s.WorkMps
		case toM-fromM < least:
			cramped++
			middle := (fromM + toM) / 2
			fromM, toM = middle-least/2, middle+least/2
		case toM-fromM > 1.5*least:
			toM = fromM + 1.5*least // and straight on the new round from there
		}
		pl.path = last.append(pl.path, pl.onFromM, fromM, &pl.s)
		pl.path = pl.sway(pl.path, l, last.v, v, fromM, toM, l.pace*capMps)
		pl.on, pl.onFromM = l, toM-whole
	}
	if tight > 0 {
		pl.warn("zone %q: %d rounds are left that are tighter than %.1f m; work the middle otherwise, or turn tighter", z.Name, tight, easyTimes*pl.s.MinRadiusM)
	}
	if cramped > 0 {
		pl.warn("zone %q: %d of %d steps from a round to the next do not fit in the gap and run over rows", z.Name, cramped, rounds-1)
	}
	if crossed > 0 {
		pl.warn("zone %q: %d steps from a round to the next cross rows at work, as the zone has no gap to step aside in", z.Name, crossed)
	}
}

// sway drives from one side of a line to another, v0 to v1 to its right, between two of its stations:
// v0 + (v1 - v0)·(10x³ - 15x⁴ + 6x⁵).
func (pl *planner) sway(p path, l *lane, v0, v1, fromM, toM, capMps float64) path {
	at := func(x float64) place {
		x2 := x * x
		v := v0 + float64((v1-v0)*x2*x*(10-float64(x*(15-6*x))))
		slope := (v1 - v0) * 30 * x2 * (1 - x) * (1 - x) / (toM - fromM)
		e, n, sin, cos, perM := l.rows.line.At(fromM+float64(x*(toM-fromM)), v)
		return place{e, n, exact.Atan2(sin, cos) + exact.Atan2(slope, 1-float64(v*perM))}
	}
	n := math.Ceil((toM - fromM) / bendStepM * 2)
	last := at(0)
	for k := 1.0; k <= n; k++ {
		next := at(k / n)
		p = append(p, bow(last, next, capMps))
		last = next
	}
	return p
}

// tornError is the error for a zone that its row line cannot order.
func tornError(z *field.Zone) error {
	return fmt.Errorf("zone %q reaches beyond the centre of a bend of its row line, where rows meet; expected a line that bends less, or the zone divided", z.Name)
}
