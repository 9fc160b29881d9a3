// The page's computation beside the command's, and the page as one file.

package tape

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
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
	Move      string `json:"move"`
	SpeedKmh  string `json:"speed_kmh"`
	LateCm    string `json:"late_cm"`
	LeadMs    string `json:"lead_ms"`
	AntennaM  string `json:"antenna_m"`
	Section   string `json:"section"`
	Oil       string `json:"oil"`
	Direction string `json:"direction"`
}

// drawSheet draws readings of every kind: one or many, at one speed or several, of both moves, with
// leads and distances that change, sections, directions and oil, and numbers that slipped.
func drawSheet(rng *rand.Rand) []row {
	n := 1 + rng.IntN(4)
	if rng.IntN(4) > 0 {
		n = 4 + rng.IntN(30)
	}
	speeds := [][]float64{{4, 10}, {6, 8}, {8}, {4, 7, 10}, {3, 5, 12}}[rng.IntN(5)]
	withSection, withDirection, oil := rng.IntN(3) == 0, rng.IntN(3) == 0, rng.IntN(5)
	leads, both, slip := rng.IntN(3), rng.IntN(2) == 0, rng.IntN(3) == 0
	placeM, needS, sd := 0.1*rng.NormFloat64()*float64(rng.IntN(2)), 0.2+0.5*rng.Float64(), 0.005+0.05*rng.Float64()
	var list []row
	for i := range n {
		kmh := speeds[rng.IntN(len(speeds))] + 0.1*float64(rng.IntN(5))
		r := row{Move: "lift", SpeedKmh: fmt.Sprintf("%.1f", kmh)}
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
			r.Direction = []string{"north", "south"}[rng.IntN(2)]
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
	return list
}

// csvOf is the sheet as a file.
func csvOf(list []row) string {
	var b strings.Builder
	b.WriteString("move;speed_kmh;late_cm;lead_ms;antenna_m;section;oil;direction\n")
	for _, r := range list {
		fmt.Fprintln(&b, strings.Join([]string{r.Move, r.SpeedKmh, r.LateCm, r.LeadMs, r.AntennaM, r.Section, r.Oil, r.Direction}, ";"))
	}
	return b.String()
}

var digits = regexp.MustCompile(`[0-9]+`)

// nearlyEqual compares what JSON holds: numbers within 1e-9 of 1 or of themselves,
// sentences but for their digits, all else as it is.
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
	case string:
		// Of a number that ends in 5 the two may round the last digit to either side.
		y, ok := b.(string)
		if !ok || digits.ReplaceAllString(x, "#") != digits.ReplaceAllString(y, "#") {
			return fmt.Errorf("%s: %v and %v", at, a, b)
		}
	default:
		if a != b {
			return fmt.Errorf("%s: %v and %v", at, a, b)
		}
	}
	return nil
}

// Drawn sheets, 1000 in .ci/run: what the page computes is what the command writes to tape.json, within 1e-9, with
// the same sentences; and the CSV that the page shares says the same to the command.
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
			for what, is := range map[string]bool{"parted": tm.Parted, "one speed": !tm.Parted, "assumed": tm.Assumed, "left out": len(tm.LeftOut) > 0, "effects": len(tm.Effects) > 0, "no lead": tm.LeadMs == nil, "distance": a.Distance.Change, "differ": a.Distance.Differ, "enough": len(a.Next) == 0} {
				if is {
					seen[what]++
				}
			}
		}
	}
	t.Logf("%d sheets; of their moves %v", n, seen)
	for _, what := range []string{"parted", "one speed", "assumed", "left out", "effects", "no lead", "distance", "enough"} {
		if seen[what] < n/50 {
			t.Errorf("%s: %d moves; want one in 50 sheets at least, or the sheets try too little", what, seen[what])
		}
	}
}

// commandSays is tape.json of a file, with rows that are left out alone and what the page shows beside.
func commandSays(t *testing.T, csv string) (map[string]any, *tape.Answer) {
	t.Helper()
	s, err := tape.Read(strings.NewReader(csv), "x", tape.Defaults{})
	if err != nil || len(s.Unread) > 0 {
		t.Fatalf("%v, %+v", err, s)
	}
	a := tape.Find(s.Readings, tape.DefaultWish())
	r := &result{options: &options{}, sheet: s, answer: a}
	var b bytes.Buffer
	if err := r.writeJSON(&b); err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(b.Bytes(), &m); err != nil {
		t.Fatal(err)
	}
	within := []any{nil, nil}
	for _, move := range []tape.Move{tape.Lift, tape.Drop} {
		tm := a.Of(move)
		if tm == nil {
			continue
		}
		rows, effects := []any{}, []any{}
		for _, l := range tm.LeftOut {
			rows = append(rows, float64(l.Row))
		}
		for _, e := range tm.Effects {
			effects = append(effects, []any{e.Name, e.TimeS, e.PlaceM, e.Half})
		}
		own := m[move.String()].(map[string]any)
		own["left_out"], own["effects"] = rows, effects
		if w, ok := a.WithinM(move, tape.DefaultWish().AtMps); ok {
			within[move] = w
		}
	}
	d := a.Distance
	m["within"] = within
	m["distance"] = []any{d.Known, d.Change, d.Differ, d.ErrorM, d.NewM}
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
	if len(text) > 64<<10 {
		t.Errorf("the page has %d bytes; expected 64 kB at most, to be mailed", len(text))
	}
}
