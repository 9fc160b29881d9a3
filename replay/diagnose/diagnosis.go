// Package diagnose finds why lifts and drops were late. From the transitions of a
// scored drive it derives causes, each with its size, its 95 % interval, the evidence
// and the setting to change.
package diagnose

import "liftbench/replay/diagnose/clock"

// Cause names what was wrong, in print and in diagnosis.json.
type Cause string

const (
	LiftTiming    Cause = "lift timing"     // s: lifts have the same time error at every speed
	DropTiming    Cause = "drop timing"     // s: drops do
	LiftGeometry  Cause = "lift geometry"   // m: lifts have the same place error at every speed
	DropGeometry  Cause = "drop geometry"   // m: drops do
	Geometry      Cause = "geometry"        // m: lifts and drops have the same place error
	CommandTiming Cause = "command timing"  // s: setpoints come late or early; the machine is as quick as it should be
	MachineSlow   Cause = "machine slow"    // s: all sections take longer from setpoint to work state than they should
	FileLead      Cause = "lead on file"    // s: the machine, and the commands with it, have a lead that is longer than the one on file
	SlowSection   Cause = "slow section"    // s: one section differs from the others; Section says which
	FlowShortage  Cause = "flow shortage"   // s a section: each further section that lifts at the same time makes lifts later
	ColdOil       Cause = "cold oil"        // s at the start of the day: lateness fades as the oil warms
	Latency       Cause = "latency"         // s: lifts and drops have the same time error
	HeadingError  Cause = "heading error"   // s: place error = distance to the side × yaw rate × size
	PoorReception Cause = "poor reception"  // s: crossings after old, less accurate or missing fixes are off by this much more
	WrongBorder   Cause = "wrong border"    // m: the controller has a piece of the border, or all of it, too far out (positive) or in
	DoesNotFollow Cause = "does not follow" // share of the setpoints, or of the crossings, that a section or the machine did not follow
	SectionOrder  Cause = "section order"   // sections that were recorded under a wrong number
	Erratic       Cause = "erratic"         // s: standard deviation of a section, or of all, beyond what reception explains
	Sensor        Cause = "sensor"          // share of a section's recorded changes that the tool cannot have made
	ClockOffset   Cause = "clock offset"    // s: the clock that wrote the changes is ahead (positive) of the positions' or behind
	ByHand        Cause = "worked by hand"  // share of the transitions that are far from any border, or from where the others are made
)

// Interval is a 95 % confidence interval.
type Interval [2]float64

// Fit is the line e = Δx + v·Δt of place error e over speed v, for lifts or for drops;
// positive = late. What the day cannot tell is nil (null in JSON).
type Fit struct {
	TimeErrorS   *float64  `json:"time_error_s"` // Δt
	TimeErrorCI  *Interval `json:"time_error_ci95"`
	PlaceErrorM  *float64  `json:"place_error_m"` // Δx
	PlaceErrorCI *Interval `json:"place_error_ci95"`
	Count        int       `json:"count"` // transitions that were used

	varTime, varPlace, cov float64 // of Δt and Δx
	df                     int
}

// Finding is one cause that the day shows.
type Finding struct {
	Cause    Cause    `json:"cause"`
	Section  int      `json:"section,omitempty"` // from 1, if it concerns one section
	Move     string   `json:"move,omitempty"`    // lift or drop, if it concerns one of them
	Size     float64  `json:"size"`              // signed: positive = late
	Unit     string   `json:"unit"`
	CI95     Interval `json:"ci95"`
	Evidence string   `json:"evidence"` // one sentence
	Change   string   `json:"change"`   // one sentence: which setting to change, which way and by how much
	// Of a clock offset: DriftS is what the clock gains over the day, Size then its offset in
	// the middle; Record is setpoint or actual, if it is the clock of one of them alone.
	DriftS float64 `json:"drift_s,omitempty"`
	Record string  `json:"record,omitempty"`
}

// Doubt is two or more causes that explain the day equally well.
type Doubt struct {
	Between []Cause `json:"between"`
	Why     string  `json:"why"`   // one sentence
	Drive   string  `json:"drive"` // one sentence: the drive that would tell them apart
}

// Floor is the smallest size of a cause that this day would have revealed, and parted
// from the other causes, with a probability of about 95 %.
type Floor struct {
	Cause Cause    `json:"cause"`
	Move  string   `json:"move,omitempty"`
	Size  *float64 `json:"size"` // nil: no size would have shown
	Unit  string   `json:"unit"`
}

// Diagnosis is the answer for one day.
type Diagnosis struct {
	Lift       Fit       `json:"lift"`
	Drop       Fit       `json:"drop"`
	Causes     []Finding `json:"causes"`      // strongest first, the clock last, as it made nothing late; empty = nothing wrong
	CannotTell []Doubt   `json:"cannot_tell"` // empty = everything could be told apart
	Floors     []Floor   `json:"floors"`      // what this day would have shown
	// Sampling is the grid of the times of work states, or of setpoints alone; nil = finer
	// than 10 ms.
	Sampling *clock.Sampling `json:"sampling"`
}
