package taskdata

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/replay/taskdata/timelog"
	"liftbench/sections/geodesy"
)

// Kind says what a zone of a field is.
type Kind uint8

const (
	Boundary Kind = iota
	Body
	Headland
	KeepOut // never worked: water, building, obstacle
)

// String returns the word that field files use; "" for a boundary.
func (k Kind) String() string { return [...]string{"", "body", "headland", "keep-out"}[k] }

// Zone is a part of a field.
type Zone struct {
	Kind    Kind
	Polygon orb.Polygon // longitude, latitude in degrees; rings are closed
}

// Guide is a straight guidance line, from which rows have their bearing.
type Guide struct {
	ID         string
	BearingDeg float64 // clockwise from true north, [0, 360)
	// A and B are its ends, longitude and latitude in degrees; equal where the file has
	// but a bearing.
	A, B orb.Point
}

// Field is a field as the file has it, PFD.
type Field struct {
	ID     string
	AreaM2 float64 // as registered; 0: not told
	Zones  []Zone
	Guides []Guide
}

type (
	xmlLine struct {
		A   string `xml:"A,attr"`
		PNT []struct {
			A string `xml:"A,attr"`
			C string `xml:"C,attr"`
			D string `xml:"D,attr"`
		}
	}
	xmlGuidance struct {
		GPN []struct {
			A   string `xml:"A,attr"`
			C   string `xml:"C,attr"`
			G   string `xml:"G,attr"`
			LSG []xmlLine
		}
	}
	xmlField struct {
		A   string `xml:"A,attr"`
		D   string `xml:"D,attr"`
		PLN []struct {
			A   string `xml:"A,attr"`
			LSG []xmlLine
		}
		LSG []xmlLine
		GGP []xmlGuidance
	}
)

// polygonKinds are the kinds by PLN attribute A: ISO 11783-10, 9 and 10 from version 4.
var polygonKinds = map[string]Kind{"1": Boundary, "3": KeepOut, "4": KeepOut, "6": KeepOut, "9": Body, "10": Headland}

// fields takes the fields of the XML.
func (s *Set) fields(root *xmlRoot) {
	for _, x := range root.PFD {
		f := Field{ID: timelog.Name(x.A)}
		if f.ID == "" {
			s.damage("TASKDATA.XML", -1, "a field without a usable id", "left out")
			continue
		}
		f.AreaM2, _ = strconv.ParseFloat(x.D, 64)
		if !(f.AreaM2 >= 0 && f.AreaM2 < 1e10) {
			f.AreaM2 = 0
		}
		var outer [KeepOut + 1][]orb.Polygon
		var holes [KeepOut + 1][]orb.Ring
		bad := 0
		add := func(kind Kind, l xmlLine) {
			ring, ok := l.ring()
			switch {
			case !ok:
				bad++
			case l.A == "1":
				outer[kind] = append(outer[kind], orb.Polygon{ring})
			case l.A == "2":
				holes[kind] = append(holes[kind], ring)
			case l.A == "9":
				outer[KeepOut] = append(outer[KeepOut], orb.Polygon{ring})
			}
		}
		for _, p := range x.PLN {
			kind, ok := polygonKinds[p.A]
			if !ok {
				continue
			}
			for _, l := range p.LSG {
				if l.A == "1" || l.A == "2" || l.A == "9" {
					add(kind, l)
				}
			}
		}
		for _, l := range x.LSG {
			if l.A == "9" {
				add(KeepOut, l)
			}
		}
		// Holes may stand in a PLN of their own, before the exterior.
		for kind := range holes {
			for _, h := range holes[kind] {
				if k := around(outer[kind], h); k >= 0 {
					outer[kind][k] = append(outer[kind][k], h)
				} else {
					bad++
				}
			}
		}
		for _, kind := range []Kind{Boundary, Body, Headland, KeepOut} {
			for _, p := range outer[kind] {
				f.Zones = append(f.Zones, Zone{kind, p})
			}
		}
		if bad > 0 {
			s.damage("TASKDATA.XML", -1, fmt.Sprintf("%d rings of field %s are no rings or holes of nothing", bad, f.ID), "left out")
		}
		for _, g := range x.GGP {
			f.Guides = append(f.Guides, g.guides()...)
		}
		s.Fields = append(s.Fields, f)
	}
}

// around returns which of the polygons has ring h inside; -1 if none.
func around(polygons []orb.Polygon, h orb.Ring) int {
	for k, p := range polygons {
		for _, at := range h {
			if planar.RingContains(p[0], at) {
				return k
			}
		}
	}
	return -1
}

// points returns the points of a line that lie on the earth.
func (l *xmlLine) points(types string) []orb.Point {
	var ps []orb.Point
	for _, p := range l.PNT {
		if types != "" && (len(p.A) != 1 || p.A[0] != types[0] && p.A[0] != types[1]) {
			continue
		}
		north, err := strconv.ParseFloat(p.C, 64)
		east, err2 := strconv.ParseFloat(p.D, 64)
		if err == nil && err2 == nil && math.Abs(north) <= 90 && math.Abs(east) <= 180 {
			ps = append(ps, orb.Point{east, north})
		}
	}
	return ps
}

// ring returns the line as a closed ring of three points at least.
func (l *xmlLine) ring() (orb.Ring, bool) {
	r := orb.Ring(l.points(""))
	if len(r) > 0 && r[0] != r[len(r)-1] {
		r = append(r, r[0])
	}
	return r, len(r) >= 4
}

// guides returns the straight lines of a guidance group: from point A to point B
// (types 6 and 7, in older files 2), or from a point and a heading.
func (g *xmlGuidance) guides() []Guide {
	var all []Guide
	for _, p := range g.GPN {
		var ends []orb.Point
		for k := range p.LSG {
			if ends = p.LSG[k].points("67"); len(ends) < 2 {
				if other := p.LSG[k].points("22"); len(ends) == 0 {
					ends = other
				}
			}
			break
		}
		out := Guide{ID: timelog.Name(p.A)}
		switch heading, err := strconv.ParseFloat(p.G, 64); {
		case p.C == "1" && len(ends) >= 2 && ends[0] != ends[len(ends)-1]:
			out.A, out.B = ends[0], ends[len(ends)-1]
			plane := geodesy.NewPlane(out.A[1], out.A[0])
			e, n := plane.ToPlane(out.B[1], out.B[0])
			out.BearingDeg = math.Mod(math.Atan2(e, n)*180/math.Pi+360, 360)
		case (p.C == "1" || p.C == "2") && err == nil && heading >= 0 && heading <= 360:
			out.BearingDeg = math.Mod(heading, 360)
			if len(ends) > 0 {
				out.A, out.B = ends[0], ends[0]
			}
		default:
			continue
		}
		all = append(all, out)
	}
	return all
}

// GeoJSON returns the zones as a FeatureCollection (RFC 7946) that field.Read takes.
// Zones with rows have the bearing of the first guide.
func (f *Field) GeoJSON() ([]byte, error) {
	type geometry struct {
		Type        string      `json:"type"`
		Coordinates orb.Polygon `json:"coordinates"`
	}
	type feature struct {
		Type       string         `json:"type"`
		Properties map[string]any `json:"properties"`
		Geometry   geometry       `json:"geometry"`
	}
	features := []feature{}
	for _, z := range f.Zones {
		properties := map[string]any{}
		if z.Kind != Boundary {
			properties["zone"] = z.Kind.String()
		}
		if z.Kind == Headland {
			properties["work"] = "left"
		}
		if z.Kind == Body && len(f.Guides) > 0 {
			properties["row_bearing_deg"] = f.Guides[0].BearingDeg
		}
		features = append(features, feature{"Feature", properties, geometry{"Polygon", z.Polygon}})
	}
	return json.Marshal(map[string]any{"type": "FeatureCollection", "features": features})
}
