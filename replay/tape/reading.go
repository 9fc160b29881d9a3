// Package tape finds the timing of a section lift from readings with a tape and a stopwatch: a few
// passes over a line of flags at two speeds, ten numbers on paper.
//
//	sheet, err := tape.Read(file, "passes.csv", tape.Defaults{})  // CSV; a row that cannot be read is named
//	answer := tape.Find(sheet.Readings, tape.DefaultWish())       // what to set, how sure, what is missing
//
// Place error e against speed v over the passes: e = Δx + v·Δt. The slope is a time, which the lead
// takes away; the intercept is a place, such as a wrong distance from antenna to tool. The statistics
// are those of a diagnosis (package regress).
package tape

import "liftbench/sections/enum"

// Move is what was measured: a lift or a drop.
type Move uint8

// The moves.
const (
	Lift Move = iota
	Drop
)

var moveNames = []string{Lift: "lift", Drop: "drop"}

func (m Move) String() string                { return enum.Name(moveNames, m) }
func (m Move) MarshalText() ([]byte, error)  { return enum.Text(moveNames, m) }
func (m *Move) UnmarshalText(b []byte) error { return enum.Set(m, moveNames, b) }

// Reading is one number read off the tape, and how it came about.
type Reading struct {
	Row  int    // in the file, the heading being row 1; or the number of the answer, from 1
	Pass string // as it was called; may be empty
	Move Move
	// Section is counted from 1, leftmost in the driving direction; 0 = all sections together.
	Section  int
	SpeedMps float64 // above 0
	// LateM is from the flag line to the edge of the undisturbed soil, in the driving direction;
	// positive = the tool came out, or went in, beyond the line: late.
	LateM     float64
	LeadS     *float64 // the lead that was set; nil = nobody wrote it down
	AntennaM  *float64 // the distance from antenna back to the tool that was set, negative where the tool is ahead
	OilC      *float64 // temperature of the oil
	Oil       Oil      // where only cold or warm is known
	Direction string   // any two words, as north and south; may be empty
}

// Oil says of oil what a hand on the tank can tell.
type Oil uint8

// The states of oil.
const (
	OilUnknown Oil = iota
	OilCold
	OilWarm
)

var oilNames = []string{OilUnknown: "unknown", OilCold: "cold", OilWarm: "warm"}

func (o Oil) String() string                { return enum.Name(oilNames, o) }
func (o *Oil) UnmarshalText(b []byte) error { return enum.Set(o, oilNames, b) }

// Unread is a row that could not be read.
type Unread struct {
	Row int
	Why string // what was found and what was expected
}
