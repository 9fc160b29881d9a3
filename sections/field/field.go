// Package field holds the zones of one field on a local plane. Its main question
// is how much of a section's line lies inside the zones that are to be worked; the
// answer takes the same time however many vertices the borders have.
package field

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/enum"
	"liftbench/sections/field/polygon"
	"liftbench/sections/field/rowline"
	"liftbench/sections/geodesy"
)

const radPerDeg = math.Pi / 180

// Mask is a set of zones. Zones of the same kind and the same row bearing always
// belong together: they form a class, and each class has one bit. A field has at
// most 64 classes.
type Mask uint64

// Kind says what a zone is for.
type Kind uint8

const (
	Body     Kind = iota // the main part of the field
	Headland             // a strip along the border, where the machine turns
	KeepOut              // ground that is never worked, as a pond or a pole
)

var kindNames = []string{Body: "body", Headland: "headland", KeepOut: "keep-out"}

// String returns the name that GeoJSON files use: body, headland or keep-out.
func (k Kind) String() string { return enum.Name(kindNames, k) }

// MarshalText returns the same name, or an error for a value that has none.
func (k Kind) MarshalText() ([]byte, error) { return enum.Text(kindNames, k) }

// UnmarshalText sets k to the value of that name.
func (k *Kind) UnmarshalText(text []byte) error { return enum.Set(k, kindNames, text) }

// Zone is a part of the field in which all crop rows run the same way.
type Zone struct {
	Name string
	Kind Kind
	// RowBearingRad is the direction of the rows, clockwise from north. The machine
	// may drive along them either way. NaN means that the zone may be worked at any
	// heading.
	RowBearingRad float64
	// Line is a row that bends; the zone's rows are its parallels. nil: they are straight.
	// Beside it RowBearingRad is that of the line's middle.
	Line *rowline.Line
	// Unworked zones have crop but are not worked in this job, as a headland that
	// was done before or will be done later: tools are raised over them.
	Unworked bool
	Drill    Drill            // where its rows lie
	Polygons orb.MultiPolygon // on the field's plane: x east, y north, metres
}

// AreaM2 returns the area of the zone's polygons without their holes, in m².
func (z *Zone) AreaM2() float64 { return polygon.AreaM2(z.Polygons) }

// Field is the zones of one field and the index of their edges. Build one with
// Read or New; it does not change afterwards and is safe for concurrent use. The
// zero value is a field without zones.
//
// A point on a border belongs to the zone just east of it, or just north of it
// where the border runs east-west. So a point on the border between two zones
// belongs to exactly one of them, and a line along that border lies wholly inside
// the two together.
type Field struct {
	Plane    geodesy.Plane
	Boundary orb.MultiPolygon // outer limit, on the plane; nil if the file has none
	Zones    []Zone
	Form     string // of the file, as "GeoJSON" or "KML"; "" where there is none

	classes  []class
	keepOut  Mask // classes of keep-out zones
	headland Mask // classes of headland zones
	unbound  Mask // classes without a row bearing, keep-out among them
	unworked Mask
	curves   []curve // nil where no worked zone's rows bend
	grid     grid
	workM2   float64
}

// New returns a field with the given zones, which must lie within 20 km of the
// plane's origin. boundary may be nil. Open rings are closed, and where borders of
// two polygons are less than a micrometre apart they become one. The arguments are
// copied. The error says which zone is unusable, why, and where.
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

// finish builds the index of a field whose zones have been cleaned. Where borders of
// two zones are less than snapM apart they become one.
func (f *Field) finish(snapM float64) error {
	anyCrop, anyWorked := false, false
	shapes := make([]orb.MultiPolygon, len(f.Zones))
	for i := range f.Zones {
		if f.Zones[i].Kind != KeepOut {
			anyCrop, anyWorked = true, anyWorked || !f.Zones[i].Unworked
		}
		shapes[i] = f.Zones[i].Polygons
	}
	if !anyCrop {
		return errors.New("the field has no body or headland zone; expected at least one")
	}
	if !anyWorked {
		return errors.New("every body and headland zone of the field is left; expected at least one that is worked")
	}
	polygon.Snap(shapes, snapM)
	f.indexLines()
	return f.index()
}

// Participating returns the zones that a machine with heading θ, clockwise from
// north, can work: those whose rows run within acos(cosTolerance) of θ or of
// θ + 180°, and those without a row bearing. Unworked zones are not among them;
// keep-out zones always are, which makes no difference to Share. Zones whose rows bend are
// not: see ParticipatingAt.
func (f *Field) Participating(sinHeading, cosHeading, cosTolerance float64) Mask {
	m := f.unbound
	for i := range f.classes {
		c := &f.classes[i]
		// The cosine of the angle between two unit vectors is their product;
		// its sign is which way along the rows.
		if math.Abs(float64(sinHeading*c.sinRow)+float64(cosHeading*c.cosRow)) >= cosTolerance {
			m |= c.bit
		}
	}
	return m &^ f.unworked
}

// Unbound returns the zones that take part whatever the heading: those without a
// row bearing, and the keep-out zones. Unworked zones are not among them.
func (f *Field) Unbound() Mask { return f.unbound }

// Headlands returns the headland zones.
func (f *Field) Headlands() Mask { return f.headland }

// Share returns how much of the line from a to b, as a number from 0 to 1, lies
// inside the body and headland zones of m and outside every keep-out zone, whether
// m contains that keep-out zone or not. Coordinates are metres east and north on
// the plane. Where a and b are the same point the share is 0 or 1. A coordinate
// that is not finite, or a line longer than 10¹² m, gives 0.
func (f *Field) Share(aEastM, aNorthM, bEastM, bNorthM float64, m Mask) float64 {
	return f.grid.share(lattice(aEastM), lattice(aNorthM), lattice(bEastM), lattice(bNorthM), filter{m &^ f.keepOut, f.keepOut})
}

// At returns all zones that contain the point, keep-out zones included.
func (f *Field) At(eastM, northM float64) Mask {
	return f.grid.at(lattice(eastM), lattice(northM))
}

// ClearanceM returns a distance within which there is certainly no edge of any
// zone, in constant time. It is never negative and never more than the true
// distance to the nearest edge, and in the field less than that by three cells of
// the index at most: 1.5 m where the box around the field has up to 25 ha.
func (f *Field) ClearanceM(eastM, northM float64) float64 {
	return f.grid.clearance(eastM, northM)
}

// AreaM2 returns the area that is to be worked, in m²: that of body and headland
// zones, counted once where they overlap, without keep-out ground and unworked
// zones.
func (f *Field) AreaM2() float64 { return f.workM2 }

// Bound returns the smallest box, along east and north, that contains the boundary
// and all zones.
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
