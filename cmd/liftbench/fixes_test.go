// The command fixes: epochs of a log as JSON and CSV.

package main

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea"
)

// sum gives a sentence its checksum.
func sum(body string) string {
	var c byte
	for i := range len(body) {
		c ^= body[i]
	}
	const hex = "0123456789ABCDEF"
	return "$" + body + "*" + string([]byte{hex[c>>4], hex[c&15]}) + "\r\n"
}

func smallLog() string {
	return "# a comment\n" +
		sum("GPGGA,080000.00,5203.600000,N,01108.500000,E,4,16,0.7,85.2,M,45.1,M,1.0,0123") +
		sum("GPRMC,080000.00,A,5203.600000,N,01108.500000,E,4.3200,12.50,120526,,,R") +
		"$GPGGA,080000.10,5203.600120,N,01108.500044,E,5,9,,,,,,,*00\r\n" +
		sum("PFOO,1") +
		sum("GPGGA,080000.20,,,,,0,,,,,,,,")
}

func TestFixes(t *testing.T) {
	for _, c := range []struct {
		name, format, want string
	}{
		{"json", "json", `{"time":"2026-05-12T08:00:00Z","arrival":null,"lat":52.0600000000,"lon":11.1416666667,"height_m":85.2,"geoid_m":45.1,"quality":4,"quality_text":"RTK fixed","satellites":16,"hdop":0.7,"sigma_east_m":null,"sigma_north_m":null,"sigma_height_m":null,"speed_mps":2.2224,"speed_kmh":8.0006,"course_deg":12.5000,"heading_deg":null,"yaw_rate_deg_s":null,"age_s":1}
{"time":"2026-05-12T08:00:00.2Z","arrival":null,"lat":null,"lon":null,"height_m":null,"geoid_m":null,"quality":0,"quality_text":"no fix","satellites":0,"hdop":null,"sigma_east_m":null,"sigma_north_m":null,"sigma_height_m":null,"speed_mps":null,"speed_kmh":null,"course_deg":null,"heading_deg":null,"yaw_rate_deg_s":null,"age_s":null}
`},
		{"csv", "csv", report.FixColumns +
			"2026-05-12T08:00:00Z,,52.0600000000,11.1416666667,85.2,45.1,4,RTK fixed,16,0.7,,,,2.2224,8.0006,12.5000,,,1\n" +
			"2026-05-12T08:00:00.2Z,,,,,,0,no fix,0,,,,,,,,,,\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, stdout, stderr := command(smallLog(), "fixes", "--format", c.format, "-")
			if status != 0 {
				t.Fatalf("exit status %d: %s", status, stderr)
			}
			if stdout != c.want {
				t.Errorf("\n got %swant %s", stdout, c.want)
			}
			if want := "standard input: 2 epochs from 3 sentences, 1 of other kinds, 1 with a bad checksum"; !strings.HasPrefix(stderr, want) {
				t.Errorf("summary %q, want %q", stderr, want)
			}
		})
	}
}

func TestFixesBeforeTheDate(t *testing.T) {
	_, stdout, _ := command(sum("GPGGA,235959.90,5203.6,N,01108.5,E,1,8,1.0,85,M,45,M,,"), "fixes", "-")
	if want := `{"time":"23:59:59.9","arrival":null,`; !strings.HasPrefix(stdout, want) {
		t.Errorf("%.60s, want %s", stdout, want)
	}
}

func TestFixesArrival(t *testing.T) {
	_, stdout, stderr := command("1778572800.150 "+sum("GPRMC,080000.00,A,5203.6,N,01108.5,E,4.32,12.5,120526,,,R"), "fixes", "-")
	if want := `{"time":"2026-05-12T08:00:00Z","arrival":"2026-05-12T08:00:00.15Z",`; !strings.HasPrefix(stdout, want) {
		t.Errorf("%.80s, want %s; %s", stdout, want, stderr)
	}
}

func TestFixesGzip(t *testing.T) {
	t.Chdir(t.TempDir())
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	w.Write([]byte(smallLog()))
	w.Close()
	if err := os.WriteFile("a.nmea.gz", z.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("cut.nmea.gz", z.Bytes()[:z.Len()-12], 0o644); err != nil {
		t.Fatal(err)
	}
	if status, stdout, stderr := command("", "fixes", "a.nmea.gz"); status != 0 || strings.Count(stdout, "\n") != 2 {
		t.Errorf("exit status %d, %q, %s", status, stdout, stderr)
	}
	// Cut short, as when the power goes: what is there counts, and it is said.
	if status, stdout, stderr := command("", "fixes", "cut.nmea.gz"); status != 0 || strings.Count(stdout, "\n") == 0 || !strings.Contains(stderr, "cut.nmea.gz: gzip data is cut short after line ") {
		t.Errorf("exit status %d, %q, %s", status, stdout, stderr)
	}
	if err := os.WriteFile("head.nmea.gz", z.Bytes()[:12], 0o644); err != nil {
		t.Fatal(err)
	}
	if status, _, stderr := command("", "fixes", "head.nmea.gz"); status != 2 || !strings.Contains(stderr, "liftbench: head.nmea.gz: gzip data is cut short after line 0") {
		t.Errorf("exit status %d, %s", status, stderr)
	}
}

func TestLogsWithoutFixes(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := settings.WriteDemo("."); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, log, want string }{
		{"empty", "", "empty.nmea: is empty; expected NMEA sentences"},
		{"no sentence", "hello\nworld\n", "no sentence.nmea: no NMEA sentence in 12 bytes; expected lines as $GPGGA,...*hh"},
		{"no position", sum("GPVTG,12.5,T,,M,4.32,N,8.0,K,A"), "no position.nmea: no position: 0 epochs from 1 sentence; expected GGA, GNS, RMC or GLL"},
		{"one long line", strings.Repeat("x", 10_000_000), "one long line.nmea: no NMEA sentence in 10000000 bytes; expected lines as $GPGGA,...*hh"},
	} {
		file := c.name + ".nmea"
		if err := os.WriteFile(file, []byte(c.log), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"fixes", file}, {"run", "--machine", "machine.yaml", "--field", "field.geojson", file}} {
			status, _, stderr := command("", args...)
			lines := strings.Split(strings.TrimSpace(stderr), "\n")
			if got := lines[len(lines)-1]; status != 2 || got != "liftbench: "+c.want {
				t.Errorf("%s %s: exit status %d,\n got %s\nwant liftbench: %s", args[0], c.name, status, got, c.want)
			}
		}
	}
	noFix := sum("GPGGA,080000.20,,,,,0,,,,,,,,")
	if status, _, stderr := command(noFix, "fixes", "-"); status != 2 || !strings.Contains(stderr, "liftbench: standard input: 1 epoch, none with a position: the receiver had no fix") {
		t.Errorf("no fix: exit status %d, %s", status, stderr)
	}
	if status, _, stderr := command("", "fixes", "nowhere.nmea"); status != 2 || stderr != "liftbench: nowhere.nmea: no such file; expected "+recording.Expected+"\n" {
		t.Errorf("missing: exit status %d, %s", status, stderr)
	}
}

// TestFixFormsAgree: JSON and CSV hold the same values under the same names.
func TestFixFormsAgree(t *testing.T) {
	nan := math.NaN()
	f := nmea.Fix{
		TimeNs: 1778572800_123456789, ArrivalNs: 1778572800_2e8, Dated: true,
		LatDeg: -52.06, LonDeg: 11.14, HeightM: 85.25, GeoidM: nan, SpeedMps: 2.2224, CourseDeg: 12.5,
		HeadingDeg: 359.99996, YawRateDegPerS: -3, HDOP: 0.7, SigmaEastM: 0.0141, SigmaNorthM: float32(nan),
		SigmaHeightM: 0.02, AgeS: 1.2, Satellites: 255, Quality: nmea.RTKFloat,
	}
	var object map[string]any
	if err := json.Unmarshal(report.AppendFixJSON(nil, &f), &object); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(report.FixColumns + string(report.AppendFixCSV(nil, &f)))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows[0]) != len(object) {
		t.Fatalf("%d columns, %d keys", len(rows[0]), len(object))
	}
	for i, key := range rows[0] {
		v, ok := object[key]
		if !ok {
			t.Errorf("column %s is no key", key)
		}
		var text string
		switch v := v.(type) {
		case nil:
		case string:
			text = v
		default:
			// Numbers are written alike; compare as JSON wrote them.
			raw := string(report.AppendFixJSON(nil, &f))
			_, text, _ = strings.Cut(raw, `"`+key+`":`)
			text, _, _ = strings.Cut(text, ",")
			text = strings.TrimRight(text, "}\n")
		}
		if rows[1][i] != text {
			t.Errorf("%s: CSV %q, JSON %q", key, rows[1][i], text)
		}
	}
}

func TestFixLinesAllocateNothing(t *testing.T) {
	f := nmea.Fix{TimeNs: 1778572800_1e8, Dated: true, LatDeg: 52.06, LonDeg: 11.14, SpeedMps: 2.2}
	buf := make([]byte, 0, 1024)
	if n := testing.AllocsPerRun(100, func() { buf = report.AppendFixJSON(buf[:0], &f) }); n != 0 {
		t.Errorf("JSON: %g allocations a line", n)
	}
	if n := testing.AllocsPerRun(100, func() { buf = report.AppendFixCSV(buf[:0], &f) }); n != 0 {
		t.Errorf("CSV: %g allocations a line", n)
	}
}

func BenchmarkAppendFixJSON(b *testing.B) {
	f := nmea.Fix{TimeNs: 1778572800_1e8, Dated: true, LatDeg: 52.06, LonDeg: 11.14, SpeedMps: 2.2, CourseDeg: 12.5}
	buf := make([]byte, 0, 1024)
	b.ReportAllocs()
	for b.Loop() {
		buf = report.AppendFixJSON(buf[:0], &f)
	}
}
