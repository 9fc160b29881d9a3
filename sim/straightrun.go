// How long before a border a driver has to be on his line, and at his speed, for
// the drops to come where they ought to.

package sim

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/score"
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
	SpeedMps float64 // at the border
	LineM    float64 // the tractor must be on its line
	SteadyM  float64 // it must be at its speed too
	LeadM    float64 // the part of both that passes during the drop lead
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
		half = max(half, math.Abs(s.YM)+float64(s.WidthM/2))
	}
	v := a.SpeedMps
	aheadS := float64(float64(j.Settings.DropLead.AloneNs()+j.Settings.LatencyNs)*1e-9) + 1/a.RateHz
	r := StraightRun{SpeedMps: v, LeadM: float64(v * aheadS)}
	r.SteadyM = r.LeadM
	accelM := math.Abs(float64(v*v)-float64(a.TurnMps*a.TurnMps)) / (2 * a.AccelMps2)
	if accelM > 0 {
		r.SteadyM += float64(v * motion.SpeedSettlingS(a.RateHz, aheadS, a.AccelMps2))
	}
	unturn := a.TurnMps / a.RadiusM / a.SteerTimeS
	settleM := float64(v * motion.TurnSettlingS(a.RateHz, v, aheadS, half, unturn))
	if m.Mount == sections.Trailed {
		settleM = max(settleM, 3*m.DrawbarM)
	}
	r.LineM = max(r.SteadyM+accelM, r.LeadM+settleM)
	return r
}

// Run is the straight run before the bar met one border with drops.
type Run struct {
	AtNs  int64   // the bar's first section ought to drop
	LineM float64 // way until then with the heading within OnLineRad or so of that at AtNs
	// From is where, on the way, StraightRun.LineM was left to go, or would have
	// been on the line; To is the tractor's place at AtNs.
	From, To orb.Point
}

// OnLineRad is how far the heading of a true track may be off while the tractor is on
// its line: a clothoid of a turn comes so near to it less than a metre before its
// end. OnLineLogRad is that of a recorded track, whose heading is uncertain by
// some degrees: there the end of the turn counts too, two metres or so.
const (
	OnLineRad    = 1 * math.Pi / 180
	OnLineLogRad = 5 * math.Pi / 180
)

// cosAlong is of 30°, as far as a heading may be off rows that bend and be along them.
const cosAlong = 0.866

// Runs returns the straight runs before all drops of the bar, in order of time;
// lineM is what they ought to be, withinRad how far the heading may be off. Where the
// field's rows bend, they are runs along these.
func (o *Outcome) Runs(f *field.Field, lineM, withinRad float64) []Run {
	var drops []sections.WorkChange
	for i := range o.Score.Events {
		if e := &o.Score.Events[i]; e.On && e.IdealNs != 0 {
			drops = append(drops, sections.WorkChange{TimeNs: e.IdealNs, Section: int16(e.Section), On: true})
		}
	}
	var runs []Run
	cursor := 0
	for _, c := range score.Crossings(drops) {
		p := o.Track.At(c.FromNs, &cursor)
		runs = append(runs, o.run(f, &p, cursor, lineM, withinRad))
	}
	return runs
}

// run goes back along the track from p, which lies after pose k of it.
func (o *Outcome) run(f *field.Field, p *motion.Pose, k int, lineM, withinRad float64) Run {
	r := Run{AtNs: p.TimeNs, To: orb.Point{p.EastM, p.NorthM}}
	sin, cos := exact.Sincos(p.HeadingRad)
	r.From = orb.Point{p.EastM - float64(lineM*sin), p.NorthM - float64(lineM*cos)}
	rowPerM := 0.0
	if f.Bends() && p.SpeedMps > 0 {
		rowPerM = f.RowCurvature(p.EastM, p.NorthM, sin, cos, cosAlong, p.YawRateRadPerS/p.SpeedMps)
	}
	last := *p
	for ; k >= 0; k-- {
		q := &o.Track[k]
		if q.TimeNs >= last.TimeNs {
			continue
		}
		if math.Abs(math.Remainder(q.HeadingRad-p.HeadingRad+float64(rowPerM*r.LineM), 2*math.Pi)) > withinRad || q.SpeedMps < 0 {
			break
		}
		stepM := exact.Hypot(q.EastM-last.EastM, q.NorthM-last.NorthM)
		if toGo := lineM - r.LineM; toGo > 0 && toGo <= stepM {
			part := toGo / stepM
			r.From = orb.Point{last.EastM + float64(part*(q.EastM-last.EastM)), last.NorthM + float64(part*(q.NorthM-last.NorthM))}
		}
		r.LineM += stepM
		last = *q
	}
	return r
}
