// The output of tune: a table for people, the settings to put into the machine
// file, and the curves.

package study

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/version"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sim/sweep"
	"liftbench/sim/tune"
)

// WriteTable prints the result, the settings first.
func (t *Tuned) WriteTable(out io.Writer) error {
	var b strings.Builder
	o := &t.Options
	best := &t.Modes[t.best]
	fmt.Fprintf(&b, "%s\n\n", t.title)
	b.WriteString("Set\n")
	for _, line := range strings.Split(strings.TrimSpace(t.controllerText()), "\n") {
		b.WriteString("  " + line + "\n")
	}
	if need, err := run.StraightRun(t.settings); err == nil { // it was driven
		b.WriteString("\n" + wording.Wrap("Tell the driver: ", "  ", run.NeedText(need)+"."))
	}
	fmt.Fprintf(&b, "\nCost: %g × overrun + %g × miss + %g × repeat, m², mean of %s\n\n", o.Weights.Overrun, o.Weights.Miss, o.Weights.Repeat, wording.Counted(o.Drives, "drive"))
	table := [][]string{{"", "lift, ms", "95 % interval", "drop, ms", "95 % interval", "cost, m²", "more than the best"}}
	for i := range t.Modes {
		m := &t.Modes[i]
		name := m.Name
		if m.FlowAware {
			name += ", trim"
		}
		more := "best"
		if i != t.best {
			more = changeText(&m.against)
		}
		table = append(table, []string{name, msText(m.Lift.At), msRange(&m.Lift), msText(m.Drop.At), msRange(&m.Drop), threeDigits(meanCost(m.driven)), more})
	}
	alignRight(&b, table)
	fmt.Fprintf(&b, "\n  lift: %s\n  drop: %s\n", flatText(&best.Lift), flatText(&best.Drop))
	t.writeAlternatives(&b, "Edge rule, at these leads", t.rules)
	t.writeAlternatives(&b, "Shortest time up, and down", t.times)
	t.writeSpeeds(&b)
	t.writeAlternatives(&b, "Left to gain, most first", t.gains)
	fmt.Fprintf(&b, "\n%s; all settings met the same chances, seeds %d to %d.\n", wording.Counted(t.ran, "drive"), o.FirstSeed, o.FirstSeed+o.Drives-1)
	_, err := io.WriteString(out, b.String())
	return err
}

func (t *Tuned) writeAlternatives(b *strings.Builder, title string, list []alternative) {
	fmt.Fprintf(b, "\n%s\n", title)
	table := [][]string{{"", "cost, m²", "change"}}
	for i := range list {
		table = append(table, []string{list[i].name, threeDigits(list[i].cost), changeText(&list[i].change)})
	}
	alignRight(b, table)
}

// writeSpeeds says up to which speed the tolerance is kept.
func (t *Tuned) writeSpeeds(b *strings.Builder) {
	o := &t.Options
	fmt.Fprintf(b, "\nSpeed at which %g %% of lifts and drops are within %g cm\n", o.SharePercent, o.ToleranceCm)
	switch last := t.lastThatHolds(); {
	case last < 0:
		fmt.Fprintf(b, "  none: at %g km/h %s\n", t.speeds[0].kmh, shareText(&t.speeds[0].share))
	case last == len(t.speeds)-1:
		fmt.Fprintf(b, "  %g km/h and more: there %s\n", t.holdsKmh, shareText(&t.speeds[last].share))
	default:
		fmt.Fprintf(b, "  up to %g km/h: %s\n", t.holdsKmh, shareText(&t.speeds[last].share))
		sure := -1
		for i := 0; i <= last && 100*t.speeds[i].share.Lo >= o.SharePercent; i++ {
			sure = i
		}
		if sure >= 0 && sure < last {
			fmt.Fprintf(b, "  surely, by the lower end of the interval, up to %g km/h: %s\n", t.speeds[sure].kmh, shareText(&t.speeds[sure].share))
		}
		fmt.Fprintf(b, "  not at %g km/h: %s\n", t.speeds[last+1].kmh, shareText(&t.speeds[last+1].share))
	}
}

func shareText(i *sweep.Interval) string {
	return fmt.Sprintf("%.1f %% (95 %% interval %.1f to %.1f)", 100*i.Value, 100*i.Lo, 100*i.Hi)
}

func msText(v float64) string { return fmt.Sprintf("%.0f", math.Round(v)+0) }

// msRange is an interval in ms, wide enough that its ends differ.
func msRange(m *tune.Minimum) string {
	lo, hi := math.Floor(m.Lo), math.Ceil(m.Hi)
	s := fmt.Sprintf("%.0f to %.0f", lo, hi)
	if m.LoOpen {
		s = "less than " + s
	}
	if m.HiOpen {
		s += " or more"
	}
	return s
}

func changeText(i *sweep.Interval) string {
	return fmt.Sprintf("%+.2f (%+.2f to %+.2f)", i.Value, i.Lo, i.Hi)
}

// flatText says how much the value matters.
func flatText(m *tune.Minimum) string {
	kind := "sharp"
	if m.WithinHi-m.WithinLo > 60 {
		kind = "flat"
	}
	return fmt.Sprintf("%s; %.0f ms less to %.0f ms more cost 5 %% more at most", kind, math.Floor(m.At-m.WithinLo), math.Floor(m.WithinHi-m.At))
}

// controllerText returns the settings found as they are written in a machine
// file.
func (t *Tuned) controllerText() string {
	c := &t.settings.Machine.Controller
	var b strings.Builder
	b.WriteString("controller:\n")
	if c.LiftLead.Auto {
		fmt.Fprintf(&b, "  lift_lead: auto\n  drop_lead: auto\n  lift_trim_ms: %g\n  drop_trim_ms: %g\n", c.LiftTrimMs, c.DropTrimMs)
	} else {
		fmt.Fprintf(&b, "  lift_lead: %g\n  drop_lead: %g\n", c.LiftLead.Ms, c.DropLead.Ms)
	}
	fmt.Fprintf(&b, "  flow_aware: %t\n  edge_rule: %s\n  shortest_up_ms: %g\n  shortest_down_ms: %g\n", c.FlowAware, c.EdgeRule, c.ShortestUpMs, c.ShortestDownMs)
	return b.String()
}

func (t *Tuned) Files() []files.File {
	list := []files.File{
		{Name: "tune.json", Write: t.writeJSON},
		{Name: "controller.yaml", Write: func(w io.Writer) error {
			_, err := io.WriteString(w, "# Found by liftbench tune; put it into the machine file.\n"+t.controllerText())
			return err
		}},
		{Name: "curves.csv", Write: t.writeCurves},
	}
	for i := range t.Modes {
		m := &t.Modes[i]
		for _, d := range []struct {
			name  string
			curve *tune.Curve
			least *tune.Minimum
		}{{"lift", m.liftCurve, &m.Lift}, {"drop", m.dropCurve, &m.Drop}} {
			drawing := costFigure(m, d.name, d.curve)
			name := fmt.Sprintf("%s.%s", strings.ReplaceAll(m.Name, " ", "-"), d.name)
			list = append(list,
				files.File{Name: name + ".svg", Write: func(w io.Writer) error { _, err := io.WriteString(w, drawing.SVG()+"\n"); return err }},
				files.File{Name: name + ".png", Write: drawing.WritePNG})
		}
	}
	return list
}

// costFigure draws the cost of drives over a lead or a trim, with the interval
// of the mean as a band.
func costFigure(m *tunedMode, what string, c *tune.Curve) *figure.Drawing {
	label := what + " lead, ms"
	if m.FlowAware {
		label = what + " trim, ms"
	}
	line := figure.Series{X: c.At}
	for k := range c.At {
		e := sweep.Mean(c.Costs[k])
		line.Y, line.Lo, line.Hi = append(line.Y, e.Value), append(line.Lo, e.Lo), append(line.Hi, e.Hi)
	}
	return figure.Lines("cost over "+label, label, "cost, m²", []figure.Series{line})
}

// writeCurves writes the last curve of each search.
func (t *Tuned) writeCurves(w io.Writer) error {
	var b strings.Builder
	b.WriteString("mode,setting,value_ms,drive,cost_m2\n")
	for i := range t.Modes {
		m := &t.Modes[i]
		for _, d := range []struct {
			name  string
			curve *tune.Curve
		}{{"lift", m.liftCurve}, {"drop", m.dropCurve}} {
			for k, v := range d.curve.At {
				for n, cost := range d.curve.Costs[k] {
					fmt.Fprintf(&b, "%s,%s,%g,%d,%g\n", m.Name, d.name, v, t.Options.FirstSeed+n, cost)
				}
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// writeJSON writes everything that the table says.
func (t *Tuned) writeJSON(w io.Writer) error {
	type interval struct {
		Value float64    `json:"value"`
		CI95  [2]float64 `json:"ci95"`
	}
	of := func(i *sweep.Interval) interval { return interval{i.Value, [2]float64{i.Lo, i.Hi}} }
	type minimum struct {
		AtMs    float64    `json:"at_ms"`
		CI95Ms  [2]float64 `json:"ci95_ms"`
		Within5 [2]float64 `json:"within_5_percent_ms"`
		Bounded bool       `json:"bounded"`
	}
	least := func(m *tune.Minimum) minimum {
		return minimum{m.At, [2]float64{m.Lo, m.Hi}, [2]float64{m.WithinLo, m.WithinHi}, !m.LoOpen && !m.HiOpen}
	}
	type mode struct {
		Name   string   `json:"mode"`
		Lift   minimum  `json:"lift"`
		Drop   minimum  `json:"drop"`
		CostM2 float64  `json:"cost_m2"`
		More   interval `json:"more_than_best_m2"`
	}
	type other struct {
		Name   string   `json:"name"`
		CostM2 float64  `json:"cost_m2"`
		Change interval `json:"change_m2"`
	}
	type speed struct {
		Kmh   float64  `json:"speed_kmh"`
		Share interval `json:"share"`
	}
	others := func(list []alternative) []other {
		out := []other{}
		for i := range list {
			out = append(out, other{list[i].name, list[i].cost, of(&list[i].change)})
		}
		return out
	}
	var modes []mode
	for i := range t.Modes {
		m := &t.Modes[i]
		modes = append(modes, mode{m.Name, least(&m.Lift), least(&m.Drop), meanCost(m.driven), of(&m.against)})
	}
	var speeds []speed
	for i := range t.speeds {
		speeds = append(speeds, speed{t.speeds[i].kmh, of(&t.speeds[i].share)})
	}
	var holds *float64
	if !math.IsNaN(t.holdsKmh) {
		holds = &t.holdsKmh
	}
	o := &t.Options
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(map[string]any{
		"title": t.title, "version": version.String(),
		"weights":      map[string]float64{"overrun": o.Weights.Overrun, "miss": o.Weights.Miss, "repeat": o.Weights.Repeat},
		"drives":       o.Drives,
		"first_seed":   o.FirstSeed,
		"modes":        modes,
		"best":         t.Modes[t.best].Name,
		"edge_rules":   others(t.rules),
		"times":        others(t.times),
		"tolerance_cm": o.ToleranceCm, "share_percent": o.SharePercent,
		"speeds": speeds, "largest_speed_kmh": holds,
		"gains": others(t.gains),
	})
}
