// Package live runs the controller against the clock: bytes in, setpoints out.
//
// It decides what sim.Job decides on the same fixes, for both call the
// controller by the same schedule.Schedule, in which nothing counts but the
// fixes and when each arrived. While bytes are being read nobody but the
// reader holds the engine; it is let go only to wait for more. So the arrival
// time of some bytes lies after every tick that has been run, and no tick
// after it is run before those bytes have been used. A recording keeps exactly
// these arrival times, and is therefore decided the same when it is run.
//
// A fix is decided on when the last byte of its epoch arrives (epoch.Assembler
// with Live), by a tick at that very instant; between fixes the controller
// ticks on the grid, whether anything arrives or not, so that silence ends in
// the fail-safe in its time.
//
// Setpoints say when they are due, as a rule a little ahead. Lines of JSON go
// out when decided; the compact line and the frames, which say what holds now,
// when due, and again each second, so that a peer that missed one, or came
// late, is set right.
package live
