// Package sections decides when each section of the bar must lift and drop:
// position fixes in, setpoints out. It is written as it would be for a
// controller on the machine: a fixed tick, no clock, no I/O, no goroutine and
// no allocation once constructed.
//
// The words used throughout:
//
//   - a section is in work when its tools are in the soil, and up otherwise; a
//     setpoint tells it to lift or to drop;
//   - a zone takes part while its borders command sections: one with rows only on a
//     pass along them, one without rows always;
//   - the lead is the time from a command to its effect, by which it is given ahead;
//   - a command is held while something, such as too low a speed, keeps it from
//     being given although it is due;
//   - the position is lost when no fix, or none good enough, has come for as long as
//     Settings allows: then the fail-safe lifts all sections.
package sections
