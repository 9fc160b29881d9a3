// Package receiver is a GNSS receiver on the tractor: from the true motion to
// what it says of it, with its rate, latency, noise and faults, as nmea.Fix
// values or as NMEA 0183 sentences.
package receiver
