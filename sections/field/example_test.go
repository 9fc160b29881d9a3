package field_test

import (
	"fmt"
	"math"
	"strings"

	"liftbench/sections/field"
)

// A boundary alone is enough: the headland is cut from it in strips whose rows
// run along the border.
func Example() {
	const boundary = `{"type":"Polygon","coordinates":[[[10,52],[10.004,52],[10.004,52.002],[10,52.002],[10,52]]]}`
	rowsDeg := 0.0
	f, err := field.Read(strings.NewReader(boundary), "long-acre.geojson", field.Options{HeadlandM: 18, RowBearingDeg: &rowsDeg})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range f.Zones {
		z := &f.Zones[i]
		fmt.Printf("%-10s %8.0f m², rows at %4.0f°\n", z.Name, z.AreaM2(), z.RowBearingRad*180/math.Pi)
	}
	// A section of 3 m across the border of body and headland in the south.
	east, border := f.Plane.ToPlane(52, 10.002)
	border += 18
	for _, heading := range []float64{0, 90} {
		sin, cos := math.Sincos(heading * math.Pi / 180)
		m := f.Participating(sin, cos, math.Cos(20*math.Pi/180))
		fmt.Printf("heading %2.0f°: %.2f of the section is inside\n", heading, f.Share(east, border-1, east, border+2, m))
	}
	// Output:
	// body          44527 m², rows at    0°
	// headland 1     3358 m², rows at  180°
	// headland 2     4945 m², rows at   90°
	// headland 3     3358 m², rows at    0°
	// headland 4     4945 m², rows at   90°
	// heading  0°: 0.67 of the section is inside
	// heading 90°: 0.33 of the section is inside
}
