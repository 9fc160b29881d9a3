// Package cause names what can be wrong on a day, and says of what was found how it shows
// and what to change: in ms, cm and km/h, by what a terminal's menu asks for, with the key
// of the machine file behind it.
package cause

import "math"

// Name names what was wrong, in print and in diagnosis.json.
type Name string

const (
	LiftTiming    Name = "lift timing"     // s: lifts have the same time error at every speed
	DropTiming    Name = "drop timing"     // s: drops do
	LiftGeometry  Name = "lift geometry"   // m: lifts have the same place error at every speed
	DropGeometry  Name = "drop geometry"   // m: drops do
	Geometry      Name = "geometry"        // m: lifts and drops have the same place error
	CommandTiming Name = "command timing"  // s: setpoints come late or early; the machine is as quick as it should be
	MachineSlow   Name = "machine slow"    // s: all sections take longer from setpoint to work state than they should
	FileLead      Name = "lead on file"    // s: the machine, and the commands with it, have a lead that is longer than the one on file
	SlowSection   Name = "slow section"    // s: one section differs from the others; Fact.Section says which
	FlowShortage  Name = "flow shortage"   // s a section: each further section that lifts at the same time makes lifts later
	ColdOil       Name = "cold oil"        // s at the start of the day: lateness fades as the oil warms
	Latency       Name = "latency"         // s: lifts and drops have the same time error
	HeadingError  Name = "heading error"   // s: place error = distance to the side × yaw rate × size
	PoorReception Name = "poor reception"  // s: crossings after old, less accurate or missing fixes are off by this much more
	WrongBorder   Name = "wrong border"    // m: the controller has a piece of the border, or all of it, too far out (positive) or in
	DoesNotFollow Name = "does not follow" // share of the setpoints, or of the crossings, that a section or the machine did not follow
	SectionOrder  Name = "section order"   // sections that were recorded under a wrong number
	Erratic       Name = "erratic"         // s: standard deviation of a section, or of all, beyond what reception explains
	Sensor        Name = "sensor"          // share of a section's recorded changes that the tool cannot have made
	ClockOffset   Name = "clock offset"    // s: the clock that wrote the changes is ahead (positive) of the positions' or behind
	ByHand        Name = "worked by hand"  // share of the transitions that are far from any border, or from where the others are made
)

// Unit is the unit of the size of a cause.
func (c Name) Unit() string {
	switch c {
	case LiftGeometry, DropGeometry, Geometry, WrongBorder:
		return "m"
	case FlowShortage:
		return "s/section"
	case ByHand, DoesNotFollow, Sensor:
		return "share"
	case SectionOrder:
		return "sections"
	}
	return "s"
}

// Interval is a 95 % confidence interval.
type Interval [2]float64

// mostDecimals is how many decimals an interval is given at most.
const mostDecimals = 3

// Decimals returns how many decimals are needed to print an interval, in a unit, so that
// its ends differ: at least atLeast, at most three.
func (i Interval) Decimals(unit float64, atLeast int) int {
	d := atLeast
	for step := math.Pow(10, -float64(d)); d < mostDecimals && i[1]-i[0] < 2*step*unit; d++ {
		step /= 10
	}
	return d
}
