// Passes along rows that bend: parallels of a row line, back and forth, or round after round
// along a line that closes.

package drive

import (
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
	// straightPerM is the curvature of what is a straight but for rounding.
	straightPerM = 1e-7
)

// rowsOf is a zone along its rows.
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
	r, last, lastM := l.rows, l.at(fromM), fromM
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

// workRoundsOf works a zone round after round along a line that closes, from the outside
// in. One round gives way to the next in the longest gap of the zone, where the tools are
// up; where there is none, gently, at work.
func (pl *planner) workRoundsOf(i int, r *rows) {
	z := &pl.f.Zones[i]
	list := pl.centres(z, r)
	if !z.Line.Clockwise() {
		slices.Reverse(list) // the last is the outermost
	}
	whole := z.Line.LengthM()
	begin := 0.0 // where there is no gap
	if pl.on != nil {
		at := pl.on.at(pl.on.lastM)
		begin = z.Line.Near(at.eastM, at.northM).StationM + gentleM
	}
	works := func(e, n float64) bool { return pl.f.Share(e, n, e, n, ^field.Mask(0)) > 0 }
	tight, cramped, crossed := 0, 0, 0
	rounds := 0
	for _, centre := range list {
		if pl.stopped() {
			return
		}
		v := centre - pl.bar.middleM()
		if z.Line.TightestM(v) < easyTimes*pl.s.MinRadiusM {
			tight++
			continue
		}
		l := &lane{zone: z, rows: r, dir: 1, v: v, pace: pl.pace.next()}
		// The gap is where no part of the bar has work.
		g := z.Line.Gap(centre, works)
		if g.ToM == g.FromM {
			g = rowline.Gap{FromM: begin, ToM: begin}
		}
		wide := g
		for _, side := range [2]float64{-pl.bar.widthM() / 2, pl.bar.widthM() / 2} {
			if x := z.Line.Gap(centre+float64(side), works); x.ToM > x.FromM && x.FromM < g.ToM && x.ToM > g.FromM {
				wide = rowline.Gap{FromM: min(wide.FromM, x.FromM), ToM: max(wide.ToM, x.ToM)}
				g = rowline.Gap{FromM: max(g.FromM, x.FromM), ToM: min(g.ToM, x.ToM)}
			}
		}
		front, back := l.stationsOf(pl.bar.frontM, 0), l.stationsOf(pl.bar.backM, 0)
		l.enterM, l.insideM = g.ToM-front, wide.ToM-back
		l.leaveM, l.leftM = wide.FromM+whole-front, g.FromM+whole-back
		l.firstM, l.lastM = min(l.enterM, g.ToM), max(l.leftM, g.FromM+whole)
		pl.out.Passes = append(pl.out.Passes, Pass{Zone: i, From: point(l.at(l.enterM)), To: point(l.at(l.leftM))})
		if rounds++; rounds == 1 {
			pl.drive(l)
			continue
		}
		last := pl.on
		aside := v - last.v
		fromM, toM := last.lastM+last.stationsOf(straightAfterM, 0), l.firstM+whole-l.stationsOf(pl.s.StraightBeforeM, 0)
		least := l.stationsOf(math.Sqrt(swayTimes*math.Abs(aside)*easyTimes*pl.s.MinRadiusM), 0)
		capMps := pl.s.TurnMps
		switch {
		case g.ToM == g.FromM:
			crossed++
			half := float64(l.stationsOf(max(gentleM, gentleBars*math.Abs(aside)), 0) / 2)
			fromM, toM, capMps = begin+whole-half, begin+whole+half, pl.s.WorkMps
		case toM-fromM < least:
			cramped++
			fromM = float64((fromM+toM)/2) - float64(least/2)
			toM = fromM + least
		case toM-fromM > 1.5*least:
			toM = fromM + float64(1.5*least) // and straight on the new round from there
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
		v := v0 + float64((v1-v0)*x2*x*(10-float64(x*(15-float64(6*x)))))
		slope := (v1 - v0) * 30 * x2 * (1 - x) * (1 - x) / (toM - fromM)
		e, n, sin, cos, perM := l.rows.line.At(fromM+float64(x*(toM-fromM)), v)
		return place{e, n, exact.Atan2(sin, cos) + exact.Atan2(slope, 1-float64(v*perM))}
	}
	n := math.Ceil(toM - fromM) // a metre each
	for k, last := 1.0, at(0); k <= n; k++ {
		next := at(k / n)
		p, last = append(p, bow(last, next, capMps)), next
	}
	return p
}
