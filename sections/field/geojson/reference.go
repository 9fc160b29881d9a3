// This file reads the coordinate reference system that a file names.

package geojson

import (
	"encoding/json"
	"fmt"
	"strings"
)

// checkReference returns an error if the member crs names another reference system
// than longitude and latitude on WGS 84. GeoJSON of 2008 had that member; RFC 7946
// (section 4) has WGS 84 alone, and files with another are still written.
func checkReference(crs json.RawMessage) error {
	if len(crs) == 0 || isNull(crs) {
		return nil
	}
	m, _ := members(crs)
	properties, _ := members(m["properties"])
	name := text(properties["name"])
	switch strings.ToUpper(strings.TrimPrefix(strings.ToLower(name), "urn:ogc:def:crs:")) {
	case "OGC:1.3:CRS84", "OGC::CRS84", "OGC:CRS84", "CRS84", "EPSG::4326", "EPSG:4326":
		return nil
	}
	what := fmt.Sprintf("%q", name)
	if name == "" {
		what = "one without a name"
	}
	return fmt.Errorf("coordinate reference system (crs) is %.80s; expected longitude and latitude on WGS 84, CRS84 or EPSG:4326: convert the file's coordinates to it, and leave out crs", what)
}
