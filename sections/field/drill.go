// This file gives zones their rows as the drill laid them.

package field

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/field/drill"
	"liftbench/sections/geodesy"
)

// Drill is where the rows of a zone lie, and DrillOptions what a file or a scenario says
// of that.
type (
	Drill        = drill.Rows
	DrillOptions = drill.Options
)

// putDrill gives a zone its rows.
func putDrill(o *DrillOptions, z *Zone, plane *geodesy.Plane) error {
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

// takeDrill reads what the feature says of the drill.
func (f *feature) takeDrill() (err error) {
	if f.drill, err = drill.Take(f.Properties); err != nil {
		return err
	}
	d := &f.drill
	if f.row {
		if d.A != nil || d.B != nil {
			return errors.New("row_a or row_b beside zone \"row\", whose line lies on a row; expected one of them")
		}
		// The line gives the point; where it lies in the zone is found later.
		of := *d
		of.A = []float64{f.Lines[0][0][0], f.Lines[0][0][1]}
		return of.Check()
	}
	if d.Given() && (f.boundary || f.kind == KeepOut) {
		return errors.New("rows of a drill without a zone that has rows; expected zone to be \"body\" or \"headland\" beside them")
	}
	return d.Check()
}
