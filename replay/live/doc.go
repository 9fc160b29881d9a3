// Package live runs the controller against the clock: bytes in, setpoints out.
package live
