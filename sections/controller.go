// The controller: takes fixes, keeps the motion, and each tick gives the
// setpoints that fall due in it.

package sections

import (
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/frozen"
	"liftbench/sections/motion"
	"liftbench/sections/worked"
)

// Hold is what the operator has set for one section.
type Hold uint8

const (
	Released Hold = iota // the controller decides
	HoldUp               // stays up
	HoldDown             // stays in work
)

// Controller decides when each section lifts and drops. It has no clock: the
// caller says what time it is. Its whole changing state is plain values in
// bounded arrays; AppendState and Restore save and load it.
type Controller struct {
	gate  Gate
	set   Settings
	reach float64 // from the bar frame's origin to its furthest point, m
	lift  int64   // longest lift lead, ns
	drop  int64
	idle  bool // no zone is worked whatever the heading

	s       state
	section []sectionState
	worked  *worked.Record // nil where worked ground is worked again
}

// state is what changes for the whole bar.
type state struct {
	Estimator  motion.Estimator
	ToolRad    float64 // heading of a trailed tool at the newest fix
	FixNs      int64   // time of the newest fix that was taken
	OdometerM  float64 // way travelled, forward less back, up to the newest fix
	Follow     Follow  // up to the newest fix
	SleepNs    int64   // nothing can happen before
	Settled    bool    // every section was as it ought to be at the last decision
	Held       int32   // sections that the operator holds
	LostNs     int64   // since when position is lost; 0 = it is not
	Manual     bool
	FailedSafe bool
	HeldAtRest bool
	LostReason Reason
	// SettledZones are the zones around the tractor then, and as far ahead as
	// that decision looked.
	SettledZones field.Mask
	Departures   int32   // fixes in a row without a position whose speed says that it moves
	AtEastM      float64 // the newest fix: the antenna as it says
	AtNorthM     float64
	JumpCount    int32   // rejected fixes in a row that agree with each other
	JumpEastM    float64 // the last of them
	JumpNorthM   float64
	JumpNs       int64
	Frozen       frozen.Way
	Counts       Counts
	// For Counts.Late: whether borders are not decided on now, or until when they
	// were not, and why; since when the zones that take part are what they are;
	// the two intervals between the newest fixes, and whether the newest is late.
	Hindered    bool
	HinderedBy  LateCause
	HinderedNs  int64
	SeenZones   field.Mask
	ZonesNs     int64
	IntervalsNs [2]int64
	FixLate     bool
}

// sectionState is what changes for one section.
type sectionState struct {
	On    bool
	Hold  Hold
	DueNs int64 // of the last command
	// Turn is when the valve moves for it, or moved, and Before the turn before.
	Turn, Before turn
	// Work is when the tool is in work, and WorkBefore the time before that.
	Work, WorkBefore span
	// CrossM is the odometer at the crossing that the last command at a border
	// was for: until it is reached nothing else is decided, however long that
	// takes. -Inf after any other command.
	CrossM float64
	// CrossNs is when that crossing was expected; of any other command, when it was given.
	CrossNs int64
	// WrongM is the odometer at a place ahead at which the section, in work, ought
	// to be up: the longest lead has looked beyond it. -Inf where there is none.
	WrongM float64
	// PendingNs is a predicted crossing whose command is not yet due.
	PendingNs int64
	// StrokeNs is how long the last lift was expected to move up to the
	// effective depth, as a flow-aware lead counted it.
	StrokeNs int64
	// HeldBy is why a command that is due is not given; EstimateMoved: it is none.
	HeldBy LateCause
}

// Counts is what the controller did with its fixes and decisions.
type Counts struct {
	Accepted   int64 // fixes used
	Stale      int64 // out of order: not newer than the one before
	LowQuality int64 // below the set minimum, or without position
	Jumped     int64 // beyond what speed allows
	Frozen     int64 // in contradiction to speed and course
	FailSafe   int64 // times the fail-safe was reached
	// Late are the commands given after their due time, by cause.
	Late [LateCauses]int64
	// HeldAtRest is how often a lost position was held, for longer than the
	// fail-safe waits, because the tractor stood.
	HeldAtRest int64
	// FailSafeLowQuality is how many of FailSafe were for low quality, not for want
	// of a fix.
	FailSafeLowQuality int64
	// FailSafeFrozen is how many of FailSafe were for a position that contradicted
	// speed and course.
	FailSafeFrozen int64
}

// New returns a controller with every section up, in automatic mode. It fails
// on a machine or settings that cannot work.
func New(m *Machine, f *field.Field, set Settings) (*Controller, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	if err := set.Validate(); err != nil {
		return nil, err
	}
	n := len(m.Sections)
	lift, drop := set.LiftLead.LongestNs(n), set.DropLead.LongestNs(n)
	longer := Trim{}
	for i := range m.Sections {
		t := m.Sections[i].Trim
		if err := t.Validate(&set.LiftLead, &set.DropLead); err != nil {
			return nil, fmt.Errorf("section %d: %w", i+1, err)
		}
		longer = Trim{LiftNs: max(longer.LiftNs, t.LiftNs), DropNs: max(longer.DropNs, t.DropNs)}
	}
	c := &Controller{
		gate: Gate{
			Field: f, Machine: m, Rule: set.Rule,
			CosRowTolerance: exact.Cos(set.RowToleranceRad),
			MinWorkRadiusM:  set.MinWorkRadiusM,
			SlackM:          set.SlackM,
			reachM:          m.ReachM(),
			WorkedGround:    set.WorkedGround,
			RowSpacingM:     set.RowSpacingM,
		},
		set:     set,
		reach:   m.ReachM(),
		lift:    lift + longer.LiftNs,
		drop:    drop + longer.DropNs,
		section: make([]sectionState, n),
		idle:    true,
	}
	for i := range f.Zones {
		if z := &f.Zones[i]; z.Kind != field.KeepOut && math.IsNaN(z.RowBearingRad) {
			c.idle = false
		}
	}
	var err error
	if c.worked, err = c.gate.Record(); err != nil {
		return nil, err
	}
	c.s.Estimator.Antenna = m.Antenna()
	for i := range c.section {
		c.section[i].Turn, c.section[i].Before = raised, raised
	}
	c.forgetCrossings()
	return c, nil
}

// Gate returns the question the controller asks of predicted poses, for a
// score to ask of true ones.
func (c *Controller) Gate() *Gate { return &c.gate }

// Counts returns what has been counted so far.
func (c *Controller) Counts() Counts { return c.s.Counts }

// On reports the last setpoint of section i.
func (c *Controller) On(i int) bool { return c.section[i].On }

// Standing reports whether the tractor stands: then nothing moves but what the
// operator holds, and a lost position is held until it moves.
func (c *Controller) Standing() bool { return c.s.Estimator.State.Still.Standing }

// watchDeparture tells from the speed alone that a tractor without a position
// no longer stands: the time until the fail-safe begins anew.
func (c *Controller) watchDeparture(f *nmea.Fix) {
	if !c.Standing() || !(f.SpeedMps > departedMps) {
		c.s.Departures = 0
		return
	}
	if c.s.Departures++; c.s.Departures < departedFixes {
		return
	}
	c.s.Departures = 0
	c.s.Estimator.State.Still.Standing = false
	c.s.LostNs, c.s.LostReason, c.s.SleepNs = f.TimeNs, LowQuality, 0
}

// A receiver's speed at rest is noise of up to 0.2 m/s.
const (
	departedMps   = 0.3
	departedFixes = 3
)

// Lost reports whether position is lost, and since when.
func (c *Controller) Lost() (sinceNs int64, reason Reason, lost bool) {
	return c.s.LostNs, c.s.LostReason, c.s.LostNs != 0
}

// SetAutomatic switches between automatic (true) and manual: ISO 11783-11
// DDI 160, section control state. In manual the controller gives no setpoint
// but those of Hold, and lifts what is held in work when the tractor reverses
// or the position is lost.
func (c *Controller) SetAutomatic(on bool) {
	c.s.Manual = !on
	c.s.SleepNs, c.s.Settled = 0, false
}

// Hold holds section i up or in work, or releases it, from the next tick on.
// HoldDown is the operator's own responsibility: only reversing, a lost
// position and HoldUp lift it.
func (c *Controller) Hold(i int, h Hold) {
	was := &c.section[i].Hold
	if (*was == Released) != (h == Released) {
		if c.s.Held++; h == Released {
			c.s.Held -= 2
		}
	}
	*was = h
	c.s.SleepNs, c.s.Settled = 0, false
}

// Fix takes a fix when it has arrived. A fix that is stale, of low quality or
// beyond what speed allows is counted and otherwise ignored.
func (c *Controller) Fix(f *nmea.Fix) {
	e, n := c.gate.Field.Plane.ToPlane(f.LatDeg, f.LonDeg)
	c.FixAt(f, e, n)
}

// FixAt is Fix where the position is known on the field's plane, as ToPlane gives it.
func (c *Controller) FixAt(f *nmea.Fix, e, n float64) {
	k := &c.s.Estimator
	if k.State.Started && f.TimeNs <= c.s.FixNs {
		c.s.Counts.Stale++
		return
	}
	if !f.HasPosition() || f.Quality.Rank() < c.set.MinQuality.Rank() {
		c.s.Counts.LowQuality++
		if c.s.LostNs == 0 {
			c.s.LostNs, c.s.LostReason = f.TimeNs, LowQuality
			c.s.SleepNs = 0
		}
		c.watchDeparture(f)
		return
	}
	before, known := k.Motion()
	if k.State.Started && !c.plausible(f, e, n, &before, known) {
		c.s.Counts.Jumped++
		return
	}
	if c.frozen(f, e, n) {
		return
	}
	if c.s.JumpCount = 0; c.s.FixNs != 0 {
		c.timeFix(f.TimeNs - c.s.FixNs)
	}
	c.s.FixNs, c.s.AtEastM, c.s.AtNorthM = f.TimeNs, e, n
	k.Update(f, e, n)
	after, ready := k.Motion()
	sin, cos := exact.Sincos(after.HeadingRad)
	wayM := 0.0
	if known && ready {
		if !c.Standing() {
			wayM = float64((after.EastM-before.EastM)*sin) + float64((after.NorthM-before.NorthM)*cos)
			c.s.OdometerM += wayM
		}
		if c.gate.Machine.Mount == Trailed {
			before.ToolHeadingRad = c.s.ToolRad
			c.s.ToolRad = motion.TrailStep(&before.Pose, &after.Pose, c.gate.Machine.HitchBehindM, c.gate.Machine.DrawbarM)
		}
	} else {
		c.s.ToolRad = after.HeadingRad
		c.s.Follow = Follow{}
	}
	if ready {
		pose := after.Pose
		pose.ToolHeadingRad = c.s.ToolRad
		at := c.gate.Machine.frame(&pose, sin, cos)
		if c.worked != nil && known {
			c.mark(&before.Pose, &pose)
		}
		c.gate.FollowTo(&c.s.Follow, &pose, &at)
		if c.worked != nil {
			bar := c.gate.Whole(&at)
			c.worked.Follow(c.s.Follow.Zones, &bar, wayM)
		}
	}
	c.s.Counts.Accepted++
	if c.s.LostNs != 0 {
		// There is no telling where it went meanwhile.
		c.s.LostNs, c.s.Settled = 0, false
	}
	c.s.SleepNs = 0
}

// plausible reports whether the antenna can have come to (e, n): within
// JumpM of where the motion carries it, plus what steering and braking can do
// in between; while the motion is not known, plus what the top speed allows since the
// newest fix. Fixes that fail but agree with each other are believed after
// JumpFixes of them, and the motion begins anew.
func (c *Controller) plausible(f *nmea.Fix, e, n float64, m *motion.Motion, ready bool) bool {
	k := &c.s.Estimator
	dt := float64(f.TimeNs-c.s.FixNs) * 1e-9
	pe, pn := c.s.AtEastM, c.s.AtNorthM
	allowed := c.set.JumpM + float64(c.set.MaxSpeedMps*dt)
	if ready {
		p := m.Predict(f.TimeNs)
		s, cos := exact.Sincos(p.HeadingRad)
		pe = p.EastM + float64(k.Antenna.XM*s) + float64(k.Antenna.YM*cos)
		pn = p.NorthM + float64(k.Antenna.XM*cos) - float64(k.Antenna.YM*s)
		allowed = c.set.JumpM + min(c.set.MaxSpeedMps*dt, hardestMps2*dt*dt)
	}
	if exact.Hypot(e-pe, n-pn) <= allowed {
		return true
	}
	sinceJump := float64(f.TimeNs-c.s.JumpNs) * 1e-9
	if c.s.JumpCount > 0 && exact.Hypot(e-c.s.JumpEastM, n-c.s.JumpNorthM) <= c.set.JumpM+float64(c.set.MaxSpeedMps*sinceJump) {
		c.s.JumpCount++
	} else {
		c.s.JumpCount = 1
	}
	c.s.JumpEastM, c.s.JumpNorthM, c.s.JumpNs = e, n, f.TimeNs
	if int(c.s.JumpCount) < c.set.JumpFixes {
		return false
	}
	k.State = motion.EstimatorState{}
	c.s.Settled = false
	c.forgetCrossings()
	return true
}

// hardestMps2 is more than a tractor on soil brakes or swerves with. Common
// practice, no source.
const hardestMps2 = 3.0

// predict returns the pose at timeNs.
func (c *Controller) predict(m *motion.Motion, timeNs int64) motion.Pose {
	p := m.Predict(timeNs)
	if c.gate.Machine.Mount == Trailed {
		from := m.Pose
		from.ToolHeadingRad = c.s.ToolRad
		p.ToolHeadingRad = motion.TrailStep(&from, &p, c.gate.Machine.HitchBehindM, c.gate.Machine.DrawbarM)
	}
	return p
}

// forgetCrossings lets every section decide anew: the way to the crossing that
// it was last told for is not the one that was foreseen.
func (c *Controller) forgetCrossings() {
	for i := range c.section {
		c.section[i].CrossM, c.section[i].WrongM = math.Inf(-1), math.Inf(-1)
	}
}
