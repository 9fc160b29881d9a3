// This file defines the result of a score: counts, errors and areas, of each section and
// in total.

package score

import (
	"github.com/paulmach/orb"

	"liftbench/sections/enum"
)

// Options are the settings of a score.
type Options struct {
	// WindowNs is the longest time between an ideal and an actual change that can
	// still be a pair; 0 = 5 s.
	WindowNs int64
	// GapNs is the shortest time for which the controller's settings let it lift a
	// section, and SpellNs the shortest for which they let it drop one. Where an ideal
	// lift and drop are closer together than that, neither is counted. 0 = count all.
	// Areas do not depend on them.
	GapNs, SpellNs int64
	// Strips is set to get Result.Strips.
	Strips bool
	// Stop is asked every 1024 legs of the track, some 10 ms, whether to go on; Run ends
	// early with what it returns. nil = nobody asks.
	Stop func() error
}

// Result is the score of one drive. The same input gives the same result.
type Result struct {
	Lift, Drop Stats
	Area       Areas // sum of all sections
	Sections   []Section
	Events     []Event // in order of time, then section

	ZoneM2       float64 // ground to be worked: field.AreaM2
	WorkedOnceM2 float64 // ground worked at least once
	OutsideM2    float64 // the part of WorkedOnceM2 that lies outside all zones, whatever their rows
	HatchM       float64 // distance between the lines on which WorkedOnceM2 and RepeatM2 are measured

	Strips []Strip // by section, then time; nil unless Options.Strips is set
}

// Section is the score of one section.
type Section struct {
	Lift, Drop Stats
	Area       Areas
}

// Areas are square metres; the package comment defines each.
type Areas struct {
	PassedM2     float64
	WorkedM2     float64
	MissM2       float64
	OverrunM2    float64
	AcrossRowsM2 float64
	RepeatM2     float64
}

// add sums areas.
func (a *Areas) add(b *Areas) {
	a.PassedM2 += b.PassedM2
	a.WorkedM2 += b.WorkedM2
	a.MissM2 += b.MissM2
	a.OverrunM2 += b.OverrunM2
	a.AcrossRowsM2 += b.AcrossRowsM2
	a.RepeatM2 += b.RepeatM2
}

// Stats counts lifts, or drops. Count = Paired + Missed.
type Stats struct {
	Count    int `json:"count"`    // ideal ones
	Paired   int `json:"paired"`   // ideal ones that were carried out
	Missed   int `json:"missed"`   // ideal ones that were not
	Spurious int `json:"spurious"` // carried out where there is no ideal one

	// Errors of the pairs; nil (null in JSON) if there are none.
	TimeErrorS  *Spread `json:"time_error_s"`
	PlaceErrorM *Spread `json:"place_error_m"`
}

// Spread summarizes errors. They are positive = late.
type Spread struct {
	Mean float64 `json:"mean"` // signed
	// P95Abs is the 95th percentile of the absolute errors by nearest rank: the
	// smallest of them that at least 95 % do not exceed.
	P95Abs float64 `json:"p95_abs"`
	MaxAbs float64 `json:"max_abs"`
}

// Kind says what an event consists of.
type Kind uint8

const (
	Paired   Kind = iota // an ideal change and the actual one
	Missed               // an ideal change without an actual one
	Spurious             // an actual change without an ideal one
	// Start is the first actual change of a section whose state was wrong when the drive
	// began, and right from then on. It is not counted in Stats.
	Start
)

var kindNames = []string{Paired: "paired", Missed: "missed", Spurious: "spurious", Start: "start"}

// String returns the kind as printed: paired, missed, spurious or start.
func (k Kind) String() string { return enum.Name(kindNames, k) }

// Event is one lift or drop of one section.
type Event struct {
	Section  int16 // index from 0; printed from 1
	On       bool  // drop; otherwise lift
	Kind     Kind
	IdealNs  int64 // UTC, ns since 1970; 0 if spurious or start
	ActualNs int64 // UTC, ns since 1970; 0 if missed

	TimeErrorS  float64 // positive = late; NaN unless paired
	PlaceErrorM float64 // positive = late; NaN unless paired

	// At the time TimeNs:
	EastM, NorthM  float64 // of the section's middle
	SpeedMps       float64 // of the section's middle along its path, negative backwards
	HeadingRad     float64 // of the tool, clockwise from north, -π to π
	YawRateRadPerS float64 // of the tractor, positive = turning right
	// Together is the number of other sections that should move the same way within
	// 0.25 s of IdealNs or, for an event without an ideal change, that did move the same
	// way within 0.25 s of ActualNs.
	Together int
}

// TimeNs is the ideal instant or, if there is none, the actual one.
func (e *Event) TimeNs() int64 {
	if e.hasIdeal() {
		return e.IdealNs
	}
	return e.ActualNs
}

func (e *Event) hasIdeal() bool { return e.Kind == Paired || e.Kind == Missed }

// Ground says what a section did on a strip of ground.
type Ground uint8

const (
	Worked     Ground = iota // in work inside the zones that take part
	Overrun                  // in work outside any zone
	AcrossRows               // in work in a zone that does not take part
	Miss                     // not in work inside the zones that take part
	passedBy                 // not in work, and rightly so: no strip is drawn
)

// String returns the kind of ground as printed: worked, overrun, across_rows, miss.
func (g Ground) String() string { return enum.Name(groundNames, g) }

var groundNames = []string{Worked: "worked", Overrun: "overrun", AcrossRows: "across_rows", Miss: "miss", passedBy: "passed_by"}

// Strip is the outline of ground of one kind that one section swept without a break. Where
// a section's line lies on two kinds of ground, the strip is of the kind of at least half
// of the line. The ring is closed and within about 1 cm of the true path. It overlaps
// itself where the section reversed.
type Strip struct {
	Section         int16 // index from 0; printed from 1
	Ground          Ground
	FromNs, UntilNs int64
	Ring            orb.Ring // on the plane: east, north in metres
}
