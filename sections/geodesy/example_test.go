package geodesy_test

import (
	"fmt"

	"liftbench/sections/geodesy"
)

func ExamplePlane() {
	p := geodesy.NewPlane(52, 10)
	east, north := p.ToPlane(52.001, 10.002)
	fmt.Printf("%.3f m east, %.3f m north\n", east, north)
	latDeg, lonDeg := p.ToGeodetic(east, north)
	fmt.Printf("%.7f, %.7f\n", latDeg, lonDeg)
	// Output:
	// 137.353 m east, 111.269 m north
	// 52.0010000, 10.0020000
}
