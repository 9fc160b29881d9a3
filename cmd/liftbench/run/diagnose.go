// A recorded day, scored and explained.

package run

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/replay/diagnose"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/states"
	"liftbench/replay/zones"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
	"liftbench/sim"
)

// Diagnosis is a recorded day, scored and explained.
type Diagnosis struct {
	*Outcome
	*diagnose.Diagnosis
	Settings sections.Settings
	// Events are the scored transitions. If only setpoints are recorded, the
	// tools are taken to follow each setpoint one lead later.
	Events       []score.Event
	Lifts, Drops score.Stats // of Events
	// Setpoint and Actual report which of the two the work states hold; Whole
	// reports that they hold one state for the whole machine.
	Setpoint, Actual, Whole bool
	HeadlandM               float64
	// ZonesFound says what zones the track told, where the field has none.
	ZonesFound []string
	border     zones.Border // of the body, of those zones
	Command    string       // the command line, as it can be typed again
}

// Diagnose reads the setup's recorded day and explains it. builtIn reports that
// it is the bad day built into the program.
func Diagnose(u *settings.Setup, builtIn bool, stdin io.Reader, stderr io.Writer) (*Diagnosis, error) {
	switch {
	case u.Log == "":
		return nil, &failure.Usage{Msg: u.Title + ": no recorded day; expected LOG, or a scenario with log and states"}
	case u.States == "":
		return nil, &failure.Usage{Msg: u.Log + ": no work states; expected --states FILE, what the sections were told or did on that day"}
	}
	job := Job(u)
	in, work, err := recorded(u, builtIn, len(job.Machine.Sections), stdin, stderr)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	if work.Whole {
		job.Machine = asOne(job.Machine, work)
	}
	var found []string
	var border zones.Border
	whole := ""
	if u.WithoutZones() {
		found, border, err = zonesFromTrack(u, work, stderr)
		var none *failure.Input
		switch {
		case err == nil:
			job.Field = u.Field
		case u.Field != nil && errors.As(err, &none):
			whole = "No zones are known, and none show in the track (" + none.Msg + "): it is judged as if all of the field had been worked, up to its boundary."
		default:
			return nil, err
		}
	}

	d, day, err := Judge(u, job, in, work)
	if err != nil {
		return nil, err
	}
	if d.ZonesFound, d.border = found, border; whole != "" {
		d.warn("%s", whole)
	}
	d.WarnOfUsual()
	d.Track = nil // the figures and the answer need the transitions alone
	if err = d.Explain(day); err != nil && d.Wrong() != nil {
		return nil, &failure.Input{File: u.States, Msg: d.Suspicion.Text + " So there is no diagnosis: " + err.Error(), Err: err}
	} else if err != nil {
		return nil, &failure.Input{File: u.States, Msg: err.Error(), Err: err}
	}
	return d, nil
}

// Explain finds the causes from what Judge gathered.
func (d *Diagnosis) Explain(day *evidence.Day) (err error) {
	if d.Diagnosis, err = diagnose.Run(*day); err == nil {
		d.doubtZones()
		d.weighBorder()
	}
	return err
}

// doubtZones gives up every cause that rests on borders where the zones are a guess,
// found from the track or cut by a headland's width, and as many lifts and drops were
// missed or extra as lie at their borders. Such borders are not those that the section
// lift was worked by, and a setting changed for their sake would be wrong.
func (d *Diagnosis) doubtZones() {
	if d.ZonesFound == nil && d.HeadlandM == 0 || !d.Hopeless() {
		return
	}
	guess := "found from the track"
	if d.ZonesFound == nil {
		guess = fmt.Sprintf("%s m inside the boundary", wording.Trim(d.HeadlandM))
	}
	if d.Suspicion == nil {
		lift, drop := &d.Score.Lift, &d.Score.Drop
		d.Suspicion = &Suspicion{Text: fmt.Sprintf("Of %d lifts and drops at borders %d were missed, and %d were extra: the borders, %s, are likely not those that were worked by, so nothing that rests on them is named as a cause. "+
			"Draw the zones as they were on that day; liftbench zones --out DIR writes some to begin with.", lift.Count+drop.Count, lift.Missed+drop.Missed, lift.Spurious+drop.Spurious, guess)}
	}
	both := d.Setpoint && d.Actual
	d.Causes = slices.DeleteFunc(d.Causes, func(f diagnose.Finding) bool {
		told := f.Cause == diagnose.DoesNotFollow || f.Cause == diagnose.MachineSlow // from setpoint to work state
		return f.Cause != diagnose.Sensor && !(both && told)
	})
	d.CannotTell, d.Floors = nil, nil
}

// weighBorder counts how sure a border is that was found from the track. Lifts late and
// drops early by one length, or one of them by a length, may be the border's error: they
// are a cause if they are beyond it. Where lifts and drops alone told the border they
// never are.
func (d *Diagnosis) weighBorder() {
	if d.ZonesFound == nil {
		return
	}
	d.orOtherBorder()
	d.Causes = slices.DeleteFunc(d.Causes, func(f diagnose.Finding) bool {
		return ofBorder(f.Cause) && (d.border.From != zones.Rounds || d.border.SureM >= math.Abs(f.Size))
	})
	for i := range d.Causes {
		f := &d.Causes[i]
		if !ofBorder(f.Cause) {
			continue
		}
		f.CI95[0] = f.Size - math.Hypot(f.Size-f.CI95[0], d.border.SureM)
		f.CI95[1] = f.Size + math.Hypot(f.CI95[1]-f.Size, d.border.SureM)
		f.Evidence += fmt.Sprintf(" With how sure the border is, which the track told, the interval is %.0f to %.0f cm.", 100*f.CI95[0], 100*f.CI95[1])
		f.Change = "First look whether passes were meant to end at the border found (liftbench zones --out DIR draws it). Only if they were, this holds. " + f.Change
	}
}

// mostlyByHand is the share of lifts and drops away from a border from which on the border is
// suspected before the driver.
const mostlyByHand = 0.25

// orOtherBorder makes a doubt of a day worked by hand, in great part, whose borders were found
// from the track: nothing but setpoints tells whether a hand lifted elsewhere, or a section
// lift at a border of its own.
func (d *Diagnosis) orOtherBorder() {
	k := slices.IndexFunc(d.Causes, func(f diagnose.Finding) bool { return f.Cause == diagnose.ByHand })
	if k < 0 || d.Setpoint || d.Causes[k].Size < mostlyByHand {
		return
	}
	how := fmt.Sprintf("found from the track to ± %.1f m", d.border.SureM)
	if d.border.From != zones.Rounds {
		how = "found from these lifts and drops themselves"
	}
	first := diagnose.Doubt{ // what else is in doubt rests on it
		Between: []diagnose.Cause{diagnose.ByHand, diagnose.WrongBorder},
		Why: fmt.Sprintf("%.0f %% of lifts and drops (95 %% interval %.0f to %.0f %%) lie metres from the body's border, or from where the others lie. %sThat border was %s: either a hand lifted where the driver saw fit, or a section lift worked by other borders.",
			100*d.Causes[k].Size, 100*d.Causes[k].CI95[0], 100*d.Causes[k].CI95[1], d.sideOfBorder(), how),
		Drive: "Ask whether a section lift was on. If it was, give its field file with --field, or correct the zones that liftbench zones --out DIR writes, and record setpoints too: they show which lifts it told. If none was, there is nothing to set.",
	}
	d.CannotTell = slices.Insert(d.CannotTell, 0, first)
	d.Causes = slices.Delete(d.Causes, k, k+1)
}

// sideOfBorder says that nearly all lifts and drops lie on one side of the border; empty if
// they do not.
func (d *Diagnosis) sideOfBorder() string {
	var outM [2][]float64 // farther out than the border: lifts late, drops early
	all, beyond := 0, 0
	for i := range d.Events {
		e := &d.Events[i]
		if e.Kind != score.Paired {
			continue
		}
		way, out := 0, e.PlaceErrorM
		if e.On {
			way, out = 1, -out
		}
		outM[way] = append(outM[way], out)
		all++
		if out > 0 {
			beyond++
		}
	}
	if len(outM[0]) < fewestOnASide || len(outM[1]) < fewestOnASide {
		return ""
	}
	lift, drop := sample.Median(outM[0]), sample.Median(outM[1])
	switch {
	case 10*beyond >= 9*all:
		return fmt.Sprintf("Nearly all lifts are late and drops early, by %.1f and %.1f m (medians): rows were worked on beyond that border. ", lift, drop)
	case 10*beyond <= all:
		return fmt.Sprintf("Nearly all lifts are early and drops late, by %.1f and %.1f m (medians): rows were left before that border. ", -lift, -drop)
	}
	return ""
}

// fewestOnASide is how many lifts, and drops, tell on which side of a border they lie.
const fewestOnASide = 5

func ofBorder(c diagnose.Cause) bool {
	return c == diagnose.WrongBorder || c == diagnose.LiftGeometry || c == diagnose.DropGeometry
}

// Judge scores a recorded day and gathers the evidence for the diagnosis.
func Judge(u *settings.Setup, job *sim.Job, in *files.Log, work *states.Recorded) (*Diagnosis, *evidence.Day, error) {
	var heard []evidence.Fix
	job.Watch = func(f *nmea.Fix) { heard = append(heard, evidence.FixOf(f)) }
	d := &Diagnosis{
		Outcome: New(u), Settings: job.Settings, HeadlandM: u.HeadlandM,
		Setpoint: len(work.Setpoints) > 0, Actual: len(work.Actuals) > 0, Whole: work.Whole,
	}
	p := u.Machine.Params()
	day := &evidence.Day{
		Machine: job.Machine, Settings: job.Settings,
		LiftStrokeNs:  p.FullLiftTimeNs(1) - p.LiftDeadNs,
		SetpointPolls: work.SetpointPolls, ActualPolls: work.ActualPolls, OneClock: work.OneClock,
	}
	times := recordedTimes{work: work, job: job, day: day}
	times.record(work.Setpoints, work.Actuals)
	if err := d.take(job, in, u.States, func(err error) error { return times.score(d.Outcome.Outcome, err) }); err != nil {
		return nil, nil, err
	}
	d.Warnings = append(d.Warnings, work.Notes...)
	d.warnOfTimes(in.Name, u.States, len(work.Setpoints)+len(work.Actuals), len(job.Machine.Sections))
	near := NearChanges(times.setpoints, times.actuals)
	day.Fixes = slices.DeleteFunc(heard, func(f evidence.Fix) bool { return !near(f.TimeNs) })
	d.Events = d.Score.Events
	if !d.Actual {
		d.Events = followed(day)
	}
	d.Lifts, d.Drops = score.Tally(d.Events)
	return d, day, nil
}

// NearChanges returns a function that reports whether an instant is near enough
// to a recorded change for the reception there to matter. It is called with
// instants in order. The day's other fixes need not be kept.
func NearChanges(lists ...[]sections.WorkChange) func(timeNs int64) bool {
	// The longest lead, the longest time from ideal to actual, and the fixes
	// before the command.
	const beforeNs, afterNs = 22e9, 10e9
	next := make([]int, len(lists))
	return func(timeNs int64) bool {
		for k, list := range lists {
			for next[k] < len(list) && list[next[k]].TimeNs+afterNs < timeNs {
				next[k]++
			}
			if next[k] < len(list) && list[next[k]].TimeNs-beforeNs <= timeNs {
				return true
			}
		}
		return false
	}
}

// followed returns the work states of tools that follow each setpoint one lead
// later.
func followed(day *evidence.Day) []score.Event {
	events := slices.Clone(day.Setpoint)
	for i, leadS := range day.Leads() {
		e := &events[i]
		e.TimeErrorS += leadS
		e.PlaceErrorM += leadS * e.SpeedMps
	}
	return events
}

// recorded opens the day's log and reads its work states for n sections.
func recorded(u *settings.Setup, builtIn bool, n int, stdin io.Reader, stderr io.Writer) (*files.Log, *states.Recorded, error) {
	if builtIn {
		log, work, err := badDay()
		if err != nil {
			return nil, nil, err
		}
		read, err := states.Read(bytes.NewReader(work), u.States, n, nil)
		in := &files.Log{Name: u.Log, Progress: terminal.NewProgress(bytes.NewReader(log), int64(len(log)), u.Log, stderr)}
		return in, read, err
	}
	work, err := readStates(u, n)
	if err != nil {
		return nil, nil, err
	}
	in, err := recording.OpenPositions(u.Log, u.Day, recording.Choice{}, stdin, stderr)
	return in, work, err
}
