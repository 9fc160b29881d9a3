// Two controllers on one drive, side by side.

package report

import (
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections/score"
)

// WriteBeside prints our own controller's figures beside the outcome's, and the
// difference: positive where the outside controller is later, or costs more.
func WriteBeside(o *run.Outcome, w io.Writer, own *run.Outcome) error {
	var b strings.Builder
	b.WriteString("\nBeside our own controller       outside       own  difference\n")
	row := func(name, unit string, a, c float64, decimals int) {
		cell := func(x float64) string { return string(wording.AppendFixed(nil, x, decimals)) }
		fmt.Fprintf(&b, "%-28s %10s %9s %11s %s\n", name, cell(a), cell(c), cell(a-c), unit)
	}
	for _, m := range []struct {
		name string
		of   func(*score.Result) *score.Stats
	}{
		{"lifts", func(r *score.Result) *score.Stats { return &r.Lift }},
		{"drops", func(r *score.Result) *score.Stats { return &r.Drop }},
	} {
		x, y := m.of(o.Score), m.of(own.Score)
		row(m.name+", missed", "", float64(x.Missed), float64(y.Missed), 0)
		row(m.name+", extra", "", float64(x.Spurious), float64(y.Spurious), 0)
		if x.TimeErrorS == nil || y.TimeErrorS == nil {
			continue
		}
		row(m.name+", time error, mean", "ms", 1e3*x.TimeErrorS.Mean, 1e3*y.TimeErrorS.Mean, 1)
		row(m.name+", time error, 95 %", "ms", 1e3*x.TimeErrorS.P95Abs, 1e3*y.TimeErrorS.P95Abs, 1)
		row(m.name+", place error, mean", "cm", 1e2*x.PlaceErrorM.Mean, 1e2*y.PlaceErrorM.Mean, 1)
		row(m.name+", place error, 95 %", "cm", 1e2*x.PlaceErrorM.P95Abs, 1e2*y.PlaceErrorM.P95Abs, 1)
	}
	x, y := &o.Score.Area, &own.Score.Area
	row("miss", "m²", x.MissM2, y.MissM2, 1)
	row("overrun", "m²", x.OverrunM2, y.OverrunM2, 1)
	row("of it across rows", "m²", x.AcrossRowsM2, y.AcrossRowsM2, 1)
	row("repeat", "m²", x.RepeatM2, y.RepeatM2, 1)
	_, err := io.WriteString(w, b.String())
	return err
}
