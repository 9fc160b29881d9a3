// Package sections decides when each section of the bar must lift and drop:
// position fixes in, setpoints out. It is written as it would be for a
// controller on the machine: a fixed tick, no clock, no I/O, no goroutine and
// no allocation once constructed.
package sections
