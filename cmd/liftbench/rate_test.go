// Work rate and lifts per hectare: the set-up sheet foretells what the run then
// measures.

package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"liftbench/sections/geodesy"
)

// ditchField is a body of 60 m by 200 m with rows to the north, headlands of 24 m
// that are turned on, a ditch of 4 m across all passes, and a pole.
func ditchField(t *testing.T) string {
	t.Helper()
	plane := geodesy.NewPlane(52, 10)
	feature := func(zone string, e0, n0, e1, n1 float64) string {
		var ring []string
		for _, p := range [][2]float64{{e0, n0}, {e1, n0}, {e1, n1}, {e0, n1}, {e0, n0}} {
			lat, lon := plane.ToGeodetic(p[0], p[1])
			ring = append(ring, fmt.Sprintf("[%.9f, %.9f]", lon, lat))
		}
		return fmt.Sprintf(`{"type": "Feature", "properties": {%s}, "geometry": {"type": "Polygon", "coordinates": [[%s]]}}`, zone, strings.Join(ring, ", "))
	}
	body := `"zone": "body", "name": "beets", "row_bearing_deg": 0`
	return `{"type": "FeatureCollection", "features": [` + strings.Join([]string{
		feature(`"name": "field"`, -15, -30, 75, 230),
		feature(body, 0, 0, 59.99, 200),
		feature(`"zone": "keep-out", "name": "ditch"`, -1, 98, 61, 102),
		feature(`"zone": "keep-out", "name": "pole"`, 20.1, 40, 20.9, 41),
	}, ",\n") + "]}"
}

// figure is the number that a pattern's group finds in a text.
func figure(t *testing.T, text, pattern string) float64 {
	t.Helper()
	found := regexp.MustCompile(pattern).FindStringSubmatch(text)
	if found == nil {
		t.Fatalf("no %s in\n%s", pattern, text)
	}
	x, err := strconv.ParseFloat(found[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestCheckForetellsTheRun: ten passes of six sections cross the ditch, so each
// section lifts twice a pass, and once more for the pole: 121 lifts on 1.18 ha.
// What the sheet says of the planned drive is what the run measures, within 1 %.
func TestCheckForetellsTheRun(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, stderr := command("", "check", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	if err := os.WriteFile("ditch.geojson", []byte(ditchField(t)), 0o644); err != nil {
		t.Fatal(err)
	}
	status, sheet, stderr := command("", "check", "--field", "ditch.geojson", "scenario.yaml")
	if status != 0 {
		t.Fatal(stderr)
	}
	if status, _, stderr = command("", "run", "--field", "ditch.geojson", "--out", "out", "scenario.yaml"); status > 1 {
		t.Fatal(stderr)
	}
	data, err := os.ReadFile("out/summary.json")
	if err != nil {
		t.Fatal(err)
	}
	var s struct {
		WorkRate struct {
			HaPerH     float64 `json:"ha_per_h"`
			Efficiency float64 `json:"field_efficiency"`
			SpeedKmh   float64 `json:"speed_in_work_kmh"`
			LiftsPerHa float64 `json:"lifts_per_ha"`
		} `json:"work_rate"`
	}
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	r := s.WorkRate
	if want := 121 / 1.176; math.Abs(r.LiftsPerHa-want) > 0.01*want {
		t.Errorf("run counts %.1f lifts per hectare, want %.1f", r.LiftsPerHa, want)
	}
	if got := figure(t, sheet, `(\d+) lifts and as many drops per hectare`); math.Abs(got-r.LiftsPerHa) > 0.01*r.LiftsPerHa {
		t.Errorf("check says %.0f lifts per hectare, run counts %.1f", got, r.LiftsPerHa)
	}
	if got := figure(t, sheet, `planned drive +([\d.]+) ha/h`); math.Abs(got-r.HaPerH) > 0.01*r.HaPerH {
		t.Errorf("check says %.2f ha/h, run makes %.3f", got, r.HaPerH)
	}
	// ASABE EP496: C = S·W·E/10.
	if c := r.SpeedKmh * 6 * r.Efficiency / 10; math.Abs(c-r.HaPerH) > 1e-4 {
		t.Errorf("%.3f ha/h from speed, width and efficiency; %.3f by area and time", c, r.HaPerH)
	}
}

// TestWorkRateAtOtherSpeeds: the table's rate at each speed, where turns take as
// long as in the planned drive, is within 5 % of a drive planned at that speed.
func TestWorkRateAtOtherSpeeds(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, stderr := command("", "check", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	scenario, err := os.ReadFile("scenario.yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, sheet, _ := command("", "check", "scenario.yaml")
	for _, kmh := range []string{"4", "6", "8", "10", "12"} {
		text := strings.Replace(string(scenario), "speed_kmh: 8", "speed_kmh: "+kmh, 1)
		if err := os.WriteFile("other.yaml", []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, other, _ := command("", "check", "other.yaml")
		table := figure(t, sheet, `(?m)^ +`+kmh+` .* ([\d.]+) ha/h$`)
		planned := figure(t, other, `planned drive +([\d.]+) ha/h`)
		if math.Abs(table-planned) > 0.05*planned {
			t.Errorf("at %s km/h the table says %.2f ha/h, a drive planned at it makes %.2f", kmh, table, planned)
		}
	}
}
