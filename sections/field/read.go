// This file makes a field from the features of a file. If the file has no zones,
// they are made from the boundary.

package field

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"

	"liftbench/sections/enum"
	"liftbench/sections/exact"
	"liftbench/sections/field/form"
	"liftbench/sections/field/geojson"
	"liftbench/sections/field/polygon"
	"liftbench/sections/geodesy"
)

// shareBorderM is the distance below which borders of two zones in a file become one.
// Coordinates with 7 decimals of a degree are precise to 6 mm, and a corner and the edge
// on which it was meant to lie may both be off by that.
const shareBorderM = 0.02

// maxBorderM is far more than the borders of a field's zones together. What the
// edge index takes grows with it.
const maxBorderM = 300_000

// Options say how to make zones from a file that has only a boundary, and which zones
// are not worked. The zero value makes the whole field one body that may be worked at any
// heading.
type Options struct {
	// HeadlandM is the width of the headland along the boundary, 0 = none. It is an
	// error if the file has zones.
	HeadlandM float64
	// RowBearingDeg is the direction of the body's rows, clockwise from north, -360 to
	// 360; rows may be driven both ways. nil = any heading. It also applies to body zones
	// of the file that have no row_bearing_deg; if there is none without, it is an error.
	RowBearingDeg *float64
	// Leave lists zones that are not worked in this job, whatever the file says: names of
	// zones, or "body" or "headland" for all zones of that kind. "none" has all zones worked that
	// the file, or what stands ahead of it here, leaves.
	Leave []string
	// Drill is where the rows lie, of every body zone of which the file does not say.
	Drill DrillOptions
	// Stop is asked before each feature, and before the edge index is built, whether to
	// go on; what it returns ends Read. A headland, once begun, is made to its end. nil =
	// nobody asks.
	Stop func() error
}

// stopped asks whether to go on.
func (o *Options) stopped() error {
	if o.Stop == nil {
		return nil
	}
	return o.Stop()
}

// Read reads a field from GeoJSON, KML, KMZ, GPX or a zipped shapefile, as package form tells
// them apart. Features may have the properties
//
//	zone             "body", "headland" or "keep-out"; without it the feature
//	                 is the field's boundary. A line may be a "row", or a
//	                 "row-line" along a row that bends
//	rows_of          of a "row-line": the name of a zone, or "body" or "headland"
//	buffer_m         width on either side of a line, or around a point, that
//	                 makes a keep-out of it, above 0 to 100
//	row_bearing_deg  number, degrees clockwise from north, -360 to 360;
//	                 without it the zone may be worked at any heading
//	row_a            [longitude, latitude] on the leftmost row of a drill pass
//	row_b            another point on that row, in place of row_bearing_deg
//	drill_width_m    width of the drill, 0.25 to 50
//	rows_left_out    rows that a drill pass leaves out, from 1 at its left
//	work             "worked", the default, or "left": not worked in this job
//	name             text
//
// A line whose ends meet, or lie apart by no more than a tenth of its length, is the ring
// around a polygon. A line that is a row gives its bearing, and a point on a row, to the zone
// in which most of it lies. A row line gives its zones rows that bend as it does: see Zone.Line. A boundary inside another is a hole in it.
//
// A property whose name is one of these but for capitals or a letter or two is an
// error, other properties are left alone. If the file has neither a body nor a headland they are made from the boundary as opt
// says; keep-out zones of the file apply all the same. Errors begin with name and say which
// feature is wrong, and where.
func Read(r io.Reader, name string, opt Options) (*Field, error) {
	f, err := read(r, opt)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return f, nil
}

// Features returns the features of a file in any form, with the names of properties in full, and says
// which form it is.
func Features(data []byte) (features []geojson.Feature, kind string, err error) {
	features, kind, err = form.Decode(data)
	for i := range features {
		if features[i].Kind == "record" {
			spellOut(&features[i])
		}
	}
	return features, kind, err
}

func read(r io.Reader, opt Options) (*Field, error) {
	if !(opt.HeadlandM >= 0) || math.IsInf(opt.HeadlandM, 0) {
		return nil, fmt.Errorf("headland of %g m; expected 0 or more", opt.HeadlandM)
	}
	if b := opt.RowBearingDeg; b != nil && !(math.Abs(*b) <= 360) {
		return nil, fmt.Errorf("row bearing of %g degrees; expected -360 to 360", *b)
	}
	if err := opt.Drill.Check(); err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(r, form.MaxBytes+1)) // which Decode then refuses
	if err != nil {
		return nil, err
	}
	decoded, kind, err := Features(data)
	if err != nil {
		return nil, err
	}
	features := make([]feature, len(decoded))
	for i := range decoded {
		features[i].Feature = decoded[i]
		if err := features[i].take(); err != nil {
			return nil, fmt.Errorf("%s: %w", &decoded[i], err)
		}
	}
	plane, err := planeOf(features)
	if err != nil {
		return nil, err
	}
	f := &Field{Plane: plane, Form: kind}
	borderM := 0.0
	hasZones, bearingUsed := false, false
	var rows, boundaries []*feature
	var boundary []orb.MultiPolygon // of each of boundaries
	for i := range features {
		if err := opt.stopped(); err != nil {
			return nil, err
		}
		ft := &features[i]
		if ft.row {
			rows = append(rows, ft)
			continue
		}
		drawn, err := ft.onPlane(&plane)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", ft, err)
		}
		mp, bad := polygon.Clean(drawn)
		if bad != nil && bad.Nowhere {
			return nil, fmt.Errorf("%s: %s", ft, bad.Text)
		}
		if bad != nil {
			lat, lon := plane.ToGeodetic(bad.At[0], bad.At[1])
			return nil, fmt.Errorf("%s: %s, at lon %.7f lat %.7f", ft, bad.Text, lon, lat)
		}
		if borderM += polygon.BorderM(mp); borderM > maxBorderM {
			return nil, fmt.Errorf("borders of more than %d km in all; expected one field", maxBorderM/1000)
		}
		if ft.boundary {
			boundaries, boundary = append(boundaries, ft), append(boundary, mp)
			continue
		}
		hasZones = hasZones || ft.kind != KeepOut
		z := Zone{Name: ft.Name, Kind: ft.kind, RowBearingRad: ft.bearingDeg * radPerDeg, Unworked: ft.left, Polygons: mp}
		if err := putDrill(&ft.drill, &z, &plane); err != nil {
			return nil, fmt.Errorf("%s: %w", ft, err)
		}
		f.Zones = append(f.Zones, z)
	}
	if f.Boundary, err = joinBoundaries(boundaries, boundary, &plane); err != nil {
		return nil, err
	}
	if hasZones {
		if f.Zones, err = layRows(f.Zones, false, rows, &plane); err != nil {
			return nil, err
		}
	}
	for i := range f.Zones {
		if z := &f.Zones[i]; z.Kind == Body && math.IsNaN(z.RowBearingRad) {
			z.RowBearingRad, bearingUsed = opt.bearingRad(), true
		}
	}
	snapM := shareBorderM
	switch {
	case hasZones && opt.HeadlandM > 0:
		return nil, errors.New("the file already has zones; drop --headland")
	case hasZones && opt.RowBearingDeg != nil && !bearingUsed:
		return nil, errors.New("every body zone of the file has its row_bearing_deg; drop --row-bearing")
	case hasZones:
	case f.Boundary == nil && f.Zones == nil:
		return nil, errors.New("only rows; expected a boundary, a body or a headland as well")
	case f.Boundary == nil:
		return nil, errors.New("only keep-out zones; expected a boundary, a body or a headland as well")
	default:
		var made []Zone
		if made, err = zonesFrom(f.Boundary, opt.HeadlandM, opt.bearingRad(), opt.Stop); err != nil {
			return nil, err
		}
		if made, err = layRows(made, true, rows, &plane); err != nil {
			return nil, err
		}
		f.Zones = append(made, f.Zones...)
		snapM = noiseM
	}
	for i := range f.Zones {
		if z := &f.Zones[i]; z.Kind == Body && !z.Drill.Known {
			if err := putDrill(&opt.Drill, z, &plane); err != nil {
				return nil, err
			}
		}
	}
	if err := f.leave(opt.Leave); err != nil {
		return nil, err
	}
	if err := opt.stopped(); err != nil {
		return nil, err
	}
	if err := f.finish(snapM); err != nil {
		return nil, err
	}
	return f, nil
}

// leave marks the zones with these names, or of these kinds, as not worked; none, unless a
// zone has that name, marks all as worked.
func (f *Field) leave(names []string) error {
	for _, name := range names {
		found := false
		for i := range f.Zones {
			if z := &f.Zones[i]; z.Kind != KeepOut && (z.Name == name || z.Kind.String() == name) {
				z.Unworked, found = true, true
			}
		}
		if !found && name == "none" {
			for i := range f.Zones {
				f.Zones[i].Unworked = false
			}
			found = true
		}
		if !found {
			var have []string
			for i := range f.Zones {
				if z := &f.Zones[i]; z.Kind != KeepOut {
					have = append(have, fmt.Sprintf("%q (%s)", z.Name, z.Kind))
				}
			}
			return fmt.Errorf("no zone %q to leave; expected body, headland or the name of one of %s; or none, and all are worked", name, strings.Join(have, ", "))
		}
	}
	return nil
}

func (o *Options) bearingRad() float64 {
	if o.RowBearingDeg == nil {
		return math.NaN()
	}
	return *o.RowBearingDeg * radPerDeg
}

// feature is one feature of the file, and what its properties say.
type feature struct {
	geojson.Feature
	boundary   bool // it is the field's boundary and no zone
	kind       Kind
	bearingDeg float64 // of the rows; NaN if the feature has none
	left       bool
	drill      DrillOptions
	row        bool    // a line along a row of a zone
	bends      bool    // and the row bends as the line does
	rowsOf     string  // the zones whose row it is; "" = that in which it lies
	bufferM    float64 // around points, and on either side of lines; 0 = none
}

// take reads the properties.
func (f *feature) take() error {
	f.bearingDeg = math.NaN()
	if err := f.checkNames(); err != nil {
		return err
	}
	properties := f.Properties
	switch zone := properties["zone"].(type) {
	case nil:
		f.boundary = true
	case string:
		if f.bends = zone == lineZone; zone == rowZone || f.bends {
			f.row = true
		} else if err := f.kind.UnmarshalText([]byte(zone)); err != nil {
			return fmt.Errorf("zone is %w", err)
		}
	default:
		return fmt.Errorf("zone is %v; expected body, headland or keep-out", zone)
	}
	if err := f.takeShape(); err != nil {
		return err
	}
	switch work := properties["work"]; {
	case work == nil || work == "worked":
	case work != "left":
		return fmt.Errorf("work is %v; expected \"worked\" or \"left\"", work)
	case f.boundary || f.row || f.kind == KeepOut:
		return errors.New("work is \"left\"; expected zone to be \"body\" or \"headland\" beside it")
	default:
		f.left = true
	}
	switch b := properties["row_bearing_deg"].(type) {
	case nil:
	case float64:
		if !(math.Abs(b) <= 360) {
			return fmt.Errorf("row_bearing_deg is %g; expected -360 to 360, clockwise from north", b)
		}
		if f.row {
			return fmt.Errorf("row_bearing_deg beside zone \"%s\", whose line says how the rows run; expected one of them", properties["zone"])
		}
		if f.boundary {
			return errors.New("row_bearing_deg without zone; expected zone to be \"body\" or \"headland\" beside it")
		}
		f.bearingDeg = b
	default:
		return fmt.Errorf("row_bearing_deg is %v (%T); expected a number, degrees clockwise from north", b, b)
	}
	if f.Properties["row_b"] != nil && !math.IsNaN(f.bearingDeg) {
		return errors.New("row_b beside row_bearing_deg; expected one of them, as both say how the rows run")
	}
	if err := f.takeRowsOf(); err != nil {
		return err
	}
	return f.takeDrill()
}

// properties are those that say where and how a feature is worked. A mistaken name
// is not looked for: it changes no work, and other programs write Name for names of
// their own.
var properties = []string{"zone", "row_bearing_deg", "row_a", "row_b", "drill_width_m", "rows_left_out", "work", "buffer_m", "rows_of"}

// checkNames returns an error for a property that is not known, but by its name was
// meant to be one that the feature lacks. Any other unknown property is left alone.
func (f *feature) checkNames() error {
	for _, name := range slices.Sorted(maps.Keys(f.Properties)) {
		meant := enum.Meant(name, properties)
		if _, has := f.Properties[meant]; meant == "" || has {
			continue // which is so, too, where the name is a known one
		}
		return fmt.Errorf("property %q; did you mean %q? Rename it, or take it out if it is something else", name, meant)
	}
	return nil
}

// planeOf returns a plane that touches the ellipsoid at the centroid of the boundary or,
// if there is none, of the zones.
func planeOf(features []feature) (geodesy.Plane, error) {
	var all, boundary orb.MultiPolygon
	var first orb.Point
	seen := false
	for i := range features {
		f := &features[i]
		for c := range f.positions {
			if !seen {
				first, seen = c, true
			}
			if d := geo.DistanceHaversine(first, c); d > 2*polygon.MaxExtentM {
				return geodesy.Plane{}, fmt.Errorf("%s: point [%g, %g] is %.0f km from the file's first point [%g, %g]; expected one field, at most %d km across",
					f, c[0], c[1], d/1000, first[0], first[1], 2*polygon.MaxExtentM/1000)
			}
		}
		all = append(all, f.Polygons...)
		if f.boundary {
			boundary = append(boundary, f.Polygons...)
		}
	}
	if boundary == nil {
		boundary = all
	}
	// The centroid is computed on a plane at the file's first point.
	near := geodesy.NewPlane(first[1], first[0])
	c, area := polygon.Centroid(onPlane(&near, boundary))
	if !(area > 0) || !(exact.Hypot(c[0], c[1]) <= 2*polygon.MaxExtentM) {
		c = orb.Point{}
	}
	return geodesy.NewPlane(near.ToGeodetic(c[0], c[1])), nil
}

func onPlane(p *geodesy.Plane, mp orb.MultiPolygon) orb.MultiPolygon {
	out := mp.Clone()
	for _, poly := range out {
		for _, r := range poly {
			for i, c := range r {
				r[i][0], r[i][1] = p.ToPlane(c[1], c[0])
			}
		}
	}
	return out
}
