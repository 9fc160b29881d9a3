// What the coordinates of a shapefile mean.

package shapefile

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/sections/geodesy"
)

// ground turns coordinates into longitude and latitude.
type ground struct {
	projected bool
	grid      geodesy.Transverse
}

func (g *ground) position(x, y float64) (orb.Point, error) {
	if !g.projected {
		return orb.Point{x, y}, nil
	}
	lat, lon, err := g.grid.ToGeodetic(x, y)
	return orb.Point{lon, lat}, err
}

// convert is what to do about coordinates that are not read.
const convert = "convert it to longitude and latitude on WGS 84 (EPSG:4326), as with ogr2ogr -t_srs EPSG:4326 field.geojson field.shp"

// groundOf reads a .prj file: well-known text of a coordinate system (OGC 01-009). Longitude and latitude,
// and transverse Mercator grids such as UTM, are taken on WGS 84 and on ETRS89, which differ
// by about a metre (from memory), and which GNSS corrections in Europe refer to. nil is longitude and latitude.
func groundOf(prj []byte) (ground, error) {
	var g ground
	if prj == nil {
		return g, nil
	}
	root, err := wellKnown(string(prj))
	if err != nil {
		return g, fmt.Errorf("the .prj file: %w", err)
	}
	geographic := root
	if root.word == "PROJCS" {
		geographic = root.child("GEOGCS")
		g.projected = true
	}
	refused := func(what string) (ground, error) {
		return g, fmt.Errorf("its coordinates are %.80q, %s: %s", root.name(), what, convert)
	}
	if geographic == nil || geographic.word != "GEOGCS" {
		return refused("neither longitude and latitude nor a projection of them")
	}
	datum := geographic.child("DATUM")
	if datum == nil || !knownDatum(datum) {
		return refused(fmt.Sprintf("on the datum %.60q; expected WGS 84 or ETRS89", datum.name()))
	}
	if m := geographic.child("PRIMEM"); m != nil && m.number(1) != 0 {
		return refused("counted from another meridian than Greenwich")
	}
	if u := geographic.child("UNIT"); u != nil && !(math.Abs(u.number(1)-math.Pi/180) < 1e-9) {
		return refused("in other units than degrees")
	}
	if !g.projected {
		return g, nil
	}
	g.grid.InverseFlattening = datum.child("SPHEROID").number(2)
	projection := root.child("PROJECTION")
	if projection == nil || plain(projection.name()) != "transversemercator" {
		return refused(fmt.Sprintf("projected by %.60q; expected transverse Mercator, as UTM", projection.name()))
	}
	if u := root.child("UNIT"); u == nil || u.number(1) != 1 {
		return refused("in other units than metres")
	}
	seen := map[string]bool{}
	for i := range root.children {
		c := &root.children[i]
		if c.word != "PARAMETER" {
			continue
		}
		v, key := c.number(1), plain(c.name())
		seen[key] = true
		switch key {
		case "centralmeridian":
			g.grid.CentralMeridianDeg = v
		case "scalefactor":
			g.grid.Scale = v
		case "falseeasting":
			g.grid.FalseEastingM = v
		case "falsenorthing":
			g.grid.FalseNorthM = v
		case "latitudeoforigin":
			if v != 0 {
				return refused("a transverse Mercator grid that does not begin at the equator")
			}
		default:
			return refused(fmt.Sprintf("a transverse Mercator grid with the parameter %.40q, which is not known", c.name()))
		}
		if math.IsNaN(v) {
			return refused(fmt.Sprintf("whose %.40s is no number", c.name()))
		}
	}
	if !seen["centralmeridian"] || !(g.grid.Scale > 0.9 && g.grid.Scale < 1.1) || !(math.Abs(g.grid.CentralMeridianDeg) <= 180) {
		return refused("a transverse Mercator grid without its meridian and scale")
	}
	return g, nil
}

// knownDatum reports whether a datum is WGS 84 or ETRS89 by its name and by its ellipsoid.
func knownDatum(d *node) bool {
	s := d.child("SPHEROID")
	if s == nil || s.number(1) != 6378137 || !(math.Abs(s.number(2)-298.2572) < 0.0001) {
		return false
	}
	switch strings.TrimPrefix(plain(d.name()), "d") {
	case "wgs1984", "wgs84", "worldgeodeticsystem1984", "etrs1989", "etrs89",
		"europeanterrestrialreferencesystem1989", "europeanterrestrialreferencesystem1989ensemble", "worldgeodeticsystem1984ensemble":
		return true
	}
	return false
}

// plain is a name without case, spaces and underscores.
func plain(name string) string {
	return strings.NewReplacer("_", "", " ", "", "-", "").Replace(strings.ToLower(name))
}

// node is an element of well-known text: a word, texts and numbers in brackets, and
// further elements among them.
type node struct {
	word     string
	values   []string
	children []node
}

// name is the first of the values; "" of nothing.
func (n *node) name() string {
	if n == nil || len(n.values) == 0 {
		return ""
	}
	return n.values[0]
}

// number is a value as a number, NaN where it is none.
func (n *node) number(i int) float64 {
	if i >= len(n.values) {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(n.values[i], 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

func (n *node) child(word string) *node {
	for i := range n.children {
		if n.children[i].word == word {
			return &n.children[i]
		}
	}
	return nil
}

// Limits of well-known text.
const (
	maxPrjBytes = 64 << 10
	maxNested   = 16
)

// wellKnown parses well-known text.
func wellKnown(text string) (*node, error) {
	if len(text) > maxPrjBytes {
		return nil, fmt.Errorf("holds %d bytes; expected the well-known text of a coordinate system", len(text))
	}
	p := parser{rest: strings.TrimSpace(strings.TrimPrefix(text, "\ufeff"))}
	n, err := p.node(0)
	if err == nil && p.rest != "" {
		err = fmt.Errorf("%.20q behind its end", p.rest)
	}
	if err != nil {
		return nil, fmt.Errorf("%w; expected the well-known text of a coordinate system, as GEOGCS[…]", err)
	}
	return n, nil
}

type parser struct{ rest string }

// skip takes a character and the space after it.
func (p *parser) skip() {
	p.rest = strings.TrimSpace(p.rest[1:])
}

// node parses a word and what stands in brackets behind it.
func (p *parser) node(depth int) (*node, error) {
	end := strings.IndexAny(p.rest, "[(,])\"")
	if end <= 0 || p.rest[end] != '[' && p.rest[end] != '(' {
		return nil, fmt.Errorf("%.20q found", p.rest)
	}
	if depth > maxNested {
		return nil, errors.New("too many brackets")
	}
	n := &node{word: strings.ToUpper(strings.TrimSpace(p.rest[:end]))}
	p.rest = p.rest[end:]
	p.skip()
	for {
		switch end := strings.IndexAny(p.rest, "[(,])"); {
		case p.rest == "":
			return nil, errors.New("its end is missing")
		case p.rest[0] == '"':
			text, rest, ok := strings.Cut(p.rest[1:], `"`)
			if !ok {
				return nil, errors.New("a quotation without an end")
			}
			n.values, p.rest = append(n.values, text), strings.TrimSpace(rest)
		case end < 0:
			return nil, errors.New("its end is missing")
		case p.rest[end] == '[' || p.rest[end] == '(':
			c, err := p.node(depth + 1)
			if err != nil {
				return nil, err
			}
			n.children = append(n.children, *c)
		default:
			n.values, p.rest = append(n.values, strings.TrimSpace(p.rest[:end])), p.rest[end:]
		}
		switch {
		case p.rest == "":
			return nil, errors.New("its end is missing")
		case p.rest[0] == ',':
			p.skip()
		case p.rest[0] == ']' || p.rest[0] == ')':
			p.skip()
			return n, nil
		default:
			return nil, fmt.Errorf("%.20q found", p.rest)
		}
	}
}
