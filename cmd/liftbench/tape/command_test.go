// The command as its user types it.

package tape

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
	"liftbench/replay/tape"
)

// call runs the command.
func call(t *testing.T, stdin string, args ...string) (stdout string, err error) {
	t.Helper()
	c := NewCommand()
	c.SilenceUsage, c.SilenceErrors = true, true
	var out bytes.Buffer
	c.SetIn(strings.NewReader(stdin))
	c.SetOut(&out)
	c.SetErr(&out)
	c.SetArgs(append([]string{}, args...))
	err = c.Execute()
	return out.String(), err
}

const tenNumbers = `move;speed_kmh;late_cm;lead_ms
lift;4;15,5;310
lift;4;16;
lift;4;12;
lift;4;19;
lift;4;16;
lift;10;41;
lift;10;38;
lift;10;36;
lift;10;40;
lift;10;39;
`

// Ten numbers in, and the first line says what to set: 310 ms and, by hand, (38.8 - 15.7) cm over 6 km/h.
func TestFirstLine(t *testing.T) {
	out, err := call(t, tenNumbers)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(out, "\n")
	if lines[0] != "lift lead 310 → 449 ms (± 19)" {
		t.Errorf("first line %q", lines[0])
	}
	if lines[1] != "distance antenna to tool: leave it (+0.3 cm, −3.8 to +4.4: no more than chance)" || !strings.HasPrefix(lines[2], "with this, 95 % of lifts within ± ") || !strings.HasSuffix(lines[2], " cm at 8 km/h") {
		t.Errorf("%s", out)
	}
	for _, want := range []string{"Nobody stands at the flag line", "engine off, key out", "goes through skin"} {
		if !strings.Contains(strings.Join(strings.Fields(out), " "), want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

// A late lift needs a longer lead, an early one a shorter, and without the lead that was set the
// answer is the change.
func TestSigns(t *testing.T) {
	for late, want := range map[string]string{
		"+": "lift lead 310 → ", "-": "lift lead 310 → ",
	} {
		text := "move;speed_kmh;late_cm;lead_ms\n"
		for _, kmh := range []int{4, 4, 4, 10, 10, 10} {
			text += fmt.Sprintf("lift;%d;%s%d;310\n", kmh, late, 3*kmh)
		}
		out, err := call(t, text)
		after, found := strings.CutPrefix(out, want)
		var ms int
		fmt.Sscanf(after, "%d ms", &ms)
		if err != nil || !found || (ms > 310) != (late == "+") {
			t.Errorf("%s: %v\n%s", late, err, out)
		}
		out, _ = call(t, strings.ReplaceAll(text, ";310", ";"))
		want := map[string]string{"+": "lift lead 108 ms longer (± ", "-": "lift lead 108 ms shorter (± "}[late]
		if !strings.HasPrefix(out, want) {
			t.Errorf("%s without a lead: %s; want %s", late, out, want)
		}
		if out, _ = call(t, strings.ReplaceAll(text, ";310", ";"), "--lift-lead", "310"); !strings.HasPrefix(out, "lift lead 310 → ") {
			t.Errorf("with --lift-lead 310: %s", out)
		}
	}
}

// tape.json has the names that others read, and no others.
func TestJSONNames(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	if _, err := call(t, tenNumbers+"drop;4;3;700\ndrop;x;3;\n", "--out", dir); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, "tape.json"))
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	names := func(m any) string {
		var list []string
		for k := range m.(map[string]any) {
			list = append(list, k)
		}
		sort.Strings(list)
		return strings.Join(list, " ")
	}
	if n := names(got); n != "cannot_tell drop lift next" {
		t.Errorf("names %s", n)
	}
	for _, move := range []string{"lift", "drop"} {
		if n := names(got[move]); n != "count lead_ci95_ms lead_ms lead_set_ms left_out place_error_ci95 place_error_m time_error_ci95 time_error_s" {
			t.Errorf("%s: names %s", move, n)
		}
	}
	drop := got["drop"].(map[string]any)
	if drop["place_error_m"] != nil || drop["lead_set_ms"] != 700.0 || drop["count"] != 1.0 {
		t.Errorf("drop %v; want one reading, no place", drop)
	}
	if n := names(got["next"].([]any)[0]); n != "passes speed_kmh" {
		t.Errorf("next: names %s", n)
	}
	if !strings.Contains(fmt.Sprint(got["cannot_tell"]), `row 13, which could not be read: speed_kmh: found "x"`) {
		t.Errorf("cannot tell %v; want the row that could not be read", got["cannot_tell"])
	}
	yaml, err := os.ReadFile(filepath.Join(dir, "controller.yaml"))
	if err != nil || !strings.Contains(string(yaml), "controller:\n  lift_lead: 449 #") || !strings.Contains(string(yaml), "  drop_lead: ") {
		t.Errorf("controller.yaml: %v, %s", err, yaml)
	}
	// What was read, written and read again, says the same.
	again, err := call(t, "", filepath.Join(dir, "readings.csv"))
	first, _ := call(t, tenNumbers+"drop;4;3;700\n")
	if err != nil || strings.SplitN(again, "\n\n", 2)[0] != strings.SplitN(first, "\n\n", 2)[0] {
		t.Errorf("readings.csv read again: %v\n%s\nwant\n%s", err, again, first)
	}
}

// Questions on a terminal: leads, then readings in one line each; what cannot be read is asked again,
// and each answer says what to set so far.
func TestAsk(t *testing.T) {
	var out bytes.Buffer
	s, err := ask(strings.NewReader("310\nmany\n\nlift 4 15,5\nlift 4\nrise 4 5\nlift 10 40\n\n"), &out, in(language.English), tape.Defaults{}, tape.DefaultWish())
	if err != nil || len(s.Readings) != 2 {
		t.Fatalf("%v, %+v", err, s)
	}
	if r := s.Readings[1]; r.Row != 2 || r.LateM != 0.4 || *r.LeadS != 0.31 {
		t.Errorf("second reading %+v", r)
	}
	for _, want := range []string{"Nobody stands at the flag line", `found "many"; expected 0 to 10000`, `found "lift 4"; expected three things`, `move: found "rise"; expected lift or drop`, "so far: lift lead 310 → 4"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	if _, err := ask(strings.NewReader(""), &out, in(language.English), tape.Defaults{}, tape.DefaultWish()); err == nil || !strings.Contains(err.Error(), "expected one at least") {
		t.Errorf("nothing typed: %v", err)
	}
}

// The plan's sheet has a row for each pass with empty boxes, the drawing and the safety words.
func TestPlanSheet(t *testing.T) {
	dir := t.TempDir()
	out, err := call(t, "", "--plan", "--both-ways", "--out", dir)
	if err != nil || !strings.HasPrefix(out, "Drive ") {
		t.Fatalf("%v\n%s", err, out)
	}
	data, err := os.ReadFile(filepath.Join(dir, "plan.html"))
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	var slow, fast int
	fmt.Sscanf(out, "Drive %d passes at 4 km/h", &slow)
	_, rest, _ := strings.Cut(strings.Join(strings.Fields(out), " "), "back) and ")
	fmt.Sscanf(rest, "%d passes at 10 km/h", &fast)
	if rows := strings.Count(page, "<td></td><td></td><td></td><td></td><td></td></tr>"); rows != slow+fast || slow == 0 || fast == 0 {
		t.Errorf("%d rows; want %d and %d", rows, slow, fast)
	}
	if there, back := strings.Count(page, "<td>there</td>"), strings.Count(page, "<td>back</td>"); there+back != slow+fast || there < back || there > back+1 {
		t.Errorf("%d there, %d back", there, back)
	}
	for _, want := range []string{"<svg", "flag line", "late: + cm", "before: − cm", "driving direction", "Nobody stands at the flag line", "engine off, key out"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q on the sheet", want)
		}
	}
	if strings.Contains(page, "{{") || strings.Contains(page, "http") {
		t.Error("the sheet has a place that was not filled, or asks for a network")
	}
}

// The help says the safety words.
func TestHelpIsSafe(t *testing.T) {
	help := NewCommand().Long
	if !strings.Contains(help, "Nobody stands at the flag line") || !strings.Contains(help, "goes through skin") {
		t.Error("no safety words in the help")
	}
	for _, line := range strings.Split(help, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("line of %d columns: %s", len([]rune(line)), line)
		}
	}
}
