// The command line as a user types it: status, errors, help, examples.

package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/recording"
	"liftbench/replay/tape"
	"liftbench/sim/campaign"
)

var update = flag.Bool("update", false, "rewrite the golden files under testdata")

// command runs one command line in process.
func command(stdin string, args ...string) (status int, stdout, stderr string) {
	var out, errs bytes.Buffer
	status = execute(args, strings.NewReader(stdin), &out, &errs)
	return status, out.String(), errs.String()
}

// golden compares got with a file under testdata, or rewrites it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; go test ./cmd/liftbench -update writes it", err)
	}
	if got == string(want) {
		return
	}
	g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	for i := range max(len(g), len(w)) {
		a, b := "(end)", "(end)"
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			t.Errorf("%s:%d\nwant %s\n got %s", path, i+1, a, b)
		}
	}
	t.Log("an intended change: go test ./cmd/liftbench -update")
}

// outside says that a check cannot run without something from outside: it is
// skipped, or fails where everything is required.
func outside(t *testing.T, missing string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatalf("missing: %s", missing)
	}
	t.Skipf("missing: %s", missing)
}

// onTheClock skips a test that real time decides, which a busy machine may miss:
// LIFTBENCH_REALTIME=1 runs it.
func onTheClock(t *testing.T) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REALTIME") != "1" {
		t.Skip("real time decides it; LIFTBENCH_REALTIME=1 runs it")
	}
}

func TestExitStatus(t *testing.T) {
	for _, c := range []struct {
		name string
		err  error
		want int
	}{
		{"done", nil, 0},
		{"limit", &failure.Limit{Exceeded: []string{"missed: found 3; the limit is 0"}}, 1},
		{"limit, wrapped", fmt.Errorf("run: %w", &failure.Limit{Exceeded: []string{"a"}}), 1},
		{"configuration", &failure.Setting{File: "m.yaml", Line: 1, Col: 1, Msg: "x"}, 2},
		{"file", &failure.Input{File: "m.yaml", Msg: "x"}, 2},
		{"command line", &failure.Usage{Msg: "x"}, 2},
		{"anything else", errors.New("x"), 2},
	} {
		if got := failure.ExitStatus(c.err); got != c.want {
			t.Errorf("%s: exit status %d, want %d", c.name, got, c.want)
		}
	}
}

func TestCommandLineErrors(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for name, content := range map[string]string{"m.yaml": demoText(t, "machine.yaml"), "s.yaml": demoText(t, "scenario.yaml"), "y.yaml": demoText(t, "study.yaml"), "h.yaml": demoText(t, "sheet.yaml"), "empty.yaml": "", "comment.yaml": "# nothing\n", "log.nmea": "$GPGGA,,,,,,0,,,,,,,,*66\n"} {
		if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		args string
		want string // standard error without "liftbench: "
	}{
		{"wash", `unknown command "wash"; expected one of: bench, check, completion, diagnose, drive, export, fixes, help, import, live, ports, run, serve, spreadsheet, suite, sweep, tape, tune, zones`},
		{"rnu", `unknown command "rnu"; did you mean "run"? expected one of: bench, check, completion, diagnose, drive, export, fixes, help, import, live, ports, run, serve, spreadsheet, suite, sweep, tape, tune, zones`},
		{"help filez", `unknown help topic "filez"; did you mean "files"? expected one of: bench, cab, check, completion, diagnose, drive, export, files, fixes, help, import, install, live, ports, run, serve, spreadsheet, suite, sweep, tape, tune, zones`},
		{"help files machin", `unknown help topic "files machin"; did you mean "machine"? expected one of: field, machine, scenario, sheet, states, study`},
		{"run m.yaml", "m.yaml: is a machine file; expected a scenario file. liftbench check --machine m.yaml prints its set-up sheet; to drive it, name it under machine: in a scenario, or give --machine m.yaml beside a scenario or a log"},
		{"check y.yaml", "y.yaml: is a study file; expected a scenario file. liftbench sweep y.yaml drives it"},
		{"check --machine s.yaml", "s.yaml: is a scenario file; expected a machine file. liftbench run s.yaml drives it"},
		{"sweep --out o s.yaml", "s.yaml: is a scenario file; expected a study file. liftbench run s.yaml drives it"},
		{"run --blue", "unknown flag: --blue; liftbench run --help lists the flags"},
		{"run --headland wide", "--headland wide: expected a number; liftbench run --help lists the flags"},
		{"tune --drives 2.5", "--drives 2.5: expected a whole number; liftbench tune --help lists the flags"},
		{"live --sender 28", "--sender: --in - gives sentences, which have no address; expected it with --in can:INTERFACE or candump:PORT"},
		{"live --in candump:- --sender 256", "--sender 256: expected an address on the bus, 0 to 255"},
		{"live --in candump:- --task TSK1", "--task and --device choose from task data; live takes what a receiver says"},
		{"live --record-sync 3", "--record-sync 3: expected a time with its unit, as 500ms or 2s; liftbench live --help lists the flags"},
		{"run a.yaml b.yaml", "liftbench run: found 2 arguments; expected one at most: [SCENARIO or LOG]"},
		{"ports COM3", `liftbench ports: found "COM3"; expected no argument`},
		{"spreadsheet", "liftbench spreadsheet: found no argument; expected CSV files, as results/events.csv"},
		{"spreadsheet log.nmea", "log.nmea is no CSV file; expected a name that ends in .csv"},
		{"spreadsheet none.csv", "none.csv: no such file; expected a CSV file"},
		{"spreadsheet --lang it none.csv", `--lang: found "it"; expected en, de or fr`},
		{"sweep merge", "liftbench sweep merge: found no argument; expected the directories of all parts"},
		{"fixes", "liftbench fixes: found 0 arguments; expected LOG, or - for standard input"},
		{"fixes --format xml log.nmea", "--format xml: expected json or csv"},
		{"check missing.yaml", "missing.yaml: no such file; expected a scenario file"},
		{"check --machine .", ".: is a directory; expected a machine file"},
		{"check --machine empty.yaml", "empty.yaml: is empty; expected a machine"},
		{"check --machine comment.yaml", "comment.yaml: is empty; expected a machine"},
		{"check log.nmea", "log.nmea is no scenario file; expected a name that ends in .yaml"},
		{"check --schema field", "--schema field: expected machine, scenario, study or sheet"},
		{"check --speeds 8,-1", "--speeds: found \"-1\"; expected speeds above 0 up to 36 km/h as 4,6,8"},
		{"check --speeds NaN", "--speeds: found \"NaN\"; expected speeds above 0 up to 36 km/h as 4,6,8"},
		{"check --steering-error-cm NaN", "--steering-error-cm NaN: expected 0 to 100 cm"},
		{"check --headland -3", "--headland -3: expected a width above 0 up to 500 m"},
		{"check --headland NaN", "--headland NaN: expected a width above 0 up to 500 m"},
		{"run --row-bearing 400", "--row-bearing 400: expected -360 to 360 degrees"},
		{"run log.nmea", "log.nmea is taken for a log, as its name does not end in .yaml; expected --machine and --field with it"},
		{"run missing.nmea", "missing.nmea: no such file; expected a scenario file, or a recorded day: " + recording.Expected},
		{"run .", ".: is a directory; expected a scenario file, or a recorded day: " + recording.Expected},
		{"run --states s.csv", "--states s.csv: recorded work states go with the log of the same day; expected LOG, or a scenario with log"},
		{"tune --lang it", "--lang: found \"it\"; expected en, de or fr"},
		{"run --lang it", "--lang: found \"it\"; expected en, de or fr"},
		{"run --sheet-file s.yaml", "--sheet-file: expected it with --sheet"},
		{"run --sheet s.html --sheet-file s.yaml", "s.yaml: is a scenario file; expected a sheet file. liftbench run s.yaml drives it"},
		{"run --sheet s.html --sheet-file none.yaml", "none.yaml: no such file; expected a sheet file"},
		{"diagnose --sheet s.html --sheet-file m.yaml", "m.yaml: is a machine file; expected a sheet file. liftbench check --machine m.yaml prints its set-up sheet; to drive it, name it under machine: in a scenario, or give --machine m.yaml beside a scenario or a log"},
		{"bench --to tcp-listen::0 --sheet s.html --sheet-file y.yaml", "y.yaml: is a study file; expected a sheet file. liftbench sweep y.yaml drives it"},
		{"check --machine h.yaml", "h.yaml: is a sheet file; expected a machine file. liftbench run --sheet sheet.html --sheet-file h.yaml prints it"},
		{"run --headland 12", "demo/field.geojson: the file already has zones; drop --headland"},
		{"run --row-bearing 12", "demo/field.geojson: every body zone of the file has its row_bearing_deg; drop --row-bearing"},
		{"drive log.nmea", "log.nmea is no scenario file; expected a name that ends in .yaml"},
		{"drive --out candump=no/where.log", "no/where.log: cannot be written as a file in a directory that exists: its directory does not exist"},
		{"drive --out no/where.nmea", "no/where.nmea: cannot be written as a file in a directory that exists: its directory does not exist"},
		{"tune --out log.nmea", "log.nmea: cannot be written as a directory for the results: a file stands where a directory is expected"},
		{"bench --to tcp-listen::0 --out log.nmea", "log.nmea: cannot be written as a directory for the results: a file stands where a directory is expected"},
		{"tape missing.csv", "missing.csv: no such file; expected a file of readings (CSV)"},
		{"tape", "standard input: is empty; expected a heading line with " + tape.Columns},
		{"tape log.nmea", "log.nmea:1: found the columns $GPGGA, , , , , , 0, , , , , , , , *66; expected " + tape.Columns},
		{"tape --want NaN", "--want NaN: expected 5 to 1000 ms"},
		{"tape --slow 8 --fast 8", "--slow 8 --fast 8: expected speeds at least 1 km/h apart, as the farther apart they are the fewer passes it takes"},
		{"tape --both-ways", "--both-ways: expected it with --plan"},
		{"tape --plan s.yaml", "--plan: found s.yaml beside it; expected it alone, before anything is measured"},
		{"tape --out log.nmea", "log.nmea: cannot be written as a directory for the results: a file stands where a directory is expected"},
		{"run --out log.nmea", "log.nmea: cannot be written as a directory for the results: a file stands where a directory is expected"},
	} {
		status, stdout, stderr := command("", strings.Fields(c.args)...)
		if status != 2 {
			t.Errorf("%s: exit status %d, want 2", c.args, status)
		}
		if want := "liftbench: " + c.want + "\n"; stderr != want {
			t.Errorf("%s:\n got %swant %s", c.args, stderr, want)
		}
		if stdout != "" {
			t.Errorf("%s: standard output %q, want nothing", c.args, stdout)
		}
	}
}

// Who drives a machine by figures of the bench, or measures behind it, reads first what crushes.
func TestHelpIsSafe(t *testing.T) {
	for _, name := range []string{"run", "tune", "live", "tape"} {
		status, stdout, _ := command("", name, "--help")
		words := []string{"Nobody stands at the flag line, or between a unit and the border", "engine off, key out", "Oil under pressure goes through skin"}
		if name != "tape" { // which speaks the language that it is told
			words = append(words, "Niemand steht an der Fähnchenlinie", "Personne à la ligne de jalons")
		}
		for _, want := range words {
			if status != 0 || !strings.Contains(stdout, want) {
				t.Errorf("%s --help: exit status %d; want %q in it", name, status, want)
			}
		}
	}
}

// TestExamplesRun runs every example of every command's help, in order, in one
// directory; those of tune with LIFTBENCH_CAMPAIGN=ci alone.
func TestExamplesRun(t *testing.T) {
	t.Chdir(t.TempDir())
	var examples []string
	var collect func(c *cobra.Command)
	collect = func(c *cobra.Command) {
		for _, line := range strings.Split(c.Example, "\n") {
			if line = strings.TrimSpace(line); line != "" && !slices.Contains(examples, line) {
				examples = append(examples, line)
			}
		}
		for _, sub := range c.Commands() {
			collect(sub)
		}
	}
	collect(newRootCommand())
	if len(examples) < 10 {
		t.Fatalf("found %d examples", len(examples))
	}
	for _, e := range examples {
		words := strings.Fields(e)
		if words[0] != "liftbench" {
			t.Errorf("%q does not begin with liftbench", e)
			continue
		}
		if words[1] == "serve" || words[1] == "bench" {
			continue // answers until it is ended; waits for a controller
		}
		if words[1] == "tune" && campaign.Times(0, 1, 1) == 0 {
			continue // half of the whole test's work
		}
		if file := map[string]string{"sweep": "study.yaml", "tune": "scenario.yaml"}[words[1]]; file != "" {
			// On drives of half a minute; the demo's take minutes of work.
			if err := os.MkdirAll("beets", 0o777); err != nil {
				t.Fatal(err)
			}
			writeStudy(t, "beets", speedsAndNoise, "seeds: 2\n")
			if !strings.Contains(e, "beets/") && words[len(words)-1] != "part2" {
				words = append(words, "beets/"+file)
			}
		}
		if status, _, stderr := command("", words[1:]...); status != 0 {
			t.Errorf("%s: exit status %d: %s", e, status, stderr)
		}
	}
}

// TestDemoIsNotWrittenOverWork: what somebody put into the demo's files stays.
func TestDemoIsNotWrittenOverWork(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, args := range []string{"check --write-demo beets", "check --write-demo beets", "diagnose --write-demo day"} {
		if status, _, stderr := command("", strings.Fields(args)...); status != 0 {
			t.Fatalf("%s: %s", args, stderr)
		}
	}
	const mine = "name: mine\n"
	for _, c := range []struct{ args, file string }{
		{"check --write-demo beets", "beets/scenario.yaml"},
		{"diagnose --write-demo day", "day/machine.yaml"},
	} {
		if err := os.WriteFile(c.file, []byte(mine), 0o644); err != nil {
			t.Fatal(err)
		}
		status, _, stderr := command("", strings.Fields(c.args)...)
		if want := "liftbench: " + c.file + ": is there already, with another content; expected "; status != 2 || !strings.HasPrefix(stderr, want) {
			t.Errorf("%s: exit status %d, %q, want %q", c.args, status, stderr, want)
		}
		if got, err := os.ReadFile(c.file); err != nil || string(got) != mine {
			t.Errorf("%s: %s is now %.40q, %v", c.args, c.file, got, err)
		}
	}
}

func TestHelpOpensWithThePurpose(t *testing.T) {
	status, stdout, stderr := command("")
	if status != 0 || stderr != "" {
		t.Fatalf("exit status %d, %s", status, stderr)
	}
	if want := "liftbench finds the timing of a hoe's section lift"; !strings.HasPrefix(stdout, want) {
		t.Errorf("help opens with %.60q, want %q", stdout, want)
	}
	for _, c := range []string{"diagnose", "run", "live", "bench", "sweep", "tune", "drive", "fixes", "check", "completion"} {
		if !strings.Contains(stdout, "\n  "+c+" ") {
			t.Errorf("help does not list %s", c)
		}
	}
}

func TestVersion(t *testing.T) {
	status, stdout, _ := command("", "--version")
	if status != 0 || !strings.HasPrefix(stdout, "liftbench ") {
		t.Errorf("exit status %d, %q", status, stdout)
	}
}

func TestCompletion(t *testing.T) {
	if status, stdout, _ := command("", "completion", "bash"); status != 0 || !strings.Contains(stdout, "liftbench") {
		t.Errorf("exit status %d", status)
	}
	if _, stdout, _ := command("", "__complete", "fixes", "--format", ""); !strings.HasPrefix(stdout, "json\ncsv\n") {
		t.Errorf("--format completes as %q", stdout)
	}
}

// TestBadInputToRun: one error of one line that names the file, and exit
// status 2.
func TestBadInputToRun(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, args := range [][]string{{"check", "--write-demo", "."}, {"drive", "--out", "b.nmea"}, {"drive", "--out", "b.nmea.gz"}} {
		if status, _, stderr := command("", args...); status != 0 {
			t.Fatal(stderr)
		}
	}
	whole, err := os.ReadFile("b.nmea.gz")
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]string{
		"cut.nmea.gz":       string(whole[:20]),
		"far.geojson":       `{"type":"Polygon","coordinates":[[[10.14,52.06],[10.15,52.06],[10.15,52.07],[10.14,52.06]]]}`,
		"exchanged.geojson": `{"type":"Polygon","coordinates":[[[52.06,11.14],[52.06,11.15],[52.07,11.15],[52.06,11.14]]]}`,
		"bow.geojson":       `{"type":"Polygon","coordinates":[[[11.14,52.06],[11.15,52.07],[11.15,52.06],[11.14,52.07],[11.14,52.06]]]}`,
		"half.geojson":      `{"type":"Polygon"`,
		"point.geojson":     `{"type":"Point","coordinates":[1,2]}`,
		"empty.geojson":     "",
		"head.csv":          "time,section,actual\n",
		"2020.csv":          "time,section,actual\n2020-01-02T22:54:30.000Z,1,1\n",
	} {
		if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct{ field, states, log, want string }{
		{"far.geojson", "", "b.nmea", "b.nmea: the drive comes no nearer to the field than "},
		{"bow.geojson", "", "b.nmea", "bow.geojson: "},
		{"half.geojson", "", "b.nmea", "half.geojson: "},
		{"point.geojson", "", "b.nmea", "point.geojson: "},
		{"empty.geojson", "", "b.nmea", "empty.geojson: "},
		{"none.geojson", "", "b.nmea", "none.geojson: no such file; expected a field file (GeoJSON, KML, KMZ, GPX or a shapefile)"},
		{"field.geojson", "", "none.nmea", "none.nmea: no such file; expected a log of NMEA sentences"},
		{"field.geojson", "", "cut.nmea.gz", "cut.nmea.gz: gzip data is cut short after line 0"},
		{"field.geojson", "none.csv", "b.nmea", "none.csv: no such file; expected recorded work states (CSV)"},
		{"field.geojson", "head.csv", "b.nmea", "head.csv: "},
		{"field.geojson", "2020.csv", "b.nmea", "2020.csv: the work states are of another drive: they are from 2020-01-02T22:54:30Z"},
	} {
		args := []string{"run", "--machine", "machine.yaml", "--field", c.field, c.log}
		if c.states != "" {
			args = append(args, "--states", c.states)
		}
		status, stdout, stderr := command("", args...)
		if status != 2 || stdout != "" || !strings.HasPrefix(stderr, "liftbench: "+c.want) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%v: exit status %d, %q, want %q", args, status, stderr, c.want)
		}
	}
	status, _, stderr := command("", "run", "--machine", "machine.yaml", "--field", "exchanged.geojson", "b.nmea")
	if want := "): latitude and longitude of the field are exchanged; GeoJSON has the longitude first\n"; status != 2 || !strings.HasSuffix(stderr, want) {
		t.Errorf("exit status %d, %q; want %q at the end", status, stderr, want)
	}
}

// No text given on the command line may be empty: every flag that takes a text,
// and arguments.
func TestEmptyText(t *testing.T) {
	tried := 0
	var try func(c *cobra.Command)
	try = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			try(sub)
		}
		path := strings.Fields(c.CommandPath())[1:]
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if kind := f.Value.Type(); kind != "string" && kind != "stringArray" {
				return
			}
			tried++
			args := append(slices.Clone(path), "--"+f.Name, "")
			if c.Name() == "merge" || c.Name() == "fixes" || c.Name() == "zones" || c.Name() == "import" || c.Name() == "spreadsheet" {
				args = append(args, "somewhere")
			}
			status, stdout, stderr := command("", args...)
			if want := fmt.Sprintf("liftbench: --%s \"\": found nothing; expected ", f.Name); status != 2 || stdout != "" || !strings.HasPrefix(stderr, want) {
				t.Errorf("%q: status %d, %q, %q; want %s", args, status, stdout, stderr, want)
			}
		})
	}
	try(newRootCommand())
	if tried < 20 {
		t.Errorf("%d flags tried; want all", tried)
	}
	if status, _, stderr := command("", "run", ""); status != 2 || stderr != "liftbench: liftbench run: found an empty argument; expected the name of a file\n" {
		t.Errorf("run \"\": status %d, %q", status, stderr)
	}
}

// Where results cannot be kept they are printed all the same.
func TestResultsArePrintedAnyway(t *testing.T) {
	dir := t.TempDir()
	study := writeStudy(t, dir, "  - {key: drive.speed_kmh, values: [8, 12]}\n", "seeds: 1\n")
	scenario := filepath.Join(dir, "scenario.yaml")
	for _, c := range []struct {
		file string // a directory stands in its place
		args []string
		want string // of standard output
	}{
		{"summary.json", []string{"run", scenario}, "\nLifts "},
		{"diagnosis.json", []string{"diagnose"}, "Lifts"},
		{"results.csv", []string{"sweep", study}, "drive.speed_kmh"},
		{"tune.json", []string{"tune", "--drives", "2", scenario}, "Cost: "},
	} {
		out := filepath.Join(t.TempDir(), "out")
		if err := os.MkdirAll(filepath.Join(out, c.file), 0o777); err != nil {
			t.Fatal(err)
		}
		args := append([]string{c.args[0], "--out", out}, c.args[1:]...)
		status, stdout, stderr := command("", args...)
		if status != 2 || !strings.Contains(stdout, c.want) || !strings.Contains(stderr, c.file+": cannot be written as a file: a directory stands there") {
			t.Errorf("%q: status %d, %q, %q", args, status, stdout, stderr)
		}
	}
}

// Long work does not begin where its results could not be kept.
func TestUnwritableIsToldFirst(t *testing.T) {
	const dir = "/proc/self" // is there, and nobody can make a file in it
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		t.Skip("no " + dir)
	}
	for _, c := range []string{"tune", "sweep", "run", "diagnose", "bench --to tcp-listen::0"} {
		status, stdout, stderr := command("", append(strings.Fields(c), "--out", dir)...)
		if status != 2 || stdout != "" || !strings.Contains(stderr, dir+": cannot be written as a directory for the results") {
			t.Errorf("%s: status %d, %q, %q", c, status, stdout, stderr)
		}
	}
}
