// Lines with bands and heat maps of a study.

package figure

import (
	"bytes"
	"image/png"
	"math"
	"strings"
	"testing"
)

func TestLinesAndHeatMap(t *testing.T) {
	nan := math.NaN()
	two := []Series{
		{Name: "noise 1", X: []float64{4, 8, 12}, Y: []float64{99, 98, 95}, Lo: []float64{98, 97, 93}, Hi: []float64{100, 99, 97}},
		{Name: "noise 4", X: []float64{4, 8, 12}, Y: []float64{95, nan, 90}, Lo: []float64{nan, nan, 88}, Hi: []float64{nan, nan, 92}},
	}
	for _, c := range []struct {
		name  string
		d     *Drawing
		holds []string
		lacks []string
	}{
		{"two lines", Lines("share", "speed", "%", two), []string{"<title>share</title>", ">noise 1<", ">noise 4<", ">speed<"}, []string{"no transition"}},
		{"one line needs no key", Lines("share", "speed", "%", two[:1]), []string{">speed<"}, []string{">noise 1<"}},
		{"nothing", Lines("share", "speed", "%", []Series{{X: []float64{1}, Y: []float64{nan}, Lo: []float64{nan}, Hi: []float64{nan}}}), []string{"no transition"}, nil},
		{"heat", HeatMap("map", "speed", "noise", "share, %", &Heat{X: []float64{4, 8}, Y: []float64{1, 2}, Z: [][]float64{{99.14, 98}, {95, nan}}}), []string{">99.1<", ">95<", ">share, %<", ">noise<"}, nil},
		{"long names", HeatMap("map", strings.Repeat("machine.", 9), "machine.controller.lift_lead_ms", "share", &Heat{X: []float64{4}, Y: []float64{1}, Z: [][]float64{{-3}}}), nil, nil},
		{"long numbers", Lines("share", "length", "%", []Series{{X: []float64{1e6, 1.9e6}, Y: []float64{1, 2}, Lo: []float64{1, 2}, Hi: []float64{1, 2}}}), []string{">1000000<"}, nil},
		{"all alike", HeatMap("map", "speed", "noise", "share", &Heat{X: []float64{4}, Y: []float64{1}, Z: [][]float64{{-3}}}), []string{">−3<"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			svg := c.d.SVG()
			if svg != c.d.SVG() {
				t.Error("not the same twice")
			}
			for _, fault := range textFaults(svg) {
				t.Error(fault)
			}
			for _, want := range c.holds {
				if !strings.Contains(svg, want) {
					t.Errorf("lacks %q", want)
				}
			}
			for _, not := range append(c.lacks, "NaN", "Inf") {
				if strings.Contains(svg, not) {
					t.Errorf("holds %q", not)
				}
			}
			var b bytes.Buffer
			if err := c.d.WritePNG(&b); err != nil {
				t.Fatal(err)
			}
			img, err := png.Decode(&b)
			if err != nil || img.Bounds().Dx() < 1000 {
				t.Errorf("PNG of %v, %v", img.Bounds(), err)
			}
		})
	}
}
