// Package receiver simulates a GNSS receiver on the tractor. It takes the true
// motion and gives what a receiver with a certain rate, latency, noise and
// faults would report, as nmea.Fix values or as NMEA 0183 sentences.
package receiver
