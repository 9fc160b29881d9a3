// The transverse Mercator projection beside GeographicLib's.

package geodesy

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// TransverseMercatorProj (GeographicLib, the exact projection by Lee's formulas) lays points
// onto the grid; back they come within 1e-12 degrees, 0.1 µm.
func TestTransverseBesideGeographicLib(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	worst := 0.0
	for _, p := range []Transverse{{9, 0.9996, 500000, 0, 0}, {-177, 0.9996, 500000, 1e7, 298.257222101}, {19, 0.9993, 500000, -5300000, 298.257222101}, {15, 1, 0, 0, 0}} {
		var lines []string
		var lats, lons []float64
		for range 2000 {
			lat, off := r.Float64()*168-84, r.NormFloat64()*2
			if r.IntN(4) == 0 {
				off = r.Float64()*40 - 20
			}
			lon := math.Remainder(p.CentralMeridianDeg+off, 360)
			lats, lons = append(lats, lat), append(lons, lon)
			lines = append(lines, fmt.Sprintf("%.13f %.13f", lat, lon))
		}
		for i, row := range geographicLib(t, lines, "TransverseMercatorProj", "-t", "-l", fmt.Sprint(p.CentralMeridianDeg), "-k", fmt.Sprint(p.Scale), "-p", "12",
			"-e", "6378137", fmt.Sprintf("1/%.9f", cmp.Or(p.InverseFlattening, 298.257223563))) {
			lat, lon, err := p.ToGeodetic(row[0]+p.FalseEastingM, row[1]+p.FalseNorthM)
			if err != nil {
				t.Fatal(err)
			}
			off := max(math.Abs(lat-lats[i]), math.Abs(math.Remainder(lon-lons[i], 360))*math.Cos(lat*math.Pi/180))
			worst = max(worst, off)
			if !(off < 1e-12) {
				t.Errorf("%+v: lat %.12f lon %.12f came back as %.12f %.12f", p, lats[i], lons[i], lat, lon)
			}
		}
	}
	t.Logf("8000 points, the worst %.2g degrees off", worst)
	for _, at := range [][2]float64{{500000, 2e7}, {9e6, 0}, {math.NaN(), 0}, {0, math.Inf(1)}} {
		if _, _, err := (Transverse{CentralMeridianDeg: 9, Scale: 0.9996, FalseEastingM: 500000}).ToGeodetic(at[0], at[1]); err == nil {
			t.Errorf("%v is on the grid", at)
		}
	}
}
