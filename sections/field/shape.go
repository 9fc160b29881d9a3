// This file makes ground of lines and points: rings of lines whose ends meet, keep-outs
// of what has a buffer, holes of boundaries inside others.

package field

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections/exact"
	"liftbench/sections/field/geojson"
	"liftbench/sections/field/outline"
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
)

// spellOut gives the properties of a shapefile's record their names: there a name has ten
// letters at most, and often capitals alone.
func spellOut(f *geojson.Feature) {
	for _, key := range slices.Sorted(maps.Keys(f.Properties)) {
		value := f.Properties[key]
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
		return fmt.Errorf("zone is \"%s\" of a %s; expected a line along a row", f.Properties["zone"], what)
	case f.row && (len(f.Lines) != 1 || len(f.Lines[0]) < 2):
		return fmt.Errorf("zone is \"%s\"; expected one line, from a point on a row to another on the same row", f.Properties["zone"])
	case f.row || f.bufferM > 0 || what == "polygon":
		return nil
	case what == "point":
		return errors.New("a point without buffer_m; expected buffer_m, how many metres around it are kept out of, or the point taken out of the file")
	}
	rings, gap := outline.Rings(f.Lines)
	if rings == nil {
		return fmt.Errorf("a line whose ends lie %.1f m apart; expected a line that comes back to where it began, as around a field, or buffer_m, how many metres on either side of it are kept out of, or zone \"row\" for a line along a row", gap)
	}
	f.Polygons, f.Lines = rings, nil
	return nil
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
		mp = append(mp, outline.Buffer(path, f.bufferM)...)
	}
	return mp, nil
}

// joinBoundaries returns the polygons of all boundaries. One without a hole that lies wholly inside
// another is a hole in it, as where both were driven around.
func joinBoundaries(features []*feature, drawn []orb.MultiPolygon, plane *geodesy.Plane) (orb.MultiPolygon, error) {
	var parts []orb.Polygon
	var of []*feature
	for i, mp := range drawn {
		for _, p := range mp {
			parts, of = append(parts, p), append(of, features[i])
		}
	}
	if len(parts) > maxBoundaries {
		return nil, fmt.Errorf("boundaries of %d parts; expected one field, of at most %d", len(parts), maxBoundaries)
	}
	mp, bad := outline.Nest(parts, shareBorderM)
	if bad != nil {
		at := parts[bad.Inner][0][0]
		lat, lon := plane.ToGeodetic(at[0], at[1])
		if bad.Also >= 0 {
			return nil, fmt.Errorf("%s: a boundary within those of %s and of %s, at lon %.7f lat %.7f; expected a boundary within one other, in which it is a hole, or zone to say what each is", of[bad.Inner], of[bad.Also], of[bad.Outer], lon, lat)
		}
		return nil, fmt.Errorf("%s: a boundary with holes within that of %s, at lon %.7f lat %.7f; expected a boundary within another, in which it is a hole, to have none, or zone to say what each is", of[bad.Inner], of[bad.Outer], lon, lat)
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

// layRows gives to each zone the rows of the line that lies in it, and returns the zones. The
// bearing of a headland that was made from the boundary gives way to it.
func layRows(zones []Zone, made bool, rows []*feature, plane *geodesy.Plane) ([]Zone, error) {
	laid := map[int]*feature{}
	for _, ft := range rows {
		if ft.bends {
			continue // once all others are laid, as it may join zones
		}
		path := ft.path(plane)
		a, b := path[0], path[len(path)-1]
		if straightM := exact.Hypot(b[0]-a[0], b[1]-a[1]); straightM < leastRowM {
			return nil, fmt.Errorf("%s: the ends of a row %.2f m apart; expected %d m or more", ft, straightM, leastRowM)
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
			return nil, fmt.Errorf("%s: a row outside of every zone; expected a line along a row of the zone in which it lies", ft)
		}
		z := &zones[best]
		if other := laid[best]; other != nil {
			return nil, fmt.Errorf("%s: a second row of the zone %q, beside %s; expected one line for each zone", ft, z.Name, other)
		}
		if err := mayLay(z, made); err != nil {
			return nil, fmt.Errorf("%s: %w", ft, err)
		}
		laid[best] = ft
		z.RowBearingRad = exact.Atan2(b[0]-a[0], b[1]-a[1])
		z.Drill = Drill{Known: true, At: at, WidthM: ft.drill.WidthM, LeftOut: ft.drill.LeftOut}
	}
	var err error
	for _, ft := range rows {
		if ft.bends {
			if zones, err = layLine(zones, made, ft, ft.path(plane)); err != nil {
				return nil, fmt.Errorf("%s: %w", ft, err)
			}
		}
	}
	return zones, nil
}

// path is the line of a row on the plane.
func (f *feature) path(plane *geodesy.Plane) orb.LineString {
	path := make(orb.LineString, len(f.Lines[0]))
	for i, c := range f.Lines[0] {
		path[i][0], path[i][1] = plane.ToPlane(c[1], c[0])
	}
	return path
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
