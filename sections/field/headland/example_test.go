package headland_test

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/field/headland"
	"liftbench/sections/field/polygon"
)

func ExampleCut() {
	boundary := orb.MultiPolygon{{{{0, 0}, {300, 0}, {300, 200}, {0, 200}, {0, 0}}}}
	body, strips, err := headland.Cut(boundary, 18, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("body %.0f m²\n", polygon.AreaM2(body))
	for _, s := range strips {
		fmt.Printf("strip %.0f m², rows at %.0f°\n", polygon.AreaM2(s.Polygons), s.BearingRad*180/math.Pi)
	}
	// Output:
	// body 43296 m²
	// strip 5400 m², rows at 90°
	// strip 2952 m², rows at 0°
	// strip 5400 m², rows at 90°
	// strip 2952 m², rows at 180°
}
