// This file says where the drill laid a zone's rows.

package field

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/geodesy"
)

// Drill is where the rows of a zone lie, as the drill laid them. The zero value is
// not known.
type Drill struct {
	Known bool
	// At lies on a row, the leftmost of a drill pass seen along the row bearing, on
	// the plane.
	At orb.Point
	// WidthM is that of the drill; 0: not known.
	WidthM float64
	// LeftOut are the rows that a drill pass leaves out, as tramlines and skip rows
	// are, from 1 at the left of each pass.
	LeftOut []int
}

// DrillOptions are the rows as a file or a scenario gives them.
type DrillOptions struct {
	// A is a point on the leftmost row of a drill pass, B another on the same row:
	// longitude and latitude, degrees. nil: not known. With B the rows run from A
	// to B; without it the row bearing says how they run.
	A, B    []float64
	WidthM  float64 // of the drill, m; 0: not known
	LeftOut []int   // see Drill.LeftOut
}

func (o *DrillOptions) given() bool {
	return o.A != nil || o.B != nil || o.WidthM != 0 || o.LeftOut != nil
}

// mostLeftOut bounds the number of a row in a drill pass.
const mostLeftOut = 1024

// check reports what cannot be. The error begins with the property's name.
func (o *DrillOptions) check() error {
	for _, p := range []struct {
		name string
		at   []float64
	}{{"row_a", o.A}, {"row_b", o.B}} {
		if p.at != nil && (len(p.at) != 2 || !(math.Abs(p.at[0]) <= 180) || !(math.Abs(p.at[1]) <= 90)) {
			return fmt.Errorf("%s is %v; expected [longitude, latitude] of a point on a row", p.name, p.at)
		}
	}
	switch {
	case o.B != nil && o.A == nil:
		return errors.New("row_b without row_a; expected both, two points on one row")
	case o.WidthM != 0 && !(o.WidthM >= 0.25 && o.WidthM <= 50):
		return fmt.Errorf("drill_width_m is %g; expected 0.25 to 50", o.WidthM)
	case o.LeftOut != nil && o.WidthM == 0:
		return errors.New("rows_left_out without drill_width_m; expected the width of the drill whose rows they are")
	case o.A == nil && o.given():
		return errors.New("drill_width_m without row_a; expected a point on the leftmost row of a drill pass")
	}
	for _, k := range o.LeftOut {
		if k < 1 || k > mostLeftOut {
			return fmt.Errorf("rows_left_out has %d; expected rows of a drill pass, from 1 at its left", k)
		}
	}
	return nil
}

// put gives a zone its rows.
func (o *DrillOptions) put(z *Zone, plane *geodesy.Plane) error {
	if o.A == nil {
		return nil
	}
	e, n := plane.ToPlane(o.A[1], o.A[0])
	z.Drill = Drill{Known: true, At: orb.Point{e, n}, WidthM: o.WidthM, LeftOut: o.LeftOut}
	if o.B != nil {
		be, bn := plane.ToPlane(o.B[1], o.B[0])
		if exact.Hypot(be-e, bn-n) < leastRowM {
			return fmt.Errorf("row_a and row_b are %.2f m apart; expected two points on one row, %d m or more apart", exact.Hypot(be-e, bn-n), leastRowM)
		}
		z.RowBearingRad = exact.Atan2(be-e, bn-n)
	}
	if math.IsNaN(z.RowBearingRad) {
		return errors.New("row_a without a direction; expected row_b too, or row_bearing_deg")
	}
	return nil
}

// leastRowM is how far apart two points must be that say how rows run: 1 cm off at
// 10 m is 10 cm off at the end of a row of 100 m.
const leastRowM = 10

// takeDrill reads the properties row_a, row_b, drill_width_m and rows_left_out.
func (f *feature) takeDrill() error {
	numbers := func(name string) ([]float64, error) {
		list, ok := f.Properties[name].([]any)
		if f.Properties[name] == nil {
			return nil, nil
		}
		out := make([]float64, len(list))
		for i, x := range list {
			var number bool
			out[i], number = x.(float64)
			ok = ok && number
		}
		if !ok {
			return nil, fmt.Errorf("%s is %v; expected a list of numbers", name, f.Properties[name])
		}
		return out, nil
	}
	var err error
	d := &f.drill
	if d.A, err = numbers("row_a"); err != nil {
		return err
	}
	if d.B, err = numbers("row_b"); err != nil {
		return err
	}
	rows, err := numbers("rows_left_out")
	if err != nil {
		return err
	}
	for _, k := range rows {
		if k != math.Trunc(k) || !(math.Abs(k) <= mostLeftOut) {
			return fmt.Errorf("rows_left_out has %g; expected rows of a drill pass, from 1 at its left", k)
		}
		d.LeftOut = append(d.LeftOut, int(k))
	}
	switch w := f.Properties["drill_width_m"].(type) {
	case nil:
	case float64:
		if w == 0 {
			return errors.New("drill_width_m is 0; expected 0.25 to 50")
		}
		d.WidthM = w
	default:
		return fmt.Errorf("drill_width_m is %v (%T); expected a number, 0.25 to 50 m", w, w)
	}
	if f.row {
		if d.A != nil || d.B != nil {
			return errors.New("row_a or row_b beside zone \"row\", whose line lies on a row; expected one of them")
		}
		// The line gives the point; where it lies in the zone is found later.
		of := *d
		of.A = []float64{f.Lines[0][0][0], f.Lines[0][0][1]}
		return of.check()
	}
	if d.given() && (f.boundary || f.kind == KeepOut) {
		return errors.New("rows of a drill without a zone that has rows; expected zone to be \"body\" or \"headland\" beside them")
	}
	return d.check()
}
