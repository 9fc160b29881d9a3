// Recorded times within the steps of a grid, where the causes that were found put them.

package diagnose

import (
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score"
)

// crossed is one section's crossing of a border.
type crossed struct {
	idealNs int64
	section int
	on      bool
}

// lateBy returns how late the causes make each move of a leg, in s.
func (a *analysis) lateBy() map[crossed]float64 {
	row := slices.Repeat([]int{-1}, len(a.crossings))
	for r, k := range a.rows {
		row[k] = r
	}
	late := map[crossed]float64{}
	for k := range a.crossings {
		for _, i := range a.crossings[k].Changes {
			m := &a.moves[i]
			by := m.LateM - a.unexplained(&a.chosen, m)
			if row[k] >= 0 {
				by += a.pieceM(&a.chosen, m, row[k])
			}
			by /= m.SpeedMps
			for j := range a.found {
				if f := &a.found[j]; f.Cause == SlowSection && f.Section == m.Section+1 {
					by += f.Moves.Applies(m.On) * f.LateS[evidence.Way(m.On)]
				}
			}
			late[crossed{m.IdealNs, m.Section, m.On}] = by
		}
	}
	return late
}

// sharpenedBeside puts the times of a day on a grid where the causes that were found on its
// legs expect them within their steps. The first time that was done without causes, as though
// all sections were late by one time and one place.
func sharpenedBeside(day evidence.Day, legs []*analysis) evidence.Day {
	first := legs[0].lateBy()
	setpoint := func(e *score.Event) float64 { return first[crossed{e.IdealNs, int(e.Section), e.On}] }
	actual := setpoint
	if len(legs) == 2 {
		second := legs[1].lateBy()
		actual = func(e *score.Event) float64 {
			return setpoint(e) + second[crossed{e.IdealNs, int(e.Section), e.On}]
		}
	}
	return day.SharpenedBeside(actual, setpoint)
}
