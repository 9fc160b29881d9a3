// Package wire puts setpoints on the wire, in three forms: a line of JSON for
// each setpoint; a compact checksummed line with the state of all sections;
// CAN frames as ISO 11783 process data. Encoding appends to the caller's buffer
// and allocates nothing.
package wire
