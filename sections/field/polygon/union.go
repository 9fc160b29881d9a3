// This file joins polygons, and carries them to and from the library of set
// operations.

package polygon

import (
	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

// Union returns the union of the polygons of one class. Polygons whose boxes
// are apart are returned as they are.
func Union(mp orb.MultiPolygon) (orb.MultiPolygon, error) {
	if !boxesMeet(mp) {
		return mp, nil
	}
	u, err := geom.UnaryUnion(ToGeom(mp))
	if err != nil {
		return nil, err
	}
	return FromGeom(u), nil
}

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

// ToGeom and FromGeom carry polygons to and from the library of set operations.
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
	// A collection, not a multipolygon: members may overlap.
	gs := make([]geom.Geometry, len(polys))
	for i, p := range polys {
		gs[i] = p.AsGeometry()
	}
	return geom.NewGeometryCollection(gs).AsGeometry()
}

// FromGeom leaves out points and lines, which a set operation returns where
// shapes merely touch.
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
