// The answer as it is printed: what to set first, then how sure, then what is missing.

package tape

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"liftbench/cmd/liftbench/sentence"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/tape"
)

// moves are both, in the order in which they are told.
var moves = [...]tape.Move{tape.Lift, tape.Drop}

// result is what one call of the command has found.
type result struct {
	*options
	*words
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
		list(&b, r.Text("cannot"), r.doubts(a.CannotTell))
		fmt.Fprintf(&b, "\n%s\n%s", r.Text("next"), wording.Wrap("  ", "  ", r.next(a.Next, r.wish())))
	}
	r.safety(&b)
	return b.String()
}

// safety prints the safety words.
func (w *words) safety(b *strings.Builder) {
	fmt.Fprintf(b, "\n%s\n%s", w.Text("safety"), wording.Wrap("  ", "  ", wording.StandClearIn(w.Language)))
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

// toSet prints what to set.
func (r *result) toSet(b *strings.Builder) {
	a := r.answer
	for _, m := range moves {
		if t := a.Of(m); t != nil {
			fmt.Fprintln(b, r.leadLine(m, t))
		}
	}
	for _, line := range []string{r.distanceLine(a), r.withinLine(a, r.wish().AtMps)} {
		if line != "" {
			fmt.Fprintln(b, line)
		}
	}
	for _, m := range moves {
		if line := r.aloneLine(a, m, r.wish().AtMps); line != "" {
			b.WriteString(wording.Wrap("", "  ", line))
		}
	}
	if a.Lift != nil {
		list(b, r.Text("effects.lift"), r.effects(a.Lift))
	}
	if a.Drop != nil {
		list(b, r.Text("effects.drop"), r.effects(a.Drop))
	}
}

// counted prints what counts and what does not.
func (r *result) counted(b *strings.Builder) {
	var parts, out []string
	if a := r.answer; a != nil {
		for _, m := range moves {
			t := a.Of(m)
			if t == nil {
				continue
			}
			part := r.Text("read.lift", "n", t.Count)
			if m == tape.Drop {
				part = r.Text("read.drop", "n", t.Count)
			}
			if t.Passes < t.Count {
				part = r.Text("read.passes", "moves", part, "n", t.Passes)
			}
			if !t.Assumed {
				part = r.Text("read.scatter", "moves", part, "cm", r.Number(100*t.SigmaM, 1))
			}
			parts = append(parts, part)
			for i := range t.LeftOut {
				l := &t.LeftOut[i]
				if m == tape.Lift {
					out = append(out, r.Text("out.lift", "row", l.Row, "why", r.leftOut(l)))
				} else {
					out = append(out, r.Text("out.drop", "row", l.Row, "why", r.leftOut(l)))
				}
			}
		}
	}
	if n := len(r.sheet.Still); n > 0 {
		parts = append(parts, r.Text("read.still", "n", n))
	}
	b.WriteString("\n" + wording.Wrap("", "  ", r.Text("read", "list", strings.Join(parts, ", "))))
	list(b, r.Text("out"), out)
	out = nil
	for _, u := range r.sheet.Unread {
		why, _ := sentence.In(r.Language, u.Why)
		out = append(out, r.Text("unread.row", "row", u.Row, "why", why))
	}
	list(b, r.Text("unread"), out)
	if len(r.sheet.Ignored) > 0 {
		list(b, r.Text("ignored"), []string{strings.Join(r.sheet.Ignored, ", ")})
	}
}

// atStandstill prints what times at standstill tell.
func (r *result) atStandstill(b *strings.Builder, s *tape.Still) {
	if b.Len() > 0 {
		b.WriteString("\n")
	}
	if oil := r.oil(s); oil != "" {
		fmt.Fprintln(b, r.Text("still.oil", "oil", oil))
	} else {
		fmt.Fprintln(b, r.Text("still"))
	}
	line := func(name, text string) {
		fmt.Fprintf(b, "  %s%s %s\n", name, strings.Repeat(" ", max(0, 20-utf8.RuneCountInString(name))), text)
	}
	for _, l := range []struct {
		name string
		w    tape.Within
	}{
		{r.Text("still.liftdead"), s.LiftDeadS}, {r.Text("still.stroke"), s.StrokeS}, {r.Text("still.strokeall"), s.StrokeAll},
		{r.Text("still.dropdead"), s.DropDeadS}, {r.Text("still.fall"), s.FallS},
	} {
		if l.w.Known {
			line(l.name, r.Text("still.seconds", "s", r.Number(l.w.Value, 2), "half", r.Number((l.w.CI95[1]-l.w.CI95[0])/2, 2)))
		}
	}
	if s.Fed.Known {
		line(r.Text("still.pump.name"), r.fed(s))
	}
	list(b, r.Text("cannot.still"), r.doubts(s.CannotTell))
	if m := measuredText(s); m != "" {
		b.WriteString("\n" + wording.Wrap("", "  ", r.Text("still.file", "working", r.trim(100*r.heights.WorkingM, 2), "raised", r.trim(100*r.heights.RaisedM, 2))) + indent(m))
	}
}

func indent(text string) string {
	return "  " + strings.ReplaceAll(strings.TrimSuffix(text, "\n"), "\n", "\n  ") + "\n"
}
