// Package record keeps what arrived: each sentence behind the host's time of
// its arrival,
//
//	2031-05-11T14:03:07.250123456Z $GNGGA,...
//
// as nmea.Scanner reads it back, in files that are closed by size and age.
package record
