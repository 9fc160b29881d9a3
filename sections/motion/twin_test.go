// Whether the fixes around a gap can come from a drive that ends the other way round.

package motion

import (
	"math"
	"math/rand/v2"
)

// twin is a drive in the making: in every part of it the driver aims at a speed and a
// curvature, and takes them up as fast as he can, by 1.5 m/s² and from straight to the
// tightest turn, of 3.5 m, in a second. (From memory and common practice, no source.)
type twin [4]struct{ share, mps, perM float64 }

// follow drives on from a pose, and returns how far the antenna passes beside each fix,
// and its pose at the last.
func (w *twin) follow(from Pose, antenna Antenna, fixes [][2]float64, timesNs []int64) (worstM float64, end Pose) {
	const h = 0.05
	sum := 0.0
	for i := range w {
		sum += w[i].share
	}
	lastS := float64(timesNs[len(timesNs)-1]-from.TimeNs) * 1e-9
	p, curvature := from, 0.0
	if from.SpeedMps != 0 {
		curvature = from.YawRateRadPerS / from.SpeedMps
	}
	next, part, untilS := 0, 0, w[0].share/sum*lastS
	for t := 0.0; next < len(fixes); t += h {
		for next < len(fixes) && t >= float64(timesNs[next]-from.TimeNs)*1e-9-h/2 {
			s, c := math.Sincos(p.HeadingRad)
			worstM = max(worstM, math.Hypot(p.EastM+antenna.XM*s+antenna.YM*c-fixes[next][0], p.NorthM+antenna.XM*c-antenna.YM*s-fixes[next][1]))
			next++
		}
		for part < len(w)-1 && t >= untilS {
			part++
			untilS += w[part].share / sum * lastS
		}
		p.SpeedMps += max(-1.5*h, min(w[part].mps-p.SpeedMps, 1.5*h))
		curvature += max(-0.3*h, min(w[part].perM-curvature, 0.3*h))
		p.YawRateRadPerS = p.SpeedMps * curvature
		s, c := math.Sincos(p.HeadingRad + p.YawRateRadPerS*h/2)
		p.EastM += p.SpeedMps * h * s
		p.NorthM += p.SpeedMps * h * c
		p.HeadingRad += p.YawRateRadPerS * h
	}
	return worstM, p
}

// hasTwin reports whether a tractor that was at from can have passed the fixes after
// it and be on its way then with the opposite heading and the opposite speed of
// truth: from there on, with an antenna near the axle, both give the same fixes, as
// TestTwoMotionsOneTrack says. It is looked for at random, near the best so far; one
// that is not found may exist all the same.
func hasTwin(rng *rand.Rand, from, truth Pose, antenna Antenna, fixes [][2]float64, timesNs []int64) bool {
	for range 8 {
		var best twin
		least := math.Inf(1)
		for try := range 1500 {
			w := best
			for i := range w {
				if try < 300 {
					w[i].share, w[i].mps, w[i].perM = 0.1+rng.Float64(), -2+6*rng.Float64(), (2*rng.Float64()-1)/tightestTurnRadiusM
					continue
				}
				size := math.Exp(-4 * float64(try-300) / 1200)
				w[i].share = max(0.02, w[i].share+0.3*size*rng.NormFloat64())
				w[i].mps = max(-2, min(w[i].mps+size*rng.NormFloat64(), 5))
				w[i].perM = max(-1/tightestTurnRadiusM, min(w[i].perM+0.1*size*rng.NormFloat64(), 1/tightestTurnRadiusM))
			}
			beside, end := w.follow(from, antenna, fixes, timesNs)
			turned := math.Abs(Wrap(end.HeadingRad - truth.HeadingRad - math.Pi))
			slow := math.Abs(end.SpeedMps + truth.SpeedMps)
			if beside <= 0.5 && turned <= 0.3 && slow <= 0.5 {
				return true
			}
			if cost := beside/0.5 + turned/0.3 + slow/0.5; cost < least {
				best, least = w, cost
			}
		}
	}
	return false
}
