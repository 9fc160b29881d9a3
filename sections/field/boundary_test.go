// Zones made from the boundaries of real fields.

package field

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"liftbench/sections/field/polygon"
	"liftbench/sections/geodesy"
)

// dataFile returns the path of a recorded file.
func dataFile(t *testing.T, name string) string {
	t.Helper()
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		missing(t, "LIFTBENCH_DATA, the folder of recorded data,")
	}
	return filepath.Join(dir, name)
}

// The registered boundaries of three real fields, with the area that was
// registered with them. The area of the ring is what GeographicLib's Planimeter
// gives for it, to 0.1 m² (15381.7, 41215.8, 19242.3); the registered figures
// are all 5.3 % more, so they were not made from these rings.
func TestRealBoundaries(t *testing.T) {
	for _, c := range []struct {
		name         string
		planimeterM2 float64
	}{{"track-05", 15381.7}, {"track-20", 41215.8}, {"track-25", 19242.3}} {
		t.Run(c.name, func(t *testing.T) {
			path := dataFile(t, "tracks/"+c.name+".geojson")
			data, err := os.ReadFile(path)
			if err != nil {
				missing(t, path)
			}
			f, err := Read(strings.NewReader(string(data)), path, Options{HeadlandM: 18})
			if err != nil {
				t.Fatal(err)
			}
			if whole := polygon.AreaM2(f.Boundary); math.Abs(whole-c.planimeterM2) > 0.1 {
				t.Errorf("area %.2f m², Planimeter %.1f", whole, c.planimeterM2)
			}
			fc, err := geojson.UnmarshalFeatureCollection(data)
			if err != nil {
				t.Fatal(err)
			}
			registered := fc.Features[0].Properties.MustFloat64("area_m2_as_registered")
			ratio := registered / f.AreaM2()
			t.Logf("registered %.0f m², %.2f %% more", registered, (ratio-1)*100)
			if ratio < 1 || ratio > 1.06 {
				t.Errorf("registered area is %.3f of the ring's, expected 1.053", ratio)
			}
			// Along a strip's rows the strip takes part, across them it does not.
			for i := range f.Zones[1:] {
				z := &f.Zones[i+1]
				s, cos := math.Sincos(z.RowBearingRad)
				if f.Participating(s, cos, 0.95)&bitOf(f, i+1) == 0 || f.Participating(cos, -s, 0.95)&bitOf(f, i+1) != 0 {
					t.Errorf("%s does not take part along its rows alone", z.Name)
				}
			}
		})
	}
}

// The body's rows run as asked, and the headland is numbered along the boundary.
func TestZonesFromBoundary(t *testing.T) {
	zones, err := zonesFrom(orb.MultiPolygon{square(0, 0, 300, 200)}, 18, 0.5, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(zones) != 5 || zones[0].Name != "body" || zones[0].Kind != Body || zones[0].RowBearingRad != 0.5 {
		t.Fatalf("%d zones, the first %+v", len(zones), zones[0])
	}
	for i, z := range zones[1:] {
		if want := fmt.Sprintf("headland %d", i+1); z.Name != want || z.Kind != Headland {
			t.Errorf("zone %d is %v %q, want headland %q", i+2, z.Kind, z.Name, want)
		}
	}
}

// A field with more sides than a Mask has room for: its bearings are rounded to 5°.
// With fewer sides they are those of the sides.
func TestBearingsOfManyStrips(t *testing.T) {
	const turnDeg = 7.0
	s, c := math.Sincos(-turnDeg * radPerDeg) // clockwise
	for _, teeth := range []int{13, 15} {
		var ring orb.Ring
		at := func(x, y float64) { ring = append(ring, orb.Point{c*x - s*y, s*x + c*y}) }
		for i := range teeth {
			x := float64(i) * 20
			at(x, 30)
			at(x, 0)
			at(x+10, 0)
			at(x+10, 30)
		}
		at(float64(teeth)*20-10, 60)
		at(0, 60)
		boundary, flaw := polygon.Clean(orb.MultiPolygon{{ring}})
		if flaw != nil {
			t.Fatal(flaw.Text)
		}
		zones, err := zonesFrom(boundary, 2, math.NaN(), nil)
		if err != nil {
			t.Fatal(err)
		}
		wantDeg := turnDeg
		if many := len(zones)-1 > maxHeadlandClasses; many != (teeth == 15) {
			t.Fatalf("%d teeth make %d strips", teeth, len(zones)-1)
		} else if many {
			wantDeg = 5
		}
		for _, z := range zones[1:] {
			deg := math.Mod(z.RowBearingRad/radPerDeg, 90)
			if math.Abs(deg-wantDeg) > 1e-6 {
				t.Errorf("%d teeth: %s has rows at %g°, want %g° or that and 90°", teeth, z.Name, z.RowBearingRad/radPerDeg, wantDeg)
			}
		}
		if _, err := New(geodesy.Plane{}, nil, zones); err != nil {
			t.Errorf("%d teeth: %v", teeth, err)
		}
	}
}

// Cutting a headland asks before each side whether to go on, and ends with the answer.
func TestCuttingStops(t *testing.T) {
	boundary := orb.MultiPolygon{square(0, 0, 300, 200)}
	asked := 0
	if _, err := zonesFrom(boundary, 18, 0.5, func() error { asked++; return nil }); err != nil || asked < 8 {
		t.Fatalf("asked %d times for four sides (%v); want 8 times, before each is drawn and before it is taken, and more", asked, err)
	}
	left := errors.New("left")
	for n := range asked {
		more := -1
		_, err := zonesFrom(boundary, 18, 0.5, func() error {
			if n--; n < 0 {
				more++
				return left
			}
			return nil
		})
		if !errors.Is(err, left) || more > 1 {
			t.Errorf("left at a question: %v, asked %d times more", err, more)
		}
	}
}

// A side that bends more tightly than the headland is wide is joined from pieces, of
// which thousands take seconds: whether to go on is asked at each of them too.
func TestCuttingABendingSideStops(t *testing.T) {
	// A brook along the north side, up to 8° beside it, in bends of 18 m radius.
	ring := orb.Ring{{0, 0}, {300, 0}, {300, 150}}
	x, y, heading := 300.0, 150.0, math.Pi
	points := 0
	for k := 0; x > 4; k++ {
		heading = math.Pi - 0.14*math.Sin(2*math.Pi*float64(k)/40)
		x, y = x+0.4*math.Cos(heading), y+0.4*math.Sin(heading)
		ring = append(ring, orb.Point{x, y})
		points++
	}
	ring = append(ring, orb.Point{0, 150}, orb.Point{0, 0})
	boundary, flaw := polygon.Clean(orb.MultiPolygon{{ring}})
	if flaw != nil {
		t.Fatal(flaw.Text)
	}
	asked := 0
	if _, err := zonesFrom(boundary, 40, 0, func() error { asked++; return nil }); err != nil {
		t.Fatal(err)
	}
	// A bend is one piece at least; each of the five sides is asked for twice.
	if bends := points / 20; asked < 10+bends {
		t.Errorf("asked %d times; want 10 times, and at each of %d bends", asked, bends)
	}
	left, more := errors.New("left"), -1
	n := asked / 2
	_, err := zonesFrom(boundary, 40, 0, func() error {
		if n--; n < 0 {
			more++
			return left
		}
		return nil
	})
	if !errors.Is(err, left) || more > 1 {
		t.Errorf("left half way: %v, asked %d times more", err, more)
	}
}
