// What readings tell, put into words of a language: each line by itself.

package tape

import (
	_ "embed"
	"math"
	"strings"

	"liftbench/cmd/liftbench/language"
	"liftbench/replay/tape"
)

//go:embed texts.json
var textsFile []byte

// words put answers into a language.
type words struct{ language.Texts }

func in(l language.Language) *words { return &words{language.Load(textsFile).In(l)} }

// trim is a number without the decimals that are zero, at most so many.
func (w *words) trim(x float64, decimals int) string {
	s := w.Number(x, decimals)
	if strings.ContainsAny(s, ".,") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".,")
	}
	return s
}

func (w *words) kmh(mps float64) string { return w.trim(3.6*mps, 2) }

// move names a lift or a drop; lead is the lead of it.
func (w *words) move(m tape.Move) string {
	if m == tape.Drop {
		return w.Text("drop")
	}
	return w.Text("lift")
}

func (w *words) lead(m tape.Move) string {
	if m == tape.Drop {
		return w.Text("drop.lead")
	}
	return w.Text("lift.lead")
}

// leadLine says in a line which lead to set.
func (w *words) leadLine(m tape.Move, t *tape.Timing) string {
	half := w.Number(1000*(t.TimeErrorCI95[1]-t.TimeErrorCI95[0])/2, 0)
	only := ""
	switch {
	case t.Parted:
	case !t.OneSpeed:
		only = w.Text("only.place")
	default:
		only = w.Text("only.speed", "speed", w.Number(3.6*t.MeanMps, 1))
	}
	change := w.Number(1000*math.Abs(t.TimeErrorS), 0)
	switch {
	case t.LeadMs == nil && t.TimeErrorS < 0:
		return w.Text("lead.shorter", "lead", w.lead(m), "change", change, "half", half, "only", only)
	case t.LeadMs == nil:
		return w.Text("lead.longer", "lead", w.lead(m), "change", change, "half", half, "only", only)
	}
	from, to := w.Number(*t.LeadSetMs, 0), w.Number(*t.LeadMs, 0)
	if *t.LeadMs < 0 {
		return w.Text("lead.zero", "lead", w.lead(m), "from", from, "to", to, "half", half, "only", only)
	}
	return w.Text("lead.set", "lead", w.lead(m), "from", from, "to", to, "half", half, "only", only)
}

// distanceLine says in a line what to do about the distance from antenna to tool; "" where nothing is known of it.
func (w *words) distanceLine(a *tape.Answer) string {
	d := &a.Distance
	cm, low, high := w.Signed(100*d.ErrorM, 1), w.Signed(100*d.CI95[0], 1), w.Signed(100*d.CI95[1], 1)
	size := w.Number(100*math.Abs(d.ErrorM), 0)
	switch {
	case !d.Known:
		return ""
	case d.Differ:
		return w.Text("distance.differ")
	case !d.Change:
		return w.Text("distance.chance", "cm", cm, "low", low, "high", high)
	case d.SetM != nil:
		return w.Text("distance.set", "from", w.Number(*d.SetM, 2), "to", w.Number(d.NewM, 2), "cm", cm, "low", low, "high", high)
	case d.ErrorM > 0:
		return w.Text("distance.less", "size", size, "cm", cm, "low", low, "high", high)
	}
	return w.Text("distance.more", "size", size, "cm", cm, "low", low, "high", high)
}

// withinLine says in a line what is to be expected with what is set; "" where too little is known.
func (w *words) withinLine(a *tape.Answer, atMps float64) string {
	var parts []string
	if m, ok := a.WithinM(tape.Lift, atMps); ok {
		parts = append(parts, w.Text("within.lift", "cm", w.Number(100*m, 1)))
	}
	if m, ok := a.WithinM(tape.Drop, atMps); ok {
		parts = append(parts, w.Text("within.drop", "cm", w.Number(100*m, 1)))
	}
	if parts == nil {
		return ""
	}
	return w.Text("within", "list", strings.Join(parts, ", "), "speed", w.kmh(atMps))
}

// aloneLine says which lead who drives one speed alone sets; "" where it is no other.
func (w *words) aloneLine(a *tape.Answer, m tape.Move, atMps float64) string {
	t := a.Of(m)
	if t == nil || a.Distance.Change {
		return ""
	}
	ms, half, ok := t.AloneMs(atMps)
	if !ok || math.Abs(ms-*t.LeadMs) <= half {
		return ""
	}
	return w.Text("alone", "speed", w.kmh(atMps), "lead", w.lead(m), "ms", w.Number(ms, 0), "half", w.Number(half, 0))
}

// effects says what the readings of a move hang on, a line each.
func (w *words) effects(t *tape.Timing) []string {
	var out []string
	for i := range t.Effects {
		e := &t.Effects[i]
		name := w.Text("effect.oil")
		switch {
		case e.Term == tape.Sections:
			name = w.Text("effect.section", "number", e.Section)
		case e.Term == tape.Direction:
			name = w.Text("effect.ways", "one", e.Ways[0], "other", e.Ways[1])
		case e.KelvinC:
			name = w.Text("effect.kelvin")
		}
		size := w.Text("effect.time", "ms", w.Signed(1000*e.TimeS, 0), "half", w.Number(1000*e.Half, 0))
		if e.PlaceM != 0 {
			size = w.Text("effect.place", "cm", w.Signed(100*e.PlaceM, 1), "half", w.Number(100*e.Half, 1))
		}
		if e.Beyond(len(t.Effects)) {
			out = append(out, w.Text("effect.beyond", "name", name, "size", size))
		} else {
			out = append(out, w.Text("effect.chance", "name", name, "size", size))
		}
	}
	return out
}

// leftOut says why a reading does not count.
func (w *words) leftOut(l *tape.LeftOut) string {
	sheets := w.Text("sheets.million")
	switch n := 1 / l.Chance; {
	case n > 1e6:
	case n > 1000:
		sheets = w.Text("sheets.thousand", "n", int(math.Round(n/1000)))
	default:
		sheets = w.Text("sheets", "n", int(math.Round(n)))
	}
	cm := w.Signed(100*l.OffM, 0)
	if l.Whole {
		return w.Text("out.whole", "cm", cm, "sheets", sheets)
	}
	return w.Text("out.one", "cm", cm, "sheets", sheets)
}

// rows names rows, at least two.
func (w *words) rows(list []int) string {
	var text []string
	for _, r := range list {
		text = append(text, w.Number(float64(r), 0))
	}
	last := len(text) - 1
	return w.Text("rows", "list", strings.Join(text[:last], ", "), "last", text[last])
}

// term names what readings may hang on.
func (w *words) term(t tape.Term) string {
	switch t {
	case tape.Direction:
		return w.Text("term.direction")
	case tape.ColdOil:
		return w.Text("term.oil")
	}
	return w.Text("term.section")
}

// doubt says what readings cannot tell.
func (w *words) doubt(d *tape.Doubt) string {
	move, cm := w.move(d.Move), func(m float64) string { return w.Number(100*m, 0) }
	switch d.About {
	case tape.WhichSlipped:
		return w.Text("which", "move", move, "rows", w.rows(d.Rows))
	case tape.TermFew:
		return w.Text("few", "move", move, "term", w.term(d.Term), "n", d.Count)
	case tape.TermTogether:
		return w.Text("together", "move", move, "term", w.term(d.Term))
	case tape.PassUnnamed:
		return w.Text("unnamed", "move", move)
	case tape.Scatter:
		return w.Text("scatter", "move", move, "n", d.Count, "cm", cm(d.First))
	case tape.PlaceFew:
		return w.Text("place", "move", move, "n", d.Count)
	case tape.OneSpeed:
		return w.Text("speed", "move", move, "speed", w.Number(3.6*d.First, 1))
	case tape.NoDistance:
		return w.Text("distance", "lift", w.Signed(100*d.First, 0), "drop", w.Signed(100*d.Last, 0))
	case tape.LeadNever:
		return w.Text("never", "move", move, "ms", w.Number(1000*d.First, 0), "n", d.Count, "cm", cm(d.Last))
	case tape.LiftUntimed:
		return w.Text("still.lift")
	case tape.LiftTogether:
		return w.Text("still.lift.events")
	case tape.PumpUntimed:
		return w.Text("still.pump")
	case tape.PumpShort:
		return w.Text("still.pump.scatter")
	case tape.DropUntimed:
		return w.Text("still.drop")
	case tape.DropTogether:
		return w.Text("still.drop.events")
	}
	return string(d.About)
}

// doubts are a list of them in words.
func (w *words) doubts(list []tape.Doubt) []string {
	out := []string{}
	for i := range list {
		out = append(out, w.doubt(&list[i]))
	}
	return out
}

// next says which passes to drive.
func (w *words) next(list []tape.Passes, wish tape.Wish) string {
	text := ""
	for _, p := range list {
		one := w.Text("next.more", "n", p.Passes, "speed", w.trim(p.SpeedKmh, 2))
		if text == "" {
			text = one
		} else {
			text = w.Text("and", "one", text, "other", one)
		}
	}
	if text == "" {
		return w.Text("next.hold", "speed", w.kmh(wish.AtMps))
	}
	return w.Text("next.bring", "passes", text, "ms", w.trim(1000*wish.WantS, 2))
}

// oil names a state of the oil as it was written.
func (w *words) oil(s *tape.Still) string {
	switch {
	case s.OilC != nil:
		return w.Unit(w.Number(*s.OilC, 0), "°C")
	case s.Oil == tape.OilCold.String():
		return w.Text("cold")
	case s.Oil == tape.OilWarm.String():
		return w.Text("warm")
	}
	return ""
}

// fed says how many sections the pump feeds.
func (w *words) fed(s *tape.Still) string {
	low, high := w.Number(s.Fed.CI95[0], 1), w.Number(s.Fed.CI95[1], 1)
	if s.FedAll {
		return w.Text("still.fedall", "low", low)
	}
	return w.Text("still.fed", "count", w.Number(s.Fed.Value, 1), "low", low, "high", high)
}
