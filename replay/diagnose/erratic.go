// Scatter that reception does not explain: one section that comes early and late at random,
// or all of them.

package diagnose

import (
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

// pumpKnown is how well what a short pump makes of a section is known, as a share of the
// most that it makes of one: no accumulator and no pump is as simple as the one that is
// fitted. A judgement.
const pumpKnown = 0.12

// erraticSections returns the sections whose delays against the others, less what the
// chosen causes explain of them, scatter far more than those of the others do.
func (a *analysis) erraticSections(sections int) []found {
	if a.oneState {
		return nil
	}
	moves := slices.Clone(a.moves)
	for i := range moves {
		moves[i].LateM = a.unexplained(&a.chosen, &moves[i])
	}
	var list []found
	for _, x := range peers.FindErratic(moves, a.crossings, sections, pumpKnown*a.pumpS()) {
		f := found{Term: terms.Term{Cause: Erratic}, Section: x.Section + 1, Size: x.ScatterS, CI95: x.CI95, Crossings: x.Crossings, SumM2: x.SumM2}
		f.Evidence, f.Change = cause.ErraticSection(f.Section, f.Size, f.CI95, f.Crossings, x.UsualS)
		list = append(list, f)
	}
	return list
}

// erratic returns the scatter of all sections around the lines of lifts and drops and
// the other chosen causes; nil if the positions explain it. limitM is what they explain
// of a crossing.
func (a *analysis) erratic(limitM float64) *found {
	if len(a.moves) == 0 {
		return nil
	}
	_, _, f, ok := a.lineFit([]*analysis{a})
	if !ok {
		return nil
	}
	var rows []peers.Residuals
	for r, k := range a.rows {
		c := &a.crossings[k]
		if c.Poor {
			continue
		}
		x := peers.Residuals{On: c.On}
		for _, i := range c.Changes {
			m := &a.moves[i]
			x.LateS = append(x.LateS, (a.unexplained(&f, m)-a.pieceM(&f, m, r))/m.SpeedMps)
			x.SpeedMps += m.SpeedMps / float64(len(c.Changes))
		}
		rows = append(rows, x)
	}
	x, ok := peers.FindScatter(rows, len(f.Set), !a.oneState, limitM, a.timeScatterS)
	if !ok {
		return nil
	}
	out := &found{Term: terms.Term{Cause: Erratic}, Crossings: x.Crossings, Size: x.SizeS, CI95: x.CI95, SumM2: x.SumM2}
	out.Evidence, out.Change = cause.ErraticAll(out.Size, out.CI95, out.Crossings, x.SpeedMps)
	return out
}

// unexplained is what the causes of a fit leave of a move's lateness, in m, a wrong piece
// of border aside.
func (a *analysis) unexplained(f *regress.Fit, m *evidence.Move) float64 {
	left := m.LateM
	for j, q := range f.Set {
		if t := &a.terms[q]; t.Piece == nil {
			left -= f.Beta[j] * t.PerUnitM(m)
		}
	}
	return left
}

// pieceM is how late a wrong piece of border makes a move of row r, in m.
func (a *analysis) pieceM(f *regress.Fit, m *evidence.Move, r int) float64 {
	late := 0.0
	for j, q := range f.Set {
		if a.terms[q].Piece != nil && a.columns[q][r] != 0 {
			late += f.Beta[j] * terms.Outward(m)
		}
	}
	return late
}
