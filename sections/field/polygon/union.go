// This file joins polygons, and converts them for the library of set operations.

package polygon

import (
	"errors"
	"math/bits"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

// ErrNarrow says that polygons cannot be joined or cut on this processor.
var ErrNarrow = errors.New("this program was built for a processor of 32 bits, on which polygons cannot be joined or cut, as a headland is: " +
	"run it on one of 64 bits, or give a field file whose zones are all drawn and whose zones of one kind and row bearing lie apart")

// Able returns ErrNarrow where set operations give wrong polygons or none: with ints of
// 32 bits. The library finds points that are one by their cell in a grid, counted in
// ints, whose cells are 2^-43 of the largest coordinate: with 32 bits all points beyond
// 2^-12 of it get the same cell.
func Able() error {
	if bits.UintSize < 64 {
		return ErrNarrow
	}
	return nil
}

// Union returns polygons that cover the same ground and do not overlap. If no two of
// the polygons' boxes meet it returns mp itself.
func Union(mp orb.MultiPolygon) (orb.MultiPolygon, error) {
	if !boxesMeet(mp) {
		return mp, nil
	}
	if err := Able(); err != nil {
		return nil, err
	}
	u, err := geom.UnaryUnion(ToGeom(mp))
	if err != nil {
		return nil, err
	}
	return FromGeom(u), nil
}

// boxesMeet reports whether the boxes around two of the polygons overlap or touch.
func boxesMeet(mp orb.MultiPolygon) bool {
	for i := range mp {
		for j := range i {
			if mp[i].Bound().Intersects(mp[j].Bound()) {
				return true
			}
		}
	}
	return false
}

// ToGeom converts polygons, which may overlap, for the library of set operations.
func ToGeom(mp orb.MultiPolygon) geom.Geometry {
	polys := make([]geom.Polygon, len(mp))
	for i, p := range mp {
		rings := make([]geom.LineString, len(p))
		for j, r := range p {
			xy := make([]float64, 0, 2*len(r))
			for _, q := range r {
				xy = append(xy, q[0], q[1])
			}
			rings[j] = geom.NewLineString(geom.NewSequence(xy, geom.DimXY))
		}
		polys[i] = geom.NewPolygon(rings)
	}
	// A collection and not a multipolygon, because the members of one may overlap.
	gs := make([]geom.Geometry, len(polys))
	for i, p := range polys {
		gs[i] = p.AsGeometry()
	}
	return geom.NewGeometryCollection(gs).AsGeometry()
}

// FromGeom returns the polygons of a set operation's result. Where shapes merely touch
// the result has points and lines as well; they are left out.
func FromGeom(g geom.Geometry) orb.MultiPolygon {
	var mp orb.MultiPolygon
	for _, part := range g.Dump() {
		p, ok := part.AsPolygon()
		if !ok {
			continue
		}
		var op orb.Polygon
		for _, seq := range p.Coordinates() {
			r := make(orb.Ring, seq.Length())
			for i := range r {
				xy := seq.GetXY(i)
				r[i] = orb.Point{xy.X, xy.Y}
			}
			op = append(op, r)
		}
		mp = append(mp, op)
	}
	return mp
}
