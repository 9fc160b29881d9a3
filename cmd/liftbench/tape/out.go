// The files of an answer.

package tape

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/language"
	"liftbench/replay/tape"
)

// files are those of the answer: what was read, what it says, and what to set.
func (r *result) files() []files.File {
	list := []files.File{{Name: "tape.json", Write: r.writeJSON}}
	if text := r.controllerText(); text != "" {
		list = append(list, files.File{Name: "controller.yaml", Write: func(w io.Writer) error {
			_, err := io.WriteString(w, text)
			return err
		}})
	}
	if len(r.sheet.Readings) > 0 {
		list = append(list, files.File{Name: "readings.csv", Write: r.writeReadings})
	}
	return list
}

// answerJSON is tape.json, whose sentences are English in every language.
type answerJSON struct {
	Lift       *timingJSON   `json:"lift"`
	Drop       *timingJSON   `json:"drop"`
	CannotTell []string      `json:"cannot_tell"`
	Next       []tape.Passes `json:"next"`
}

type timingJSON struct {
	*tape.Timing
	LeftOut []leftOutJSON `json:"left_out"`
}

type leftOutJSON struct {
	Row int    `json:"row"`
	Why string `json:"why"`
}

func (r *result) writeJSON(w io.Writer) error {
	a, english := r.answer, in(language.English)
	if a == nil {
		a = &tape.Answer{Next: []tape.Passes{}}
	}
	timing := func(t *tape.Timing) *timingJSON {
		if t == nil {
			return nil
		}
		out := []leftOutJSON{}
		for i := range t.LeftOut {
			out = append(out, leftOutJSON{t.LeftOut[i].Row, english.leftOut(&t.LeftOut[i])})
		}
		return &timingJSON{t, out}
	}
	all := answerJSON{timing(a.Lift), timing(a.Drop), english.doubts(a.CannotTell), a.Next}
	for _, u := range r.sheet.Unread {
		all.CannotTell = append(all.CannotTell, english.Text("cannot.unread", "row", u.Row, "why", u.Why))
	}
	for i := range r.still {
		all.CannotTell = append(all.CannotTell, english.doubts(r.still[i].CannotTell)...)
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(&all)
}

// controllerText is what to put into the machine file; "" where nothing is known.
func (r *result) controllerText() string {
	var b strings.Builder
	if a := r.answer; a != nil {
		for _, m := range moves {
			t := a.Of(m)
			if t == nil || t.LeadMs == nil {
				continue
			}
			if b.Len() == 0 {
				b.WriteString("controller:\n")
			}
			fmt.Fprintf(&b, "  %s_lead: %g # %g to %g, 95 %%\n", m, math.Round(max(0, *t.LeadMs)), math.Round(t.LeadCI95Ms[0]), math.Round(t.LeadCI95Ms[1]))
		}
		if b.Len() > 0 {
			b.WriteString("  flow_aware: false # a lead in ms is the same however many move at once\n")
		}
		if line := in(language.English).distanceLine(a); a.Distance.Change {
			fmt.Fprintf(&b, "# %s: antenna.forward_m less tool.forward_m\n", line)
		}
	}
	for i := range r.still {
		b.WriteString(measuredText(&r.still[i]))
	}
	if b.Len() == 0 {
		return ""
	}
	return "# Found by liftbench tape; put it into the machine file.\n" + b.String()
}

// measuredText is hydraulics.measured of a machine file; "" unless all of it was timed.
func measuredText(s *tape.Still) string {
	if !s.LiftS.Known || !s.RaisedS.Known {
		return ""
	}
	var b strings.Builder
	b.WriteString("hydraulics:\n")
	if s.DropS.Known && s.DropDeadS.Known {
		fmt.Fprintf(&b, "  drop_dead_ms: %.0f\n", max(0, 1000*s.DropDeadS.Value))
	}
	b.WriteString("  measured:\n")
	for _, l := range []struct {
		key string
		w   tape.Within
	}{{"lift_s", s.LiftS}, {"raised_s", s.RaisedS}, {"drop_s", s.DropS}, {"lift_all_s", s.LiftAllS}} {
		if l.w.Known {
			fmt.Fprintf(&b, "    %s: %.3f\n", l.key, l.w.Value)
		}
	}
	if s.OilC != nil {
		fmt.Fprintf(&b, "    oil_c: %.0f\n", *s.OilC)
	}
	return b.String()
}

// writeReadings writes the readings as they were understood.
func (r *result) writeReadings(w io.Writer) error {
	c := csv.NewWriter(w)
	_ = c.Write([]string{"pass", "move", "section", "speed_kmh", "late_cm", "lead_ms", "antenna_m", "oil", "direction"})
	for i := range r.sheet.Readings {
		x := &r.sheet.Readings[i]
		section := "all"
		if x.Section > 0 {
			section = strconv.Itoa(x.Section)
		}
		oil := ""
		switch {
		case x.OilC != nil:
			oil = number(*x.OilC, 1)
		case x.Oil != tape.OilUnknown:
			oil = x.Oil.String()
		}
		_ = c.Write([]string{x.Pass, x.Move.String(), section, number(3.6*x.SpeedMps, 3), number(100*x.LateM, 2), optional(x.LeadS, 1000, 1), optional(x.AntennaM, 1, 3), oil, x.Direction})
	}
	c.Flush()
	return c.Error()
}

// number prints a number with at most so many decimals.
func number(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}

func optional(x *float64, times float64, decimals int) string {
	if x == nil {
		return ""
	}
	return number(*x*times, decimals)
}
