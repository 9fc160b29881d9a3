// Package record writes the sentences that arrive to files. In front of each
// sentence stands the host's time of its arrival, UTC:
//
//	2031-05-11T14:03:07.250123456Z $GNGGA,...
//
// nmea.Scanner reads this form. A new file begins when one reaches a certain
// size or age.
package record
