// This file sorts zones into classes and takes their borders apart into edges for
// the index. An edge knows which classes begin or end at it.

package field

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/field/polygon"
	"liftbench/sections/field/rowline"
)

// maxClasses is the number of bits of a Mask.
const maxClasses = 64

// class is all zones of one kind and one row bearing, or one row line.
type class struct {
	bit            Mask
	sinRow, cosRow float64 // of the row bearing; NaN without one, for keep-out, and where rows bend
}

// classKey is equal for zones of one class. Rows may be driven either way, so
// bearings that differ by 180° are the same; they are compared to a nanoradian.
type classKey struct {
	kind     Kind
	nrad     int64
	unworked bool
	line     *rowline.Line
}

const anyHeading = math.MinInt64

func keyOf(z *Zone) classKey {
	if z.Kind == KeepOut || math.IsNaN(z.RowBearingRad) {
		return classKey{z.Kind, anyHeading, z.Unworked, nil}
	}
	if z.Line != nil {
		return classKey{z.Kind, 0, z.Unworked, z.Line}
	}
	half := math.Mod(z.RowBearingRad, math.Pi)
	if half < 0 {
		half += math.Pi
	}
	const halfTurn = 3141592654 // π in nanoradians
	return classKey{z.Kind, int64(math.Round(half*1e9)) % halfTurn, z.Unworked, nil}
}

// edge is a straight piece of border from p to q. p is the western end, or the
// southern one where the edge runs north.
type edge struct {
	px, py, qx, qy float64
	bits           Mask // the classes on one side of the edge only
	left           Mask // the classes left of it as seen from p, or varies
}

// varies stands for classes that are not the same all along an edge.
const varies = ^Mask(0)

// sides returns the classes on both sides of the edge, provided that they do not
// vary along it.
func (e *edge) sides() sides { return sides{e.left, e.left ^ e.bits} }

// index builds the classes, the edges and the grid from the zones.
func (f *Field) index() error {
	var keys []classKey
	number := map[classKey]int{}
	var parts []orb.MultiPolygon
	for i := range f.Zones {
		z := &f.Zones[i]
		k := keyOf(z)
		n, ok := number[k]
		if !ok {
			if n = len(keys); n == maxClasses {
				return fmt.Errorf("zone %d (%q): the field has more than %d combinations of zone and row bearing; give zones of one direction the same row_bearing_deg", i+1, z.Name, maxClasses)
			}
			number[k] = n
			keys = append(keys, k)
			parts = append(parts, nil)
			bit := Mask(1) << n
			c := class{bit: bit, sinRow: math.NaN(), cosRow: math.NaN()}
			switch {
			case k.line != nil:
				if !z.Unworked {
					f.curves = append(f.curves, curve{bit, k.line})
				} else {
					f.unworked |= bit
				}
			case z.Unworked && k.kind != KeepOut:
				f.unworked |= bit
				c.sinRow, c.cosRow = exact.Sincos(z.RowBearingRad)
			case k.nrad == anyHeading:
				f.unbound |= bit
			default:
				c.sinRow, c.cosRow = exact.Sincos(z.RowBearingRad)
			}
			switch k.kind {
			case KeepOut:
				f.keepOut |= bit
			case Headland:
				f.headland |= bit
			}
			f.classes = append(f.classes, c)
		}
		parts[n] = append(parts[n], z.Polygons.Clone()...)
	}
	for n := range keys {
		var err error
		if parts[n], err = polygon.Union(parts[n]); err != nil {
			return fmt.Errorf("zones of kind %s with one row bearing overlap in a way that cannot be merged: %w", keys[n].kind, err)
		}
	}
	// Union adds vertices where borders cross, also on borders shared with another class.
	polygon.Snap(parts, noiseM)
	var es edgeSet
	for n := range keys {
		es.add(parts[n], Mask(1)<<n)
	}
	f.grid = newGrid(es.edges())
	f.workM2 = f.grid.areaM2(filter{^(f.keepOut | f.unworked), f.keepOut})
	return nil
}

// edgeSet collects edges. An edge that several rings share is held once, with the
// classes of all of them. Where two polygons of the same class share an edge, that
// class is on both sides of it and so not among its bits.
type edgeSet struct {
	list  []edge
	known map[[4]float64]int
}

func (s *edgeSet) add(mp orb.MultiPolygon, bit Mask) {
	if s.known == nil {
		s.known = map[[4]float64]int{}
	}
	for _, p := range mp {
		for _, r := range p {
			for i := 1; i < len(r); i++ {
				a := orb.Point{lattice(r[i-1][0]), lattice(r[i-1][1])}
				b := orb.Point{lattice(r[i][0]), lattice(r[i][1])}
				if b[0] < a[0] || b[0] == a[0] && b[1] < a[1] {
					a, b = b, a
				}
				if a == b {
					continue
				}
				k := [4]float64{a[0], a[1], b[0], b[1]}
				if j, ok := s.known[k]; ok {
					s.list[j].bits ^= bit
					continue
				}
				s.known[k] = len(s.list)
				s.list = append(s.list, edge{px: a[0], py: a[1], qx: b[0], qy: b[1], bits: bit})
			}
		}
	}
}

func (s *edgeSet) edges() []edge {
	kept := s.list[:0]
	for _, e := range s.list {
		if e.bits != 0 {
			kept = append(kept, e)
		}
	}
	return kept
}
