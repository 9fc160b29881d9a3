// Package timezone finds the zone of a terminal's or a spreadsheet's clock.
package timezone

import (
	"fmt"
	"time"

	"liftbench/cmd/liftbench/failure"
)

// Named returns the zone of a name of the tz database (IANA, RFC 6557), as Europe/Berlin, or of an
// offset from UTC, as +02:00. It is nil for "".
func Named(name string) (*time.Location, error) {
	if name == "" {
		return nil, nil
	}
	if t, err := time.Parse("-07:00", name); err == nil {
		_, offset := t.Zone()
		return time.FixedZone(name, offset), nil
	}
	// Local is what the machine that reads the file has, which says nothing of the one that wrote it.
	if name != "Local" {
		if zone, err := time.LoadLocation(name); err == nil {
			return zone, nil
		}
		if zone, ok := packedZone(name); ok {
			return zone, nil
		}
	}
	return nil, fmt.Errorf("found %q; expected a zone, like Europe/Berlin, or an offset from UTC, like +02:00", name)
}

// OfStates returns the zone that --zone names, for times of work states that say none; nil
// for "".
func OfStates(flag, states string) (*time.Location, error) {
	zone, err := Named(flag)
	switch {
	case err != nil:
		return nil, &failure.Usage{Msg: "--zone: " + err.Error()}
	case zone != nil && states == "":
		return nil, &failure.Usage{Msg: "--zone " + flag + ": expected it with --states, whose times it is for"}
	}
	return zone, nil
}
