// Every epoch, setpoint and score of a drive, counted as metrics.

package run

import (
	"liftbench/cmd/liftbench/metrics"
	"liftbench/nmea"
	"liftbench/sections/schedule"
	"liftbench/sim"
)

// Measure makes the job count every epoch as it passes.
func (o *Outcome) Measure(job *sim.Job) {
	o.Figures = metrics.New(len(job.Machine.Sections), func() metrics.Counts {
		if o.Outside != nil {
			// An outside controller does not say how it judged its fixes.
			return metrics.Counts{Reader: o.Reader, Ports: []metrics.Port{o.Outside.port()}}
		}
		return metrics.Counts{Reader: o.Reader, Controller: o.Controller}
	})
	var lastNs int64
	job.Watch = func(f *nmea.Fix) {
		ageNs, intervalNs := int64(-1), int64(0)
		if age, ok := schedule.MeasuredAgeNs(f); ok {
			ageNs = age
		}
		if lastNs != 0 {
			intervalNs = f.TimeNs - lastNs
		}
		lastNs = f.TimeNs
		o.Figures.Fix(f, ageNs, intervalNs)
	}
}

// addFigures adds the drive's scores to the metrics.
func (o *Outcome) addFigures() {
	setpoints := o.Setpoints
	if o.Outside != nil {
		setpoints = o.Outside.Setpoints
	}
	for _, s := range setpoints {
		o.Figures.Setpoint(s)
	}
	o.Figures.Drive(o.DurationS, o.DistanceM, o.Rate(o.Machine.WidthM()).HaPerH*1e4/3600)
	o.Figures.Score(o.Score)
}
