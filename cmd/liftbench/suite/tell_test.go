// Reports as others read them.

package suite

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// made are results of every kind.
func made() []Result {
	return []Result{
		{Name: "closed-form/straight", Class: "closed-form", Title: "good", Chances: "a", PlaceMm: []int{1, -2, 30, 4}, Sections: []int{1, 2, 1, 2}, Crossings: []int{2, 2}, ToWorkDm2: 100_000, LostDm2: 10, FailSafeMs: -1},
		{Name: "hard/ditches", Class: "hard", Title: "late", Chances: "b", PlaceMm: []int{400, 2000}, Sections: []int{1, 2}, Crossings: []int{2}, Missed: 1, Extra: 3, ToWorkDm2: 100_000, FailSafeMs: -2,
			Exceeded: []string{"missed: found 1; the limit is 0", "spurious: found 3; the limit is 0"}},
		{Name: "faults/silence", Class: "faults", Title: `"quoted" <b> & | \x00`, Failed: "./x: ended without\x01 an answer ]]> for 2026", stderr: []byte("it \xff broke\x1b[1m\n"), FailSafeMs: -1},
	}
}

func outside(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if errors.Is(err, exec.ErrNotFound) || strings.Contains(string(out), "promtool: not found") || strings.Contains(string(out), "No module named") {
		missing := name + " " + args[0] + " (Debian python3-junitparser, libxml2-utils, prometheus)"
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: ", missing)
		}
		t.Skip("missing: ", missing)
	}
	if err != nil {
		t.Fatalf("%s: %v: %s", name, err, out)
	}
	return string(out)
}

func written(t *testing.T, name string, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestJUnitByOthers(t *testing.T) {
	before := map[string]*Result{"closed-form/straight": {Chances: "a", PlaceMm: []int{0, 0, 0, 0}, Sections: []int{1, 2, 1, 2}, Crossings: []int{2, 2}}}
	list := groups(made(), before, 0)
	path := written(t, "suite.xml", func(w io.Writer) error { return WriteJUnit(w, list) })
	t.Run("schema", func(t *testing.T) { outside(t, "xmllint", "--noout", "--schema", "testdata/junit.xsd", path) })
	t.Run("parser", func(t *testing.T) {
		got := outside(t, "/usr/bin/python3", "-c", `
import sys, junitparser
x = junitparser.JUnitXml.fromfile(sys.argv[1])
print(x.tests, x.failures, x.errors)
for s in x:
    for c in s:
        print(s.name, c.classname, c.name, [type(r).__name__ + ": " + r.message for r in c.result])
`, path)
		for _, want := range []string{
			"5 1 1\n", "closed-form suite.closed-form straight []\n", "hard suite.hard ditches ['Failure: missed: found 1; the limit is 0']\n",
			"faults suite.faults silence ['Error: ./x: ended without\ufffd an answer ]]> for 2026']\n", "closed-form suite.closed-form beside the baseline []\n",
		} {
			if !strings.Contains(got, want) {
				t.Errorf("no %q in\n%s", want, got)
			}
		}
	})
}

func TestMetricsByOthers(t *testing.T) {
	path := written(t, "suite.prom", func(w io.Writer) error { return WriteMetrics(w, groups(made(), nil, 0)) })
	outside(t, "sh", "-c", "promtool check metrics < "+path)
}

func TestMarkdown(t *testing.T) {
	var b bytes.Buffer
	if err := WriteMarkdown(&b, "./my|controller", groups(made(), map[string]*Result{}, 0)); err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(b.String(), "\n") {
		if n := strings.Count(line, "|") - strings.Count(line, `\|`); n != 0 && n != 10 {
			t.Errorf("line %d has %d bars: %s", i+1, n, line)
		}
	}
	if !strings.Contains(b.String(), `./my\|controller`) || !strings.Contains(b.String(), "- `hard/ditches`: missed: found 1; the limit is 0\n") {
		t.Error(b.String())
	}
}

func TestTotal(t *testing.T) {
	s := Total(made())
	if s.Drives != 3 || s.Failed != 1 || s.Exceeded != 1 || s.Moves != 6 || s.Within != 4 || s.Missed != 1 || s.Extra != 3 || s.WorstMm != 2000 || s.P95Mm != 2000 || s.FailSafeMs != -2 {
		t.Errorf("%+v", s)
	}
	if want := 4.0 / 9; s.Share() != want || s.Low > want || s.High < want {
		t.Errorf("share %g, %g to %g; want %g", s.Share(), s.Low, s.High, want)
	}
	if want := 10.0 / 200_000 * 1e4; s.LostM2PerHa != want {
		t.Errorf("lost %g m²/ha; want %g", s.LostM2PerHa, want)
	}
}
