// Parameters that Validate refuses, and the error messages.

package hydraulics

import (
	"math"
	"strings"
	"testing"

	"liftbench/sections"
)

// hoe is the machine of these tests: invented, of common size.
func hoe() Params {
	return Params{
		LiftDeadNs: 60e6, DropDeadNs: 50e6,
		BoreM: 0.032, StrokeM: 0.160,
		RaisedM: 0.26, WorkingDepthM: 0.04, EffectiveDepthM: 0.02,
		PumpFlowM3PerS: 60 * litrePerMin, ValveFlowM3PerS: 8 * litrePerMin,
		PressurePa: 180 * bar, LiftForceN: 1200, DropForceN: 1500,
		HoseLengthM: 6, HoseBoreM: 0.008, OrificeM: 0.0025, OrificeCd: 0.62,
		OilVG: 46, OilTempDegC: 50,
	}
}

// with returns the hoe after change.
func with(change func(*Params)) Params {
	p := hoe()
	change(&p)
	return p
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g ± %.3g", what, got, want, tolerance)
	}
}

func TestValidate(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Params)
		want   string // start of the error; empty = valid
	}{
		{"as it is", func(p *Params) {}, ""},
		{"no flow valve", func(p *Params) { p.ValveFlowM3PerS = 0 }, ""},
		{"no hose", func(p *Params) { p.HoseLengthM = 0 }, ""},
		{"no dead time", func(p *Params) { p.LiftDeadNs, p.DropDeadNs = 0, 0 }, ""},
		{"in work at full depth only", func(p *Params) { p.EffectiveDepthM = p.WorkingDepthM }, ""},
		{"in work at the first touch", func(p *Params) { p.EffectiveDepthM = 0 }, ""},
		{"coldest", func(p *Params) { p.OilTempDegC = -30 }, ""},
		{"negative pump", func(p *Params) { p.PumpFlowM3PerS = -3 * litrePerMin }, "pump flow -3 L/min; expected more than 0, at most 1000"},
		{"bore in mm", func(p *Params) { p.BoreM = 32 }, "cylinder bore 32000 mm; expected more than 0, at most 500"},
		{"NaN", func(p *Params) { p.StrokeM = math.NaN() }, "cylinder stroke NaN mm; expected more than 0"},
		{"infinite", func(p *Params) { p.PressurePa = math.Inf(1) }, "available pressure +Inf bar; expected"},
		{"dead time", func(p *Params) { p.DropDeadNs = -1e6 }, "drop dead time -1 ms; expected 0 to 10000"},
		{"effective below working depth", func(p *Params) { p.EffectiveDepthM = 0.05 }, "effective depth 50 mm; expected 0 to 40"},
		{"discharge", func(p *Params) { p.OrificeCd = 1.1 }, "discharge coefficient 1.1; expected more than 0, at most 1"},
		{"hot oil", func(p *Params) { p.OilTempDegC = 323 }, "oil temperature 323 °C; expected -30 to 120"},
		{"grade", func(p *Params) { p.OilVG = 40 }, "oil of grade ISO VG 40; expected 32, 46 or 68"},
		{"too heavy", func(p *Params) { p.LiftForceN = 20e3 }, "180 bar on a 32 mm bore lift 14476.5 N; expected more than the lifting force, 20000 N"},
		{"pinhole", func(p *Params) { p.OrificeM = 1e-9 }, "tools move at "},
		{"vanishing numbers", func(p *Params) { p.OrificeM, p.HoseBoreM = 1e-300, 1e-300 }, "tools move at "},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := with(c.change)
			err := p.Validate()
			if (err == nil) != (c.want == "") || err != nil && !strings.HasPrefix(err.Error(), c.want) {
				t.Fatalf("got %v, want %q", err, c.want)
			}
			if _, err := New(p, 1); (err == nil) != (c.want == "") {
				t.Fatalf("New: got %v", err)
			}
		})
	}
}

func TestNewSections(t *testing.T) {
	for n, ok := range map[int]bool{-1: false, 0: false, 1: true, sections.MaxSections: true, sections.MaxSections + 1: false} {
		if _, err := New(hoe(), n); (err == nil) != ok {
			t.Errorf("%d sections: %v", n, err)
		}
	}
}
