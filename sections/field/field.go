// Package field holds the zones of one field on a local plane and answers,
// in time independent of the number of vertices, how much of a section lies
// inside them.
package field

import "github.com/paulmach/orb"

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

// Zone is a part of the field with one crop-row direction. Polygons are on
// the field's plane: x east, y north, metres.
type Zone struct {
	Name          string
	Kind          Kind
	RowBearingRad float64 // clockwise from north, meaning both ways along the rows; NaN = any heading
	Polygons      orb.MultiPolygon
}

// Field is the zones of one field with their edge index. It does not change
// once built and is safe for concurrent use.
type Field struct {
	Plane    Plane
	Boundary orb.MultiPolygon // outer limit, on the plane; nil when the file has none
	Zones    []Zone
}

// Plane is the tangent plane of the WGS 84 ellipsoid at one point.
type Plane struct{}

// ToPlane returns metres east and north of the plane's origin, height 0.
func (p *Plane) ToPlane(latDeg, lonDeg float64) (eastM, northM float64) { panic("pending") }

// ToGeodetic is the inverse of ToPlane.
func (p *Plane) ToGeodetic(eastM, northM float64) (latDeg, lonDeg float64) { panic("pending") }

// Participating returns the zones that take part for a machine heading along
// the unit vector (sin θ, cos θ): those without a row bearing, and those whose
// bearing is within acos(cosTolerance) of θ or of θ + 180°. Keep-out zones are
// always in it.
func (f *Field) Participating(sinHeading, cosHeading, cosTolerance float64) Mask { panic("pending") }

// Unbound returns the zones without a row bearing, and the keep-out zones:
// those that take part whatever the heading.
func (f *Field) Unbound() Mask { panic("pending") }

// Share returns the share, 0 to 1, of the line from (ae, an) to (be, bn) that
// lies inside some body or headland zone of m and inside no keep-out zone. A
// point on a border shared by two zones of m is inside; a line of no length
// counts as its first point.
func (f *Field) Share(ae, an, be, bn float64, m Mask) float64 { panic("pending") }

// At returns every zone that holds the point, keep-out zones included.
func (f *Field) At(eastM, northM float64) Mask { panic("pending") }

// ClearanceM returns a distance that is certainly free of any zone's edge
// around the point: never more than the true distance to the nearest edge,
// and never negative. O(1).
func (f *Field) ClearanceM(eastM, northM float64) float64 { panic("pending") }
