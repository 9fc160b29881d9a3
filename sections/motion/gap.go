// Over a gap: whether a tractor went on or turned back, from the easiest way of each
// kind that leads from the motion before to the motion after.

package motion

import (
	"math"

	"liftbench/sections/exact"
)

// A way over a gap is two or three arcs, each driven forward or back. Seven numbers
// make it: curvature (1/m, to the right) and length (m) of each, and what the heading
// before is off. How hard a way is to believe is a sum of squares, in standard
// deviations, as if what drivers do were normally distributed. All of them from
// memory and common practice, no source; drawn tracks with gaps confirm them.
const (
	gapS         = 2.5  // a longer step is a gap
	longestGapS  = 20.0 // after a longer one nothing from before is asked
	placeSigmaM  = 0.3  // what a few arcs leave of a real way
	courseSigma  = 0.15 // rad, of the direction of motion after it
	steerSigma   = 0.12 // 1/m
	lessWay      = 0.35 // of the way at the mean of both speeds: it may have stopped in between
	easyMps2     = 1.0  // speed is mostly changed by less
	brakeMps2    = 1.5  // and to turn back by no more
	creepMps     = 1.2  // and driven so at least, with cuspS for each change of direction
	cuspS        = 0.5
	turnBackCost = 2.0 // to turn back, or to stop on the way
	reverseCost  = 3.0 // to go on in reverse
	reverseMps   = 1.5 // usual in reverse, at most
	reverseSigma = 0.4 // m/s
	certainMps   = 2.5 // an easy way that ends faster is believed without looking at others
	easy         = 0.5
	// Where another way is harder by less than sureBy, the decision is in doubt on the next
	// doubtM: who seems to reverse doubtfulM on them goes forward.
	sureBy    = 10.0
	doubtM    = 40.0
	doubtfulM = 10.0
	roundCost = 6.0 // who is in doubt before the next gap was the other way round

	// A place between two gaps, of which nothing else is told, was passed straight on where
	// the way from before to it, or from it to after, is as long as straightOn of that at
	// the speed told, and a turn on it is less than straightRad either way.
	straightOn  = 0.85
	straightRad = 0.35
	passedSigma = 0.3 // rad, of the heading there
	toldMps     = 0.1 // slower, a receiver does not tell where to
	toldSigma   = 0.3 // rad, of a direction told at less than startSpeedMps

	longestArcs = 3
	aheadRad    = 2 * longestArcs // after a curvature and a length for each arc
	wayNumbers  = aheadRad + 1
	timeErrorAt = 4 + 3*longestArcs
	standAt     = timeErrorAt + 2
	wayErrors   = standAt + 3
)

// pattern is the directions of a way's arcs: 1 forward, -1 back, 0 where there is none.
type pattern [longestArcs]float64

// Before is the motion before a gap.
type Before struct {
	TimeNs          int64   // 0: nothing is known
	EastM, NorthM   float64 // of the axle
	HeadingRad      float64
	HeadingSigmaRad float64
	SpeedMps        float64 // negative in reverse
	PerM            float64 // curvature, 1/m
	InDoubt         bool    // it may have been the other way round
	Passed          Place   // where the antenna was since then, and nothing else was told
	Stand           Stand   // where it stood, or nearly, since then
}

// Place is where the antenna was at an instant; if that is 0, nowhere.
type Place struct {
	TimeNs        int64
	EastM, NorthM float64
}

// Stand is where the tractor was coming to stand, or about to start.
type Stand struct {
	Place
	CourseRad float64 // of the antenna there, if it was Told
	Told      bool
	Rested    bool // later it stood: it came there with this course, and did not start with it
}

// now is the motion at the newest fix.
func (k *Estimator) now() Before {
	b := Before{
		TimeNs: k.State.TimeNs, EastM: k.X[east], NorthM: k.X[north],
		HeadingRad: k.X[theta], HeadingSigmaRad: max(0.1, min(math.Sqrt(k.P[theta][theta]), 1)),
		SpeedMps: k.X[speed], PerM: k.State.Still.PerM, InDoubt: k.State.DoubtM > 0,
	}
	if k.State.ReverseM > againM { // there it is known less well
		b.HeadingSigmaRad = max(0.5, b.HeadingSigmaRad)
	}
	return b
}

// passes notes a place where the antenna was after the motion was last known, if nothing
// else is told of it. Where the tractor came there straight on, its motion is known.
func (b *Before) passes(antenna Antenna, at Place) (known bool) {
	dt := float64(at.TimeNs-b.TimeNs) * 1e-9
	g := b.gapTo(antenna, at.EastM, at.NorthM, math.NaN(), 0, dt)
	chordM := exact.Hypot(g.eastM, g.northM)
	armM := math.Abs(antenna.XM) + math.Abs(antenna.YM)
	g.afterMps = chordM / dt
	b.Passed = at
	if b.InDoubt || !(b.SpeedMps >= creepMps) || chordM < float64(straightOn*b.SpeedMps*dt)-armM {
		return false
	}
	x, cost := g.easiestWay(pattern{1, 1})
	turn := float64(x[0]*x[1]) + float64(x[2]*x[3])
	if cost > 1 || math.Abs(turn) > 2*straightRad {
		return false
	}
	heading := b.HeadingRad + x[aheadRad] + turn
	sin, cos := exact.Sincos(heading)
	*b = Before{
		TimeNs: at.TimeNs, EastM: at.EastM - float64(antenna.XM*sin) - float64(antenna.YM*cos), NorthM: at.NorthM - float64(antenna.XM*cos) + float64(antenna.YM*sin),
		HeadingRad: heading, HeadingSigmaRad: passedSigma, SpeedMps: (x[1] + x[3]) / dt, PerM: x[2],
	}
	return true
}

// gapTo is the gap from before to an antenna's position, and its motion there.
func (b *Before) gapTo(antenna Antenna, eastM, northM, courseRad, mps, dt float64) gap {
	return gap{
		antenna: antenna, eastM: eastM - b.EastM, northM: northM - b.NorthM, headingRad: b.HeadingRad, headingSigmaRad: b.HeadingSigmaRad,
		mps: b.SpeedMps, perM: b.PerM, inDoubt: b.InDoubt, courseRad: courseRad, afterMps: mps, dt: dt,
	}
}

// gap is what is known of a motion before and after.
type gap struct {
	antenna         Antenna
	eastM, northM   float64 // from the axle before to the antenna after
	headingRad      float64 // before
	headingSigmaRad float64
	mps             float64 // before, negative in reverse
	perM            float64 // curvature before
	courseRad       float64 // of the antenna, after
	afterMps        float64 // of the antenna, without sign
	inDoubt         bool    // it may have been the other way round before
	dt              float64 // s; until it was seen to stand, if it was
	stood           bool
	standE, standN  float64 // from the axle before to the antenna where it stood
	standCourse     float64 // of the antenna, as it came to stand; NaN: not told
}

// gapAfter is the gap from before to now, where the antenna moves with a course and a
// speed, as far as it tells forward from reverse: to where it stood, and on; or to a
// place that was passed, if it came from there straight on.
func (b *Before) gapAfter(antenna Antenna, now Place, courseRad, mps float64) gap {
	g := b.gapTo(antenna, now.EastM, now.NorthM, courseRad, mps, float64(now.TimeNs-b.TimeNs)*1e-9)
	if s := &b.Stand; s.TimeNs != 0 {
		g.dt = float64(s.TimeNs-b.TimeNs) * 1e-9
		g.stood, g.standE, g.standN, g.standCourse = true, s.EastM-b.EastM, s.NorthM-b.NorthM, math.NaN()
		if s.Told && s.Rested {
			g.standCourse = s.CourseRad
		}
		return g
	}
	if p := &b.Passed; p.TimeNs != 0 {
		dt := float64(now.TimeNs-p.TimeNs) * 1e-9
		de, dn := now.EastM-p.EastM, now.NorthM-p.NorthM
		chordM, half := exact.Hypot(de, dn), Wrap(courseRad-exact.Atan2(de, dn))
		if chordM >= straightOn*mps*dt && math.Abs(half) <= straightRad {
			return b.gapTo(antenna, p.EastM, p.NorthM, courseRad-2*half, chordM/dt, float64(p.TimeNs-b.TimeNs)*1e-9)
		}
	}
	return g
}

// backward reports whether the tractor goes backward after the gap, and how much
// harder the other is to believe.
func (g *gap) backward() (back bool, by float64) {
	forward, reverse := g.either()
	if g.inDoubt {
		m := g.otherWayRound()
		f, r := m.either()
		forward, reverse = min(forward, f+roundCost), min(reverse, r+roundCost)
	}
	return reverse < forward, math.Abs(reverse - forward)
}

// otherWayRound is the same gap of a tractor that headed, and went, the other way round
// before, as the antenna cannot tell where it is near the axle.
func (g *gap) otherWayRound() gap {
	m := *g
	sin, cos := exact.Sincos(g.headingRad)
	// The axle is as far from the antenna on the other side.
	e, n := 2*(float64(g.antenna.XM*sin)+float64(g.antenna.YM*cos)), 2*(float64(g.antenna.XM*cos)-float64(g.antenna.YM*sin))
	m.eastM, m.northM, m.standE, m.standN = g.eastM-e, g.northM-n, g.standE-e, g.standN-n
	m.headingRad, m.mps, m.perM = g.headingRad+math.Pi, -g.mps, -g.perM
	return m
}

// either is how hard it is to believe that the tractor goes forward after the gap, and
// that it goes backward.
func (g *gap) either() (forward, reverse float64) {
	forward, reverse = math.Inf(1), math.Inf(1)
	slow := math.Abs(g.mps) < regainMps
	if g.mps >= 0 && (g.afterMps >= certainMps || g.cameFar()) && g.hardness(pattern{1, 1}) <= easy {
		return 0, sureBy
	}
	on, backOn, turnedBack := pattern{1, 1}, pattern{1, -1, 1}, pattern{1, -1}
	if g.stood { // two arcs to the stand, and one from it
		on, turnedBack = pattern{1, 1, 1}, pattern{1, 1, -1}
	}
	if g.mps >= 0 || slow {
		forward = min(forward, g.hardness(on), g.hardness(backOn))
		reverse = min(reverse, g.hardness(turnedBack))
	}
	if g.mps < 0 || slow {
		forward = min(forward, g.hardness(turnedBack.reversed()))
		reverse = min(reverse, g.hardness(on.reversed()))
	}
	e := max(0, g.afterMps-reverseMps) / reverseSigma
	return forward, reverse + float64(e*e) + reverseCost
}

// cameFar reports whether the tractor came nearly as far, as the crow flies, as it can
// have come without turning back. Most gaps are of this kind, and need no more looking at.
func (g *gap) cameFar() bool {
	armM := math.Abs(g.antenna.XM) + math.Abs(g.antenna.YM)
	return exact.Hypot(g.eastM, g.northM) > float64(0.45*(math.Abs(g.mps)+g.afterMps)*g.dt)+armM && g.mps >= creepMps
}

// hardness is that of the easiest way of a pattern.
func (g *gap) hardness(p pattern) float64 {
	_, cusps := p.count()
	cost := turnBackCost * float64(cusps)
	if g.stood && cusps > 0 {
		cost -= turnBackCost // it stood to turn back
	} else if g.stood {
		cost = turnBackCost
	}
	_, least := g.easiestWay(p)
	return least + cost
}

// easiestWay finds the easiest way of a pattern, and how hard it is.
func (g *gap) easiestWay(p pattern) (easiest [wayNumbers]float64, least float64) {
	arcs, _ := p.count()
	// Downhill from ways that turn to either side, or not; those that turn back come as
	// far as they have to, or some metres farther.
	seen, u, chordM, onM := arcs, g.afterMps, exact.Hypot(g.eastM, g.northM), 0.0
	if g.stood {
		seen, u, chordM, onM = arcs-1, 0, exact.Hypot(g.standE, g.standN), exact.Hypot(g.eastM-g.standE, g.northM-g.standN)
	}
	farther := 0 // arcs before it turns back on the way seen
	for i := 1; i < seen; i++ {
		if p[i] != p[i-1] {
			farther = i
		}
	}
	lengths := [...]float64{1, 5}
	if farther == 0 {
		lengths = [...]float64{max((math.Abs(g.mps)+u)*g.dt/2, 1) / float64(seen), chordM / float64(seen)}
	}
	turns := [...]float64{0, -1.2, 1.2}
	least = math.Inf(1)
	for _, m := range lengths {
		for _, first := range turns {
			for _, then := range turns {
				var x [wayNumbers]float64
				for i := range arcs {
					x[2*i], x[2*i+1] = then/max(m, 3), m
				}
				if farther > 0 {
					x[2*farther-1] += chordM
				}
				if g.stood {
					x[2*arcs-1] = onM
				}
				x[0] = first / max(x[1], 3)
				if cost := g.downhill(&x, &p); cost < least {
					easiest, least = x, cost
				}
				if least <= easy {
					return easiest, least
				}
			}
		}
	}
	return easiest, least
}

// reversed is the pattern driven the other way.
func (p pattern) reversed() pattern {
	for i := range p {
		p[i] = -p[i]
	}
	return p
}

// count returns how many arcs a way has, and how often it turns back.
func (p *pattern) count() (arcs, cusps int) {
	for i := range p {
		if p[i] != 0 {
			arcs++
		}
		if i > 0 && p[i]*p[i-1] < 0 {
			cusps++
		}
	}
	return arcs, cusps
}

// downhill goes downhill from x, by Levenberg and Marquardt's method.
func (g *gap) downhill(x *[wayNumbers]float64, p *pattern) float64 {
	// The slopes are those of a secant to either side: a shorter one would turn the last bits
	// of the positions into more than a nanometre.
	const steps, nudge = 12, 3e-3
	var r, back, moved [wayErrors]float64
	var slope [wayErrors][wayNumbers]float64
	at := g.errors(x, p, &r)
	damp := 1e-2
	for range steps {
		for j := range x {
			y := *x
			y[j] = x[j] + nudge
			g.errors(&y, p, &moved)
			y[j] = x[j] - nudge
			g.errors(&y, p, &back)
			for i := range r {
				slope[i][j] = (moved[i] - back[i]) / (2 * nudge)
			}
		}
		var a [wayNumbers][wayNumbers + 1]float64
		for i := range r {
			for j := range x {
				for l := range x {
					a[j][l] += float64(slope[i][j] * slope[i][l])
				}
				a[j][wayNumbers] -= float64(slope[i][j] * r[i])
			}
		}
		for j := range x {
			a[j][j] += float64(damp*a[j][j]) + 1e-9
		}
		eliminate(&a)
		y := *x
		for j := range y {
			y[j] += a[j][wayNumbers]
		}
		if to := g.errors(&y, p, &moved); to < at {
			*x, r, at, damp = y, moved, to, damp/4
		} else {
			damp *= 8
		}
	}
	return at
}

// eliminate leaves the solution of a positive definite system in its last column.
func eliminate(a *[wayNumbers][wayNumbers + 1]float64) {
	for j := range a {
		inv := 1 / a[j][j]
		for l := j; l <= wayNumbers; l++ {
			a[j][l] *= inv
		}
		for i := range a {
			if i == j {
				continue
			}
			f := a[i][j]
			for l := j; l <= wayNumbers; l++ {
				a[i][l] -= float64(f * a[j][l])
			}
		}
	}
}

// errors says in r what speaks against a way, each in standard deviations, and
// returns the sum of the squares.
func (g *gap) errors(x *[wayNumbers]float64, p *pattern, r *[wayErrors]float64) float64 {
	*r = [wayErrors]float64{}
	arcs, _ := p.count()
	h := g.headingRad + x[aheadRad]
	var e, n float64
	for i, sign := range p[:arcs] {
		if g.stood && i == arcs-1 {
			g.standErrors(e, n, h, float64(x[2*i-2]), p[i-1], r[standAt:])
		}
		bend, lengthM := x[2*i], x[2*i+1]
		half := float64(bend * sign * lengthM / 2)
		sin, cos := exact.Sincos(h + half)
		chord := float64(sign * lengthM * sinc(half))
		e, n, h = e+float64(chord*sin), n+float64(chord*cos), h+float64(2*half)
		if i == 0 {
			r[4] = -g.perM / steerSigma
		}
		r[4+3*i] += bend / steerSigma
		r[5+3*i] = max(0, math.Abs(bend)-1/tightestTurnRadiusM) * 50
		r[6+3*i] = float64(min(0, lengthM) * 10)
		if sign < 0 {
			r[6+3*i] += max(0, lengthM-doubtfulM) / 3
		}
	}
	e, n, h = g.antenna.moves(e, n, h, x[2*arcs-2], p[arcs-1])
	r[0], r[1] = (e-g.eastM)/placeSigmaM, (n-g.northM)/placeSigmaM
	if !math.IsNaN(g.courseRad) {
		r[2] = Wrap(h-g.courseRad) / courseSigma
	}
	r[3] = x[aheadRad] / g.headingSigmaRad
	g.timeErrors(x, p, arcs, r[timeErrorAt:])
	sum := 0.0
	for _, v := range r {
		sum += float64(v * v)
	}
	return sum
}

// moves returns where the antenna of a tractor is, and its course, where the tractor goes
// on an arc, forward or back. The antenna moves (v - ω·y, ω·x) = v·(1 - κ·y, κ·x).
func (a Antenna) moves(eastM, northM, headingRad, perM, sign float64) (e, n, courseRad float64) {
	sin, cos := exact.Sincos(headingRad)
	e = eastM + float64(a.XM*sin) + float64(a.YM*cos)
	n = northM + float64(a.XM*cos) - float64(a.YM*sin)
	return e, n, headingRad + exact.Atan2(sign*perM*a.XM, sign*(1-float64(perM*a.YM)))
}

// standErrors says in r what speaks against a way that comes to stand so.
func (g *gap) standErrors(e, n, h, perM, sign float64, r []float64) {
	e, n, h = g.antenna.moves(e, n, h, perM, sign)
	r[0], r[1] = (e-g.standE)/placeSigmaM, (n-g.standN)/placeSigmaM
	if !math.IsNaN(g.standCourse) {
		r[2] = Wrap(h-g.standCourse) / toldSigma
	}
}

// timeErrors says in r what speaks against the lengths of a way's arcs in the time
// that there was.
func (g *gap) timeErrors(x *[wayNumbers]float64, p *pattern, arcs int, r []float64) {
	v, u, dt := math.Abs(g.mps), g.afterMps, g.dt
	if g.stood { // the last arc came after dt
		u = 0
		arcs--
	}
	firstM, lastM, tookS := 0.0, 0.0, 0.0 // until it first turns back, and since it last did
	for i := range arcs {
		lengthM := x[2*i+1]
		if i > 0 && p[i] != p[i-1] {
			lastM = 0
			tookS += cuspS
		}
		lastM += lengthM
		if tookS == 0 {
			firstM += lengthM
			continue
		}
		tookS += lengthM / creepMps
	}
	if tookS == 0 && !g.stood {
		meanM := float64((v + u) * dt / 2)
		offM := firstM - meanM
		if less := offM / (float64(lessWay*meanM) + 0.3); less < 0 {
			r[0] = less / math.Sqrt(1+float64(less*less)) // it may have stood as long as you like
			return
		}
		// It may have been faster in between, as far as it can gather speed and brake.
		peak := min(float64((v+u)/2)+float64(easyMps2*dt/2), max(v, u)+0.5)
		mostM := float64(peak*dt) - float64((float64((peak-v)*(peak-v))+float64((peak-u)*(peak-u)))/(2*easyMps2))
		r[0] = offM / (float64(max(0, mostM-meanM)/2) + 0.3)
		return
	}
	// It needs some way to brake and to start again, and time for all of it.
	tookS += firstM/max(v, creepMps) + (v+u)/(2*brakeMps2)
	r[0] = (max(0, float64(v*v/(2*brakeMps2))-firstM) + max(0, float64(u*u/(2*brakeMps2))-lastM)) / 0.3
	r[1] = max(0, tookS-dt) / (float64(0.1*dt) + 0.3)
}

// doubt says whether the tractor goes backward after a gap, and notes how sure that is.
func (k *Estimator) doubt(g *gap) bool {
	back, by := g.backward()
	if by < sureBy {
		k.State.DoubtM, k.State.DoubtBack = doubtM, back
	}
	return back
}
