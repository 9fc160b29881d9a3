// The page's computation beside the command's, and the page as one file.

package tape

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"liftbench/replay/tape"
	"liftbench/sim/campaign"
)

// outside skips a test whose program is absent, or fails where none may be.
func outside(t *testing.T, missing string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatalf("missing: %s", missing)
	}
	t.Skipf("missing: %s", missing)
}

// row is one reading as it is typed.
type row struct {
	Pass      string `json:"pass"`
	Move      string `json:"move"`
	SpeedKmh  string `json:"speed_kmh"`
	Seconds   string `json:"seconds"`
	OverM     string `json:"over_m"`
	LateCm    string `json:"late_cm"`
	LeadMs    string `json:"lead_ms"`
	AntennaM  string `json:"antenna_m"`
	Section   string `json:"section"`
	Oil       string `json:"oil"`
	Direction string `json:"direction"`
	Event     string `json:"event"`
	Sections  string `json:"sections"`
	TimeS     string `json:"time_s"`
	Frames    string `json:"frames"`
	FPS       string `json:"fps"`
}

// heads are the columns of a file, in the order of the fields of a row.
const heads = "pass;move;speed_kmh;seconds;over_m;late_cm;lead_ms;antenna_m;section;oil;direction;event;sections;time_s;frames;fps"

// drawSheet draws readings of every kind: one or many, at one speed or several, of both moves, with
// leads and distances that change, sections, directions and oil, numbers that slipped, several sections on a
// pass, speeds as seconds over a length; and times at standstill.
func drawSheet(rng *rand.Rand) []row {
	n := 1 + rng.IntN(4)
	if rng.IntN(4) > 0 {
		n = 4 + rng.IntN(30)
	}
	speeds := [][]float64{{4, 10}, {6, 8}, {8}, {4, 7, 10}, {3, 5, 12}}[rng.IntN(5)]
	withSection, withDirection, oil := rng.IntN(3) == 0, rng.IntN(3) == 0, rng.IntN(5)
	leads, both, slip := rng.IntN(3), rng.IntN(2) == 0, rng.IntN(3) == 0
	placeM, needS, sd := 0.1*rng.NormFloat64()*float64(rng.IntN(2)), 0.2+0.5*rng.Float64(), 0.005+0.05*rng.Float64()
	shared, timed := rng.IntN(2) == 0, rng.IntN(4) == 0
	if rng.IntN(3) == 0 {
		n = rng.IntN(n + 1)
	}
	var list []row
	var kmh, pass float64
	for i := range n {
		if i == 0 || !shared || rng.IntN(3) == 0 {
			kmh, pass = speeds[rng.IntN(len(speeds))]+0.1*float64(rng.IntN(5)), pass+1
		}
		r := row{Move: "lift", SpeedKmh: fmt.Sprintf("%.1f", kmh)}
		if shared {
			r.Pass = fmt.Sprint(pass)
		}
		if timed {
			r.SpeedKmh, r.Seconds, r.OverM = "", fmt.Sprintf("%.2f", 30/(kmh/3.6)), "30"
			kmh = 3.6 * 30 / mustNumber(r.Seconds)
		}
		need := needS
		if both && rng.IntN(2) == 0 {
			r.Move, need = "drop", needS+0.3
		}
		lead := 0.3
		if leads > 0 {
			if leads == 2 && rng.IntN(4) == 0 {
				lead = 0.35
			}
			r.LeadMs = fmt.Sprintf("%.0f", 1000*lead)
			if rng.IntN(6) == 0 {
				r.AntennaM = fmt.Sprintf("3,%d", 10+rng.IntN(5))
			}
		}
		late := placeM + kmh/3.6*(need-lead) + sd*rng.NormFloat64()
		if withSection && rng.IntN(8) > 0 {
			r.Section = fmt.Sprint(1 + rng.IntN(3))
		}
		if withDirection {
			r.Direction = []string{"north", "south"}[(int(pass)+rng.IntN(8)/7)%2]
		}
		switch oil {
		case 1:
			r.Oil = []string{"cold", "warm"}[rng.IntN(2)]
		case 2:
			r.Oil = fmt.Sprint(15 + rng.IntN(30))
		}
		if slip && i == n/2 {
			late += 0.5
		}
		r.LateCm = strings.ReplaceAll(fmt.Sprintf("%.1f", 100*late), ".", ",")
		list = append(list, r)
	}
	for n == 0 && len(list) == 0 || len(list) > n && rng.IntN(12) > 0 || len(list) == n && rng.IntN(3) == 0 {
		list = append(list, drawStill(rng, oil))
	}
	return list
}

// drawStill draws a time at standstill, by stopwatch or by frames.
func drawStill(rng *rand.Rand, oil int) row {
	k := rng.IntN(6)
	r := row{Event: []string{"moves", "out", "raised", "falls", "in", "depth"}[k], Sections: []string{"", "1", "1", "2", "6"}[rng.IntN(5)]}
	s := []float64{0.06, 0.22, 1, 0.05, 0.7, 0.85}[k] * (1 + 0.1*rng.NormFloat64())
	if r.Sections == "6" && k < 3 {
		s *= 1.5
	}
	if rng.IntN(2) == 0 {
		r.FPS = "60"
		r.Frames = fmt.Sprint(max(0, math.Round(60*s)))
	} else {
		r.TimeS = fmt.Sprintf("%.1f", max(0.1, s))
	}
	switch oil {
	case 1:
		r.Oil = []string{"cold", "warm"}[rng.IntN(2)]
	case 2:
		r.Oil = fmt.Sprint(15 + rng.IntN(30))
	}
	return r
}

// mustNumber is a number as it was printed.
func mustNumber(text string) float64 {
	x, err := tape.Number(text)
	if err != nil {
		panic(err)
	}
	return x
}

// csvOf is the sheet as a file.
func csvOf(list []row) string {
	var b strings.Builder
	b.WriteString(heads + "\n")
	for _, r := range list {
		fmt.Fprintln(&b, strings.Join([]string{r.Pass, r.Move, r.SpeedKmh, r.Seconds, r.OverM, r.LateCm, r.LeadMs, r.AntennaM, r.Section, r.Oil, r.Direction, r.Event, cmp.Or(r.Sections, "all"), r.TimeS, r.Frames, r.FPS}, ";"))
	}
	return b.String()
}

// nearlyEqual compares what JSON holds: numbers within 1e-9 of 1 or of themselves,
// all else as it is.
func nearlyEqual(at string, a, b any) error {
	switch x := a.(type) {
	case float64:
		y, ok := b.(float64)
		if !ok || !(math.Abs(x-y) <= 1e-9*max(1, math.Abs(x))) {
			return fmt.Errorf("%s: %v and %v", at, a, b)
		}
	case []any:
		y, ok := b.([]any)
		if !ok || len(x) != len(y) {
			return fmt.Errorf("%s: %v and %v", at, a, b)
		}
		for i := range x {
			if err := nearlyEqual(fmt.Sprintf("%s[%d]", at, i), x[i], y[i]); err != nil {
				return err
			}
		}
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			return fmt.Errorf("%s: %v and %v", at, a, b)
		}
		for k := range x {
			if err := nearlyEqual(at+"."+k, x[k], y[k]); err != nil {
				return err
			}
		}
	default:
		if a != b {
			return fmt.Errorf("%s: %v and %v", at, a, b)
		}
	}
	return nil
}

// Drawn sheets, 1000 in .ci/run: what the page computes is what the command does, within 1e-9, also what it
// cannot tell; and the CSV that the page shares says the same to the command.
func TestPageBesideCommand(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil {
		outside(t, "node (Debian nodejs)")
	}
	rng := rand.New(rand.NewPCG(18, 40))
	n := campaign.Times(300, 1000, 5000)
	sheets := make([][]row, n)
	for i := range sheets {
		sheets[i] = drawSheet(rng)
	}
	in, err := json.Marshal(sheets)
	if err != nil {
		t.Fatal(err)
	}
	module, err := filepath.Abs("page/tape.js")
	if err != nil {
		t.Fatal(err)
	}
	// Node takes a module by its ending.
	copied := filepath.Join(t.TempDir(), "tape.mjs")
	data, err := os.ReadFile(module)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(copied, data, 0o644); err != nil {
		t.Fatal(err)
	}
	c := exec.Command(node, "pagetest/answers.mjs", copied)
	c.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, stderr.String())
	}
	var got []map[string]any
	if err := json.Unmarshal(out, &got); err != nil || len(got) != n {
		t.Fatalf("%d answers, %v", len(got), err)
	}
	seen := map[string]int{}
	for i, list := range sheets {
		want, a := commandSays(t, csvOf(list))
		page := got[i]
		shared := page["csv"].(string)
		delete(page, "csv")
		if err := nearlyEqual("", want, page); err != nil {
			t.Errorf("sheet %d: command and page differ at %v\n%s", i, err, csvOf(list))
			if seen["differ"]++; seen["differ"] > 5 {
				t.FailNow()
			}
			continue
		}
		again, _ := commandSays(t, shared)
		if err := nearlyEqual("", want, again); err != nil {
			t.Errorf("sheet %d: shared as CSV it differs at %v\n%s", i, err, shared)
		}
		for _, m := range []tape.Move{tape.Lift, tape.Drop} {
			tm := a.Of(m)
			if tm == nil {
				continue
			}
			for what, is := range map[string]bool{"parted": tm.Parted, "one speed": !tm.Parted, "assumed": tm.Assumed, "left out": len(tm.LeftOut) > 0, "effects": len(tm.Effects) > 0, "no lead": tm.LeadMs == nil, "distance": a.Distance.Change, "differ": a.Distance.Differ, "enough": len(a.Next) == 0,
				"several a pass": tm.Passes < tm.Count, "sections beside their pass": tm.Passes < tm.Count && len(tm.Effects) > 2, "a whole pass": slices.ContainsFunc(tm.LeftOut, func(l tape.LeftOut) bool { return l.Whole })} {
				if is {
					seen[what]++
				}
			}
		}
	}
	stills, fed := 0, 0
	for _, page := range got {
		for _, s := range page["still"].([]any) {
			stills++
			if s.(map[string]any)["told"].([]any)[5] != nil {
				fed++
			}
		}
	}
	t.Logf("%d sheets; of their moves %v; %d times at standstill, %d with what the pump feeds", n, seen, stills, fed)
	if stills < n/5 || fed < n/50 {
		t.Errorf("%d times at standstill, %d with what the pump feeds; want one in five and one in 50 sheets", stills, fed)
	}
	for _, what := range []string{"parted", "one speed", "assumed", "left out", "effects", "no lead", "distance", "enough", "several a pass", "sections beside their pass"} {
		if seen[what] < n/50 {
			t.Errorf("%s: %d moves; want one in 50 sheets at least, or the sheets try too little", what, seen[what])
		}
	}
}

// commandSays is what the command finds in a file.
func commandSays(t *testing.T, csv string) (map[string]any, *tape.Answer) {
	t.Helper()
	s, err := tape.Read(strings.NewReader(csv), "x", tape.Defaults{})
	if err != nil || len(s.Unread) > 0 {
		t.Fatalf("%v, %+v\n%s", err, s, csv)
	}
	a := tape.Find(s.Readings, tape.DefaultWish())
	within := []any{nil, nil}
	all := map[string]any{"cannot_tell": a.CannotTell, "next": a.Next, "within": within}
	for _, move := range moves {
		tm := a.Of(move)
		if tm == nil {
			all[move.String()] = nil
			continue
		}
		data, err := json.Marshal(tm)
		if err != nil {
			t.Fatal(err)
		}
		own := map[string]any{}
		if err := json.Unmarshal(data, &own); err != nil {
			t.Fatal(err)
		}
		rows, effects := []any{}, []any{}
		for _, l := range tm.LeftOut {
			rows = append(rows, []any{l.Row, l.OffM, l.Chance, l.Whole})
		}
		for _, e := range tm.Effects {
			effects = append(effects, []any{e.Term, e.Section, e.Ways, e.KelvinC, e.TimeS, e.PlaceM, e.Half})
		}
		own["left_out"], own["effects"], own["passes"], own["sigma"] = rows, effects, tm.Passes, tm.SigmaM
		all[move.String()] = own
		if w, ok := a.WithinM(move, tape.DefaultWish().AtMps); ok {
			within[move] = w
		}
	}
	d := a.Distance
	all["distance"] = []any{d.Known, d.Change, d.Differ, d.ErrorM, d.NewM}
	stills := []any{}
	for _, s := range tape.AtStandstill(s.Still, tape.Heights{WorkingM: 0.03, RaisedM: 0.15, Sections: 6}) {
		var told []any
		for _, w := range []tape.Within{s.LiftDeadS, s.StrokeS, s.StrokeAll, s.DropDeadS, s.FallS, s.Fed, s.LiftS, s.RaisedS, s.DropS, s.LiftAllS} {
			if w.Known {
				told = append(told, []any{w.Value, w.CI95[0], w.CI95[1]})
			} else {
				told = append(told, nil)
			}
		}
		cannot := s.CannotTell
		if cannot == nil {
			cannot = []tape.Doubt{}
		}
		stills = append(stills, map[string]any{"count": s.Count, "all": s.FedAll, "cannot_tell": cannot, "told": told})
	}
	all["still"] = stills
	data, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	return m, a
}

// The page is one file: nothing is loaded, every place is filled, and it may run nothing but its own.
func TestPageIsOneFile(t *testing.T) {
	text, policy := Page()
	for _, bad := range []string{"{{", "src=", "http:", "https:", "import ", "\nexport ", "style=\"", " onclick", "eval("} {
		if at := strings.Index(strings.ReplaceAll(text, "http://www.w3.org/2000/svg", ""), bad); at >= 0 {
			t.Errorf("the page has %q: %.60q", bad, text[max(0, at-20):])
		}
	}
	if !strings.Contains(text, policy) || !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") {
		t.Errorf("policy %s", policy)
	}
	for _, want := range []string{"Nobody stands at the flag line", "engine off, key out", "goes through skin"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q on the page", want)
		}
	}
	for lang, want := range map[string]string{"": `data-lang=""`, "de": `data-lang="de"`} {
		if fixed, other := pageIn(lang); !strings.Contains(fixed, want) || other != policy {
			t.Errorf("%q: no %s, or another policy", lang, want)
		}
	}
	for _, words := range []string{"Niemand steht an der Fähnchenlinie", "Personne à la ligne de jalons", "Messwert hinzufügen", "Ajouter cette mesure"} {
		if !strings.Contains(text, words) {
			t.Errorf("no %q on the page", words)
		}
	}
	if len(text) > 96<<10 {
		t.Errorf("the page has %d bytes; expected 96 kB at most, to be mailed", len(text))
	}
}
