// What is treated off target over the width of the sections.

package study

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/geodesy"
	"liftbench/sim/sweep"
)

// borders are fields of 9 to 13 ha, as the east and north of their corners in
// metres; rows run north.
func borders() map[string][][2]float64 {
	ring := func(n int, radiusM, swingM float64) [][2]float64 {
		var r [][2]float64
		for i := range n {
			turn := 2 * math.Pi * float64(i) / float64(n)
			s, c := math.Sincos(turn)
			d := radiusM + swingM*math.Sin(5*turn)
			r = append(r, [2]float64{d * c, d * s})
		}
		return r
	}
	return map[string][][2]float64{
		"slanting": {{0, 0}, {300, 120}, {300, 420}, {0, 300}},
		"triangle": {{0, 0}, {420, 0}, {210, 420}},
		"kite":     {{0, 210}, {130, 0}, {420, 240}, {150, 460}},
		"round":    ring(48, 190, 0),
		"winding":  ring(90, 200, 35),
	}
}

// Zandonadi et al. 2011 (Trans. ASABE 54(1):41-49) computed the off-target area
// of real fields: 9 to 24 % of the field with the widest section, under 1 % with
// the narrowest, near proportional to the width. Here the fields are invented, of
// one row direction and without headland passes, the bar is 24 m wide, positions
// are exact, and off target is what is worked beyond the border and missed
// within, not what is worked twice. (Their figures as they are quoted; that they
// count ground treated twice as well, from memory.)
func TestOffTargetOverSectionWidth(t *testing.T) {
	machine, err := settings.InDemo.Read("demo/machine.yaml", "the demo's machine")
	if err != nil {
		t.Fatal(err)
	}
	wide := strings.NewReplacer("count: 12", "count: 48", "sections: [2, 2, 2, 2, 2, 2]", "sections: 48", "pump_l_min: 40", "pump_l_min: 900").Replace(string(machine))
	counts := []float64{1, 4, 24} // sections of 24, 6 and 1 m
	t.Logf("%-9s %8s %8s %8s   overrun and miss, %% of the field", "", "24 m", "6 m", "1 m")
	for _, name := range []string{"slanting", "triangle", "kite", "round", "winding"} {
		plane := geodesy.NewPlane(52.06, 11.14)
		var ring [][2]float64
		for _, p := range append(borders()[name], borders()[name][0]) {
			lat, lon := plane.ToGeodetic(p[0], p[1])
			ring = append(ring, [2]float64{lon, lat})
		}
		coordinates, err := json.Marshal(ring)
		if err != nil {
			t.Fatal(err)
		}
		files := map[string]string{
			"machine.yaml":  wide,
			"field.geojson": fmt.Sprintf(`{"type": "Feature", "properties": {"zone": "body", "row_bearing_deg": 0}, "geometry": {"type": "Polygon", "coordinates": [%s]}}`, coordinates),
			"s.yaml": "machine: machine.yaml\nfield: field.geojson\ndrive: {speed_kmh: 15, turn_kmh: 15, straight_before_m: 10}\n" +
				"receiver: {noise_cm: 0, velocity_noise_cm_s: 0, rate_hz: 5}\ncontroller: {edge_rule: weed-first, row_tolerance_deg: 5}\n",
			"study.yaml": "scenario: s.yaml\nseeds: 1\nvary:\n  - {key: machine.sections, values: [1, 4, 24]}\n",
		}
		c, u, err := settings.LoadStudy("study.yaml", settings.Named(func(name, _ string) ([]byte, error) { return []byte(files[name]), nil }))
		if err != nil {
			t.Fatal(err)
		}
		plan, err := c.Plan(u)
		if err != nil {
			t.Fatal(err)
		}
		b := &DriveBench{Base: u, Plan: plan, ToleranceM: 0.1}
		s := &sweep.Study{Plan: *plan, Do: b.Do}
		rows, err := s.Run(t.Context(), nil, func(sweep.Row) error { return nil }, func() error { return nil })
		if err != nil {
			t.Fatal(err)
		}
		off := make([]float64, len(rows))
		for i := range rows {
			off[i] = rows[i].Results[measureNumber("off_target_percent")]
		}
		t.Logf("%-9s %8.2f %8.2f %8.2f", name, off[0], off[1], off[2])
		if off[0] < 2 || off[0] > 24 || off[2] >= 1 {
			t.Errorf("%s: %.2f %% switched as a whole, %.2f %% with the narrowest sections; want some per cent, and under 1 %%", name, off[0], off[2])
		}
		for i := 1; i < len(off); i++ {
			// The whole against a part: near proportional to the width.
			if part := off[i] * counts[i] / off[0]; part < 0.75 || part > 1.4 {
				t.Errorf("%s: %g sections have %.2f times their share of the whole bar's %.2f %%", name, counts[i], part, off[0])
			}
		}
	}
}
