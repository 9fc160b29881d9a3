// Package drill is where the drill laid a zone's rows, as a file or a scenario gives it.
package drill

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Rows is where the rows of a zone lie, as the drill laid them. The zero value is
// not known.
type Rows struct {
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

// Options are the rows as a file or a scenario gives them.
type Options struct {
	// A is a point on the leftmost row of a drill pass, B another on the same row:
	// longitude and latitude, degrees. nil: not known. With B the rows run from A
	// to B; without it the row bearing says how they run.
	A, B    []float64
	WidthM  float64 // of the drill, m; 0: not known
	LeftOut []int   // see Rows.LeftOut
}

// Given reports whether anything is said.
func (o *Options) Given() bool {
	return o.A != nil || o.B != nil || o.WidthM != 0 || o.LeftOut != nil
}

// mostLeftOut bounds the number of a row in a drill pass.
const mostLeftOut = 1024

// Check reports what cannot be. The error begins with the property's name.
func (o *Options) Check() error {
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
	case o.A == nil && o.Given():
		return errors.New("drill_width_m without row_a; expected a point on the leftmost row of a drill pass")
	}
	for _, k := range o.LeftOut {
		if k < 1 || k > mostLeftOut {
			return fmt.Errorf("rows_left_out has %d; expected rows of a drill pass, from 1 at its left", k)
		}
	}
	return nil
}

// Take reads the properties row_a, row_b, drill_width_m and rows_left_out. What they say
// together is left to Check.
func Take(properties map[string]any) (d Options, err error) {
	numbers := func(name string) ([]float64, error) {
		list, ok := properties[name].([]any)
		if properties[name] == nil {
			return nil, nil
		}
		out := make([]float64, len(list))
		for i, x := range list {
			var number bool
			out[i], number = x.(float64)
			ok = ok && number
		}
		if !ok {
			return nil, fmt.Errorf("%s is %v; expected a list of numbers", name, properties[name])
		}
		return out, nil
	}
	if d.A, err = numbers("row_a"); err != nil {
		return d, err
	}
	if d.B, err = numbers("row_b"); err != nil {
		return d, err
	}
	rows, err := numbers("rows_left_out")
	if err != nil {
		return d, err
	}
	for _, k := range rows {
		if k != math.Trunc(k) || !(math.Abs(k) <= mostLeftOut) {
			return d, fmt.Errorf("rows_left_out has %g; expected rows of a drill pass, from 1 at its left", k)
		}
		d.LeftOut = append(d.LeftOut, int(k))
	}
	switch w := properties["drill_width_m"].(type) {
	case nil:
	case float64:
		if w == 0 {
			return d, errors.New("drill_width_m is 0; expected 0.25 to 50")
		}
		d.WidthM = w
	default:
		return d, fmt.Errorf("drill_width_m is %v (%T); expected a number, 0.25 to 50 m", w, w)
	}
	return d, nil
}
