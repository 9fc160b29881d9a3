// The answer as it is printed: what to set first, then how sure, then what is missing.

package tape

import (
	"fmt"
	"math"
	"strings"

	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/tape"
)

// result is what one call of the command has found.
type result struct {
	*options
	sheet   *tape.Sheet
	heights tape.Heights
	answer  *tape.Answer // nil = no readings of passes
	still   []tape.Still
}

// text is the whole answer.
func (r *result) text() string {
	var b strings.Builder
	if r.answer != nil {
		r.toSet(&b)
	}
	for i := range r.still {
		r.atStandstill(&b, &r.still[i])
	}
	r.counted(&b)
	if a := r.answer; a != nil {
		list(&b, "Cannot tell", a.CannotTell)
		r.next(&b)
	}
	b.WriteString("\nBefore anyone goes near\n")
	b.WriteString(wording.Wrap("  ", "  ", wording.StandClear))
	return b.String()
}

// list prints sentences below a heading, if there are any.
func list(b *strings.Builder, title string, sentences []string) {
	if len(sentences) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", title)
	for _, s := range sentences {
		b.WriteString(wording.Wrap("  - ", "    ", s))
	}
}

// LeadLine says in a line which lead to set.
func LeadLine(m tape.Move, t *tape.Timing) string {
	half := 1000 * (t.TimeErrorCI95[1] - t.TimeErrorCI95[0]) / 2
	only := ""
	switch {
	case t.Parted:
	case !t.OneSpeed:
		only = ", if no place is wrong"
	default:
		only = fmt.Sprintf(", at %.1f km/h alone", 3.6*t.MeanMps)
	}
	if t.LeadMs == nil {
		change := "longer"
		if t.TimeErrorS < 0 {
			change = "shorter"
		}
		return fmt.Sprintf("%s lead %.0f ms %s (± %.0f)%s: no lead is written down, so this is the change", m, 1000*math.Abs(t.TimeErrorS), change, half, only)
	}
	if *t.LeadMs < 0 {
		return fmt.Sprintf("%s lead %.0f → 0 ms, which is not short enough: the readings ask for %.0f ms (± %.0f)%s", m, *t.LeadSetMs, *t.LeadMs, half, only)
	}
	return fmt.Sprintf("%s lead %.0f → %.0f ms (± %.0f)%s", m, *t.LeadSetMs, *t.LeadMs, half, only)
}

// DistanceLine says in a line what to do about the distance from antenna to tool; "" where nothing is known of it.
func DistanceLine(a *tape.Answer) string {
	d := &a.Distance
	cm := fmt.Sprintf("%+.1f cm, %+.1f to %+.1f", 100*d.ErrorM, 100*d.CI95[0], 100*d.CI95[1])
	switch {
	case !d.Known:
		return ""
	case d.Differ:
		return "distance antenna to tool: leave it (lifts and drops are off by different places)"
	case !d.Change:
		return "distance antenna to tool: leave it (" + cm + ": no more than chance)"
	case d.SetM != nil:
		return fmt.Sprintf("distance antenna to tool: %.2f → %.2f m (%s off)", *d.SetM, d.NewM, cm)
	case d.ErrorM > 0:
		return fmt.Sprintf("distance antenna to tool: %.0f cm less than is set, tool behind the antenna (%s off)", 100*d.ErrorM, cm)
	}
	return fmt.Sprintf("distance antenna to tool: %.0f cm more than is set, tool behind the antenna (%s off)", -100*d.ErrorM, cm)
}

// WithinLine says in a line what is to be expected with what is set; "" where too little is known.
func WithinLine(a *tape.Answer, w tape.Wish) string {
	text := ""
	for _, m := range []tape.Move{tape.Lift, tape.Drop} {
		if within, ok := a.WithinM(m, w.AtMps); ok {
			if text != "" {
				text += ", "
			}
			text += fmt.Sprintf("95 %% of %ss within ± %.1f cm", m, 100*within)
		}
	}
	if text == "" {
		return ""
	}
	return fmt.Sprintf("with this, %s at %s km/h", text, wording.Trim(3.6*w.AtMps))
}

// toSet prints what to set.
func (r *result) toSet(b *strings.Builder) {
	a := r.answer
	for _, m := range []tape.Move{tape.Lift, tape.Drop} {
		if t := a.Of(m); t != nil {
			fmt.Fprintln(b, LeadLine(m, t))
		}
	}
	for _, line := range []string{DistanceLine(a), WithinLine(a, r.wish())} {
		if line != "" {
			fmt.Fprintln(b, line)
		}
	}
	for _, m := range []tape.Move{tape.Lift, tape.Drop} {
		t := a.Of(m)
		if t == nil || a.Distance.Change {
			continue
		}
		if ms, half, ok := t.AloneMs(r.wish().AtMps); ok && math.Abs(ms-*t.LeadMs) > half {
			b.WriteString(wording.Wrap("", "  ", fmt.Sprintf("who drives %s km/h and no other speed sets %s lead %.0f ms (± %.0f) instead: it takes the place that is left along", wording.Trim(r.atKmh), m, ms, half)))
		}
	}
	for _, m := range []tape.Move{tape.Lift, tape.Drop} {
		t := a.Of(m)
		if t == nil || len(t.Effects) == 0 {
			continue
		}
		fmt.Fprintf(b, "\nWhat %ss hang on beside\n", m)
		for i := range t.Effects {
			e := &t.Effects[i]
			size := fmt.Sprintf("%+.0f ms later (± %.0f)", 1000*e.TimeS, 1000*e.Half)
			if e.PlaceM != 0 {
				size = fmt.Sprintf("%+.1f cm further on (± %.1f)", 100*e.PlaceM, 100*e.Half)
			}
			verdict := "no more than chance"
			if e.Beyond(len(t.Effects)) {
				verdict = "beyond chance"
			}
			fmt.Fprintf(b, "  %-24s %s: %s\n", e.Name, size, verdict)
		}
	}
}

// counted prints what counts and what does not.
func (r *result) counted(b *strings.Builder) {
	var parts []string
	if a := r.answer; a != nil {
		for _, m := range []tape.Move{tape.Lift, tape.Drop} {
			if t := a.Of(m); t != nil {
				part := wording.Counted(t.Count, m.String())
				if !t.Assumed {
					part += fmt.Sprintf(" that scatter by %.1f cm", 100*t.SigmaM)
				}
				parts = append(parts, part)
			}
		}
	}
	if n := len(r.sheet.Still); n > 0 {
		parts = append(parts, wording.Counted(n, "time")+" at standstill")
	}
	b.WriteString("\n" + wording.Wrap("Read: ", "  ", strings.Join(parts, ", ")))
	var out []string
	if a := r.answer; a != nil {
		for _, m := range []tape.Move{tape.Lift, tape.Drop} {
			if t := a.Of(m); t != nil {
				for _, l := range t.LeftOut {
					out = append(out, fmt.Sprintf("row %d, a %s: %s", l.Row, m, l.Why))
				}
			}
		}
	}
	list(b, "Left out", out)
	out = nil
	for _, u := range r.sheet.Unread {
		out = append(out, fmt.Sprintf("row %d: %s", u.Row, u.Why))
	}
	list(b, "Not read", out)
	if len(r.sheet.Ignored) > 0 {
		list(b, "Columns that mean nothing here", []string{strings.Join(r.sheet.Ignored, ", ")})
	}
}

// next prints which passes to drive.
func (r *result) next(b *strings.Builder) {
	a := r.answer
	b.WriteString("\nNext\n")
	var parts []string
	for _, p := range a.Next {
		parts = append(parts, fmt.Sprintf("%s at %s km/h", wording.Counted(p.Passes, "more passe"), wording.Trim(p.SpeedKmh)))
	}
	if parts == nil {
		b.WriteString(wording.Wrap("  ", "  ", fmt.Sprintf("Set this, and drive one pass at %s km/h to see it hold.", wording.Trim(r.atKmh))))
		return
	}
	text := strings.ReplaceAll(strings.Join(parts, " and "), "1 more passe ", "1 more pass ")
	b.WriteString(wording.Wrap("  ", "  ", fmt.Sprintf("%s bring the leads to about ± %s ms.", text, wording.Trim(r.wantMs))))
}

// seconds prints a quantity with half of its interval.
func seconds(w tape.Within) string {
	return fmt.Sprintf("%.2f s (± %.2f)", w.Value, (w.CI95[1]-w.CI95[0])/2)
}

// atStandstill prints what times at standstill tell.
func (r *result) atStandstill(b *strings.Builder, s *tape.Still) {
	if b.Len() > 0 {
		b.WriteString("\n")
	}
	title := "At standstill"
	if s.Oil != "" {
		title += ", oil " + s.Oil
	}
	fmt.Fprintln(b, title)
	for _, l := range []struct {
		key string
		w   tape.Within
	}{
		{"lift dead time", s.LiftDeadS}, {"lift stroke", s.StrokeS}, {"… all at once", s.StrokeAll},
		{"drop dead time", s.DropDeadS}, {"fall", s.FallS},
	} {
		if l.w.Known {
			wording.KeyLine(b, l.key, "%s", seconds(l.w))
		}
	}
	if s.Fed.Known {
		if s.FedAll {
			wording.KeyLine(b, "pump", "feeds all that were moved at once; %.1f sections at least", s.Fed.CI95[0])
		} else {
			wording.KeyLine(b, "pump", "feeds %.1f sections at full speed (%.1f to %.1f)", s.Fed.Value, s.Fed.CI95[0], s.Fed.CI95[1])
		}
	}
	list(b, "Cannot tell at standstill", s.CannotTell)
	if m := measuredText(s); m != "" {
		fmt.Fprintf(b, "\nFor the machine file, with depth.working_cm %s and depth.raised_cm %s\n%s", wording.Trim(100*r.heights.WorkingM), wording.Trim(100*r.heights.RaisedM), indent(m))
	}
}

func indent(text string) string {
	return "  " + strings.ReplaceAll(strings.TrimSuffix(text, "\n"), "\n", "\n  ") + "\n"
}
