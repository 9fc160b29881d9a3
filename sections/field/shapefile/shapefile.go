// Package shapefile decodes shapefiles (ESRI Shapefile Technical Description, July 1998) into the
// same features as package geojson: polygons, lines and points, with the attributes of the dBASE table
// beside them as properties, and the coordinates as the .prj file says.
package shapefile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/field/geojson"
)

// Limits of a file, each far above those of any field.
const (
	MaxBytes   = 16 << 20
	maxRecords = 10_000
	maxPoints  = 500_000
	maxRings   = 2000
)

// Set is a shapefile: the contents of .shp, .dbf and .prj. The last two are nil where
// they are absent.
type Set struct{ Shp, Dbf, Prj []byte }

// magic is the file code 9994.
var magic = []byte{0, 0, 0x27, 0x0a}

const headerBytes = 100

// Is reports whether data begins as a .shp does, and not as the index beside one (.shx): there
// the first record's offset in words, 50, stands in place of its number, 1.
func Is(data []byte) bool { return bytes.HasPrefix(data, magic) && !IsIndex(data) }

// IsIndex reports whether data begins as the index of a shapefile does.
func IsIndex(data []byte) bool {
	return bytes.HasPrefix(data, magic) && len(data) >= headerBytes+8 && binary.BigEndian.Uint32(data[headerBytes:]) == headerBytes/2
}

// Decode decodes a shapefile. There is at least one feature; records without a shape,
// and those that are deleted in the table, are left out. The error says which record, what was found and
// what was expected.
func Decode(s Set) ([]geojson.Feature, error) {
	if len(s.Shp) > MaxBytes || len(s.Dbf) > MaxBytes {
		return nil, fmt.Errorf("holds more than %d MiB; expected one field", MaxBytes>>20)
	}
	if len(s.Shp) < headerBytes || !Is(s.Shp) {
		return nil, fmt.Errorf("a shapefile of %d bytes; expected a header of %d", len(s.Shp), headerBytes)
	}
	if v := binary.LittleEndian.Uint32(s.Shp[28:]); v != version {
		return nil, fmt.Errorf("a shapefile of version %d; expected %d", v, version)
	}
	ground, err := groundOf(s.Prj)
	if err != nil {
		return nil, err
	}
	rows, err := tableOf(s.Dbf)
	if err != nil {
		return nil, err
	}
	list, err := records(s.Shp)
	if err != nil {
		return nil, err
	}
	if s.Dbf != nil && len(rows) != len(list) {
		return nil, fmt.Errorf("%d shapes and %d rows of the table (.dbf); expected the .dbf of the same file", len(list), len(rows))
	}
	var features []geojson.Feature
	for i, r := range list {
		f := geojson.Feature{Index: i, Kind: "record"}
		if s.Dbf != nil {
			if rows[i].deleted {
				continue
			}
			for _, c := range rows[i].cells {
				f.Put(c.key, c.text)
			}
		}
		if len(r) == 0 {
			continue
		}
		if err := shape(&f, r, &ground); err != nil {
			return nil, fmt.Errorf("%s: %w", &f, err)
		}
		if f.Polygons == nil && f.Lines == nil && f.Points == nil {
			continue
		}
		if err := f.CheckPoints(); err != nil {
			if s.Prj == nil {
				err = fmt.Errorf("%w; without a .prj file beside it, a shapefile is taken to hold degrees: give its .prj too, or a zip of .shp, .shx, .dbf and .prj", err)
			}
			return nil, fmt.Errorf("%s: %w", &f, err)
		}
		features = append(features, f)
	}
	if len(features) == 0 {
		return nil, errors.New("no shape; expected a boundary or zones")
	}
	return features, nil
}

const version = 1000

// records returns the content of each record.
func records(data []byte) ([][]byte, error) {
	var list [][]byte
	for rest := data[headerBytes:]; len(rest) > 0; {
		if len(list) == maxRecords {
			return nil, fmt.Errorf("more than %d records; expected one field", maxRecords)
		}
		at := len(data) - len(rest)
		if len(rest) < 8 {
			return nil, fmt.Errorf("record %d, at byte %d, is cut off", len(list)+1, at)
		}
		words := binary.BigEndian.Uint32(rest[4:])
		if int64(words)*2 > int64(len(rest)-8) {
			return nil, fmt.Errorf("record %d, at byte %d, has %d bytes; the file ends after %d of them", len(list)+1, at, int64(words)*2, len(rest)-8)
		}
		list = append(list, rest[8:8+2*words])
		rest = rest[8+2*words:]
	}
	return list, nil
}

// Shape types (page 4). Those with heights or measures have them behind the same
// content.
const (
	null       = 0
	point      = 1
	polyLine   = 3
	polygon    = 5
	multiPoint = 8
	multiPatch = 31
)

// shape decodes the content of one record.
func shape(f *geojson.Feature, r []byte, g *ground) error {
	if len(r) < 4 {
		return fmt.Errorf("%d bytes; expected a shape", len(r))
	}
	kind, r := binary.LittleEndian.Uint32(r), r[4:]
	if kind == multiPatch || kind%10 > multiPoint || kind > multiPatch {
		return fmt.Errorf("shape type %d; expected polygons, lines or points", kind)
	}
	switch kind % 10 {
	case null:
		if kind != null {
			return fmt.Errorf("shape type %d; expected polygons, lines or points", kind)
		}
		return nil
	case point:
		list, err := positions(r, 1, g)
		f.Points = list
		return err
	case multiPoint:
		if len(r) < 36 {
			return errors.New("points are cut off")
		}
		list, err := positions(r[36:], binary.LittleEndian.Uint32(r[32:]), g)
		f.Points = list
		return err
	case polyLine, polygon:
		parts, err := parts(r, g)
		if err != nil {
			return err
		}
		if kind%10 == polyLine {
			for _, p := range parts {
				f.Lines = append(f.Lines, orb.LineString(p))
			}
			return nil
		}
		if len(parts) > maxRings {
			return fmt.Errorf("%d rings; expected one field, of at most %d", len(parts), maxRings)
		}
		f.Polygons = nested(parts)
		return nil
	}
	return fmt.Errorf("shape type %d; expected polygons, lines or points", kind)
}

// parts are the parts of a PolyLine or Polygon (page 6): a box of 32 bytes, the numbers
// of parts and points, where each part begins, and the points.
func parts(r []byte, g *ground) ([]orb.Ring, error) {
	if len(r) < 40 {
		return nil, errors.New("parts are cut off")
	}
	count, points := binary.LittleEndian.Uint32(r[32:]), binary.LittleEndian.Uint32(r[36:])
	r = r[40:]
	if int64(count)*4 > int64(len(r)) {
		return nil, fmt.Errorf("%d parts in %d bytes; expected them to fit", count, len(r))
	}
	list, err := positions(r[4*count:], points, g)
	if err != nil {
		return nil, err
	}
	rings := make([]orb.Ring, count)
	for i := range rings {
		from, to := binary.LittleEndian.Uint32(r[4*i:]), points
		if i+1 < len(rings) {
			to = binary.LittleEndian.Uint32(r[4*i+4:])
		}
		if from > to || to > points {
			return nil, fmt.Errorf("part %d from point %d to %d of %d; expected the parts in order", i+1, from, to, points)
		}
		rings[i] = orb.Ring(list[from:to:to])
	}
	return rings, nil
}

// positions takes so many points and brings them to longitude and latitude.
func positions(r []byte, count uint32, g *ground) ([]orb.Point, error) {
	if int64(count)*16 > int64(len(r)) {
		return nil, fmt.Errorf("%d points in %d bytes; expected 16 bytes for each", count, len(r))
	}
	if count > maxPoints {
		return nil, fmt.Errorf("%d points; expected one field, of at most %d: thin out its borders", count, maxPoints)
	}
	list := make([]orb.Point, count)
	for i := range list {
		x, y := math.Float64frombits(binary.LittleEndian.Uint64(r[16*i:])), math.Float64frombits(binary.LittleEndian.Uint64(r[16*i+8:]))
		var err error
		if list[i], err = g.position(x, y); err != nil {
			return nil, err
		}
	}
	return list, nil
}
