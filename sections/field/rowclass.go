// This file says in which directions the field's rows run, and how far the zones
// reach across them.

package field

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/field/rowline"
)

// RowClass is the worked zones of one kind whose rows run one way, or along one line.
type RowClass struct {
	Zones          Mask
	SinRow, CosRow float64 // of the row bearing; 0 where rows bend
	// Line is a row that bends; nil: they are straight.
	Line *rowline.Line
	// LeftM and RightM are the sides of the zones across the rows: metres from the
	// plane's origin, or from the line, positive to the right of the row bearing.
	LeftM, RightM float64
	// RowM is where the drill laid a row, counted as LeftM; NaN: not known.
	RowM float64
}

// RowClasses returns the classes of the zones that are worked and have a row bearing.
func (f *Field) RowClasses() []RowClass {
	var list []RowClass
	for _, c := range f.curves {
		r := RowClass{Zones: c.bit, Line: c.line, LeftM: math.Inf(1), RightM: math.Inf(-1)} // the line is a row
		for i := range f.Zones {
			if z := &f.Zones[i]; z.Line == c.line && !z.Unworked && (z.Kind == Headland) == (c.bit&f.headland != 0) {
				left, right := c.line.Across(z.Polygons)
				r.LeftM, r.RightM = min(r.LeftM, left), max(r.RightM, right)
			}
		}
		list = append(list, r)
	}
	for n := range f.classes {
		c := &f.classes[n]
		if math.IsNaN(c.sinRow) || c.bit&f.unworked != 0 {
			continue
		}
		r := RowClass{Zones: c.bit, SinRow: c.sinRow, CosRow: c.cosRow, LeftM: math.Inf(1), RightM: math.Inf(-1), RowM: math.NaN()}
		for i := range f.Zones {
			z := &f.Zones[i]
			if z.Kind == KeepOut || z.Unworked || !c.holds(z, f) {
				continue
			}
			for _, polygon := range z.Polygons {
				for _, ring := range polygon {
					for _, p := range ring {
						v := float64(p[0]*r.CosRow) - float64(p[1]*r.SinRow)
						r.LeftM, r.RightM = min(r.LeftM, v), max(r.RightM, v)
					}
				}
			}
			if z.Drill.Known && math.IsNaN(r.RowM) {
				r.RowM = float64(z.Drill.At[0]*r.CosRow) - float64(z.Drill.At[1]*r.SinRow)
			}
		}
		list = append(list, r)
	}
	return list
}

// holds reports whether a worked zone with rows is of the class.
func (c *class) holds(z *Zone, f *Field) bool {
	if math.IsNaN(z.RowBearingRad) || z.Line != nil || (z.Kind == Headland) != (c.bit&f.headland != 0) {
		return false
	}
	sin, cos := exact.Sincos(z.RowBearingRad)
	return math.Abs(float64(sin*c.cosRow)-float64(cos*c.sinRow)) < 2e-9
}
