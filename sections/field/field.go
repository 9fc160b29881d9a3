// Package field holds the zones of one field on a local plane and answers,
// in time independent of the number of vertices, how much of a section lies
// inside them.
package field

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/enum"
	"liftbench/sections/field/polygon"
	"liftbench/sections/geodesy"
)

const radPerDeg = math.Pi / 180

// Mask is a set of zone classes. Zones of the same kind and the same row
// bearing are one class and share a bit; a field has at most 64.
type Mask uint64

// Kind is what a zone is.
type Kind uint8

const (
	Body     Kind = iota // the main part of the field
	Headland             // the strip where the machine turns
	KeepOut              // never worked
)

var kindNames = []string{Body: "body", Headland: "headland", KeepOut: "keep-out"}

// String returns the name that GeoJSON files use: body, headland or keep-out.
func (k Kind) String() string { return enum.Name(kindNames, k) }

// MarshalText returns the same name, or an error for a value that has none.
func (k Kind) MarshalText() ([]byte, error) { return enum.Text(kindNames, k) }

// UnmarshalText sets k to the value of that name.
func (k *Kind) UnmarshalText(text []byte) error { return enum.Set(k, kindNames, text) }

// Zone is a part of the field with one crop-row direction. Polygons are on
// the field's plane: x east, y north, metres.
type Zone struct {
	Name          string
	Kind          Kind
	RowBearingRad float64 // clockwise from north, meaning both ways along the rows; NaN = any heading
	// Left zones are not worked in this job, as a headland that was done before
	// or is done later: they never take part. Crop stands there all the same.
	Left     bool
	Polygons orb.MultiPolygon
}

// AreaM2 returns the area of the zone's polygons less their holes, in m².
func (z *Zone) AreaM2() float64 { return polygon.AreaM2(z.Polygons) }

// Field is the zones of one field with their edge index. It does not change
// once built and is safe for concurrent use. Build one with Read or New; the
// zero value is a field without zones.
//
// Who owns the border: a point on it belongs to the zone just east of it (just
// north, where the border runs east-west). So a border between two zones
// belongs to one of them, and a line along it loses nothing.
type Field struct {
	Plane    geodesy.Plane
	Boundary orb.MultiPolygon // outer limit, on the plane; nil when the file has none
	Zones    []Zone

	classes []class
	keepOut Mask
	unbound Mask // classes without a row bearing, and keep-out
	left    Mask
	grid    grid
	workM2  float64
}

// New returns the field of zones given on the plane: x east, y north, metres,
// within 20 km of the origin. boundary may be nil. Rings are closed where they
// are open; borders of two polygons nearer than a micrometre become one. The
// arguments are copied. The error names the zone and the place that is wrong.
func New(plane geodesy.Plane, boundary orb.MultiPolygon, zones []Zone) (*Field, error) {
	f := &Field{Plane: plane}
	clean := func(mp orb.MultiPolygon, what string) (orb.MultiPolygon, error) {
		out, bad := polygon.Clean(mp)
		switch {
		case bad == nil:
			return out, nil
		case bad.Nowhere:
			return nil, fmt.Errorf("%s: %s", what, bad.Text)
		}
		return nil, fmt.Errorf("%s: %s, at (%.3f, %.3f) m on the plane", what, bad.Text, bad.At[0], bad.At[1])
	}
	var err error
	if boundary != nil {
		if f.Boundary, err = clean(boundary, "boundary"); err != nil {
			return nil, err
		}
	}
	for i, z := range zones {
		what := fmt.Sprintf("zone %d (%q)", i+1, z.Name)
		if z.Kind > KeepOut {
			return nil, fmt.Errorf("%s: unknown kind %d; expected Body, Headland or KeepOut", what, z.Kind)
		}
		if math.IsInf(z.RowBearingRad, 0) {
			return nil, fmt.Errorf("%s: infinite row bearing; expected radians, or NaN for any heading", what)
		}
		if z.Polygons, err = clean(z.Polygons, what); err != nil {
			return nil, err
		}
		f.Zones = append(f.Zones, z)
	}
	if err := f.finish(noiseM); err != nil {
		return nil, err
	}
	return f, nil
}

// finish builds the index of a field whose zones are clean. Borders nearer
// than snapM become one.
func (f *Field) finish(snapM float64) error {
	any, worked := false, false
	shapes := make([]orb.MultiPolygon, len(f.Zones))
	for i := range f.Zones {
		if f.Zones[i].Kind != KeepOut {
			any, worked = true, worked || !f.Zones[i].Left
		}
		shapes[i] = f.Zones[i].Polygons
	}
	if !any {
		return errors.New("the field has no body or headland zone; expected at least one")
	}
	if !worked {
		return errors.New("every body and headland zone of the field is left; expected at least one that is worked")
	}
	polygon.Snap(shapes, snapM)
	return f.index()
}

// Participating returns the zones that take part for a machine heading along
// the unit vector (sin θ, cos θ): those without a row bearing, and those whose
// bearing is within acos(cosTolerance) of θ or of θ + 180°, but none that is
// left. Keep-out zones are always in it.
func (f *Field) Participating(sinHeading, cosHeading, cosTolerance float64) Mask {
	m := f.unbound
	for i := range f.classes {
		c := &f.classes[i]
		// The cosine of the angle between two unit vectors is their product;
		// its sign is which way along the rows.
		if math.Abs(sinHeading*c.sinRow+cosHeading*c.cosRow) >= cosTolerance {
			m |= c.bit
		}
	}
	return m &^ f.left
}

// Unbound returns the zones without a row bearing, and the keep-out zones:
// those that take part whatever the heading. None that is left is among them.
func (f *Field) Unbound() Mask { return f.unbound }

// Share returns the share, 0 to 1, of the line from (ae, an) to (be, bn) that
// lies inside some body or headland zone of m and inside no keep-out zone
// (whether m has it or not). A point on a border shared by two zones of m is
// inside; a line of no length counts as its first point. A coordinate that is
// not finite, or a line longer than 10¹² m, gives 0.
func (f *Field) Share(ae, an, be, bn float64, m Mask) float64 {
	return f.grid.share(lattice(ae), lattice(an), lattice(be), lattice(bn), rule{m &^ f.keepOut, f.keepOut})
}

// At returns every zone that holds the point, keep-out zones included.
func (f *Field) At(eastM, northM float64) Mask {
	return f.grid.at(lattice(eastM), lattice(northM))
}

// ClearanceM returns a distance that is certainly free of any zone's edge
// around the point: never more than the true distance to the nearest edge,
// and never negative. O(1). It falls short of the true distance by at most
// three cells of the index, CellM.
func (f *Field) ClearanceM(eastM, northM float64) float64 {
	return f.grid.clearance(eastM, northM)
}

// CellM returns the side of the edge index's cells in metres.
func (f *Field) CellM() float64 { return f.grid.cellM }

// AreaM2 returns the area that is to be worked, in m²: body and headland
// together, counted once where they overlap, less keep-out and what is left.
func (f *Field) AreaM2() float64 { return f.workM2 }

// Bound returns the smallest box around all zones and the boundary.
func (f *Field) Bound() orb.Bound {
	b := f.Boundary.Bound()
	for i := range f.Zones {
		if zb := f.Zones[i].Polygons.Bound(); b.IsEmpty() {
			b = zb
		} else {
			b = b.Union(zb)
		}
	}
	return b
}
