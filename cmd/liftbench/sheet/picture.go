// The machine from above, as its file says it is.

package sheet

import (
	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/language"
)

// Picture draws the machine from above. What was measured on the wrong side, or typed with the wrong sign, is seen there.
func (s *Sheet) Picture() *figure.Drawing {
	m := s.Machine
	bar := m.Bar()
	rowsM := bar.RowsM()
	for i := range rowsM {
		rowsM[i] += m.Tool.OffsetM
	}
	var units []figure.UnitsOf
	if m.Places == nil {
		first := 0
		for _, n := range m.RowsOf() {
			edges := bar.Edges(first, n)
			for i := range edges {
				edges[i] += m.Tool.OffsetM
			}
			units = append(units, edges)
			first += n
		}
	} else {
		rowsM = nil // places say where sections are, not where rows are under them
	}
	return figure.Bar(language.English, m.Name, m.Geometry(), units, rowsM)
}
