// This file answers for zones whose rows bend: there the direction wanted depends on the
// place.

package field

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/field/rowline"
)

// lineZone is the zone of a line that lies along a row that bends.
const lineZone = "row-line"

// curve is the worked zones of one kind along one row line.
type curve struct {
	bit  Mask
	line *rowline.Line
}

// Bends reports whether the rows of any worked zone bend. If not, ParticipatingAt is
// Participating and RowCurvature is 0.
func (f *Field) Bends() bool { return f.curves != nil }

// ParticipatingAt is Participating for a machine at a place, metres east and north on the
// plane: where rows bend, the heading is compared with that of the row line's parallel through
// the place.
func (f *Field) ParticipatingAt(eastM, northM, sinHeading, cosHeading, cosTolerance float64) Mask {
	m := f.Participating(sinHeading, cosHeading, cosTolerance)
	for i := range f.curves {
		foot := f.curves[i].line.Near(eastM, northM)
		if math.Abs(float64(sinHeading*foot.Sin)+float64(cosHeading*foot.Cos)) >= cosTolerance {
			m |= f.curves[i].bit
		}
	}
	return m
}

// RowCurvature returns the curvature of the rows that run along a heading at a place, as
// Participating tells them, in 1/m, positive to the right as the machine goes. Of several,
// straight ones among them, it is that nearest to perM.
func (f *Field) RowCurvature(eastM, northM, sinHeading, cosHeading, cosTolerance, perM float64) float64 {
	best := 0.0
	for i := range f.curves {
		foot := f.curves[i].line.Near(eastM, northM)
		along := float64(sinHeading*foot.Sin) + float64(cosHeading*foot.Cos)
		if k := math.Copysign(foot.CurvaturePerM, along*foot.CurvaturePerM); math.Abs(along) >= cosTolerance && math.Abs(perM-k) < math.Abs(perM-best) {
			best = k
		}
	}
	return best
}

// indexLines gives the row lines their indices, each once.
func (f *Field) indexLines() {
	over := map[*rowline.Line]*rowline.Line{}
	for i := range f.Zones {
		if z := &f.Zones[i]; z.Line != nil {
			if over[z.Line] == nil {
				over[z.Line] = z.Line.Over(f.Bound())
			}
			z.Line = over[z.Line]
		}
	}
}

// layLine gives zones the rows of a row line: those that it names, or the one in which most
// of it lies. Strips of a headland that was made become one zone along it.
func layLine(zones []Zone, made bool, ft *feature, path orb.LineString) ([]Zone, error) {
	line, err := rowline.New(path)
	if err != nil {
		return nil, err
	}
	var along []int
	most := 0.0
	for i := range zones {
		z := &zones[i]
		switch {
		case z.Kind == KeepOut:
		case ft.rowsOf == "":
			if in := line.Within(z.Polygons); in > most {
				along, most = []int{i}, in
			}
		case z.Name == ft.rowsOf || z.Kind.String() == ft.rowsOf:
			along = append(along, i)
		}
	}
	if along == nil && ft.rowsOf != "" {
		return nil, fmt.Errorf("rows_of is %q; expected body, headland or the name of a zone", ft.rowsOf)
	}
	if along == nil {
		return nil, errors.New("a row line outside of every zone; expected a line along a row of the zone in which it lies, or rows_of")
	}
	_, _, sin, cos, _ := line.At(line.LengthM()/2, 0)
	for _, i := range along {
		z := &zones[i]
		if err := mayLay(z, made); err != nil {
			return nil, err
		}
		z.Line, z.RowBearingRad = line, exact.Atan2(sin, cos)
		z.Drill = Drill{Known: true, At: path[0], WidthM: ft.drill.WidthM, LeftOut: ft.drill.LeftOut}
	}
	if first := along[0]; made && len(along) > 1 && zones[first].Kind == Headland {
		zones[first].Name = Headland.String()
		for _, i := range along[1:] {
			zones[first].Polygons = append(zones[first].Polygons, zones[i].Polygons...)
		}
		var kept []Zone
		for i := range zones {
			if zones[i].Line != line || i == first {
				kept = append(kept, zones[i])
			}
		}
		zones = kept
	}
	return zones, nil
}

// mayLay reports what speaks against rows of a line for a zone.
func mayLay(z *Zone, made bool) error {
	if z.Drill.Known || !math.IsNaN(z.RowBearingRad) && !(made && z.Kind == Headland) {
		return fmt.Errorf("a row of the zone %q, whose row bearing is given; expected one of them, as both say how the rows run", z.Name)
	}
	return nil
}

// takeRowsOf reads rows_of.
func (f *feature) takeRowsOf() error {
	switch of := f.Properties["rows_of"].(type) {
	case nil:
		return nil
	case string:
		if f.rowsOf = of; of != "" && f.bends {
			return nil
		}
	}
	return errors.New("rows_of without zone \"row-line\", or no text; expected the name of a zone, body or headland, beside zone \"row-line\"")
}
