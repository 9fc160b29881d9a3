// One drive from fixes to score.

package sim

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sections/score/rows"
	"liftbench/sim/hydraulics"
)

// Job is a drive to be run and scored.
type Job struct {
	Machine *sections.Machine
	// TrueMachine is the machine that stands on the field, where Machine is
	// what the controller was told of it; nil = Machine.
	TrueMachine *sections.Machine
	Field       *field.Field
	Settings    sections.Settings
	// ClockBehindNs is Bench.BehindNs, ClockAheadNs Bench.AheadNs.
	ClockBehindNs, ClockAheadNs int64
	// Hydraulics answer the setpoints; not used where Recorded is given.
	Hydraulics hydraulics.Params
	// Spread is how unlike the sections are built, Warming how the oil grows
	// warm: both are of the tools alone, and the controller knows nothing of
	// them.
	Spread  hydraulics.Spread
	Warming hydraulics.Warming
	// Recorded are the work states of the recorded day, in order of time, in
	// place of the hydraulics; nil = simulate.
	Recorded []sections.WorkChange
	// Truth is the true track of a generated drive; nil = score against the
	// smoothed track of the fixes.
	Truth motion.Track
	// RecordedSetpoints are what the sections were told on the recorded day,
	// beside Recorded; they are scored as though the tools had followed at
	// once. nil = not known.
	RecordedSetpoints []sections.WorkChange
	// LogBytes is the size of the log to come, where it is known, so that room
	// is made for its samples at once; 0 = not known.
	LogBytes int64
	// Tools are what works between the rows, for Outcome.Rows; zero: not known.
	Tools rows.Tools
	// Strips asks for the worked ground as outlines.
	Strips bool
	// Heights asks for Outcome.Heights.
	Heights bool
	// Stop is asked, several times a second, whether to go on once the fixes are read;
	// what it returns ends Run. A reader of fixes ends on its own. nil = nobody asks.
	Stop func() error
	// Outside decides in place of our controller; nil = ours does.
	Outside Outsider
	// Watch sees every epoch, in order of time; nil = nobody does. It must not
	// keep the fix.
	Watch func(*nmea.Fix)
}

// Outsider is a controller from outside. It hears the sentences of the drive as
// they are, not the fixes that they make.
type Outsider interface {
	Decider
	// Sentence is called with each sentence that has a good checksum, in order: its
	// bytes, and what they say unless err is not nil. It must keep neither.
	Sentence(raw []byte, s *nmea.Sentence, err error)
	// Epoch says that f has been read. FixAt is called in the same order, but maybe
	// not at once, as a date may still have to come.
	Epoch(f *nmea.Fix)
	// Err says why nothing more can be asked; the drive ends. nil = all is well.
	Err() error
}

// Outcome is a drive run and scored.
type Outcome struct {
	Score      *score.Result
	Told       *score.Result // of Job.RecordedSetpoints; nil without
	Rows       []rows.Pass   // how far passes ran beside the rows, where those are known
	Reception  Reception
	Controller sections.Counts
	Setpoints  []sections.Setpoint   // what our controller decided
	Changes    []sections.WorkChange // what the tools did, simulated or recorded
	Heights    []hydraulics.Profile  // of each tool; nil unless asked for, or recorded
	Track      motion.Track          // what was scored against
	DurationS  float64               // from the first epoch to the last
	DistanceM  float64               // driven, forward and back
	Far        Far
	NearestM   float64 // how near the field the positions came, to the box around it; 0 = into it
	// WorkS and WorkM are the time and the way with any section in work.
	WorkS, WorkM float64
	// SetBackNs is by how much the receiver's clock was set during the drive.
	SetBackNs int64
	// OutOfTime is how many recorded changes lie before the first epoch or after the last.
	OutOfTime int

	ctl *sections.Controller // that has driven
}

// Far are sentences whose position is more than 100 km from the field. No
// tractor drives there in a day, so they are no part of the track.
type Far struct {
	Sentences      int64
	Line           int64   // of the first, from 1
	LatDeg, LonDeg float64 // of the first
	M              float64 // of the first, from the field
}

// ErrOtherDrive is what Run wraps when no recorded work state lies within the
// time of the positions.
var ErrOtherDrive = errors.New("the work states are of another drive")

// ErrNoEpoch is what Run wraps when the stream holds no position sentence.
var ErrNoEpoch = errors.New("no position: no GGA, GNS, RMC or GLL sentence with a good checksum")

// bytesPerFix is what GGA, RMC and VTG of one epoch take; mostLogBytes bounds
// what is believed of LogBytes.
const (
	bytesPerFix  = 210
	mostLogBytes = 1 << 30
)

// nearFieldM is how near the field a drive must come to be one of it; farFieldM
// is further than one goes.
const (
	nearFieldM = 1000
	farFieldM  = 100_000
)

// exchangedDeg is how near the field a drive is, where latitude and longitude of one of
// them are exchanged.
const exchangedDeg = 0.1

// text says where the first position and the field are, if they are far apart, and what
// to look for.
func (f *Far) text(fl *field.Field) string {
	const ask = "; is it the right field, or the right day?"
	if f.Sentences == 0 {
		return ask
	}
	lat, lon := fl.Plane.ToGeodetic(0, 0)
	if math.Abs(f.LatDeg-lon) < exchangedDeg && math.Abs(f.LonDeg-lat) < exchangedDeg {
		return fmt.Sprintf(" (line %d: latitude %.4f, longitude %.4f): latitude and longitude of the field are exchanged; GeoJSON has the longitude first", f.Line, f.LatDeg, f.LonDeg)
	}
	return fmt.Sprintf(" (line %d: latitude %.4f, longitude %.4f; the field: %.4f, %.4f)"+ask, f.Line, f.LatDeg, f.LonDeg, lat, lon)
}

// Run takes every fix from rd through controller, hydraulics and score. Where
// compressed data are cut short or damaged (nmea.ErrIncomplete), it takes those up to there,
// and rd.Err says so. It fails on a stream without positions, on a drive that never comes near the
// field, and on recorded states from another time; the caller knows the
// files' names. With ErrOtherDrive comes what there is without the states: Score then
// takes others.
func (j *Job) Run(rd *epoch.Reader) (*Outcome, error) {
	ctl, err := sections.New(j.Machine, j.Field, j.Settings)
	if err != nil {
		return nil, err
	}
	var bank *hydraulics.Bank
	if j.Recorded == nil {
		if bank, err = j.Bank(); err != nil {
			return nil, err
		}
		if j.Heights {
			bank.Record()
		}
	}
	b := NewBench(ctl, j.Settings, bank)
	b.BehindNs, b.AheadNs = j.ClockBehindNs, j.ClockAheadNs
	if j.Outside != nil {
		b.Decider = j.Outside
	}
	out := &Outcome{}
	var samples []motion.Sample
	if j.Truth == nil {
		samples = make([]motion.Sample, 0, min(j.LogBytes, mostLogBytes)/bytesPerFix)
	}
	nearest, bound := math.Inf(1), j.Field.Bound()
	// The sentences of an epoch, and its fix, mostly have the same position. The first
	// sentence of the next epoch comes before that fix: two positions are remembered.
	// awayM is how far from the field they are.
	type place struct{ latDeg, lonDeg, eastM, northM, awayM float64 }
	last, before := place{latDeg: math.NaN()}, place{latDeg: math.NaN()}
	toPlane := func(latDeg, lonDeg float64) (eastM, northM, awayM float64) {
		switch {
		case latDeg == last.latDeg && lonDeg == last.lonDeg:
			return last.eastM, last.northM, last.awayM
		case latDeg == before.latDeg && lonDeg == before.lonDeg:
			return before.eastM, before.northM, before.awayM
		}
		e, n := j.Field.Plane.ToPlane(latDeg, lonDeg)
		away := exact.Hypot(max(bound.Min[0]-e, 0, e-bound.Max[0]), max(bound.Min[1]-n, 0, n-bound.Max[1]))
		last, before = place{latDeg, lonDeg, e, n, away}, last
		return e, n, away
	}
	var clockSetNs int64
	use := func(f *nmea.Fix) {
		clockSetNs = f.ClockSetNs
		out.Reception.Add(f)
		if j.Watch != nil {
			j.Watch(f)
		}
		e, n, away := toPlane(f.LatDeg, f.LonDeg)
		b.fixAt(f, e, n)
		if !f.HasPosition() {
			return
		}
		nearest = min(nearest, away)
		if away > farFieldM {
			return
		}
		if k := len(samples); j.Truth == nil && (k == 0 || f.TimeNs > samples[k-1].TimeNs) {
			samples = append(samples, motion.SampleOf(f, e, n))
		}
	}
	rd.ReadAsLive()
	each := rd.Each
	rd.Each = func(raw []byte, s *nmea.Sentence, err error) {
		each(raw, s, err)
		if j.Outside != nil {
			j.Outside.Sentence(raw, s, err)
		}
		if err != nil || math.IsNaN(s.LatDeg) || math.IsNaN(s.LonDeg) {
			return
		}
		out.Reception.addDigits(s.LatDeg, s.LonDeg)
		if _, _, away := toPlane(s.LatDeg, s.LonDeg); away > farFieldM {
			if out.Far.Sentences == 0 {
				out.Far = Far{Line: rd.Scanner.Line(), LatDeg: s.LatDeg, LonDeg: s.LonDeg, M: away}
			}
			out.Far.Sentences++
		}
	}
	var dates epoch.Dating
	for rd.Next() {
		f := rd.Fix()
		if j.Outside != nil {
			if err := j.Outside.Err(); err != nil {
				return nil, err
			}
			j.Outside.Epoch(&f)
		}
		dates.Add(f, use)
	}
	dates.Flush(use)
	if j.Outside != nil && j.Outside.Err() != nil {
		return nil, j.Outside.Err()
	}
	if err := rd.Err(); err != nil && !errors.Is(err, nmea.ErrIncomplete) {
		return nil, err
	}
	b.Finish()
	r := &out.Reception
	switch {
	case r.Epochs == 0:
		return nil, ErrNoEpoch
	case r.Fixes == 0:
		return nil, fmt.Errorf("%d epochs, none with a position; the receiver had no fix", r.Epochs)
	case nearest > nearFieldM:
		return nil, fmt.Errorf("the drive comes no nearer to the field than %.1f km%s", nearest/1000, out.Far.text(j.Field))
	}

	for i := 0; bank != nil && j.Heights && i < len(j.Machine.Sections); i++ {
		out.Heights = append(out.Heights, bank.Profile(i))
	}
	out.Setpoints, out.Changes = b.Setpoints, b.Changes
	out.SetBackNs = -clockSetNs
	if clockSetNs != 0 {
		out.moveBy(clockSetNs, samples)
	}

	gate := j.trueGate(ctl)
	out.Track = j.Truth
	if m := gate.Machine; j.Truth == nil {
		out.Track = motion.Smooth(samples, m.Antenna())
		if m.Mount == sections.Trailed {
			motion.Trail(out.Track, m.HitchBehindM, m.DrawbarM)
		}
	}
	out.ctl = ctl
	out.Controller, out.NearestM = ctl.Counts(), nearest
	out.DurationS = float64(r.LastNs-r.FirstNs) * 1e-9
	return out, j.Score(out)
}

// Score scores an outcome of Run by the job's recorded states, whatever it was scored by
// before.
func (j *Job) Score(out *Outcome) (err error) {
	gate := j.trueGate(out.ctl)
	var initial []bool
	if j.Recorded != nil {
		out.OutOfTime = 0
		if initial, out.Changes, err = j.during(j.Recorded, out); err != nil {
			return err
		}
	}
	opt := j.scoring()
	if j.Recorded != nil {
		opt.WindowNs = sections.MaxLeadNs // whatever a lead can be off by
	}
	if out.Score, err = score.Run(out.Track, &gate, out.Changes, initial, opt); err != nil {
		return err
	}
	if j.RecordedSetpoints != nil {
		initial, told, err := j.during(j.RecordedSetpoints, out)
		if err != nil {
			return err
		}
		opt.Strips = false
		if out.Told, err = score.Run(out.Track, out.ctl.Gate(), told, initial, opt); err != nil {
			return err
		}
	}
	out.DistanceM, out.WorkS, out.WorkM = 0, 0, 0
	out.addWay(initial)
	out.Rows = rows.Measure(out.Track, gate.Machine, j.Field, out.Changes, initial, j.Tools)
	return nil
}

// trueGate asks of the machine that stands on the field.
func (j *Job) trueGate(ctl *sections.Controller) sections.Gate {
	if j.TrueMachine != nil {
		return ctl.Gate().Of(j.TrueMachine)
	}
	return *ctl.Gate()
}

// scoring returns how drives of this job are scored.
func (j *Job) scoring() score.Options {
	opt := score.Options{Strips: j.Strips, Stop: j.Stop, GapNs: j.Settings.ShortestUpNs, SpellNs: j.Settings.ShortestDownNs}
	if j.Settings.BridgeGaps {
		opt.GapNs = max(opt.GapNs, j.Settings.LiftLead.AloneNs()+j.Settings.DropLead.AloneNs())
	}
	return opt
}

// moveBy moves what happened to the time that the receiver's clock says at the
// end, where it was set meanwhile: what it said before was wrong.
func (o *Outcome) moveBy(ns int64, samples []motion.Sample) {
	o.Reception.FirstNs += ns
	o.Reception.LastNs += ns
	for i := range samples {
		samples[i].TimeNs += ns
	}
	for i := range o.Setpoints {
		o.Setpoints[i].DueNs += ns
	}
	for i := range o.Changes {
		o.Changes[i].TimeNs += ns
	}
	for _, p := range o.Heights {
		for i := range p {
			p[i].TimeNs += ns
		}
	}
}

// Bank returns the lifts of the job's machine as they truly are, raised and at
// rest.
func (j *Job) Bank() (*hydraulics.Bank, error) {
	bank, err := hydraulics.New(j.Hydraulics, len(j.Machine.Sections))
	if err != nil {
		return nil, err
	}
	for i, d := range j.Spread.Draw(len(j.Machine.Sections)) {
		if err := bank.SetDeviation(i, d); err != nil {
			return nil, err
		}
	}
	return bank, bank.Warm(j.Warming)
}

// during splits recorded work states into those that hold when the drive
// begins and the changes during it. Those after its end are left out, as nobody knows where
// they were made, except for what the last crossings may have made late.
func (j *Job) during(all []sections.WorkChange, out *Outcome) (initial []bool, changes []sections.WorkChange, err error) {
	firstNs, lastNs := out.Reception.FirstNs, out.Reception.LastNs
	if n := len(all); n > 0 && (all[0].TimeNs > lastNs || all[n-1].TimeNs < firstNs) {
		return nil, nil, fmt.Errorf("%w: they are from %s to %s, the positions from %s to %s; expected the same drive", ErrOtherDrive,
			stamp(all[0].TimeNs), stamp(all[n-1].TimeNs), stamp(firstNs), stamp(lastNs))
	}
	initial = make([]bool, len(j.Machine.Sections))
	from, _ := slices.BinarySearchFunc(all, firstNs+1, byTime)
	until, _ := slices.BinarySearchFunc(all, lastNs+sections.MaxLeadNs+1, byTime)
	for _, c := range all[:from] {
		initial[c.Section] = c.On
	}
	early, _ := slices.BinarySearchFunc(all, firstNs, byTime)
	out.OutOfTime += early + len(all) - until
	return initial, all[from:until], nil
}

func byTime(c sections.WorkChange, ns int64) int { return cmp.Compare(c.TimeNs, ns) }

func stamp(ns int64) string { return time.Unix(0, ns).UTC().Format(time.RFC3339) }
