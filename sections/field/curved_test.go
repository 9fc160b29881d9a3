package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field/rowline"
	"liftbench/sections/geodesy"
)

// round is points of a circle around 10° E, 52° N in degrees, on a plane that touches there,
// clockwise from a bearing over an angle.
func round(radiusM, fromRad, overRad float64, n int) string {
	p := geodesy.NewPlane(52, 10)
	var list []string
	for i := range n + 1 {
		sin, cos := math.Sincos(fromRad + overRad*float64(i)/float64(n))
		lat, lon := p.ToGeodetic(radiusM*sin, radiusM*cos)
		list = append(list, fmt.Sprintf("[%.9f,%.9f]", lon, lat))
	}
	return strings.Join(list, ",")
}

func disc(radiusM float64) string {
	return `{"type":"Polygon","coordinates":[[` + round(radiusM, 0, -2*math.Pi, 120) + `]]}`
}

func rowLine(points string) string {
	return `{"type":"LineString","coordinates":[` + points + `]}`
}

// On a round field the zones that take part are those of the tangent: at bearing φ from the
// centre, whatever the distance, a heading is off the rows by its angle to φ + 90°.
func TestRowsOfARound(t *testing.T) {
	f, err := Read(strings.NewReader(collectionOf(
		featureOf(disc(250), `"zone":"body"`),
		featureOf(rowLine(round(180, 0, 2*math.Pi, 90)), `"zone":"row-line"`),
	)), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !f.Bends() || f.Participating(0, 1, 0) != 0 || f.Unbound() != 0 {
		t.Errorf("bends %v, takes part anywhere %b, unbound %b", f.Bends(), f.Participating(0, 1, 0), f.Unbound())
	}
	rng := rand.New(rand.NewPCG(1, 1))
	for range 5000 {
		phi, r, heading := 7*rng.Float64(), 5+245*rng.Float64(), 7*rng.Float64()
		tolerance := 1.5 * rng.Float64()
		sin, cos := math.Sincos(phi)
		hs, hc := math.Sincos(heading)
		off := math.Abs(math.Remainder(heading-phi-math.Pi/2, math.Pi))
		if math.Abs(off-tolerance) < 0.005 {
			continue
		}
		got := f.ParticipatingAt(r*sin, r*cos, hs, hc, math.Cos(tolerance))
		if (got != 0) != (off < tolerance) {
			t.Fatalf("at %g m, %g rad, heading %g: takes part %v, %g rad off the rows of %g", r, phi, heading, got != 0, off, tolerance)
		}
		k := f.RowCurvature(r*sin, r*cos, hs, hc, math.Cos(tolerance), math.Copysign(1, math.Cos(heading-phi-math.Pi/2)))
		if want := math.Copysign(1/r, math.Cos(heading-phi-math.Pi/2)); got != 0 && !(math.Abs(k/want-1) < 0.05) || got == 0 && k != 0 {
			t.Fatalf("at %g m, %g rad, heading %g: rows bend by %g, want %g", r, phi, heading, k, want)
		}
	}
	if n := testing.AllocsPerRun(100, func() { f.ParticipatingAt(20, 30, 0, 1, 0.9) }); n != 0 {
		t.Errorf("%g allocations", n)
	}
	list := f.RowClasses()
	if len(list) != 1 || list[0].Line == nil || list[0].RowM != 0 || math.Abs(list[0].LeftM+70) > 0.3 || math.Abs(list[0].RightM-180) > 3 {
		t.Errorf("%+v; want rows from 70 m left of the line to its centre", list)
	}
}

// Which zones a row line is of.
func TestRowLineOfZones(t *testing.T) {
	boundary, around := featureOf(disc(250), ""), featureOf(rowLine(round(250, 0, 2*math.Pi, 120)), `"zone":"row-line","rows_of":"headland"`)
	f, err := Read(strings.NewReader(collectionOf(boundary, around)), "f", Options{HeadlandM: 24, RowBearingDeg: new(float64)})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Zones) != 2 || f.Zones[1].Name != "headland" || f.Zones[1].Line == nil || f.Zones[0].Line != nil {
		t.Fatalf("%d zones; want a body and a headland in one piece along the line", len(f.Zones))
	}
	if got, want := f.Zones[1].AreaM2(), math.Pi*(250*250-226*226); math.Abs(got/want-1) > 0.01 {
		t.Errorf("headland of %.0f m², want %.0f", got, want)
	}
	if got, want := f.At(0, 240), f.At(-240, 0); got != want || got&f.Headlands() == 0 {
		t.Errorf("the headland is of classes %b and %b", got, want)
	}
	if got := f.ParticipatingAt(0, 240, 1, 0, 0.99); got&f.Headlands() == 0 {
		t.Error("the headland takes no part along its border")
	}
	left := f.Zones[1]
	left.Unworked = true
	g, err := New(f.Plane, nil, []Zone{f.Zones[0], left})
	if err != nil {
		t.Fatal(err)
	}
	if g.Bends() || g.ParticipatingAt(0, 240, 1, 0, 0.99)&g.Headlands() != 0 {
		t.Error("a headland that is left takes part")
	}
	for properties, want := range map[string]string{
		`"zone":"row-line","rows_of":"bodi"`:                       `rows_of is "bodi"; expected body, headland or the name of a zone`,
		`"zone":"row-line","rows_of":5`:                            "rows_of without zone",
		`"zone":"row","rows_of":"body"`:                            `rows_of without zone "row-line"`,
		`"zone":"row-line","row_bearing_deg":5`:                    `row_bearing_deg beside zone "row-line"`,
		`"zone":"row-line","work":"left"`:                          `work is "left"`,
		`"zone":"row-line","row_a":[10,52]`:                        "whose line lies on a row",
		`"zone":"row-line","rows_of":"headland","RowsOf":"x"`:      "",
		`"zone":"row-line","rows_of":"body"`:                       "whose row bearing is given",
		`"zone":"row-line","rows_of":"headland","drill_width_m":1`: "",
	} {
		_, err := Read(strings.NewReader(collectionOf(boundary, featureOf(rowLine(round(200, 0, 2, 40)), properties))), "f", Options{HeadlandM: 24, RowBearingDeg: new(float64)})
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s:\n%v\nwant %q", properties, err, want)
		}
	}
	for name, c := range map[string]struct{ line, want string }{
		"beside the field": {rowLine(round(300, 0, 1, 40)), "a row line outside of every zone"},
		"a corner":         {rowLine("[10,52],[10.001,52],[10.001,52.001]"), "turns by 90° at one point"},
		"a polygon":        {disc(100), `zone is "row-line" of a polygon`},
		"short":            {rowLine("[10,52],[10.00007,52]"), "expected 10 m or more"},
	} {
		_, err := Read(strings.NewReader(collectionOf(featureOf(disc(250), ""), featureOf(c.line, `"zone":"row-line"`))), "f", Options{})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", name, err, c.want)
		}
	}
}

// A zone whose rows bend by less and less is worked as one with straight rows.
func TestNearlyStraightRows(t *testing.T) {
	const radius = 50_000.0
	var line orb.LineString
	for n := -300.0; n <= 300; n += 20 {
		line = append(line, orb.Point{n * n / 2 / radius, n})
	}
	square := orb.MultiPolygon{{{{-100, -100}, {100, -100}, {100, 100}, {-100, 100}, {-100, -100}}}}
	z := Zone{Name: "body", Polygons: square}
	straight, err := New(geodesy.NewPlane(52, 10), nil, []Zone{z})
	if err != nil {
		t.Fatal(err)
	}
	if z.Line, err = rowline.New(line); err != nil {
		t.Fatal(err)
	}
	bent, err := New(geodesy.NewPlane(52, 10), nil, []Zone{z})
	if err != nil {
		t.Fatal(err)
	}
	for heading := 0.0; heading < 7; heading += 0.1 {
		sin, cos := math.Sincos(heading)
		if got, want := bent.ParticipatingAt(50, 30, sin, cos, 0.94), straight.ParticipatingAt(50, 30, sin, cos, 0.94); (got != 0) != (want != 0) {
			t.Errorf("heading %g: takes part %v, with straight rows %v", heading, got != 0, want != 0)
		}
	}
}
