// The hoe follows the drill: the generated drive keeps to its rows, and a run says
// how far the tools were beside them.

package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"liftbench/sections/geodesy"
)

// TestFollowsTheDrill: a body of 199.3 m, a hoe of 9 m in rows of 0.5 m. The drill
// laid its first row at 0.1 m; the hoe keeps within 8 cm of the rows, its last pass
// as well. The scenario says the same where the field does not.
func TestFollowsTheDrill(t *testing.T) {
	t.Chdir(t.TempDir())
	plane := geodesy.NewPlane(52, 10)
	at := func(e, n float64) string {
		lat, lon := plane.ToGeodetic(e, n)
		return fmt.Sprintf("[%.9f, %.9f]", lon, lat)
	}
	ring := func(e0, n0, e1, n1 float64) string {
		return strings.Join([]string{at(e0, n0), at(e1, n0), at(e1, n1), at(e0, n1), at(e0, n0)}, ",")
	}
	field := func(rows string) string {
		return `{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [[` + ring(-40, -40, 239.3, 200) + `]]}},
{"type": "Feature", "properties": {"zone": "body", "name": "beets"` + rows + `}, "geometry": {"type": "Polygon", "coordinates": [[` + ring(0, 0, 199.3, 160) + `]]}}]}`
	}
	rows := fmt.Sprintf(`, "row_a": %s, "row_b": %s, "drill_width_m": 9, "rows_left_out": [5, 14]`, at(0.1, 10), at(0.1, 150))
	machine, _ := edit(t, demoText(t, "machine.yaml"), "count: 12", "count: 18")
	machine, _ = edit(t, machine, "sections: [2, 2, 2, 2, 2, 2]", "sections: 6")
	scenario, _ := edit(t, demoText(t, "scenario.yaml"), "field: field.geojson", "field: rows.geojson")
	said, _ := edit(t, scenario, "field: rows.geojson", "field: plain.geojson")
	said += fmt.Sprintf("drill: {row_a: %s, row_b: %s, width_m: 9, rows_left_out: [5, 14]}\n", at(0.1, 10), at(0.1, 150))
	for name, text := range map[string]string{
		"machine.yaml": machine, "scenario.yaml": scenario, "said.yaml": said,
		"rows.geojson": field(rows), "plain.geojson": field(""),
	} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var tables []string
	for _, file := range []string{"scenario.yaml", "said.yaml"} {
		status, table, stderr := command("", "run", "--out", file+".out", file)
		if status > 1 {
			t.Fatal(stderr)
		}
		_, result, _ := strings.Cut(table, "\n")
		tables = append(tables, result)
		data, err := os.ReadFile(file + ".out/summary.json")
		if err != nil {
			t.Fatal(err)
		}
		var s struct {
			Rows struct {
				RMS    float64 `json:"rms_m"`
				Worst  float64 `json:"worst_m"`
				Crop   float64 `json:"crop_m2"`
				Passes []struct {
					Mean float64 `json:"mean_m"`
				} `json:"passes"`
			} `json:"rows"`
		}
		if err := json.Unmarshal(data, &s); err != nil {
			t.Fatal(err)
		}
		// The driver's steering error is normal with σ = 2 cm, the tools have 5 cm to
		// either side and the strip is 2 cm wide: of each row's width ∫ cut(x)·p(x) dx =
		// 2·σ·(φ(2.5) - 2.5·(1 - Φ(2.5))) = 0.08 mm is cut, which on 16 of 18 rows in
		// 23 passes of 160 m is 4.7 m².
		if r := s.Rows; len(r.Passes) != 23 || math.Abs(r.RMS-0.02) > 0.006 || r.Worst > 0.08 || math.Abs(r.Crop-4.7) > 2 {
			t.Errorf("%s: %d passes, %.3f m beside the rows, %.3f m at worst, %.1f m² of crop", file, len(r.Passes), r.RMS, r.Worst, r.Crop)
		}
	}
	if tables[0] != tables[1] {
		t.Errorf("the field and the scenario say the same rows, and come to\n%s\n%s", tables[0], tables[1])
	}
	if !strings.Contains(tables[0], "Beside the rows: ") {
		t.Errorf("the table does not say how far the tools ran beside the rows:\n%s", tables[0])
	}
	// Without the rows nothing is said of them.
	text, _ := edit(t, scenario, "field: rows.geojson", "field: plain.geojson\nrow_bearing_deg: 0")
	if err := os.WriteFile("scenario.yaml", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, table, _ := command("", "run", "scenario.yaml"); strings.Contains(table, "Beside the rows") {
		t.Errorf("rows of which nothing is known:\n%s", table)
	}
}
