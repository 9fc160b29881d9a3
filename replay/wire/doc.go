// Package wire encodes and decodes setpoints in three forms: a line of JSON for
// each setpoint, a compact line with a checksum for the state of all sections,
// and CAN frames with ISO 11783 process data. Encoders append to the caller's
// buffer and allocate nothing.
package wire
