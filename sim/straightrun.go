// How long before a border a driver has to be on his line, and at his speed, for
// the drops to come where they ought to.

package sim

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// Approach is how a driver comes out of a turn to a border.
type Approach struct {
	SpeedMps   float64 // at the border
	TurnMps    float64 // in the turn before
	AccelMps2  float64 // from the one to the other
	RadiusM    float64 // tightest path of the turn
	SteerTimeS float64 // from there to straight ahead
	RateHz     float64 // positions a second
}

// StraightRun is how far before the border, in metres of the tractor's way until
// the bar's first section meets it.
type StraightRun struct {
	LineM   float64 // the tractor must be on its line
	SteadyM float64 // it must be at its speed too
	LeadM   float64 // the part of both that passes during the drop lead
}

// StraightRun returns what a driver of this machine needs.
//
// A drop is commanded the drop lead before the border, from a position that is
// LatencyNs old, and up to an interval more: v·(lead + age) metres before it. By then the heading must have
// settled since the turn ended (motion.TurnSettlingS) and the speed since it was
// reached (motion.SpeedSettlingS), for which it takes (v² - u²)/2a metres from
// the speed u of the turn:
//
//	SteadyM = v·(lead + age + speed settling)
//	LineM   = max(SteadyM + (v² - u²)/2a, v·(lead + age + turn settling))
//
// A trailed tool, moreover, has lost 95 % of its angle to the rows after three
// drawbar lengths.
func (j *Job) StraightRun(a Approach) StraightRun {
	m := j.Machine
	half := 0.0
	for i := range m.Sections {
		s := &m.Sections[i]
		half = max(half, math.Abs(s.YM)+s.WidthM/2)
	}
	v := a.SpeedMps
	aheadS := float64(j.Settings.DropLead.AloneNs()+j.Settings.LatencyNs)*1e-9 + 1/a.RateHz
	r := StraightRun{LeadM: v * aheadS}
	r.SteadyM = r.LeadM
	accelM := math.Abs(v*v-a.TurnMps*a.TurnMps) / (2 * a.AccelMps2)
	if accelM > 0 {
		r.SteadyM += v * motion.SpeedSettlingS(a.RateHz, aheadS, a.AccelMps2)
	}
	unturn := a.TurnMps / a.RadiusM / a.SteerTimeS
	settleM := v * motion.TurnSettlingS(a.RateHz, v, aheadS, half, unturn)
	if m.Mount == sections.Trailed {
		settleM = max(settleM, 3*m.DrawbarM)
	}
	r.LineM = max(r.SteadyM+accelM, r.LeadM+settleM)
	return r
}
