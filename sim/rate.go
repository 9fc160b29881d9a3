// How much ground a drive works in an hour, and how often its sections lift:
// measured the same way on a drive that was run and on one that is only planned.

package sim

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/motion"
	"liftbench/sections/score"
)

// Rate is how fast a drive works ground: C = S·W·E/10 with C in ha/h, S in km/h
// and W in m (ASABE EP496).
type Rate struct {
	HaPerH     float64 // C: ground worked inside zones, each piece once, over the drive's whole time
	SpeedKmh   float64 // S: mean over the time with any section in work
	Efficiency float64 // E, 0 to 1: what turns, ways, stops and overlap leave of S·W
	LiftsPerHa float64 // ideal lifts per hectare worked
	DropsPerHa float64
}

// WorkedHa is the ground worked inside zones, each piece of it once.
func (o *Outcome) WorkedHa() float64 { return (o.Score.WorkedOnceM2 - o.Score.OutsideM2) / 1e4 }

// Rate returns the work rate of a bar widthM wide; the zero value where nothing
// was worked.
func (o *Outcome) Rate(widthM float64) Rate {
	ha := o.WorkedHa()
	if !(ha > 0 && o.WorkM > 0) {
		return Rate{}
	}
	r := Rate{
		HaPerH:     ha / (o.DurationS / 3600),
		SpeedKmh:   o.WorkM / o.WorkS * 3.6,
		LiftsPerHa: float64(o.Score.Lift.Count) / ha,
		DropsPerHa: float64(o.Score.Drop.Count) / ha,
	}
	r.Efficiency = r.HaPerH * 10 / (r.SpeedKmh * widthM)
	return r
}

// AtPace returns the ha/h of the same drive where work goes so many times as
// fast; the time with all sections up stays as it is.
func (o *Outcome) AtPace(times float64) float64 {
	return o.WorkedHa() * 3600 / (o.WorkS/times + o.DurationS - o.WorkS)
}

// addWay measures the way along o.Track. initial is the work state of each
// section at its first pose, nil = all up.
func (o *Outcome) addWay(initial []bool) {
	inWork := 0
	for _, on := range initial {
		if on {
			inWork++
		}
	}
	changes := o.Changes
	for i := 1; i < len(o.Track); i++ {
		p, q := &o.Track[i-1], &o.Track[i]
		mps := func(ns int64) float64 {
			part := float64(ns-p.TimeNs) / float64(q.TimeNs-p.TimeNs)
			return math.Abs(p.SpeedMps + float64((q.SpeedMps-p.SpeedMps)*part))
		}
		for from := p.TimeNs; from < q.TimeNs; {
			for len(changes) > 0 && changes[0].TimeNs <= from {
				if changes[0].On {
					inWork++
				} else {
					inWork--
				}
				changes = changes[1:]
			}
			until := q.TimeNs
			if len(changes) > 0 {
				until = min(until, changes[0].TimeNs)
			}
			s := float64(float64(until-from) * 1e-9)
			m := float64((mps(from) + mps(until)) / 2 * s)
			o.DistanceM += m
			if inWork > 0 {
				o.WorkS += s
				o.WorkM += m
			}
			from = until
		}
	}
}

// Ideal returns what the drive along track comes to where every section changes
// at its ideal instant: no receiver, controller or hydraulics take part.
func (j *Job) Ideal(track motion.Track) (*Outcome, error) {
	ctl, err := sections.New(j.Machine, j.Field, j.Settings)
	if err != nil {
		return nil, err
	}
	gate, opt := j.trueGate(ctl), j.scoring()
	idle, err := score.Run(track, &gate, nil, nil, opt)
	if err != nil {
		return nil, err
	}
	out := &Outcome{Track: track}
	initial, seen := make([]bool, len(gate.Machine.Sections)), make([]bool, len(gate.Machine.Sections))
	for i := range idle.Events {
		e := &idle.Events[i]
		if !seen[e.Section] {
			seen[e.Section], initial[e.Section] = true, !e.On
		}
		out.Changes = append(out.Changes, sections.WorkChange{TimeNs: e.TimeNs(), Section: e.Section, On: e.On})
	}
	if out.Score, err = score.Run(track, &gate, out.Changes, initial, opt); err != nil {
		return nil, err
	}
	out.DurationS = float64(track[len(track)-1].TimeNs-track[0].TimeNs) * 1e-9
	out.addWay(initial)
	return out, nil
}
