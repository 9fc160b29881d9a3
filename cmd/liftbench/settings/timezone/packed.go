// The zones of the tz database, for systems that have none, as Windows and bare containers.
// Package time/tzdata holds the same unpacked, which makes the program 0.4 MB larger.

package timezone

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/binary"
	"io"
	"strings"
	"time"
)

// zoneData is packed by TestPackedZones from the zones that come with Go, which are IANA's
// (public domain): for each different zone a line of its names, its length in two bytes,
// high byte first, and its data (RFC 9636).
//
//go:embed zones.gz
var zoneData []byte

// packedZone returns a zone of the packed database by its name.
func packedZone(name string) (*time.Location, bool) {
	if name == "" || strings.ContainsAny(name, " \n") {
		return nil, false
	}
	z, err := gzip.NewReader(bytes.NewReader(zoneData))
	if err != nil {
		return nil, false
	}
	all, err := io.ReadAll(z)
	if err != nil {
		return nil, false
	}
	for len(all) > 0 {
		names, rest, _ := bytes.Cut(all, []byte("\n"))
		n := 2 + int(binary.BigEndian.Uint16(rest))
		for one := range strings.FieldsSeq(string(names)) {
			if one == name {
				zone, err := time.LoadLocationFromTZData(name, rest[2:n])
				return zone, err == nil
			}
		}
		all = rest[n:]
	}
	return nil, false
}
