// Work states as CSV: what is taken, and the sentence for what is not.

package states

import (
	"fmt"
	"io"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"liftbench/sections"
	"liftbench/sim/campaign"
)

func at(t *testing.T, s string) int64 {
	t.Helper()
	v, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		t.Fatal(err)
	}
	return v.UnixNano()
}

func TestReadStates(t *testing.T) {
	t1, t2, t3 := at(t, "2031-05-09T14:00:01Z"), at(t, "2031-05-09T14:00:02.5Z"), at(t, "2031-05-09T14:00:03Z")
	tests := []struct {
		name, csv          string
		sections           int
		setpoints, actuals []sections.WorkChange
		whole              bool
	}{
		{
			name:     "columns in any order, rows in any order, a repeated state, an unknown column",
			csv:      "actual,note,section,time\n1,x,2,2031-05-09T14:00:02.5Z\n0,,2,2031-05-09T14:00:01Z\n1,,2,2031-05-09T14:00:03Z\n",
			sections: 2,
			actuals:  []sections.WorkChange{{TimeNs: t1, Section: 1}, {TimeNs: t2, Section: 1, On: true}},
		},
		{
			name:      "setpoint and actual, one of them empty, another time zone, byte order mark",
			csv:       "\xef\xbb\xbftime,section,setpoint,actual\n2031-05-09T16:00:01+02:00,1,1,\n2031-05-09T14:00:02.5Z,1,,1\n",
			sections:  1,
			setpoints: []sections.WorkChange{{TimeNs: t1, Section: 0, On: true}},
			actuals:   []sections.WorkChange{{TimeNs: t2, Section: 0, On: true}},
		},
		{
			name:     "one state for the whole machine",
			csv:      "time,section,actual\n2031-05-09T14:00:01Z,1,1\n2031-05-09T14:00:03Z,1,0\n",
			sections: 2,
			whole:    true,
			actuals: []sections.WorkChange{
				{TimeNs: t1, Section: 0, On: true}, {TimeNs: t1, Section: 1, On: true},
				{TimeNs: t3, Section: 0}, {TimeNs: t3, Section: 1},
			},
		},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			s, err := Read(strings.NewReader(tc.csv), "day.csv", tc.sections, nil)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(s.Setpoints, tc.setpoints) || !reflect.DeepEqual(s.Actuals, tc.actuals) || s.Whole != tc.whole {
				t.Errorf("got setpoints %v, actuals %v, whole %v;\nwant %v, %v, %v", s.Setpoints, s.Actuals, s.Whole, tc.setpoints, tc.actuals, tc.whole)
			}
		})
	}
}

func TestReadStatesErrors(t *testing.T) {
	const head = "time,section,actual\n"
	tests := []struct{ name, csv, want string }{
		{"empty", "", "day.csv: empty; expected a heading line with time, section and setpoint or actual"},
		{"heading only", head, "day.csv: no work state below the heading line"},
		{"no state column", "time,section\n", `day.csv:1: found the columns "time,section"; expected time, section and setpoint or actual`},
		{"twice", "time,section,actual,actual\n", `day.csv:1: two columns named "actual"`},
		{"bad time", head + "9 May,1,1\n", `day.csv:2: time "9 May"; expected RFC 3339, like 2031-05-09T14:03:07.250Z`},
		{"year", head + "0001-01-01T00:00:00Z,1,1\n", `day.csv:2: time "0001-01-01T00:00:00Z"; expected a year from 1971 to 2200`},
		{"section the machine lacks", head + "2031-05-09T14:00:01Z,3,1\n", `day.csv:2: section "3"; this machine has sections 1 to 2`},
		{"section 0", head + "2031-05-09T14:00:01Z,0,1\n", `day.csv:2: section "0"; this machine has sections 1 to 2`},
		{"state", head + "2031-05-09T14:00:01Z,1,1\n2031-05-09T14:00:01Z,1,maybe\n", `day.csv:3: actual "maybe"; expected 0 (up) or 1 (in work)`},
		{"nothing said", head + "2031-05-09T14:00:01Z,1,\n", "day.csv:2: neither setpoint nor actual; expected 0 (up) or 1 (in work)"},
		{"gzip", "\x1f\x8b\x08\x00", "day.csv: compressed by gzip; expected CSV as it is, unpacked"},
		{"binary", strings.Repeat("\x00", 3000), `day.csv:1: found the columns "` + strings.Repeat(`\x00`, 60) + `…"; expected time, section and setpoint or actual`},
		{"short row", head + "2031-05-09T14:00:01Z,1\n", "day.csv:2:1: not CSV: wrong number of fields"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(tc.csv), "day.csv", 2, nil)
			if err == nil || err.Error() != tc.want {
				t.Errorf("got  %v\nwant %s", err, tc.want)
			}
		})
	}
}

// The states of a smaller machine are not those of this one; one state for the
// whole machine, or a section that stayed up, is.
func TestReadStatesOfFewerSections(t *testing.T) {
	const two = "time,section,actual\n2031-05-09T14:00:01Z,1,1\n2031-05-09T14:00:02Z,2,1\n"
	_, err := Read(strings.NewReader(two), "day.csv", 4, nil)
	if want := "day.csv: states of sections 1 to 2; this machine has 4. Expected the machine that was out, and a row with 0 for a section that stayed up"; err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	for _, csv := range []string{two + "2031-05-09T14:00:01Z,4,0\n", "time,section,actual\n2031-05-09T14:00:01Z,1,1\n"} {
		if _, err := Read(strings.NewReader(csv), "day.csv", 4, nil); err != nil {
			t.Error(err)
		}
	}
}

// Whatever is read as work states, written down and read again says the same.
func FuzzReadStates(f *testing.F) {
	f.Add("time,section,actual\n2031-05-09T14:00:01Z,1,1\n")
	f.Add("sep=;\r\ntime;Section 1;setpoint 3\r\n2031-05-09 14:00:01,25+02:00;on;0,0\r\n")
	f.Add("date\ttime\tsection3\n09.05.2031\t14:00:01\tWAHR\n")
	f.Add("time,section,setpoint,actual\n\"2031-05-09T14:00:01Z\",2,0,1\n")
	f.Fuzz(func(t *testing.T, in string) {
		s, err := Read(strings.NewReader(in), "f", 3, time.FixedZone("+01:00", 3600))
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f:") {
				t.Fatalf("%q does not say where", err)
			}
			return
		}
		again, err := Read(strings.NewReader(statesCSV(s)), "g", 3, nil)
		if err != nil || !slices.Equal(again.Setpoints, s.Setpoints) || !slices.Equal(again.Actuals, s.Actuals) {
			t.Fatalf("%+v came back as %+v, %v", s, again, err)
		}
		for _, rows := range [][]sections.WorkChange{s.Setpoints, s.Actuals} {
			for i, r := range rows {
				if r.Section < 0 || r.Section > 2 || i > 0 && r.TimeNs < rows[i-1].TimeNs {
					t.Fatalf("row %d: %+v", i, r)
				}
			}
		}
	})
}

// statesCSV writes states as Read reads them.
func statesCSV(s *Recorded) string {
	var b strings.Builder
	b.WriteString("time,section,setpoint,actual\n")
	for i, rows := range [][]sections.WorkChange{s.Setpoints, s.Actuals} {
		for _, r := range rows {
			fmt.Fprintf(&b, "%s,%d,", time.Unix(0, r.TimeNs).UTC().Format(time.RFC3339Nano), r.Section+1)
			b.WriteString(strings.Repeat(",", i))
			b.WriteString(map[bool]string{false: "0", true: "1"}[r.On])
			b.WriteString(strings.Repeat(",", 1-i) + "\n")
		}
	}
	return b.String()
}

// repeated says before, then text over and over, so many bytes in all.
type repeated struct {
	before, text string
	left         int64
}

func (r *repeated) Read(b []byte) (int, error) {
	if r.left <= 0 {
		return 0, io.EOF
	}
	n := copy(b, r.before)
	r.before = r.before[n:]
	for n < len(b) {
		k := copy(b[n:], r.text)
		r.text = r.text[k:] + r.text[:k]
		n += k
	}
	r.left -= int64(n)
	return n, nil
}

// Files of two gigabytes made to fill memory are refused after little of them.
func TestHostileStates(t *testing.T) {
	const head = "time,section,actual\n"
	for _, c := range []struct {
		name, before, text string
		sections           int
		want               string
		mostMB             uint64
	}{
		{"no text at all, as of a sparse file", "", "\x00", 4, "day.csv: a row of more than 65536 bytes; expected time, section and states", 1},
		{"no text below the heading", head, "\x00", 4, "day.csv: a row of more than 65536 bytes; expected time, section and states", 1},
		{"a quotation that does not end", head + "\"", "2031-05-09T14:03:07Z,1,1\n", 4, "day.csv: a row of more than 65536 bytes; expected time, section and states", 1},
		{"rows of the whole machine", head, "2031-05-09T14:03:07Z,1,1\n2031-05-09T14:03:07Z,1,0\n", 1, "day.csv: more than 10368000 rows; expected one day: cut the file, or leave out rows that repeat a state", 2500},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.mostMB > 100 && !campaign.Full() {
				t.Skip("ten million rows; LIFTBENCH_CAMPAIGN=full reads them")
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := Read(&repeated{c.before, c.text, 2 << 30}, "day.csv", c.sections, nil)
			runtime.ReadMemStats(&after)
			if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > c.mostMB || fmt.Sprint(err) != c.want {
				t.Errorf("%d MB, %v; want %d MB at most and %s", mb, err, c.mostMB, c.want)
			}
		})
	}
	few := head + strings.Repeat("2031-05-09T14:03:07Z,1,1\n2031-05-09T14:03:08Z,1,0\n", 6000)
	if _, err := Read(strings.NewReader(few), "day.csv", 1024, nil); fmt.Sprint(err) != "day.csv: more than 10125 rows of the whole machine, for 1024 sections; expected one day: leave out rows that repeat a state" {
		t.Errorf("rows of the whole machine times its sections: %v", err)
	}
}

func TestStatesInUTF16(t *testing.T) {
	for _, text := range []string{"\xff\xfet\x00", "\xfe\xff\x00t", "t\x00i\x00", "\x00t\x00i"} {
		if _, err := Read(strings.NewReader(text), "day.csv", 4, nil); fmt.Sprint(err) != "day.csv: is in UTF-16; expected UTF-8: save it anew in that encoding, as CSV" {
			t.Errorf("%q: %v", text, err)
		}
	}
}
