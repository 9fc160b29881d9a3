package regress_test

import (
	"fmt"

	"liftbench/replay/diagnose/regress"
)

// Place errors of six crossings: about 10 cm, and 0.2 s at each speed.
func ExampleGram_Fit() {
	ones := []float64{1, 1, 1, 1, 1, 1}
	speedMps := []float64{1, 1.4, 1.8, 2.2, 2.6, 3}
	placeErrorM := []float64{0.31, 0.37, 0.46, 0.55, 0.61, 0.70}
	f, ok := regress.NewGram([][]float64{ones, speedMps}, placeErrorM, 0.001).Fit(0, 1)
	if !ok {
		fmt.Println("these speeds cannot tell a time from a place")
		return
	}
	ci := f.Interval(1)
	fmt.Printf("%.2f m and %.2f s (95 %% interval %.2f to %.2f s)\n", f.Beta[0], f.Beta[1], ci[0], ci[1])
	// Output: 0.11 m and 0.20 s (95 % interval 0.18 to 0.21 s)
}
