// Package diagnose finds why lifts and drops were late. From the transitions of a
// scored drive it derives causes, each with its size, its 95 % interval, the evidence
// and the setting to change.
package diagnose

import (
	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/clock"
)

// Cause names what was wrong, in print and in diagnosis.json.
type Cause = cause.Name

// The causes, with their meaning and units in package cause.
const (
	LiftTiming    = cause.LiftTiming
	DropTiming    = cause.DropTiming
	LiftGeometry  = cause.LiftGeometry
	DropGeometry  = cause.DropGeometry
	Geometry      = cause.Geometry
	CommandTiming = cause.CommandTiming
	MachineSlow   = cause.MachineSlow
	FileLead      = cause.FileLead
	SlowSection   = cause.SlowSection
	FlowShortage  = cause.FlowShortage
	ColdOil       = cause.ColdOil
	Latency       = cause.Latency
	HeadingError  = cause.HeadingError
	PoorReception = cause.PoorReception
	WrongBorder   = cause.WrongBorder
	DoesNotFollow = cause.DoesNotFollow
	SectionOrder  = cause.SectionOrder
	Erratic       = cause.Erratic
	Sensor        = cause.Sensor
	ClockOffset   = cause.ClockOffset
	ByHand        = cause.ByHand
)

// Interval is a 95 % confidence interval.
type Interval = cause.Interval

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
	Cause   Cause    `json:"cause"`
	Section int      `json:"section,omitempty"` // from 1, if it concerns one section
	Move    string   `json:"move,omitempty"`    // lift or drop, if it concerns one of them
	Size    float64  `json:"size"`              // signed: positive = late
	Unit    string   `json:"unit"`
	CI95    Interval `json:"ci95"`
	// Feeds is how many sections the pump of a flow shortage moves at full speed; nil for
	// other causes.
	Feeds     *float64  `json:"feeds,omitempty"`
	FeedsCI95 *Interval `json:"feeds_ci95,omitempty"`
	Evidence  string    `json:"evidence"` // one sentence
	Change    string    `json:"change"`   // one sentence: which setting to change, which way and by how much
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
