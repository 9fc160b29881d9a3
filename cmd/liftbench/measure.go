// Every epoch, setpoint and score of a drive, counted as metrics.

package main

import (
	"liftbench/cmd/liftbench/metrics"
	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sim"
)

// measure has every epoch of the job counted as it passes.
func (o *outcome) measure(job *sim.Job) {
	o.figures = metrics.New(len(job.Machine.Sections), func() metrics.Counts {
		if o.outside != nil {
			// What it made of its positions it does not say.
			return metrics.Counts{Reader: o.reader, Ports: []metrics.Port{o.outside.port()}}
		}
		return metrics.Counts{Reader: o.reader, Controller: o.Controller}
	})
	var lastNs int64
	job.Watch = func(f *nmea.Fix) {
		ageNs, intervalNs := int64(-1), int64(0)
		if age, ok := sections.MeasuredAgeNs(f); ok {
			ageNs = age
		}
		if lastNs != 0 {
			intervalNs = f.TimeNs - lastNs
		}
		lastNs = f.TimeNs
		o.figures.Fix(f, ageNs, intervalNs)
	}
}

// addFigures counts what the drive came to.
func (o *outcome) addFigures() {
	setpoints := o.Setpoints
	if o.outside != nil {
		setpoints = o.outside.setpoints
	}
	for _, s := range setpoints {
		o.figures.Setpoint(s)
	}
	o.figures.Drive(o.DurationS, o.DistanceM)
	o.figures.Score(o.Score)
}
