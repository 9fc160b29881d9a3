// Where the drill laid the rows, as a field file or a scenario says.

package field

import (
	"math"
	"strings"
	"testing"
)

func TestDrill(t *testing.T) {
	// 100 m east and 100 m north of the point at 10° E, 52° N, within 1 m.
	const row = `"row_a":[10.0015,52.0001],"row_b":[10.0015,52.001]`
	for _, c := range []struct {
		name, properties string
		opt              Options
		bearingDeg       float64
		widthM           float64
		leftOut          int
	}{
		{"an AB line", row, Options{}, 0, 0, 0},
		{"the other way", `"row_a":[10.0015,52.001],"row_b":[10.0015,52.0001],"drill_width_m":6,"rows_left_out":[3,10]`, Options{}, 180, 6, 2},
		{"a point and a bearing", `"row_a":[10.0015,52.0001],"row_bearing_deg":30`, Options{}, 30, 0, 0},
		{"from the scenario", ``, Options{Drill: DrillOptions{A: []float64{10.0015, 52.0001}, B: []float64{10.0015, 52.001}, WidthM: 9}}, 0, 9, 0},
		{"the file before the scenario", row, Options{Drill: DrillOptions{A: []float64{10, 52}, B: []float64{10.001, 52}}}, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			properties := `"zone":"body"`
			if c.properties != "" {
				properties += "," + c.properties
			}
			f, err := Read(strings.NewReader(featureOf(ring(box), properties)), "f.geojson", c.opt)
			if err != nil {
				t.Fatal(err)
			}
			z := &f.Zones[0]
			if d := math.Remainder(z.RowBearingRad-c.bearingDeg*radPerDeg, 2*math.Pi); math.Abs(d) > 1e-4 {
				t.Errorf("rows at %.3f°, want %g°", z.RowBearingRad/radPerDeg, c.bearingDeg)
			}
			lat, lon := f.Plane.ToGeodetic(z.Drill.At[0], z.Drill.At[1])
			if !z.Drill.Known || math.Abs(lon-10.0015) > 1e-8 || z.Drill.WidthM != c.widthM || len(z.Drill.LeftOut) != c.leftOut {
				t.Errorf("%+v at %.7f, %.7f", z.Drill, lat, lon)
			}
		})
	}
}

func TestDrillErrors(t *testing.T) {
	for properties, want := range map[string]string{
		`"zone":"body","row_a":[10]`:                                                              "row_a is [10]; expected [longitude, latitude] of a point on a row",
		`"zone":"body","row_a":"here"`:                                                            "row_a is here; expected a list of numbers",
		`"zone":"body","row_a":[10,152],"row_bearing_deg":0`:                                      "row_a is [10 152]; expected [longitude, latitude]",
		`"zone":"body","row_b":[10,52]`:                                                           "row_b without row_a; expected both",
		`"zone":"body","row_a":[10,52]`:                                                           "row_a without a direction; expected row_b too, or row_bearing_deg",
		`"zone":"body","row_a":[10,52],"row_b":[10,52.00001]`:                                     "are 1.11 m apart; expected two points on one row, 10 m or more apart",
		`"zone":"body","row_a":[10,52],"row_b":[10,52.001],"row_bearing_deg":5`:                   "row_b beside row_bearing_deg",
		`"zone":"body","drill_width_m":6`:                                                         "drill_width_m without row_a",
		`"zone":"body","row_a":[10,52],"row_bearing_deg":0,"drill_width_m":0`:                     "drill_width_m is 0; expected 0.25 to 50",
		`"zone":"body","row_a":[10,52],"row_bearing_deg":0,"rows_left_out":[1]`:                   "rows_left_out without drill_width_m",
		`"zone":"body","row_a":[10,52],"row_bearing_deg":0,"rows_left_out":[1.5]`:                 "rows_left_out has 1.5; expected rows of a drill pass",
		`"zone":"body","row_a":[10,52],"row_bearing_deg":0,"drill_width_m":6,"rows_left_out":[0]`: "rows_left_out has 0; expected rows of a drill pass",
		`"zone":"keep-out","row_a":[10,52],"row_bearing_deg":0`:                                   "rows of a drill without a zone that has rows",
	} {
		_, err := Read(strings.NewReader(collectionOf(featureOf(ring(box), properties), featureOf(ring(west), `"zone":"body"`))), "f.geojson", Options{})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s:\n%v\nwant %s", properties, err, want)
		}
	}
}
