// What a scored drive amounts to: counts, errors and areas, by section and in
// total.

package score

import (
	"github.com/paulmach/orb"

	"liftbench/sections/enum"
)

// Options are the choices of one score.
type Options struct {
	// WindowNs is the longest time between an ideal and an actual transition
	// that can be a pair; 0 = 5 s.
	WindowNs int64
	// GapNs and SpellNs are the shortest time that a section can be up, and in
	// work, by the controller's settings (its shortest times, or the gap that it
	// bridges): ideal crossings closer together are left out, both of them.
	// 0 = none. Areas do not hang on them.
	GapNs, SpellNs int64
	// Strips asks for Result.Strips.
	Strips bool
}

// Result is the score of one drive. The same input gives the same result.
type Result struct {
	Lift, Drop Stats
	Area       Areas // sums over the sections
	Sections   []Section
	Events     []Event // in order of time, then section

	ZoneM2       float64 // body and headland zones without keep-out ground, as on the map
	WorkedOnceM2 float64 // ground worked at least once
	OutsideM2    float64 // the part of it outside all zones, whatever their rows
	HatchM       float64 // between the lines on which ground worked once and again is measured

	Strips []Strip // by section, then time; nil unless asked for
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

// Stats counts the transitions of one direction. Count = Paired + Missed.
type Stats struct {
	Count    int `json:"count"`    // ideal crossings
	Paired   int `json:"paired"`   // with an actual transition
	Missed   int `json:"missed"`   // without
	Spurious int `json:"spurious"` // actual transitions without an ideal one

	// Of the pairs; nil (null in JSON) when there are none.
	TimeErrorS  *Spread `json:"time_error_s"`
	PlaceErrorM *Spread `json:"place_error_m"`
}

// Spread sums up signed errors, positive = late.
type Spread struct {
	Mean float64 `json:"mean"` // signed
	// P95Abs is the 95th percentile of the errors' sizes by nearest rank: the
	// smallest size that at least 95 % of them do not exceed.
	P95Abs float64 `json:"p95_abs"`
	MaxAbs float64 `json:"max_abs"`
}

// Kind says how a transition was matched.
type Kind uint8

const (
	Paired   Kind = iota // ideal and actual
	Missed               // ideal without actual
	Spurious             // actual without ideal
	// Start is the change by which a section that began the drive out of step
	// with its ideal state came into step. It counts as neither good nor bad.
	Start
)

var kindNames = []string{Paired: "paired", Missed: "missed", Spurious: "spurious", Start: "start"}

// String returns the kind as printed: paired, missed, spurious or start.
func (k Kind) String() string { return enum.Name(kindNames, k) }

// Event is one transition of one section.
type Event struct {
	Section  int16 // index from 0; printed from 1
	On       bool  // drop; otherwise lift
	Kind     Kind
	IdealNs  int64 // UTC, ns since 1970; 0 when spurious or start
	ActualNs int64 // the same; 0 when missed

	TimeErrorS  float64 // positive = late; NaN unless paired
	PlaceErrorM float64 // the same

	// At the ideal instant, or the actual one where there is no ideal.
	EastM, NorthM  float64 // of the section's middle
	SpeedMps       float64 // of the section's middle along its path, negative backwards
	HeadingRad     float64 // of the tool, clockwise from north, -π to π
	YawRateRadPerS float64 // of the tractor, positive = turning right
	// Together is the number of other sections that ought to move the same way
	// within 0.25 s of the ideal instant. For an event without ideal it counts
	// the other sections that did move the same way, of the actual one.
	Together int
}

// TimeNs is the ideal instant, or the actual one where there is no ideal.
func (e *Event) TimeNs() int64 {
	if e.hasIdeal() {
		return e.IdealNs
	}
	return e.ActualNs
}

func (e *Event) hasIdeal() bool { return e.Kind == Paired || e.Kind == Missed }

// Ground is what became of a strip.
type Ground uint8

const (
	Worked     Ground = iota // in work inside the zones that take part
	Overrun                  // in work outside any zone
	AcrossRows               // in work in a zone that does not take part
	Miss                     // not in work inside the zones that take part
	passedBy                 // neither in work nor meant to be: no strip
)

// String returns the kind of ground as printed: worked, overrun, across_rows, miss.
func (g Ground) String() string { return enum.Name(groundNames, g) }

var groundNames = []string{Worked: "worked", Overrun: "overrun", AcrossRows: "across_rows", Miss: "miss", passedBy: "passed_by"}

// Strip is the outline of the ground that one section swept in one stretch of
// time. Where part of the section's line lies on other ground, the strip is of
// the kind that at least half of the line is. The ring is closed, within about
// 1 cm of the true path, and may overlap itself where the section reversed.
type Strip struct {
	Section         int16 // index from 0; printed from 1
	Ground          Ground
	FromNs, UntilNs int64
	Ring            orb.Ring // on the plane: east, north in metres
}
