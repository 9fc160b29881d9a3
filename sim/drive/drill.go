// Passes that follow the drill: the hoe's rows on the crop's.

package drive

import (
	"math"

	"liftbench/sections/field"
)

// lanes returns the pass lines of a zone from the left to the right of its
// bearing, all along it.
func (pl *planner) lanes(z *field.Zone, r *rows) []lane {
	var out []lane
	for _, centre := range pl.centres(z, r) {
		if l, ok := newLane(z, r, pl.m, centre, 1); ok {
			out = append(out, l)
		}
	}
	return out
}

// centres returns across the rows where the middle of the bar goes.
//
// Where the rows are not known to lie anywhere the passes begin at the zone's left
// side, a spacing apart; the last one is moved in so that it does not stick out where
// the zone is wider than one pass. Otherwise see rowCentres.
func (pl *planner) centres(z *field.Zone, r *rows) []float64 {
	width := pl.bar.widthM()
	if spacing := pl.s.RowSpacingM; spacing > 0 && math.Round(width/spacing) >= 1 {
		return pl.rowCentres(z, r)
	}
	var out []float64
	rest := r.vMax - r.vMin - width
	if r.line != nil {
		rest -= rowSlackM // its border is seen in steps
	}
	n := 1 + int(math.Ceil(rest/pl.spacing-1e-6))
	for i := range max(n, 1) {
		centre := r.vMin + float64(width/2) + float64(float64(i)*pl.spacing)
		if n > 1 {
			centre = min(centre, r.vMax-float64(width/2))
		}
		out = append(out, centre)
	}
	return out
}

// rowSlackM is how far beyond a zone's side a row may lie and still be one of it:
// as much as coordinates are off.
const rowSlackM = 0.02

// rowCentres counts the zone's rows and takes as many at a time as the bar has.
//
// Row k lies k spacings to the right of the drill's row, or of half a spacing inside
// the zone's left side. Where the drill's width is known, a whole number of times
// the hoe's or the other way round, a pass of the hoe begins with one of the drill.
// The first and the last pass are moved in by whole rows, so that no row unit runs
// outside the zone: they overlap their neighbours by as many.
func (pl *planner) rowCentres(z *field.Zone, r *rows) []float64 {
	spacing := pl.s.RowSpacingM
	inBar := int(math.Round(pl.bar.widthM() / spacing))
	step := max(1, int(math.Round(pl.spacing/spacing)))
	row0 := r.vMin + float64(spacing/2)
	if z.Drill.Known {
		_, row0 = r.uv(z.Drill.At[0], z.Drill.At[1])
	}
	first := int(math.Ceil((r.vMin - row0 - rowSlackM) / spacing))
	last := int(math.Floor((r.vMax - row0 + rowSlackM) / spacing))
	at := first // leftmost row of the next pass
	if drilled := int(math.Round(z.Drill.WidthM / spacing)); z.Drill.Known && drilled > 0 {
		if step%drilled != 0 && drilled%step != 0 {
			pl.warn("zone %q: passes of %d rows straddle those of a drill of %d: rows on either side of a join of two drill passes are never exactly as far apart", z.Name, step, drilled)
		}
		at = int(math.Floor(float64(first)/float64(step))) * step
	}
	var out []float64
	for done := false; !done; at += step {
		k := max(at, first)
		if k+inBar > last { // the bar's last row is the zone's, or beyond it
			k, done = max(last-inBar+1, first), true
		}
		out = append(out, row0+float64(spacing*(float64(k)+float64(float64(inBar-1)/2))))
	}
	return out
}
