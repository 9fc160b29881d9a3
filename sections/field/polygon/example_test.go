package polygon_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"liftbench/sections/field/polygon"
)

// Clean finds what makes a polygon unusable, and where.
func ExampleClean() {
	bow := orb.MultiPolygon{{{{0, 0}, {2, 2}, {2, 0}, {0, 2}}}}
	if _, flaw := polygon.Clean(bow); flaw != nil {
		fmt.Printf("%s, at (%g, %g) m\n", flaw.Text, flaw.At[0], flaw.At[1])
	}
	clean, _ := polygon.Clean(orb.MultiPolygon{{{{0, 0}, {0, 50}, {100, 50}, {100, 0}}}})
	fmt.Println(clean, polygon.AreaM2(clean), "m²")
	// Output:
	// ring crosses itself, at (1, 1) m
	// [[[[0 0] [100 0] [100 50] [0 50] [0 0]]]] 5000 m²
}
