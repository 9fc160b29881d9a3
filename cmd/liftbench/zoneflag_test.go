// Work states in a place's time, as a spreadsheet writes them.

package main

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"
	"time"
)

// The bad day's states with semicolons, decimal commas, the words of a German spreadsheet and the time of
// Berlin, one file with a row for each section and one with a column for each: diagnose says the same of them.
func TestSpreadsheetStates(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, stderr := command("", "diagnose", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	data, err := os.ReadFile("day.states.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
	if err != nil || strings.Join(rows[0], ",") != "time,section,setpoint,actual" {
		t.Fatal(rows[0], err)
	}
	long, wide := "\xef\xbb\xbfSection;Actual;Setpoint;Time\r\n", "\xef\xbb\xbfdate;time"
	for _, k := range []string{"1", "2", "3", "4", "5", "6"} {
		wide += ";Section " + k + " setpoint;Section " + k
	}
	wide += "\r\n"
	words := map[string]string{"0": "FALSCH", "1": "WAHR", "": ""}
	for _, row := range rows[1:] {
		at, err := time.Parse(time.RFC3339Nano, row[0])
		if err != nil {
			t.Fatal(err)
		}
		// Summer time: two hours ahead of UTC (the European Union's directive 2000/84/EC).
		local := at.UTC().Add(2 * time.Hour).Format("02.01.2006 15:04:05.000000")
		local = local[:len(local)-7] + "," + local[len(local)-6:]
		long += row[1] + ";" + words[row[3]] + ";" + words[row[2]] + ";" + local + "\r\n"
		cells := make([]string, 12)
		k := 2 * int(row[1][0]-'1')
		cells[k], cells[k+1] = words[row[2]], words[row[3]]
		wide += strings.Replace(local, " ", ";", 1) + ";" + strings.Join(cells, ";") + "\r\n"
	}
	scenario, err := os.ReadFile("day.yaml")
	if err != nil {
		t.Fatal(err)
	}
	zoned, _ := edit(t, string(scenario), "states: day.states.csv", "states: long.csv\nstates_zone: Europe/Berlin")
	for name, text := range map[string]string{"long.csv": long, "wide.csv": wide, "zoned.yaml": zoned} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	day := func(states string, more ...string) []string {
		return append([]string{"diagnose", "--machine", "machine.yaml", "--field", "field.geojson", "--states", states, "day.nmea.gz"}, more...)
	}
	status, want, stderr := command("", day("day.states.csv")...)
	if status != 0 {
		t.Fatal(stderr)
	}
	for _, args := range [][]string{
		day("long.csv", "--zone", "Europe/Berlin"), day("wide.csv", "--zone", "+02:00"), {"diagnose", "zoned.yaml"},
	} {
		status, got, stderr := command("", args...)
		if args[1] == "zoned.yaml" {
			_, want, _ = command("", "diagnose", "day.yaml")
		}
		if status != 0 || got == "" || plainAnswer(got) != plainAnswer(want) {
			t.Errorf("%v: status %d, %s\n%s\nwant\n%s", args, status, stderr, got, want)
		}
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{day("long.csv"), `has no offset from UTC; expected RFC 3339, like 2031-05-09T14:03:07.250Z, or give the clock's zone, as Europe/Berlin or +02:00 (--zone)`},
		{day("long.csv", "--zone", "Europe/Nowhere"), `--zone: found "Europe/Nowhere"; expected a zone, like Europe/Berlin, or an offset from UTC, like +02:00`},
		{day("long.csv", "--zone", "Local"), `--zone: found "Local"; expected a zone`},
		{[]string{"run", "--zone", "+02:00", "--machine", "machine.yaml", "--field", "field.geojson", "day.nmea.gz"}, "--zone +02:00: expected it with --states, whose times it is for"},
		{[]string{"zones", "--zone", "+02:00", "day.nmea.gz"}, "--zone +02:00: expected it with --states, whose times it is for"},
	} {
		if status, _, stderr := command("", c.args...); status != 2 || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: status %d, %s\nwant %s", c.args, status, stderr, c.want)
		}
	}
}

// plainAnswer is what diagnose says, without the names of files and the command.
func plainAnswer(text string) string {
	for _, name := range []string{"long.csv", "wide.csv", "zoned.yaml", "day.states.csv", "day.yaml", " --zone Europe/Berlin", " --zone +02:00"} {
		text = strings.ReplaceAll(text, name, "")
	}
	return text
}
