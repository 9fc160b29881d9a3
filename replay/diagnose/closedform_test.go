// Faulty drives from the closed form, without the bench: straight passes whose
// transitions lie where arithmetic puts them, by drivers who brake for the turn.

package diagnose

import (
	"math"
	"math/rand/v2"

	"liftbench/nmea"
	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
)

// fault is what is wrong with a drive; the zero value is a healthy one.
type fault struct {
	liftS, dropS, latencyS float64
	liftM, dropM, bothM    float64
	flowS                  float64 // each further section
	coldS, tauS            float64
	slow                   int // section, from 1
	slowS                  float64
	headingS               float64
	borderM                float64 // east of everything in the last third of the passes
	floatM                 float64 // scatter at every fifth pass, with quality 5
	byHand                 float64 // share
	pumpLMin               float64 // on the bench: the pump's flow, where 40 L/min are set
	aware                  bool    // on the bench: the lead counts the sections that rise
}

// shape is how a drive is driven.
type shape struct {
	seed           uint64
	transitions    int
	sections       int
	kmh, spreadKmh float64 // slowest, and how much faster the fastest
	noiseM         float64 // of a position: shared by a crossing
	lightM         float64 // of a section
	turning        bool    // crossings on a curve
	square         bool    // borders all square to the passes: all move at once
	told           bool    // setpoints are recorded as well
	braking        bool    // the driver brakes for turns, and accelerates out of them
}

const dayNs = int64(1_936_000_000e9)

func barOf(n int) *sections.Machine {
	m := &sections.Machine{Mount: sections.RearRigid, AntennaXM: 0.9}
	for i := range n {
		m.Sections = append(m.Sections, sections.Section{XM: -2.2, YM: float64(i) - float64(n-1)/2, WidthM: 1})
	}
	return m
}

// closedForm is a drive of passes up and down: each begins with a drop and ends
// with a lift of every section, at borders that slant differently from pass to
// pass.
func closedForm(s shape, f fault) evidence.Day {
	rng := rand.New(rand.NewPCG(s.seed, 77))
	m := barOf(s.sections)
	in := evidence.Day{Machine: m, Settings: sections.DefaultSettings()}
	// A border is square, so that all rise at once, or slants so much that each is
	// up before the next begins.
	strokeS := float64(in.Settings.LiftLead.MoveNs) * 1e-9
	passes := max(1, (s.transitions+s.sections)/(2*s.sections))
	driver := footOf(&s)
	t := 0.0
	for k := range passes {
		v := (s.kmh + s.spreadKmh*rng.Float64()) / 3.6
		up := k%2 == 0
		poor := f.floatM > 0 && k%5 == 4
		from := t
		for _, on := range [2]bool{true, false} {
			slope := 0.0
			if !s.square && rng.IntN(2) == 0 {
				slope = (0.2 + 0.8*rng.Float64()) * float64(1-2*rng.IntN(2))
				if f.flowS > 0 {
					slope *= 1 + (strokeS+f.slowS)*v/math.Abs(slope)
				}
			}
			shared := s.noiseM * rng.NormFloat64()
			if poor {
				shared += f.floatM * rng.NormFloat64()
			}
			yaw := 0.0
			if s.turning {
				yaw = 0.15 * (2*rng.Float64() - 1)
			}
			way := driver.crossing(v, on)
			mid := way.when(0)
			hand := f.byHand > 0 && rng.Float64() < f.byHand
			for i := range s.sections {
				y := m.Sections[i].YM
				crossS := way.when(y * slope)
				_, speed := way.at(crossS)
				ideal := t + 10 + crossS - mid
				together := 0
				if slope == 0 {
					together = s.sections - 1
				}
				share := 1 - y*yaw/v // in a bend the outer sections move faster
				own, yaw := speed*share, yaw*speed/v
				// What the command is late by, and what the tool takes longer.
				late, tool := f.latencyS, f.coldS*math.Exp(-(ideal-10)/max(f.tauS, 1))
				place := f.bothM + shared + s.lightM*rng.NormFloat64() + y*yaw*f.headingS
				out := 1.0
				if on {
					late, place, out = late+f.dropS, place+f.dropM, -1
				} else {
					late, place = late+f.liftS, place+f.liftM
					tool += f.flowS * beside(together, i+1 == f.slow, f.slowS/strokeS)
				}
				if i+1 == f.slow {
					tool += f.slowS
				}
				if k*3 >= passes*2 && up != on { // at the northern end
					place += out * f.borderM
				}
				e := score.Event{Section: int16(i), On: on, Kind: score.Paired, SpeedMps: own, YawRateRadPerS: yaw, Together: together}
				e.EastM, e.NorthM = float64(k)*float64(s.sections)+y, -100
				if up != on {
					e.NorthM = 100
				}
				if up {
					e.HeadingRad = 0
				} else {
					e.HeadingRad = math.Pi
				}
				// The place is reached, then the time passes.
				actS := way.when(y*slope+place/share) + late + tool
				actM, _ := way.at(actS)
				e.PlaceErrorM = (actM - y*slope) * share
				e.TimeErrorS = actS - crossS
				e.IdealNs = dayNs + int64(ideal*1e9)
				e.ActualNs = e.IdealNs + int64(e.TimeErrorS*1e9)
				if hand {
					e.Kind, e.IdealNs, e.ActualNs = score.Spurious, 0, e.ActualNs+12e9
					e.TimeErrorS, e.PlaceErrorM = math.NaN(), math.NaN()
				}
				in.Actual = append(in.Actual, e)
				if s.told {
					leadS := tool + leadAloneS(&in, e.On)
					e.ActualNs -= int64(leadS * 1e9)
					e.TimeErrorS -= leadS
					setM, _ := way.at(actS - leadS)
					e.PlaceErrorM = (setM - y*slope) * share
					in.Setpoint = append(in.Setpoint, e)
				}
			}
			t += 45
		}
		for u := from; u < t; u += 0.2 {
			h := evidence.Fix{TimeNs: dayNs + int64(u*1e9), AgeNs: -1, Quality: nmea.RTKFixed}
			if poor {
				h.Quality = nmea.RTKFloat
			}
			in.Fixes = append(in.Fixes, h)
		}
	}
	return in
}

// beside is how many others rise beside a lift, on average over its way, of a
// section with n others that begin with it, but for a slow one, which begins late
// by so many strokes. Of k that rise from a pump that feeds one, each has 1/k of
// its speed: the n others get 1/n of their way by each late stroke before the slow
// one takes part, and it goes on alone as long.
func beside(n int, slow bool, late float64) float64 {
	if n == 0 {
		return 0
	}
	others := float64(n)
	late = min(late, others)
	if slow {
		return others - late
	}
	return others - late/others
}

// leadAloneS is the lead of a section that moves alone.
func leadAloneS(day *evidence.Day, on bool) float64 {
	if on {
		return float64(day.Settings.DropLead.AloneNs()) * 1e-9
	}
	return float64(day.Settings.LiftLead.AloneNs()) * 1e-9
}
