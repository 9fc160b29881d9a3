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

	longestArcs = 3
	aheadRad    = 2 * longestArcs // after a curvature and a length for each arc
	wayNumbers  = aheadRad + 1
	wayErrors   = 4 + 3*longestArcs + 3
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
	Stood           bool    // it stood, or nearly, at the first fix after the gap
}

// now is the motion at the newest fix.
func (k *Estimator) now() Before {
	b := Before{
		TimeNs: k.State.TimeNs, EastM: k.X[east], NorthM: k.X[north],
		HeadingRad: k.X[theta], HeadingSigmaRad: max(0.1, min(math.Sqrt(k.P[theta][theta]), 1)),
		SpeedMps: k.X[speed], PerM: k.State.Still.PerM,
	}
	if k.State.ReverseM > againM { // there it is known less well
		b.HeadingSigmaRad = max(0.5, b.HeadingSigmaRad)
	}
	return b
}

// gapFrom is the gap to an antenna's position, and its motion there.
func (k *Estimator) gapFrom(b *Before, eastM, northM, courseRad, mps, dt float64) gap {
	return gap{
		antenna: k.Antenna, eastM: eastM - b.EastM, northM: northM - b.NorthM, headingRad: b.HeadingRad, headingSigmaRad: b.HeadingSigmaRad,
		mps: b.SpeedMps, perM: b.PerM, courseRad: courseRad, afterMps: mps, dt: dt,
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
	dt              float64 // s; until it was seen to stand, if it was
	stoodM          float64 // how far it has come from where it was seen to stand; 0: it was not
}

// backward reports whether the tractor goes backward after the gap, and how much
// harder the other is to believe.
func (g *gap) backward() (back bool, by float64) {
	forward, reverse := math.Inf(1), math.Inf(1)
	slow := math.Abs(g.mps) < regainMps
	if g.mps >= 0 && (g.afterMps >= certainMps || g.cameFar()) && g.hardness(pattern{1, 1}) <= easy {
		return false, sureBy
	}
	if g.mps >= 0 || slow {
		forward = min(forward, g.hardness(pattern{1, 1}), g.hardness(pattern{1, -1, 1}))
		reverse = min(reverse, g.hardness(pattern{1, -1}))
	}
	if g.mps < 0 || slow {
		forward = min(forward, g.hardness(pattern{-1, 1}))
		reverse = min(reverse, g.hardness(pattern{-1, -1}))
	}
	e := max(0, g.afterMps-reverseMps) / reverseSigma
	reverse += float64(e*e) + reverseCost
	return reverse < forward, math.Abs(reverse - forward)
}

// cameFar reports whether the tractor came nearly as far, as the crow flies, as it can
// have come without turning back. Most gaps are of this kind, and need no more looking at.
func (g *gap) cameFar() bool {
	armM := math.Abs(g.antenna.XM) + math.Abs(g.antenna.YM)
	return exact.Hypot(g.eastM, g.northM) > float64(0.45*(math.Abs(g.mps)+g.afterMps)*g.dt)+armM && g.mps >= creepMps
}

// hardness is that of the easiest way of a pattern.
func (g *gap) hardness(p pattern) float64 {
	arcs, cusps := p.count()
	cost := turnBackCost * float64(cusps)
	if g.stoodM > 0 && cusps > 0 {
		cost -= turnBackCost // it stood to turn back
	} else if g.stoodM > 0 {
		cost = turnBackCost
	}
	// Downhill from ways that turn to either side, or not; those that turn back come as
	// far as they have to, or some metres farther.
	chordM := exact.Hypot(g.eastM, g.northM)
	lengths := [...]float64{1, 5}
	if cusps == 0 {
		lengths = [...]float64{max((math.Abs(g.mps)+g.afterMps)*g.dt/2, 1) / 2, chordM / 2}
	}
	turns := [...]float64{0, -1.2, 1.2}
	least := math.Inf(1)
	for _, m := range lengths {
		for _, first := range turns {
			for _, then := range turns {
				var x [wayNumbers]float64
				for i := range arcs {
					x[2*i], x[2*i+1] = then/max(m, 3), m
				}
				if cusps > 0 {
					x[2*cusps-1] += chordM
				}
				x[0] = first / max(x[1], 3)
				if least = min(least, g.easiest(&x, &p)); least <= easy {
					return least + cost
				}
			}
		}
	}
	return least + cost
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

// easiest goes downhill from x, by Levenberg and Marquardt's method.
func (g *gap) easiest(x *[wayNumbers]float64, p *pattern) float64 {
	const steps, nudge = 12, 1e-5
	var r, moved [wayErrors]float64
	var slope [wayErrors][wayNumbers]float64
	at := g.errors(x, p, &r)
	damp := 1e-2
	for range steps {
		for j := range x {
			y := *x
			y[j] += nudge
			g.errors(&y, p, &moved)
			for i := range r {
				slope[i][j] = (moved[i] - r[i]) / nudge
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
	arcs, cusps := p.count()
	h := g.headingRad + x[aheadRad]
	var e, n float64
	for i, sign := range p[:arcs] {
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
	sin, cos := exact.Sincos(h)
	e += float64(g.antenna.XM*sin) + float64(g.antenna.YM*cos)
	n += float64(g.antenna.XM*cos) - float64(g.antenna.YM*sin)
	// The antenna moves (v - ω·y, ω·x) = v·(1 - κ·y, κ·x).
	last, after := x[2*arcs-2], p[arcs-1]
	course := h + exact.Atan2(after*last*g.antenna.XM, after*(1-float64(last*g.antenna.YM)))
	r[0], r[1] = (e-g.eastM)/placeSigmaM, (n-g.northM)/placeSigmaM
	r[2] = Wrap(course-g.courseRad) / courseSigma
	r[3] = x[aheadRad] / g.headingSigmaRad
	g.timeErrors(x, arcs, cusps, r[wayErrors-3:])
	sum := 0.0
	for _, v := range r {
		sum += float64(v * v)
	}
	return sum
}

// timeErrors says in r what speaks against the lengths of a way's arcs in the time
// that there was.
func (g *gap) timeErrors(x *[wayNumbers]float64, arcs, cusps int, r []float64) {
	v, u, dt := math.Abs(g.mps), g.afterMps, g.dt
	if g.stoodM > 0 {
		u = 0
	}
	if cusps == 0 {
		meanM := float64((v + u) * dt / 2)
		offM := max(0, x[1]) + max(0, x[3]) - meanM
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
	shortM := max(0, float64(v*v/(2*brakeMps2))-x[1]) + max(0, float64(u*u/(2*brakeMps2))-x[2*cusps+1])
	tookS := x[1]/max(v, creepMps) + (v+u)/(2*brakeMps2)
	for i := 1; i < arcs; i++ {
		if i < arcs-1 || g.stoodM == 0 { // else the last arc came after dt
			tookS += x[2*i+1]/creepMps + cuspS
		}
	}
	r[0] = shortM / 0.3
	r[1] = max(0, tookS-dt) / (float64(0.1*dt) + 0.3)
	if g.stoodM > 0 {
		r[2] = x[2*arcs-1] - g.stoodM
	}
}

// doubt says whether the tractor goes backward after a gap, and notes how sure that is.
func (k *Estimator) doubt(g *gap) bool {
	back, by := g.backward()
	if by < sureBy {
		k.State.DoubtM = doubtM
	}
	return back
}
