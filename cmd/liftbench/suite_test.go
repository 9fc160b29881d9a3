//go:build unix

// The suite as a user runs it: with our controller as a program, with mutants of it,
// with controllers that fail.

package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"liftbench/sim/campaign"
)

// Our controller as a program comes to the same in all drives, faults of the stream among
// them, bit for bit, in parts too.
func TestSuiteByProgram(t *testing.T) {
	own, dir := controller(t, "own")+" $LIFTBENCH_SCENARIO", t.TempDir()
	if status, _, stderr := command("", "suite", "--own", "--out", filepath.Join(dir, "own")); status != 0 {
		t.Fatal(stderr)
	}
	base := filepath.Join(dir, "base.json")
	for part := 1; part <= 2; part++ {
		status, stdout, stderr := command("", "suite", "--exec", own, "--shard", fmt.Sprintf("%d/2", part), "--baseline", base, "--update")
		if status != 0 {
			t.Fatal(stdout, stderr)
		}
	}
	if a, b := readFile(t, dir, "own", "suite.json"), readFile(t, base); !bytes.Equal(a, b) {
		t.Errorf("the program differs from our controller from byte %d on: %.200s", common(a, b), b[common(a, b):])
	}
	// What is shown of one drive agrees with the baseline.
	status, stdout, stderr := command("", "suite", "show", "hard/ditches", "--baseline", base)
	if status != 0 || !strings.Contains(stdout, "baseline: 888 lifts and drops") || strings.Contains(stdout, "      baseline ") || !strings.Contains(stdout, "oo") {
		t.Errorf("exit status %d: %.600s%s", status, stdout, stderr)
	}
	// Both drawn over each other: a controller without leads, in place of ours.
	page := filepath.Join(dir, "slant.html")
	status, stdout, stderr = command("", "suite", "show", "slant", "--exec", controller(t, "c"), "--baseline", base, "--html", page)
	if x := string(readFile(t, page)); status != 0 || !strings.Contains(x, "Beside the baseline: worse") || strings.Count(x, "<svg ") != 3 {
		t.Errorf("exit status %d: %.600s%s: %.1000s", status, stdout, stderr, x)
	}
	if status, _, stderr = command("", "suite", "show", "slant", "--seed", "5", "--baseline", base, "--html", page); status != 2 || !strings.Contains(stderr, "by the same chances") {
		t.Errorf("other chances: exit status %d: %s", status, stderr)
	}
	// A controller that is worse, and how it is told.
	status, _, stderr = command("", "suite", "--exec", controller(t, "c"), "--shard", "1/20", "--baseline", base, "--junit", filepath.Join(dir, "j.xml"))
	if status != 1 || !strings.Contains(stderr, "all: worse than the baseline, +") {
		t.Errorf("exit status %d: %s", status, stderr)
	}
	if x := string(readFile(t, dir, "j.xml")); !strings.Contains(x, `<failure message="worse than the baseline" type="baseline">`) {
		t.Error(x)
	}
}

// Controllers that fail in one drive each have one failed case each, and all other
// drives have a score.
func TestSuiteGoesOn(t *testing.T) {
	own, dir := controller(t, "own"), t.TempDir()
	script := filepath.Join(dir, "controller.sh")
	text := `ready() { while read -r l; do [ "$l" = start ] && echo ready 1 && return; done; }
case $LIFTBENCH_DRIVE in
closed-form/straight) ready; kill -9 $$ ;;
closed-form/slant) ready; sleep 300 ;;
closed-form/circle) ready; read -r l; echo it broke >&2; exit 7 ;;
closed-form/one-gap) ready; while read -r l; do case $l in now*) n=${l#now };; turn) printf 'rub\0bish\n'; echo done $n ;; esac; done ;;
closed-form/front) ready; exec yes '$PLBS,0,6,1.000000,00000000*00' ;;
*) exec ` + own + ` "$LIFTBENCH_SCENARIO" ;;
esac
`
	if err := os.WriteFile(script, []byte(text), 0o755); err != nil {
		t.Fatal(err)
	}
	status, stdout, stderr := command("", "suite", "--exec", "sh "+script, "--answer-within", "3s", "--out", dir, "--junit", filepath.Join(dir, "j.xml"))
	if status != 1 || strings.Count(stderr, "no score") != 5 {
		t.Errorf("exit status %d: %s\n%s", status, stderr, stdout)
	}
	var kept struct {
		Drives map[string]struct {
			Failed  string `json:"failed"`
			PlaceMm []int  `json:"place_mm"`
		} `json:"drives"`
	}
	if err := json.Unmarshal(readFile(t, dir, "suite.json"), &kept); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"closed-form/straight": "ended without an answer for 20", "closed-form/slant": `gave no answer for 20\S+ within 3s`, "closed-form/circle": "ended without an answer for 20.*it said last: it broke",
		"closed-form/one-gap": "no setpoint in the whole drive", "closed-form/front": `said more than 10000 lines at 20`,
	} {
		if got := kept.Drives[name].Failed; !regexp.MustCompile(want).MatchString(got) {
			t.Errorf("%s: %q; want %q", name, got, want)
		}
		delete(kept.Drives, name)
	}
	if len(kept.Drives) != 36 {
		t.Errorf("%d other drives; want 36", len(kept.Drives))
	}
	for name, d := range kept.Drives {
		if d.Failed != "" || len(d.PlaceMm) == 0 {
			t.Errorf("%s: %q, %d moves", name, d.Failed, len(d.PlaceMm))
		}
	}
	var report struct {
		Cases []struct {
			Name   string     `xml:"name,attr"`
			Errors []struct{} `xml:"error"`
			Limits []struct{} `xml:"failure"`
		} `xml:"testsuite>testcase"`
	}
	if err := xml.Unmarshal(readFile(t, dir, "j.xml"), &report); err != nil || len(report.Cases) != 41 {
		t.Errorf("the JUnit report: %v, %d cases; want 41", err, len(report.Cases))
	}
	for _, c := range report.Cases {
		bad := slices.Contains([]string{"straight", "slant", "circle", "one-gap", "front"}, c.Name)
		if want := map[bool]int{true: 1}[bad]; len(c.Errors) != want || len(c.Limits) != 0 {
			t.Errorf("the JUnit report: %s has %d errors and %d failures; want %d and 0", c.Name, len(c.Errors), len(c.Limits), want)
		}
	}
	if _, err := exec.LookPath("xmllint"); err != nil {
		outside(t, "xmllint (Debian libxml2-utils)")
	}
	if out, err := exec.Command("xmllint", "--noout", "--schema", "suite/testdata/junit.xsd", filepath.Join(dir, "j.xml")).CombinedOutput(); err != nil {
		t.Errorf("the JUnit report: %v: %s", err, out)
	}
	if said := string(readFile(t, dir, "stderr-closed-form-circle.txt")); said != "it broke\n" {
		t.Errorf("standard error is kept as %q", said)
	}
}

// Our controller with one line broken is told from the whole one, by the classes' scores and
// by the baseline.
func TestSuiteNoticesMutants(t *testing.T) {
	mutants := campaign.Times(0, 2, 5)
	if mutants == 0 {
		t.Skip("LIFTBENCH_CAMPAIGN=ci runs two, full all: each is a program that is built")
	}
	dir := t.TempDir()
	base := filepath.Join(dir, "base.json")
	status, whole, stderr := command("", "suite", "--own", "--baseline", base, "--update")
	if status != 0 {
		t.Fatal(stderr)
	}
	line := func(table, class string) string {
		for _, l := range strings.Split(table, "\n") {
			if strings.HasPrefix(l, class+" ") {
				return l
			}
		}
		return ""
	}
	for _, m := range []struct{ name, file, old, new string }{
		{"the valve's dead time is forgotten in lifts", "sections/lead.go", "return deadNs + s.StrokeNs\n", "return s.StrokeNs\n"},
		{"even is a third", "sections/edgerule/edgerule.go", "\treturn 0.5\n", "\treturn 0.34\n"},
		{"the antenna is taken for the axle", "sections/controller.go", "c.s.Estimator.Antenna = m.Antenna()", "c.s.Estimator.Antenna = motion.Antenna{}"},
		{"the pump feeds all at once", "sections/stroke.go", "rate := 1 / l.Stretch(n)\n", "rate := 1 / l.Stretch(min(n, 1))\n"},
		{"the fail-safe does nothing", "sections/lost.go", "return c.raiseAll(nowNs, c.s.LostReason, out)", "return out"},
	}[:mutants] {
		t.Run(m.name, func(t *testing.T) {
			path, err := filepath.Abs("../../" + m.file)
			if err != nil {
				t.Fatal(err)
			}
			source := string(readFile(t, path))
			if strings.Count(source, m.old) != 1 {
				t.Fatalf("%s holds %d times: %s", m.file, strings.Count(source, m.old), m.old)
			}
			changed := filepath.Join(dir, "mutant.go")
			if err := os.WriteFile(changed, []byte(strings.Replace(source, m.old, m.new, 1)), 0o644); err != nil {
				t.Fatal(err)
			}
			overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{path: changed}})
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "overlay.json"), overlay, 0o644); err != nil {
				t.Fatal(err)
			}
			program := filepath.Join(dir, "mutant")
			if out, err := exec.Command("go", "build", "-overlay", filepath.Join(dir, "overlay.json"), "-o", program, "./"+controllers+"own").CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			status, stdout, stderr := command("", "suite", "--exec", program+" $LIFTBENCH_SCENARIO", "--baseline", base)
			var worse []string
			classes := 0
			for _, l := range regexp.MustCompile(`(?m)^(?:  )?([a-z-]+): worse than the baseline, (.*)$`).FindAllStringSubmatch(stderr, -1) {
				worse = append(worse, l[1]+" "+l[2])
			}
			for _, class := range []string{"closed-form", "everyday", "hard", "faults", "long"} {
				if line(stdout, class) != line(whole, class) {
					classes++
				}
			}
			t.Logf("%d classes differ; worse: %s", classes, strings.Join(worse, "; "))
			if status != 1 || len(worse) == 0 || classes == 0 {
				t.Errorf("exit status %d; not noticed:\n%s", status, stdout)
			}
		})
	}
}
