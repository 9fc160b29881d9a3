package split

import (
	"fmt"

	"liftbench/sections/enum"
)

// Units is where the units of a hoe stand.
type Units uint8

// Where units stand.
const (
	OnRows      Units = iota // each works one row's share: half of the gap on either side of it
	BetweenRows              // each works a gap between two rows, the outer two half of one
)

var unitNames = []string{OnRows: "on rows", BetweenRows: "between rows"}

func (u Units) String() string { return enum.Name(unitNames, u) }

// MarshalText returns the words of a machine file.
func (u Units) MarshalText() ([]byte, error) { return enum.Text(unitNames, u) }

// UnmarshalText takes the words of a machine file.
func (u *Units) UnmarshalText(b []byte) error { return enum.Set(u, unitNames, b) }

// Bar is a bar that covers so many rows.
type Bar struct {
	Rows     int
	SpacingM float64 // from one row to the next
	Units    Units
}

// Count returns the number of units: one more than rows where they stand between them.
func (b Bar) Count() int {
	if b.Units == BetweenRows {
		return b.Rows + 1
	}
	return b.Rows
}

// Of returns the units of each section, from the left.
func (b Bar) Of(s Sections) []int {
	if s.Rows != nil {
		return s.Rows
	}
	units := make([]int, s.Count)
	for i := range units {
		units[i] = b.Count() / s.Count
	}
	return units
}

// Check returns what is wrong with a division of the bar into sections.
func (b Bar) Check(s Sections) error {
	n, sum := b.Count(), 0
	for _, units := range s.Rows {
		sum += units
	}
	switch {
	case s.Rows == nil && n%max(s.Count, 1) != 0 && b.Units == BetweenRows:
		return fmt.Errorf("found %d for the %d units of %d rows; expected the units of each section as a list, as [3, 2, 3]", s.Count, n, b.Rows)
	case s.Rows == nil && n%max(s.Count, 1) != 0:
		return fmt.Errorf("found %d for %d rows; expected a number that divides the rows, or the rows of each section as a list", s.Count, n)
	case s.Rows != nil && sum != n && b.Units == BetweenRows:
		return fmt.Errorf("found %d units in %d sections; expected %d in all, one more than rows.count, as they stand between the rows", sum, len(s.Rows), n)
	case s.Rows != nil && sum != n:
		return fmt.Errorf("found %d rows in %d sections; expected rows.count, %d, in all", sum, len(s.Rows), n)
	}
	return nil
}

// Place returns the middle of the units from first on, and their width together, both in m; the middle counts
// from the middle of the bar, positive to the right. first counts from 0.
//
// Units between rows have their edges on crop rows, half a spacing off those of units on rows; the bar is as wide.
func (b Bar) Place(first, units int) (rightM, widthM float64) {
	left, right := float64(first), float64(first+units)
	if b.Units == BetweenRows {
		left, right = max(left-0.5, 0), min(right-0.5, float64(b.Rows))
	}
	return ((left+right)/2 - float64(b.Rows)/2) * b.SpacingM, (right - left) * b.SpacingM
}

// Edges returns where units meet within a section of so many from first on, in m right of the middle of the bar.
func (b Bar) Edges(first, units int) []float64 {
	var edges []float64
	for k := first + 1; k < first+units; k++ {
		middle, width := b.Place(k, 1)
		edges = append(edges, middle-width/2)
	}
	return edges
}

// RowsM returns where the crop rows are, in m right of the middle of the bar.
func (b Bar) RowsM() []float64 {
	rows := make([]float64, b.Rows)
	for k := range rows {
		rows[k] = (float64(k) - float64(b.Rows-1)/2) * b.SpacingM
	}
	return rows
}
