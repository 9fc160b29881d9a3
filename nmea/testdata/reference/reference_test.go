// Package reference holds go-nmea (adrianmo/go-nmea 1.7, MIT) against package
// nmea, sentence by sentence.
package reference

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	gonmea "github.com/adrianmo/go-nmea"

	"liftbench/nmea"
)

// value is one field: what we read (NaN: empty) and what go-nmea did (0 for an
// empty field, which it cannot tell from 0).
type value struct {
	field          string
	ours           float64
	theirs         float64
	oursText       string
	theirsText     string
	theirTolerance float64
}

func number(field string, ours, theirs float64) value {
	if math.IsNaN(ours) {
		ours = 0
	}
	return value{field: field, ours: ours, theirs: theirs, theirTolerance: 1e-9 * math.Max(1, math.Abs(theirs))}
}

func text(field, ours, theirs string) value {
	return value{field: field, oursText: ours, theirsText: theirs}
}

// clock compares to the millisecond: go-nmea keeps no more.
func clock(s *nmea.Sentence, t gonmea.Time) value {
	if !s.HasTime() || !t.Valid {
		return text("time", fmt.Sprint(s.HasTime()), fmt.Sprint(t.Valid))
	}
	ms := ((int64(t.Hour)*60+int64(t.Minute))*60+int64(t.Second))*1000 + int64(t.Millisecond)
	v := number("time", float64(s.TimeOfDayNs)/1e6, float64(ms))
	v.theirTolerance = 1
	return v
}

// modes is the mode letters as qualities.
var modes = map[string]nmea.Quality{
	"N": nmea.NoFix, "A": nmea.Autonomous, "D": nmea.Differential, "P": nmea.PPS, "R": nmea.RTKFixed,
	"F": nmea.RTKFloat, "E": nmea.Estimated, "M": nmea.ManualInput, "S": nmea.Simulator, "V": nmea.NoFix,
}

// quality is what a status and a mode letter say together.
func quality(status, mode string) string {
	switch {
	case status == "V":
		return nmea.NoFix.String()
	case mode == "" && status == "A":
		return nmea.Autonomous.String()
	}
	return modes[mode].String()
}

// values pairs the fields that both decoders have.
func values(s *nmea.Sentence, theirs gonmea.Sentence) (out []value) {
	position := func(lat, lon float64) {
		out = append(out, number("latitude", s.LatDeg, lat), number("longitude", s.LonDeg, lon))
	}
	switch v := theirs.(type) {
	case gonmea.GGA:
		position(v.Latitude, v.Longitude)
		age, _ := strconv.ParseFloat(v.DGPSAge, 64)
		out = append(out, clock(s, v.Time), text("quality", fmt.Sprint(int(s.Quality)), orZero(v.FixQuality)),
			number("satellites", float64(s.Satellites), float64(v.NumSatellites)), number("HDOP", s.HDOP, v.HDOP),
			number("height", s.HeightM, v.Altitude), number("geoid", s.GeoidM, v.Separation), number("age", s.AgeS, age))
	case gonmea.GNS:
		position(v.Latitude, v.Longitude)
		out = append(out, clock(s, v.Time), number("satellites", float64(s.Satellites), float64(v.SVs)),
			number("HDOP", s.HDOP, v.HDOP), number("height", s.HeightM, v.Altitude),
			number("geoid", s.GeoidM, v.Separation), number("age", s.AgeS, v.Age))
		if len(v.Mode) == 1 {
			out = append(out, text("quality", s.Quality.String(), modes[v.Mode[0]].String()))
		}
	case gonmea.RMC:
		position(v.Latitude, v.Longitude)
		out = append(out, clock(s, v.Time), number("speed", s.SpeedMps, v.Speed*1852/3600), number("course", s.CourseDeg, math.Mod(v.Course, 360)),
			text("quality", s.Quality.String(), quality(v.Validity, v.FFAMode)),
			text("date", fmt.Sprint(s.HasDate()), fmt.Sprint(v.Date.Valid)))
		if s.HasDate() && v.Date.Valid {
			year := 2000 + v.Date.YY
			if year >= 2080 {
				year -= 100
			}
			out = append(out, date(s, year, v.Date.MM, v.Date.DD))
		}
	case gonmea.GLL:
		position(v.Latitude, v.Longitude)
		out = append(out, clock(s, v.Time), text("quality", s.Quality.String(), quality(v.Validity, v.FFAMode)))
	case gonmea.VTG:
		speed := v.GroundSpeedKnots * 1852 / 3600
		if speed == 0 {
			speed = v.GroundSpeedKPH / 3.6
		}
		if v.FFAMode != "N" {
			kmh := value{field: "speed", ours: zero(s.SpeedMps), theirs: speed, theirTolerance: 0.03} // knots or km/h, whichever is finer
			out = append(out, kmh, number("course", s.CourseDeg, math.Mod(v.TrueTrack, 360)))
		}
	case gonmea.ZDA:
		out = append(out, clock(s, v.Time))
		if s.HasDate() {
			out = append(out, date(s, int(v.Year), int(v.Month), int(v.Day)))
		}
	case gonmea.HDT:
		out = append(out, number("heading", s.HeadingDeg, math.Mod(v.Heading, 360)))
	case gonmea.THS:
		if v.Status != "V" {
			out = append(out, number("heading", s.HeadingDeg, math.Mod(v.Heading, 360)))
		}
	case gonmea.ROT:
		if v.Valid {
			out = append(out, number("rate of turn", s.YawRateDegPerS*60, v.RateOfTurn))
		}
	case gonmea.GSA:
		out = append(out, number("HDOP", s.HDOP, v.HDOP), number("satellites", float64(s.Satellites), float64(len(v.SV))))
	}
	return out
}

func date(s *nmea.Sentence, year, month, day int) value {
	days := float64(s.DateNs / 86400e9)
	return number("date", days, civilDays(year, month, day))
}

// civilDays counts days from 1970 by the plain rule.
func civilDays(year, month, day int) float64 {
	leap := func(y int) int {
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 1
		}
		return 0
	}
	days := 0
	for y := 1970; y < year; y++ {
		days += 365 + leap(y)
	}
	for m := 1; m < month; m++ {
		days += [...]int{31, 28 + leap(year), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[m-1]
	}
	return float64(days + day - 1)
}

func orZero(s string) string {
	if s == "" {
		return "0"
	}
	return s
}

func zero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// compare decodes one sentence with both and returns how many fields agreed.
func compare(t *testing.T, raw string) (fields int) {
	t.Helper()
	theirs, err := gonmea.Parse(raw)
	if err != nil {
		t.Errorf("go-nmea: %v", err)
		return 0
	}
	var ours nmea.Sentence
	if err := nmea.Parse([]byte(raw), &ours); err != nil {
		t.Errorf("%s: %v", raw, err)
		return 0
	}
	for _, v := range values(&ours, theirs) {
		if !(math.Abs(v.ours-v.theirs) <= v.theirTolerance) || v.oursText != v.theirsText {
			t.Errorf("%s: %s is %v%s; go-nmea has %v%s", raw, v.field, v.ours, v.oursText, v.theirs, v.theirsText)
		}
		fields++
	}
	return fields
}

func withSum(body string) string {
	return "$" + body + "*" + gonmea.Checksum(body)
}

// made writes a random sentence of every type that go-nmea has (GST it has
// not). Fields go missing now and then, where go-nmea allows it.
func made(r *rand.Rand, kind string) string {
	decimal := func(low, high float64, most int) string {
		return strconv.FormatFloat(low+(high-low)*r.Float64(), 'f', r.IntN(most+1), 64)
	}
	clock := fmt.Sprintf("%02d%02d%02d", r.IntN(24), r.IntN(60), r.IntN(60))
	if n := r.IntN(4); n > 0 {
		clock += fmt.Sprintf(".%0*d", n, r.IntN([]int{1, 10, 100, 1000}[n]))
	}
	angle := func(deg, width int) string {
		return fmt.Sprintf("%0*d%02d.%0*d", width, r.IntN(deg), r.IntN(60), 1+r.IntN(9), r.IntN(10))
	}
	pick := func(of string) string { return string(of[r.IntN(len(of))]) }
	position := angle(90, 2) + "," + pick("NS") + "," + angle(180, 3) + "," + pick("EW")
	empty := func(s string) string {
		if r.IntN(6) == 0 {
			return ""
		}
		return s
	}
	day := fmt.Sprintf("%02d%02d%02d", 1+r.IntN(28), 1+r.IntN(12), r.IntN(100))
	talker := []string{"GP", "GN", "GL", "GA", "GB", "HE"}[r.IntN(6)]
	var b string
	switch kind {
	case "GGA":
		b = fmt.Sprintf("%s,%s,%d,%02d,%s,%s,M,%s,M,%s,%s", clock, position, r.IntN(7), r.IntN(40), empty(decimal(0, 20, 2)),
			empty(decimal(-100, 4000, 4)), empty(decimal(-60, 60, 3)), empty(decimal(0, 60, 1)), empty("0120"))
	case "GNS":
		b = fmt.Sprintf("%s,%s,%s,%02d,%s,%s,%s,%s,", clock, position, pick("NADPRFEMS"), r.IntN(40), decimal(0, 9, 2), decimal(-9, 900, 3), decimal(-60, 60, 2), empty("2.5"))
	case "RMC":
		b = fmt.Sprintf("%s,%s,%s,%s,%s,%s,%s,%s,%s", clock, pick("AV"), position, empty(decimal(0, 40, 4)), empty(decimal(0, 360, 3)), day, empty("3.5"), "E", pick("NADPRFEMS"))
	case "GLL":
		b = fmt.Sprintf("%s,%s,%s,%s", position, clock, pick("AV"), pick("NADEMS"))
	case "VTG":
		knots := 40 * r.Float64()
		n := 1 + r.IntN(4)
		b = fmt.Sprintf("%s,T,%s,M,%.*f,N,%.*f,K,%s", empty(decimal(0, 360, 3)), empty("34.4"), n, knots, n, knots*1.852, pick("ADEMS"))
	case "ZDA":
		b = fmt.Sprintf("%s,%02d,%02d,%d,%02d,00", clock, 1+r.IntN(28), 1+r.IntN(12), 1980+r.IntN(100), r.IntN(13))
	case "HDT":
		b = decimal(0, 360, 3) + ",T"
	case "THS":
		b = decimal(0, 360, 3) + "," + pick("AEMSV")
	case "ROT":
		b = decimal(-700, 700, 1) + "," + pick("AV")
	case "GSA":
		b = fmt.Sprintf("%s,%s,%02d,%02d,,,,,,,,,,,%s,%s,%s", pick("MA"), pick("123"), 1+r.IntN(32), 1+r.IntN(32), decimal(0, 9, 1), decimal(0, 9, 1), decimal(0, 9, 1))
	}
	return withSum(talker + kind + "," + b)
}

var kinds = []string{"GGA", "GNS", "RMC", "GLL", "VTG", "ZDA", "HDT", "THS", "ROT", "GSA"}

func TestMadeSentencesDecodeAlike(t *testing.T) {
	for _, kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			r := rand.New(rand.NewPCG(1, 2))
			fields := 0
			for range 2000 {
				fields += compare(t, made(r, kind))
				if t.Failed() {
					return
				}
			}
			if fields < 500 {
				t.Errorf("compared %d fields; expected more", fields)
			}
		})
	}
}

// TestGoNmeasOwnSentences takes every sentence of a type that we decode from
// go-nmea's test files.
func TestGoNmeasOwnSentences(t *testing.T) {
	files, _ := filepath.Glob("/usr/share/gocode/src/github.com/adrianmo/go-nmea/*_test.go")
	sentence := regexp.MustCompile(`"(\$[^P"][A-Z]` + "(?:" + strings.Join(kinds, "|") + `),[^"\\]*\*[0-9A-F]{2})"`)
	seen, fields := map[string]bool{}, 0
	for _, file := range files {
		source, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range sentence.FindAllSubmatch(source, -1) {
			raw := string(m[1])
			if seen[raw] {
				continue
			}
			seen[raw] = true
			sc := nmea.NewScanner(strings.NewReader(raw))
			if _, err := gonmea.Parse(raw); err != nil {
				// Theirs to refuse: we must refuse it too, as a sentence or
				// in a field.
				var ours nmea.Sentence
				if sc.Scan() && nmea.Parse(sc.Bytes(), &ours) == nil {
					t.Errorf("%s: accepted; go-nmea: %v", raw, err)
				}
				continue
			}
			fields += compare(t, raw)
		}
	}
	if len(seen) < 40 || fields < 100 {
		t.Errorf("%d sentences and %d fields compared; expected at least 40 and 100", len(seen), fields)
	}
}

// mix is GGA, RMC and VTG as a receiver sends them ten times a second; or the
// log that LIFTBENCH_LOG names.
func mix(b *testing.B) (sentences []string, stream []byte) {
	if log := os.Getenv("LIFTBENCH_LOG"); log != "" {
		var err error
		if stream, err = os.ReadFile(log); err != nil {
			b.Fatal(err)
		}
		return cut(stream), stream
	}
	f := nmea.EmptyFix()
	f.TimeNs, f.Dated = 1714564800e9, true
	f.Quality, f.Satellites, f.HDOP, f.AgeS = nmea.RTKFixed, 17, 0.7, 1
	f.HeightM, f.GeoidM, f.SpeedMps, f.CourseDeg = 101.234, 45.1, 2.2222, 33.251
	for i := range 1000 {
		f.LatDeg, f.LonDeg = 52.1+float64(i)*1.9e-6, 7.9+float64(i)*2.1e-6
		stream = nmea.AppendVTG(nmea.AppendRMC(nmea.AppendGGA(stream, &f), &f), &f)
		f.TimeNs += 1e8
	}
	return cut(stream), stream
}

// cut returns the sentences of a stream.
func cut(stream []byte) (sentences []string) {
	sc := nmea.NewScanner(bytes.NewReader(stream))
	for sc.Scan() {
		sentences = append(sentences, string(sc.Bytes()))
	}
	return sentences
}

// BenchmarkNmea is package nmea: scan, checksum and decode.
func BenchmarkNmea(b *testing.B) {
	sentences, stream := mix(b)
	var s nmea.Sentence
	b.ReportAllocs()
	for b.Loop() {
		sc := nmea.NewScanner(bytes.NewReader(stream))
		for sc.Scan() {
			if nmea.Parse(sc.Bytes(), &s) != nil {
				b.Fatal("a sentence does not decode")
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(sentences)), "ns/sentence")
}

// BenchmarkGoNmea is go-nmea: checksum and decode of sentences already cut
// into strings.
func BenchmarkGoNmea(b *testing.B) {
	sentences, _ := mix(b)
	b.ReportAllocs()
	for b.Loop() {
		for _, s := range sentences {
			if _, err := gonmea.Parse(s); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(sentences)), "ns/sentence")
}
