// This file makes ground of lines and points: rings of lines whose ends meet, keep-outs
// of what has a buffer, holes of boundaries inside others.

package field

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"
	"github.com/paulmach/orb/planar"

	"liftbench/sections/exact"
	"liftbench/sections/field/polygon"
	"liftbench/sections/geodesy"
)

// rowZone is the zone of a line that lies along a row.
const rowZone = "row"

const (
	// maxBufferM is far more than what a driver keeps from a pole or a ditch.
	maxBufferM = 100
	// maxBuffered bounds the points of lines with a buffer, each of which takes a
	// polygon of its own.
	maxBuffered = 2000
	// gapShare is how far apart the ends of a driven ring may be, as a share of its length.
	gapShare = 0.1
)

// spellOut gives the properties of a shapefile's record their names: there a name has ten
// letters at most, and often capitals alone.
func (f *feature) spellOut() {
	for key, value := range f.Properties {
		for _, name := range append([]string{"name"}, properties...) {
			if key == name || !strings.EqualFold(key, name[:min(len(name), 10)]) || f.Properties[name] != nil {
				continue
			}
			delete(f.Properties, key)
			f.Properties[name] = value
			if name == "name" {
				f.Name = fmt.Sprint(value)
			}
			break
		}
	}
}

// positions yields all points of the feature, longitude first.
func (f *feature) positions(yield func(orb.Point) bool) {
	each := func(list []orb.Point) bool {
		for _, c := range list {
			if !yield(c) {
				return false
			}
		}
		return true
	}
	for _, p := range f.Polygons {
		for _, r := range p {
			if !each(r) {
				return
			}
		}
	}
	for _, l := range f.Lines {
		if !each(l) {
			return
		}
	}
	each(f.Points)
}

// takeShape reads buffer_m, and makes rings of lines whose ends meet.
func (f *feature) takeShape() error {
	kinds, what := 0, "polygon"
	for _, k := range []struct {
		name string
		has  bool
	}{{"polygon", f.Polygons != nil}, {"line", f.Lines != nil}, {"point", f.Points != nil}} {
		if k.has {
			kinds, what = kinds+1, k.name
		}
	}
	if kinds > 1 {
		return errors.New("polygons, lines and points in one; expected a feature for each kind")
	}
	switch b := f.Properties["buffer_m"].(type) {
	case nil:
	case float64:
		switch {
		case !(b > 0 && b <= maxBufferM):
			return fmt.Errorf("buffer_m is %g; expected above 0 to %d m", b, maxBufferM)
		case what == "polygon":
			return errors.New("buffer_m of a polygon; expected it of a line or a point, or the polygon drawn as large as it is to be")
		case !f.boundary && (f.row || f.kind != KeepOut):
			return fmt.Errorf("buffer_m beside zone %q; expected zone to be \"keep-out\" or absent", f.Properties["zone"])
		}
		f.bufferM, f.boundary, f.kind = b, false, KeepOut
	default:
		return fmt.Errorf("buffer_m is %v (%T); expected a number, above 0 to %d m", b, b, maxBufferM)
	}
	switch {
	case f.row && what != "line":
		return fmt.Errorf("zone is \"row\" of a %s; expected a line along a row", what)
	case f.row && (len(f.Lines) != 1 || len(f.Lines[0]) < 2):
		return errors.New("zone is \"row\"; expected one line, from a point on a row to another on the same row")
	case f.row || f.bufferM > 0 || what == "polygon":
		return nil
	case what == "point":
		return errors.New("a point without buffer_m; expected buffer_m, how many metres around it are kept out of, or the point taken out of the file")
	}
	rings, gap := f.rings()
	if rings == nil {
		return fmt.Errorf("a line whose ends lie %.1f m apart; expected a line that comes back to where it began, as around a field, or buffer_m, how many metres on either side of it are kept out of, or zone \"row\" for a line along a row", gap)
	}
	f.Polygons, f.Lines = rings, nil
	return nil
}

// rings makes polygons of the lines: each a ring where all come back to where they
// began, else all of them one after the other. nil where that is no ring either, with
// the distance between its ends in metres.
func (f *feature) rings() (orb.MultiPolygon, float64) {
	closes := func(l orb.LineString) (bool, float64) {
		if len(l) < 3 {
			return false, geo.Length(l)
		}
		gap := geo.DistanceHaversine(l[0], l[len(l)-1])
		return gap <= float64(gapShare*(geo.Length(l)+gap)), gap
	}
	var mp orb.MultiPolygon
	var joined orb.LineString
	for _, l := range f.Lines {
		joined = append(joined, l...)
		if ok, _ := closes(l); ok {
			mp = append(mp, orb.Polygon{orb.Ring(l)})
		}
	}
	if len(mp) == len(f.Lines) && mp != nil {
		return mp, 0
	}
	if ok, gap := closes(joined); !ok {
		return nil, gap
	}
	return orb.MultiPolygon{{orb.Ring(joined)}}, 0
}

// onPlane returns the feature's ground on the plane: its polygons, or what lies within
// the buffer of its lines and points. There it may overlap itself.
func (f *feature) onPlane(plane *geodesy.Plane) (orb.MultiPolygon, error) {
	if f.bufferM == 0 {
		return onPlane(plane, f.Polygons), nil
	}
	var mp orb.MultiPolygon
	lines := f.Lines
	for _, p := range f.Points {
		lines = append(lines, orb.LineString{p})
	}
	count := 0
	for _, l := range lines {
		if count += len(l); count > maxBuffered {
			return nil, fmt.Errorf("a line of more than %d points with a buffer; expected it thinned out", maxBuffered)
		}
		path := make([]orb.Point, 0, len(l))
		for _, c := range l {
			e, n := plane.ToPlane(c[1], c[0])
			if k := len(path); k == 0 || exact.Hypot(e-path[k-1][0], n-path[k-1][1]) > polygon.NoiseM {
				path = append(path, orb.Point{e, n})
			}
		}
		for i := range path {
			if i > 0 || len(path) == 1 {
				mp = append(mp, orb.Polygon{around(path[max(i-1, 0)], path[i], f.bufferM)})
			}
		}
	}
	return mp, nil
}

// halfCircle is the number of edges of half a circle. They lie outside of the circle and touch it,
// so what is within the buffer is kept out of; the corners lie farther out by
// 1/cos(π/2/halfCircle) − 1, 0.12 %.
const halfCircle = 32

// around returns the ring around all that lies within radiusM of the straight line from a to
// b, which may be one point, counter-clockwise.
func around(a, b orb.Point, radiusM float64) orb.Ring {
	along := exact.Atan2(b[1]-a[1], b[0]-a[0])
	cornerM := radiusM / exact.Cos(math.Pi/2/halfCircle)
	ring := make(orb.Ring, 0, 2*halfCircle+1)
	for i := range 2 * halfCircle {
		end, from := b, along-math.Pi/2
		if i >= halfCircle {
			end = a
		}
		sin, cos := exact.Sincos(from + float64((float64(i)+0.5)*(math.Pi/halfCircle)))
		ring = append(ring, orb.Point{end[0] + float64(cornerM*cos), end[1] + float64(cornerM*sin)})
	}
	return append(ring, ring[0])
}

// joinBoundaries returns the polygons of all boundaries. One without a hole that lies wholly inside
// another is a hole in it, as where both were driven around.
func joinBoundaries(features []*feature, drawn []orb.MultiPolygon, plane *geodesy.Plane) (orb.MultiPolygon, error) {
	type part struct {
		of   *feature
		ring orb.Polygon
		in   int // which part it is a hole of; -1 = of none
	}
	var parts []part
	for i, mp := range drawn {
		for _, p := range mp {
			parts = append(parts, part{features[i], p, -1})
		}
	}
	if len(parts) > maxBoundaries {
		return nil, fmt.Errorf("boundaries of %d parts; expected one field, of at most %d", len(parts), maxBoundaries)
	}
	for i := range parts {
		inner := &parts[i]
		for k := range parts {
			if outer := &parts[k]; i != k && insideOf(outer.ring, inner.ring) {
				lat, lon := plane.ToGeodetic(inner.ring[0][0][0], inner.ring[0][0][1])
				switch {
				case inner.in >= 0:
					return nil, fmt.Errorf("%s: a boundary within those of %s and of %s, at lon %.7f lat %.7f; expected a boundary within one other, in which it is a hole, or zone to say what each is", inner.of, parts[inner.in].of, outer.of, lon, lat)
				case len(inner.ring) > 1:
					return nil, fmt.Errorf("%s: a boundary with holes within that of %s, at lon %.7f lat %.7f; expected a boundary within another, in which it is a hole, to have none, or zone to say what each is", inner.of, outer.of, lon, lat)
				}
				inner.in = k
			}
		}
	}
	var mp orb.MultiPolygon
	at := make([]int, len(parts))
	for i := range parts {
		if parts[i].in < 0 {
			at[i] = len(mp)
			mp = append(mp, parts[i].ring)
		}
	}
	for i := range parts {
		if k := parts[i].in; k >= 0 {
			hole := parts[i].ring[0].Clone()
			hole.Reverse()
			mp[at[k]] = append(mp[at[k]][:len(mp[at[k]]):len(mp[at[k]])], hole)
		}
	}
	for _, p := range mp {
		if bad := polygon.Crossing(p); bad != nil {
			lat, lon := plane.ToGeodetic(bad.At[0], bad.At[1])
			return nil, fmt.Errorf("boundaries within each other: %s, at lon %.7f lat %.7f", bad.Text, lon, lat)
		}
	}
	return mp, nil
}

// maxBoundaries bounds the parts of boundaries.
const maxBoundaries = 2000

// insideOf reports whether a polygon lies inside the outer ring of another, farther from it than
// borders that were meant to be one are, and outside of its holes.
func insideOf(outer, inner orb.Polygon) bool {
	ob, ib := outer.Bound(), inner.Bound()
	if !ob.Contains(ib.Min) || !ob.Contains(ib.Max) || ob == ib {
		return false
	}
	const looks = 64
	r := inner[0]
	for i := range min(looks, len(r)) {
		c := r[i*len(r)/min(looks, len(r))]
		if !planar.PolygonContains(outer, c) || planar.DistanceFrom(orb.LineString(outer[0]), c) <= shareBorderM {
			return false
		}
	}
	return true
}

// layRows gives to each zone the rows of the line that lies in it. The bearing of a headland that was
// made from the boundary gives way to it.
func layRows(zones []Zone, made bool, rows []*feature, plane *geodesy.Plane) error {
	laid := map[int]*feature{}
	for _, ft := range rows {
		l := ft.Lines[0]
		path := make(orb.LineString, len(l))
		for i, c := range l {
			path[i][0], path[i][1] = plane.ToPlane(c[1], c[0])
		}
		a, b := path[0], path[len(path)-1]
		if straightM := exact.Hypot(b[0]-a[0], b[1]-a[1]); straightM < leastRowM {
			return fmt.Errorf("%s: the ends of a row %.2f m apart; expected %d m or more", ft, straightM, leastRowM)
		}
		best, at := -1, orb.Point{}
		most := 0
		for i := range zones {
			if zones[i].Kind == KeepOut {
				continue
			}
			in, one := within(zones[i].Polygons, a, b)
			if in > most {
				best, at, most = i, one, in
			}
		}
		if best < 0 {
			return fmt.Errorf("%s: a row outside of every zone; expected a line along a row of the zone in which it lies", ft)
		}
		z := &zones[best]
		switch other := laid[best]; {
		case other != nil:
			return fmt.Errorf("%s: a second row of the zone %q, beside %s; expected one line for each zone", ft, z.Name, other)
		case z.Drill.Known, !math.IsNaN(z.RowBearingRad) && !(made && z.Kind == Headland):
			return fmt.Errorf("%s: a row of the zone %q, whose row bearing is given; expected one of them, as both say how the rows run", ft, z.Name)
		}
		laid[best] = ft
		z.RowBearingRad = exact.Atan2(b[0]-a[0], b[1]-a[1])
		z.Drill = Drill{Known: true, At: at, WidthM: ft.drill.WidthM, LeftOut: ft.drill.LeftOut}
	}
	return nil
}

// within returns in how many of a hundred places along the straight line from a to b the
// polygons contain it, and the first of these places.
func within(mp orb.MultiPolygon, a, b orb.Point) (count int, first orb.Point) {
	for i := range 100 {
		s := (float64(i) + 0.5) / 100
		c := orb.Point{a[0] + float64(s*(b[0]-a[0])), a[1] + float64(s*(b[1]-a[1]))}
		if planar.MultiPolygonContains(mp, c) {
			if count == 0 {
				first = c
			}
			count++
		}
	}
	return count, first
}
