// Files as people and spreadsheets write them, and those that cannot be read.

package tape

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// The same two readings in every way they may be written.
func TestReadForms(t *testing.T) {
	for name, text := range map[string]string{
		"semicolons and commas":    "move;speed_kmh;late_cm;lead_ms\nlift;7,2;-12,5;310\ndrop;7,2;4;\n",
		"commas and points":        "move,speed_kmh,late_cm,lead_ms\nlift,7.2,-12.5,310\ndrop,7.2,4,\n",
		"commas in quotes":         "move,speed_kmh,late_cm,lead_ms\nlift,\"7,2\",\"-12,5\",310\ndrop,\"7,2\",4,\n",
		"another order":            "late_cm;lead_ms;move;speed_kmh\n-12.5;310;lift;7.2\n4;;drop;7.2\n",
		"words of a heading":       "Late (cm);Lead ms;Move;Speed km/h\n-12.5;310;Lift;7.2\n4;;DROP;7.2\n",
		"seconds over a length":    "move;seconds;over_m;late_cm;lead_ms\nlift;25;50;-12,5;310\ndrop;25;50;4;\n",
		"a mark, tabs, empty rows": "\ufeffmove\tspeed_kmh\tlate_cm\tlead_ms\r\n\r\nlift\t7.2\t−12.5\t310\r\n\t\t\t\r\ndrop\t7.2\t4\t\r\n",
		"a column that says more":  "pass;move;speed_kmh;late_cm;lead_ms;weather\n1;lift;7.2;-12.5;310;sun\n2;drop;7.2;4;;rain\n",
	} {
		s, err := Read(strings.NewReader(text), "x.csv", Defaults{})
		if err != nil || len(s.Readings) != 2 || len(s.Unread) != 0 {
			t.Errorf("%s: %v, %+v", name, err, s)
			continue
		}
		a, b := s.Readings[0], s.Readings[1]
		if a.Move != Lift || b.Move != Drop || math.Abs(a.SpeedMps-2) > 1e-12 || math.Abs(a.LateM+0.125) > 1e-12 || a.LeadS == nil || *a.LeadS != 0.31 || b.LeadS != nil || b.LateM != 0.04 {
			t.Errorf("%s: %+v, %+v", name, a, b)
		}
	}
}

// A lead stands for the rows below it with the same move, until another is written; flags stand for
// rows that no row above says it for.
func TestReadAbove(t *testing.T) {
	set := 0.5
	s, err := Read(strings.NewReader("move;speed_kmh;late_cm;lead_ms;antenna_m\nlift;8;1;;\nlift;8;1;300;3\ndrop;8;1;;\nlift;8;1;;\nlift;8;1;320;3,1\nlift;8;1;;\n"), "x", Defaults{LeadS: [2]*float64{Lift: &set}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.5, 0.3, -1, 0.3, 0.32, 0.32} {
		got := -1.0
		if l := s.Readings[i].LeadS; l != nil {
			got = *l
		}
		if got != want {
			t.Errorf("row %d: lead %g s; want %g", s.Readings[i].Row, got, want)
		}
	}
	if a := s.Readings[5].AntennaM; a == nil || *a != 3.1 {
		t.Errorf("antenna %v; want 3.1 m of the row above", a)
	}
}

// Rows that cannot be read are named with the row that a spreadsheet shows, what was found and what
// was expected; the others count.
func TestReadRows(t *testing.T) {
	head := "move;speed_kmh;late_cm;section;oil;seconds;over_m;event;time_s;frames;fps\nlift;8;1;;;;;;;;\n"
	for row, want := range map[string]string{
		"rise;8;1":             `move: found "rise"; expected lift or drop`,
		"lift;8;":              `late_cm: found nothing; expected the way from the flag line`,
		"lift;8;ten":           `late_cm: found "ten"; expected a number from -2000 to 2000`,
		"lift;8;0x10":          `late_cm: found "0x10"; expected a number`,
		"lift;;3":              `speed_kmh: found nothing; expected a speed in km/h, or seconds and over_m`,
		"lift;0;3":             `speed_kmh: found "0"; expected a number from 0.1 to 40`,
		"lift;;3;;;5":          `over_m: found nothing; expected the length in m`,
		"lift;;3;;;1;900":      `seconds, over_m: found 900 m in 1 s; expected a speed from 0.1 to 40 km/h`,
		"lift;8;3;left":        `section: found "left"; expected a number from 1 to 256, or all`,
		"lift;8;3;;hot":        `oil: found "hot"; expected cold, warm or a temperature from -30 to 120 °C`,
		";;;;;;;up;1":          `event: found "up"; expected moves, out, raised, falls, in, depth`,
		";;;;;;;out;":          `time_s: found nothing; expected seconds from the command, or frames and fps`,
		";;;;;;;out;;12":       `fps: found nothing; expected the frames a second that the video has`,
		";;;;;;;out;nan":       `time_s: found "nan"; expected a number from 0.001 to 600`,
		"lift;8;2001;;;;;;;;":  `late_cm: found "2001"`,
		"lift;1e400;3;;;;;;;;": `speed_kmh: found "1e400"`,
	} {
		s, err := Read(strings.NewReader(head+row+"\n"), "x.csv", Defaults{})
		if err != nil || len(s.Readings) != 1 || len(s.Unread) != 1 {
			t.Errorf("%s: %v, %+v; want one row read and one named", row, err, s)
			continue
		}
		if u := s.Unread[0]; u.Row != 3 || !strings.HasPrefix(u.Why, want) {
			t.Errorf("%s: row %d, %s; want row 3, %s", row, u.Row, u.Why, want)
		}
	}
}

// Files that hold nothing say what was found and what was expected.
func TestReadErrors(t *testing.T) {
	for text, want := range map[string]string{
		"":                                "x.csv: is empty; expected a heading line with move",
		"move;speed_kmh;late_cm\n":        "x.csv: found the heading alone; expected rows",
		"a;b\n1;2\n":                      "x.csv:1: found the columns a, b; expected move",
		"move;move;late_cm;speed\n":       "x.csv:1: found the column move twice",
		"move;speed;late\nx;8;1\ny;8;1\n": `x.csv:2: move: found "x"; expected lift or drop (and so on: of 2 rows none can be read)`,
		"\xff\xfem\x00":                   "x.csv: found UTF-16",
		"move\x00":                        "x.csv: found UTF-16 or no text",
		strings.Repeat("x", maxBytes+1):   "x.csv: found more than 1048576 bytes",
		"event;time_s\n" + strings.Repeat("\n", 9): "x.csv: found the heading alone",
	} {
		_, err := Read(strings.NewReader(text), "x.csv", Defaults{})
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%.40q: %v; want %s", text, err, want)
		}
	}
}

// Whatever a file holds, it is read or refused, and what is read has an answer of finite numbers.
func FuzzRead(f *testing.F) {
	f.Add([]byte("move;speed_kmh;late_cm;lead_ms;antenna_m;section;oil;direction\nlift;7,2;-12,5;310;3,2;1;cold;n\nlift;9;3;;;2;warm;s\ndrop;10;4;0;;all;45;\n"))
	f.Add([]byte("move,seconds,over_m,late_cm\nlift,25,50,3\nlift,10,50,9\nlift,11,50,9\nlift,30,50,2\n"))
	f.Add([]byte("event;sections;time_s;frames;fps;oil\nout;1;0,3;;;cold\nraised;all;;44;30;cold\nin;1;1;;;\ndepth;1;1,1;;;20\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read(strings.NewReader(string(data)), "x", Defaults{})
		if err != nil {
			if !strings.HasPrefix(err.Error(), "x:") {
				t.Errorf("error %q; want it to begin with the file", err)
			}
			return
		}
		if len(s.Readings)+len(s.Still) == 0 || len(s.Readings) > maxRows {
			t.Errorf("%d readings, %d times", len(s.Readings), len(s.Still))
		}
		a := Find(s.Readings[:min(len(s.Readings), 60)], DefaultWish())
		if _, err := json.Marshal(a); err != nil {
			t.Error(err)
		}
		for _, x := range AtStandstill(s.Still[:min(len(s.Still), 60)], Heights{WorkingM: 0.03, RaisedM: 0.15, Sections: 6}) {
			if _, err := json.Marshal(x); err != nil {
				t.Error(err)
			}
		}
	})
}
