// Package diagnose finds why lifts and drops were late: from the transitions
// of a scored drive to causes, each with its size, its confidence interval,
// its evidence and the setting to change.
package diagnose

// Cause names what was wrong, as printed and as in diagnosis.json.
type Cause string

const (
	LiftTiming    Cause = "lift timing"    // s: the same time error at every speed, lifts alone
	DropTiming    Cause = "drop timing"    // s
	LiftGeometry  Cause = "lift geometry"  // m: the same place error at every speed
	DropGeometry  Cause = "drop geometry"  // m
	Geometry      Cause = "geometry"       // m: the same place error on lifts and drops
	CommandTiming Cause = "command timing" // s: setpoints late or early, the machine as quick as it should be
	MachineSlow   Cause = "machine slow"   // s: setpoint to actual longer than it should be, all sections
	SlowSection   Cause = "slow section"   // s: one section among good ones; Section says which
	FlowShortage  Cause = "flow shortage"  // s a section: lateness grows with the number moving at once
	ColdOil       Cause = "cold oil"       // s at the start: lateness fades with running time
	Latency       Cause = "latency"        // s: the same time error on lifts and drops
	HeadingError  Cause = "heading error"  // s: error = lateral position × yaw rate × this
	PoorReception Cause = "poor reception" // s: what old, float or missing fixes add
	WrongBorder   Cause = "wrong border"   // m: a piece of the border, or all of it, is off; positive = the controller had it further out
	ByHand        Cause = "worked by hand" // share of the transitions that are far from any border, or from where the others are
)

// Interval is a 95 % confidence interval.
type Interval [2]float64

// Fit is e = Δx + v·Δt for lifts or for drops: positive = late.
// What the data cannot tell is nil (null in JSON).
type Fit struct {
	TimeErrorS   *float64  `json:"time_error_s"` // Δt
	TimeErrorCI  *Interval `json:"time_error_ci95"`
	PlaceErrorM  *float64  `json:"place_error_m"` // Δx
	PlaceErrorCI *Interval `json:"place_error_ci95"`
	Count        int       `json:"count"` // transitions that took part

	varTime, varPlace, cov float64 // of Δt and Δx
	df                     int
}

// Finding is one cause that the data show.
type Finding struct {
	Cause    Cause    `json:"cause"`
	Section  int      `json:"section,omitempty"` // from 1, where it is of one section
	Move     string   `json:"move,omitempty"`    // lift or drop, where it is of one alone
	Size     float64  `json:"size"`              // signed: positive = late
	Unit     string   `json:"unit"`
	CI95     Interval `json:"ci95"`
	Evidence string   `json:"evidence"` // one sentence
	Change   string   `json:"change"`   // one sentence: the setting to change, which way, by how much
}

// Doubt is two or more causes that the data cannot separate.
type Doubt struct {
	Between []Cause `json:"between"`
	Why     string  `json:"why"`   // one sentence
	Drive   string  `json:"drive"` // one sentence: what drive would tell
}

// Floor is the smallest size at which this day's data would show a cause, and
// tell it from the others, with a probability of about 95 %.
type Floor struct {
	Cause Cause    `json:"cause"`
	Move  string   `json:"move,omitempty"`
	Size  *float64 `json:"size"` // nil: not at any size
	Unit  string   `json:"unit"`
}

// Diagnosis is the answer for one day.
type Diagnosis struct {
	Lift       Fit       `json:"lift"`
	Drop       Fit       `json:"drop"`
	Causes     []Finding `json:"causes"`      // strongest first; empty = nothing wrong
	CannotTell []Doubt   `json:"cannot_tell"` // empty = everything could be told apart
	Floors     []Floor   `json:"floors"`      // what would have been seen, had it been there
}
