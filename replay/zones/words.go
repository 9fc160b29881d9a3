// What was found, in a few sentences.

package zones

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/field/polygon"
)

// Sentences says what was found and how sure it is.
func (f *Found) Sentences() []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	switch {
	case !f.WidthGiven:
		say("Passes lie %.2f m apart (standard deviation %.0f cm): that is taken for the machine's width.", f.SpacingM, 100*f.SpacingSD)
	case f.SpacingM == 0:
		say("How far apart passes lie cannot be told.")
	default:
		more := ""
		if f.SpacingM > 1.1*f.WidthM {
			more = ": strips are left between them, or the width is wrong"
		}
		say("Passes lie %.2f m apart (standard deviation %.0f cm); the machine is %.2f m wide%s.", f.SpacingM, 100*f.SpacingSD, f.WidthM, more)
	}
	for _, b := range f.Blocks {
		rows := fmt.Sprintf("straight rows at %.1f° ± %.1f°", b.BearingRad/radPerDeg, max(b.SureRad/radPerDeg, 0.05))
		if b.Curved {
			rows = fmt.Sprintf("curved rows that turn by up to %.0f°, about %.0f°", b.TurnRad/radPerDeg, b.BearingRad/radPerDeg)
		}
		say("Body: %s, %d passes, %.2f ha; its border, from %s, is sure to %s.", rows, len(b.Passes), polygon.AreaM2(b.Polygons)/1e4, b.From.told(), sureText(b.SureM))
	}
	switch {
	case f.Rounds == 1:
		say("Headland: one round was driven around the field, so it is about %.1f m wide.", f.HeadlandM)
	case f.Rounds > 1:
		say("Headland: %d rounds were driven around the field, so it is about %.1f m wide.", f.Rounds, f.HeadlandM)
	default:
		say("Headland: no round was driven around the field in this log.")
	}
	switch f.Outer.From {
	case File:
		text := "Boundary: as in the file."
		if iou, err := f.Agreement(); err == nil && !math.IsNaN(iou) {
			text = fmt.Sprintf("Boundary: as in the file. That which the outermost round tells covers the same ground to %.1f %% (intersection over union).", 100*iou)
		}
		out = append(out, text)
	case Rounds:
		say("Boundary: half a width outside the outermost round, %.2f ha, sure to %s; what lies beyond was not driven.", polygon.AreaM2(f.Boundary)/1e4, sureText(f.Outer.SureM))
	default:
		say("Boundary: cannot be told, as no round was driven along it.")
	}
	for i, k := range f.KeepOuts {
		say("Keep-out %d: %.0f m², driven around %s, sure to %s.", i+1, polygon.AreaM2(orb.MultiPolygon{k.Polygon}), times(k.Rounds), sureText(k.SureM))
	}
	return append(out, f.Unsure...)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// sureText is a half-width of a 95 % interval.
func sureText(m float64) string {
	if m < 0.95 { // from there on it rounds to a metre
		return fmt.Sprintf("± %.0f cm", math.Ceil(100*m))
	}
	return fmt.Sprintf("± %.1f m", m)
}

func (s Source) told() string {
	return [...]string{"nothing", "the file", "the innermost round", "the outermost passes", "lifts and drops alone", "where turns began"}[s]
}
