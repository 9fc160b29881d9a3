// What is most likely wrong where a drive worked nothing, or had as many lifts and drops
// missed or extra as there were in their place.

package run

import (
	"fmt"
	"math"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/sim"
)

// Suspicion is what is most likely wrong, measured from the drive. It is said before
// anything else.
type Suspicion struct {
	Text string
	// Wrong is what of the input contradicts the drive, as a recorded log that never
	// runs along the rows of the field: the command ends with status 2. "" = the input
	// is legal, and the drive may be as it was meant; Text is then a warning.
	Wrong string
	File  string // whose input Wrong is
}

// Wrong returns an error where the input contradicts the drive.
func (o *Outcome) Wrong() error {
	if o.Suspicion == nil || o.Suspicion.Wrong == "" {
		return nil
	}
	return &failure.Input{File: o.Suspicion.File, Msg: o.Suspicion.Wrong}
}

// Remarks are the suspicion, if there is one, and the warnings.
func (o *Outcome) Remarks() []string {
	if o.Suspicion == nil {
		return o.Warnings
	}
	return append([]string{o.Suspicion.Text}, o.Warnings...)
}

// suspect finds what is most likely wrong with the drive of a job.
func (o *Outcome) suspect(job *sim.Job) {
	switch step := o.Reception.StepM(); {
	case o.Outside != nil:
		return
	case !o.Hopeless():
		if step > 0 && o.Setup.Log != "" {
			o.warn("%s", o.coarseText(step))
		}
		return
	}
	l, d := &o.Score.Lift, &o.Score.Drop
	result := fmt.Sprintf("Of %d lifts and drops %d were missed, and %d were extra", l.Count+d.Count, l.Missed+d.Missed, l.Spurious+d.Spurious)
	if o.Score.Area.WorkedM2 == 0 {
		result = "Nothing was worked"
	} else if o.Score.Area.PassedM2 == 0 {
		result = "No section came where it was to work"
	}
	wrong, file := o.contradiction(job)
	if wrong != "" {
		s := &Suspicion{Text: result + ": " + wrong + ".", File: file}
		if o.Setup.Log != "" { // a scenario that generates its drive asks for what it gets
			s.Wrong = wrong
		}
		o.Suspicion = s
		return
	}
	if why := o.unfit(job); why != "" {
		o.Suspicion = &Suspicion{Text: result + ": " + why + "."}
	}
}

// contradiction returns what of field and log contradicts each other, "" for nothing,
// and the file that is to be looked at.
func (o *Outcome) contradiction(job *sim.Job) (text, file string) {
	if o.NearestM > o.Machine.WidthM() {
		return fmt.Sprintf("the drive comes no nearer to the field than %.0f m; is it the right field, or the right day?", o.NearestM), o.Setup.FieldFile
	}
	if p, ok := o.Contradicted(o.Field, job.Settings.RowToleranceRad); ok {
		off := p.ModeRad - p.RowRad
		return fmt.Sprintf("the rows of %s are said to run at %.1f°, but %.0f %% of the %.0f m driven there in passes ran at %.1f°. Row bearing off by %.0f° (row_tolerance_deg is %s). Write %.1f for it, or look whether this is the field of that day",
			p.Zone, wording.BearingDeg(p.RowRad), 100*p.ModeShare, p.WayM, wording.BearingDeg(p.ModeRad), math.Abs(off)*180/math.Pi, wording.Trim(job.Settings.RowToleranceRad*180/math.Pi), wording.BearingDeg(p.ModeRad)), o.Setup.FieldFile
	}
	if step := o.Reception.StepM(); step > 0 {
		return o.coarseText(step), o.Title
	}
	return "", ""
}

// coarseText says that positions come in steps of so many metres.
func (o *Outcome) coarseText(stepM float64) string {
	return fmt.Sprintf("the positions have %s of a minute and so come in steps of %s; lifts and drops need steps of 2 cm or less. Have the receiver write 7 decimals, or look what cut them off",
		wording.Counted(o.Reception.MinuteDecimals, "decimal"), lengthText(stepM))
}

// unfit returns which setting does not suit the drive, "" if none can be named.
func (o *Outcome) unfit(job *sim.Job) string {
	r, c, set := &o.Reception, &o.Controller, &job.Settings
	if !o.Simulated {
		if o.Score.Area.WorkedM2 == 0 {
			return "the recorded work states say of no section that it was in work during this drive. Look whether they are of the same day, and what 0 and 1 mean in them"
		}
		if o.Score.Area.PassedM2 > 0 {
			return "" // diagnose says why
		}
	}
	all := float64(r.Epochs)
	intervalMs := 1e3 * r.MedianIntervalS()
	ageMs := float64(set.LatencyNs) * 1e-6
	if r.Measured > 0 {
		ageMs = float64(r.AgeSumNs) / float64(r.Measured) * 1e-6
	}
	switch {
	case o.Score.Area.PassedM2 == 0:
		return fmt.Sprintf("no section came over a zone that takes part: along its rows within row_tolerance_deg, %s, on a path no tighter than min_work_radius_m, %s. Look whether the zones of the field are those of this job",
			wording.Trim(set.RowToleranceRad*180/math.Pi), wording.Trim(set.MinWorkRadiusM))
	case float64(c.LowQuality) > all/2:
		return fmt.Sprintf("%.0f %% of the positions are of lower quality than controller.min_quality, %d (%s), lets count; most are: %s. Set it lower to see the drive, and look why the receiver had no better solution",
			100*float64(c.LowQuality)/all, set.MinQuality, set.MinQuality, mostly(r))
	case intervalMs+ageMs > float64(set.MaxAgeNs+set.HoldNs)*1e-6:
		return fmt.Sprintf("a position comes every %.0f ms and is %.0f ms old on arrival, but controller.max_age_ms and hold_ms are %.0f and %.0f, so the fail-safe lifts between two positions. Set max_age_ms above %.0f",
			intervalMs, ageMs, float64(set.MaxAgeNs)*1e-6, float64(set.HoldNs)*1e-6, intervalMs+ageMs)
	case float64(c.Jumped+c.Frozen) > all/4:
		return fmt.Sprintf("%d of %d positions were refused as jumps, %d for contradicting speed and course. Look at speed and course in the log, and at controller.jump_m, %s m", c.Jumped, r.Epochs, c.Frozen, wording.Trim(set.JumpM))
	}
	return "nothing in its input explains that. The page of --out shows where; begin with the leads and with what the controller is told of the machine"
}

// mostly names the quality that most epochs have.
func mostly(r *sim.Reception) nmea.Quality {
	most := 0
	for q, n := range r.ByQuality {
		if n > r.ByQuality[most] {
			most = q
		}
	}
	return nmea.Quality(most)
}

// lengthText is a length as people say it.
func lengthText(m float64) string {
	if m < 1 {
		return fmt.Sprintf("%.0f cm", 100*m)
	}
	return fmt.Sprintf("%.1f m", m)
}
