package spreadsheet

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
)

const table = "zone,late_m,when,note\nRübenfeld,-0.125,2026-05-12T08:00:07.54Z,\"a, b; c\"\nbody,1.5e-07,12,1.2.3\n"

func TestRewrite(t *testing.T) {
	for lang, want := range map[language.Language]string{
		language.English: "\ufeffzone,late_m,when,note\r\nRübenfeld,-0.125,2026-05-12T08:00:07.54Z,\"a, b; c\"\r\nbody,1.5e-07,12,1.2.3\r\n",
		language.German:  "\ufeffzone;late_m;when;note\r\nRübenfeld;-0,125;2026-05-12T08:00:07.54Z;\"a, b; c\"\r\nbody;1,5e-07;12;1.2.3\r\n",
	} {
		var out strings.Builder
		if err := Rewrite(&out, strings.NewReader(table), lang); err != nil || out.String() != want {
			t.Errorf("%s: %v\n%q\nwant\n%q", lang, err, out.String(), want)
		}
	}
}

// Python's csv and locale-free parsing, which share nothing with this package, find the
// columns and the numbers again.
func TestAgainstPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: python3")
		}
		t.Skip("missing: python3")
	}
	var out strings.Builder
	if err := Rewrite(&out, strings.NewReader(table), language.French); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "t.csv")
	if err := os.WriteFile(name, []byte(out.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	const read = `import csv, sys
rows = list(csv.reader(open(sys.argv[1], encoding="utf-8-sig", newline=""), delimiter=";"))
print(len(rows), {len(r) for r in rows}, rows[1][0], float(rows[1][1].replace(",", ".")), float(rows[2][1].replace(",", ".")), rows[1][3])`
	got, err := exec.Command(python, "-c", read, name).CombinedOutput()
	if want := "3 {4} Rübenfeld -0.125 1.5e-07 a, b; c\n"; err != nil || string(got) != want {
		t.Errorf("%v: %s; want %s", err, got, want)
	}
}

func FuzzRewrite(f *testing.F) {
	f.Add(table)
	f.Add("\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		var out strings.Builder
		_ = Rewrite(&out, strings.NewReader(text), language.German) // of what is no CSV an error
	})
}
