// Work states as spreadsheets write them, beside files that Python's csv and zoneinfo write.

package states

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the same zones on every machine

	"liftbench/sections"
	"liftbench/sim/campaign"
)

// pythonScript draws days of work states and writes each as a file in some dialect. It says what the file
// means: rows of instants in µs, section from 0, setpoint, state.
const pythonScript = `
import sys, json, csv, io, random
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo
count, seed = int(sys.argv[1]), int(sys.argv[2])
r = random.Random(seed)
zones = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "+02:00", "-03:30", ""]
# The clocks go back in these nights: Berlin 01:00 UTC, New York 06:00 UTC, Lord Howe 15:00 UTC.
nights = {"Europe/Berlin": datetime(2026, 10, 25, 1), "America/New_York": datetime(2026, 11, 1, 6), "Australia/Lord_Howe": datetime(2026, 4, 4, 15)}
out = []
for k in range(count):
    name = r.choice(zones)
    if name[:1] in ("+", "-"):
        sign = -1 if name[0] == "-" else 1
        zone = timezone(sign * timedelta(hours=int(name[1:3]), minutes=int(name[4:6])))
    else:
        zone = ZoneInfo(name or "UTC")
    at = datetime(2026, 5, 12, 6, tzinfo=timezone.utc)
    if name in nights and r.random() < 0.6:
        at = nights[name].replace(tzinfo=timezone.utc) - timedelta(minutes=r.randint(20, 80))
    n = r.randint(1, 9)
    wide = r.random() < 0.5
    comma, point = r.choice([(",", "."), (";", ","), (";", "."), ("\t", ","), (",", ",")])
    form = r.choice(["%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%d.%m.%Y %H:%M:%S"])
    words = r.choice([("0", "1"), ("off", "on"), ("FALSE", "TRUE"), ("Up", "In work"), ("FALSCH", "WAHR"), ("0" + point + "0", "1" + point + "0")])
    kinds = r.choice([["setpoint"], ["actual"], ["setpoint", "actual"]])
    split = r.random() < 0.3 and name != ""
    heads = ["date", "time"] if split else ["time"]
    label = r.choice(["section%d", "Section %d", "SECTION_%d", "Sect. %d"])
    for kind in kinds:
        if wide:
            for i in range(n):
                heads.append(r.choice([kind + " " + label, label + " " + kind]) % (i + 1) if kind == "setpoint" or r.random() < 0.5 else label % (i + 1))
        else:
            heads.append(kind.capitalize() if r.random() < 0.5 else kind)
    if not wide: heads.append("Section")
    heads.append("note; and " + comma)
    order = list(range(len(heads)))
    r.shuffle(order)
    rows, means = [], []
    state = {}
    for step in range(r.randint(3, 60)):
        at += timedelta(milliseconds=r.choice([50, 200, 1000, 60000, 240000]))
        digits = r.choice([0, 1, 2, 3])
        at = at.replace(microsecond=at.microsecond // 10 ** (6 - digits) * 10 ** (6 - digits))
        local = at.astimezone(zone)
        text = local.strftime(form)
        if digits: text += point + ("%06d" % local.microsecond)[:digits]
        if name == "": text += r.choice(["Z", "+00:00", " +00:00"]) if form[1] == "Y" else ""
        day, clock = (text[:10], text[11:])
        us = int((at - datetime(1970, 1, 1, tzinfo=timezone.utc)) / timedelta(microseconds=1))
        some = range(n) if wide else [r.randrange(n)] if step > n else [min(step, n - 1)]
        cells = {}
        for kind in kinds:
            for i in some:
                if r.random() < 0.2 and step > n: continue
                on = state.get((kind, i), 0) ^ (r.random() < 0.4)
                state[kind, i] = on
                cells[kind, i] = words[on]
                means.append([us, i, kind == "setpoint", bool(on)])
        if not wide and not cells: continue
        row = [day, clock] if split else [text]
        for kind in kinds:
            row += [cells.get((kind, i), "") for i in (range(n) if wide else some)]
        if not wide: row.append(str(some[0] + 1))
        row.append(r.choice(["", 'a "word"', "two\nlines"]))
        rows.append([row[i] for i in order])
    # Where the form has no offset and there is no zone, times must say it.
    if name == "" and form[1] != "Y": continue
    if not wide and (n - 1) not in [m[1] for m in means]: continue
    text = io.StringIO()
    w = csv.writer(text, delimiter=comma, quoting=r.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]), lineterminator=r.choice(["\n", "\r\n"]))
    w.writerow([heads[i] for i in order])
    w.writerows(rows)
    if r.random() < 0.3: w.writerow([""] * len(heads))
    text = text.getvalue()
    if r.random() < 0.2: text = "sep=" + comma + "\n" + text
    if r.random() < 0.5: text = "\ufeff" + text
    out.append({"Text": text, "Zone": name, "Sections": n, "Means": means})
json.dump(out, sys.stdout)
`

// zoneOf is a zone by name or offset, for the test.
func zoneOf(t *testing.T, name string) *time.Location {
	t.Helper()
	if name == "" {
		return nil
	}
	if z, err := time.Parse("-07:00", name); err == nil {
		_, offset := z.Zone()
		return time.FixedZone(name, offset)
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// Files of every dialect that Python's csv and zoneinfo write say what they were written from.
func TestBesidePython(t *testing.T) {
	const python = "/usr/bin/python3" // where Debian's packages are
	if exec.Command(python, "-c", "import zoneinfo; zoneinfo.ZoneInfo('Europe/Berlin')").Run() != nil {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: python3 with tzdata (Debian)")
		}
		t.Skip("missing: python3 with tzdata (Debian)")
	}
	var stderr bytes.Buffer
	cmd := exec.Command(python, "-c", pythonScript, fmt.Sprint(campaign.Times(200, 500, 20000)), "17")
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, &stderr)
	}
	var files []struct {
		Text, Zone string
		Sections   int
		Means      [][4]any
	}
	if err := json.Unmarshal(out, &files); err != nil {
		t.Fatal(err)
	}
	rows, noted := 0, 0
	for i, f := range files {
		s, err := Read(strings.NewReader(f.Text), "f.csv", f.Sections, zoneOf(t, f.Zone))
		if err != nil {
			t.Fatalf("file %d: %v\n%s", i, err, f.Text)
		}
		if len(s.Notes) > 0 {
			noted++
		}
		sort.SliceStable(f.Means, func(a, b int) bool { return f.Means[a][0].(float64) < f.Means[b][0].(float64) })
		// What changes of a list of states, the first of each section among them.
		for _, setpoint := range []bool{true, false} {
			var want []sections.WorkChange
			last := map[int16]bool{}
			for _, m := range f.Means {
				rows++
				c := sections.WorkChange{TimeNs: int64(m[0].(float64)) * 1000, Section: int16(m[1].(float64)), On: m[3].(bool)}
				if was, known := last[c.Section]; m[2].(bool) != setpoint || known && was == c.On {
					continue
				}
				last[c.Section] = c.On
				want = append(want, c)
			}
			got := s.Actuals
			if setpoint {
				got = s.Setpoints
			}
			// In a wide row sections change at once, in the order of its columns.
			for _, list := range [][]sections.WorkChange{got, want} {
				sort.SliceStable(list, func(a, b int) bool {
					return list[a].TimeNs < list[b].TimeNs || list[a].TimeNs == list[b].TimeNs && list[a].Section < list[b].Section
				})
			}
			if !slices.Equal(got, want) && !(s.Whole && f.Sections > 1) {
				t.Fatalf("file %d (%s): setpoints %v: %v\nwant %v\n%s", i, f.Zone, setpoint, got, want, f.Text)
			}
		}
	}
	if len(files) < 100 || rows < 1000 || noted == 0 {
		t.Errorf("%d files of %d states, %d with a note; want more", len(files), rows, noted)
	}
	t.Logf("%d files, %d states, %d files in an hour that comes twice", len(files), rows, noted)
}

func TestClockErrors(t *testing.T) {
	berlin := zoneOf(t, "Europe/Berlin")
	const head = "time;section;actual\n"
	for _, c := range []struct {
		csv  string
		zone *time.Location
		want string
	}{
		{head + "2026-05-12 08:00:07,25;1;1\n", nil, `day.csv:2: time "2026-05-12 08:00:07,25" has no offset from UTC; expected RFC 3339, like 2031-05-09T14:03:07.250Z, or give the clock's zone, as Europe/Berlin or +02:00 (--zone)`},
		{head + "2026-03-29 02:30:00;1;1\n", berlin, `day.csv:2: time "2026-03-29 02:30:00" does not exist in Europe/Berlin, whose clocks leave that hour out; expected times of that zone: was it another?`},
		{head + "05/12/2026 08:00:07;1;1\n", berlin, `day.csv:2: time "05/12/2026 08:00:07" may have its day or its month first; expected 2031-05-09 14:03:07 or 09.05.2031 14:03:07`},
		{head + "46154,3334;1;1\n", berlin, `day.csv:2: time "46154,3334" is a spreadsheet's number of a day; expected RFC 3339, like 2031-05-09T14:03:07.250Z: format the column as text of that form`},
		{head + "12.05.2026 08:00;1;1\n", berlin, `day.csv:2: time "12.05.2026 08:00" has no seconds; expected RFC 3339, like 2031-05-09T14:03:07.250Z: format the column with seconds and decimals`},
		{"sep=;\n" + head + "2026-05-12 08:00:07;1;1\n2026-05-12 08:00:08;7;1\n", berlin, `day.csv:4: section "7"; this machine has sections 1 to 2`},
		{"time;Section 1;Section 3\n", berlin, `day.csv:1: column "Section 3"; this machine has sections 1 to 2`},
		{"time;Section 1;section1\n", berlin, `day.csv:1: two columns named "section1"`},
		{"time;Section 1;section;actual\n", berlin, `day.csv:1: found the columns "time,Section 1,section,actual"; expected either time, section and setpoint or actual, or time and a column for each section`},
		{"time;Section 1;section 2\n2026-05-12 08:00:07;on;perhaps\n", berlin, `day.csv:2: column "section 2": "perhaps"; expected 0 (up) or 1 (in work)`},
		{"time;1;2\n", berlin, `day.csv:1: found the columns "time;1;2"; expected time, section and setpoint or actual`},
	} {
		_, err := Read(strings.NewReader(c.csv), "day.csv", 2, c.zone)
		if want := strings.Replace(c.want, `"time;1;2"`, `"time,1,2"`, 1); fmt.Sprint(err) != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
}

// The hour that comes twice is told by the order of rows, across sections and within each.
func TestHourThatComesTwice(t *testing.T) {
	berlin := zoneOf(t, "Europe/Berlin")
	// Clocks go from 03:00 back to 02:00 at 01:00 UTC on 2026-10-25 (the European Union's directive 2000/84/EC).
	for _, c := range []struct {
		name, rows string
		want       []string // UTC of the rows, as they stand
		note       string
	}{
		{"in order", "02:30:00,1,1 02:59:59,2,1 02:00:01,1,0 02:30:00,2,0", []string{"00:30:00", "00:59:59", "01:00:01", "01:30:00"},
			"4 times lie in the hour that clocks of Europe/Berlin go through twice, from line 2 on (2026-10-25 02:30:00); by the order of the rows the second run begins in line 4"},
		{"a row a second early", "02:30:01,1,1 02:30:00,2,1", []string{"00:30:01", "00:30:00"},
			"2 times lie in the hour that clocks of Europe/Berlin go through twice, from line 2 on (2026-10-25 02:30:00); as none comes after a later one, all are taken for its first run"},
		{"section after section", "02:30:00,1,1 02:10:00,1,0 04:00:00,1,1 02:30:00,2,1 02:10:00,2,0 04:00:00,2,1", []string{"00:30:00", "01:10:00", "03:00:00", "00:30:00", "01:10:00", "03:00:00"},
			"4 times lie in the hour that clocks of Europe/Berlin go through twice, from line 2 on (2026-10-25 02:30:00); by the order of the rows the second run begins in line 3"},
	} {
		csv := "time,section,actual\n"
		for _, row := range strings.Fields(c.rows) {
			csv += "2026-10-25 " + row + "\n"
		}
		s, err := Read(strings.NewReader(csv), "day.csv", 2, berlin)
		if err != nil {
			t.Fatal(err)
		}
		var want []int64
		for _, w := range c.want {
			want = append(want, at(t, "2026-10-25T"+w+"Z"))
		}
		slices.Sort(want)
		var got []int64
		for _, r := range s.Actuals {
			got = append(got, r.TimeNs)
		}
		note := c.note
		if c.name == "a row a second early" {
			note = strings.Replace(note, "02:30:00)", "02:30:01)", 1)
		}
		if !slices.Equal(got, want) || len(s.Notes) != 1 || s.Notes[0] != "day.csv: "+note {
			t.Errorf("%s: %v, %q\nwant %v, %q", c.name, got, s.Notes, want, note)
		}
	}
}

// Rows that repeat states are a poll: each change lies between the report before it and its own.
func TestPolls(t *testing.T) {
	at := func(s float64) int64 { return at(t, "2031-05-09T14:00:00Z") + int64(s*1e9) }
	row := func(s float64, section, actual int) string {
		return fmt.Sprintf("%s,%d,%d\n", time.Unix(0, at(s)).UTC().Format(time.RFC3339Nano), section, actual)
	}
	const head = "time,section,actual\n"
	polled := head + row(0, 1, 0) + row(0.1, 2, 0) + row(0.5, 1, 0) + row(0.6, 2, 0) + row(1, 1, 1) + row(1.1, 2, 0) + row(1.5, 1, 1) + row(1.6, 2, 1) + row(2, 1, 1)
	s, err := Read(strings.NewReader(polled), "f", 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := []Poll{{0, at(0.5), at(1)}, {1, at(1.1), at(1.6)}}; !slices.Equal(s.ActualPolls, want) || s.SetpointPolls != nil {
		t.Errorf("polls %v, %v; want %v and none", s.ActualPolls, s.SetpointPolls, want)
	}
	whole := head + row(0, 1, 0) + row(1, 1, 0) + row(2, 1, 0) + row(3, 1, 1) + row(4, 1, 1)
	if s, err = Read(strings.NewReader(whole), "f", 2, nil); err != nil || !slices.Equal(s.ActualPolls, []Poll{{0, at(2), at(3)}, {1, at(2), at(3)}}) {
		t.Errorf("of the whole machine %v, %v", s.ActualPolls, err)
	}
	own := "time;section;actual;within_ms\n" + strings.ReplaceAll(row(0, 1, 0)+row(9, 1, 1), ",", ";")
	own = strings.ReplaceAll(own, "0\n", "0;\n")
	own = strings.ReplaceAll(own, ";1\n", ";1;250,5\n")
	if s, err = Read(strings.NewReader(own), "f", 1, nil); err != nil || !slices.Equal(s.ActualPolls, []Poll{{0, at(8.7495), at(9)}}) {
		t.Errorf("told by the row %v, %v", s.ActualPolls, err)
	}
	for _, wrong := range []string{"-1", "x", "NaN", "1e9"} {
		if _, err = Read(strings.NewReader(strings.ReplaceAll(own, "250,5", wrong)), "f", 1, nil); err == nil || !strings.Contains(err.Error(), "f:3: within_ms \""+wrong+"\"; expected milliseconds") {
			t.Errorf("within_ms %s: %v", wrong, err)
		}
	}
	changes := head + row(0, 1, 0) + row(9, 1, 1) + row(20, 1, 1) + row(30, 1, 0)
	if s, err = Read(strings.NewReader(changes), "f", 1, nil); err != nil || s.ActualPolls != nil {
		t.Errorf("of a file of changes %v, %v; want none", s.ActualPolls, err)
	}
}

// TestClocks: that one clock stamped what was told and done is known only where every row says so.
func TestClocks(t *testing.T) {
	const head = "time,section,setpoint,actual,clock\n"
	row := func(s int, rest string) string { return fmt.Sprintf("2031-05-09T08:00:%02dZ,1,%s\n", s, rest) }
	for _, c := range []struct {
		name, text string
		one        bool
	}{
		{"one", head + row(1, "1,,logger") + row(2, ",1,logger"), true},
		{"with a row that says nothing", head + row(1, "1,,logger") + row(2, ",1,logger") + ",,,,\n", true},
		{"two", head + row(1, "1,,terminal") + row(2, ",1,logger"), false},
		{"one of them unknown", head + row(1, "1,,logger") + row(2, ",1,"), false},
		{"unknown", head + row(1, "1,,") + row(2, ",1,"), false},
		{"no column", "time,section,setpoint,actual\n" + row(1, "1,") + row(2, ",1"), false},
		{"actual alone", head + row(1, ",1,logger"), false},
	} {
		s, err := Read(strings.NewReader(c.text), "f", 1, nil)
		if err != nil || s.OneClock != c.one {
			t.Errorf("%s: %+v, %v", c.name, s, err)
		}
	}
}
