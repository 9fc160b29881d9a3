// The small parts beside the standard library and their own words: the
// calendar, line heads, addresses, letters, pauses.

package nmea

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// Every day from 1900 to 2300, and every date that might be one, as package
// time counts them.
func TestCalendarBesideTheStandardLibrary(t *testing.T) {
	for days := int64(-25567); days < 120_000; days++ {
		at := time.Unix(days*86400, 0).UTC()
		y, m, d := civilFromDays(days)
		if y != int64(at.Year()) || m != int64(at.Month()) || d != int64(at.Day()) {
			t.Fatalf("day %d is %d-%d-%d; want %v", days, y, m, d, at)
		}
		if got := daysFromCivil(y, m, d); got != days {
			t.Fatalf("%v is day %d; want %d", at, got, days)
		}
	}
	for _, year := range []int{1, 4, 100, 400, 1900, 1999, 2000, 2023, 2024, 2100, 9999} {
		for month := 0; month <= 13; month++ {
			for day := 0; day <= 33; day++ {
				at := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
				want := at.Year() == year && int(at.Month()) == month && at.Day() == day
				if got := validDate(int64(year), int64(month), int64(day)); got != want {
					t.Errorf("%d-%d-%d: exists %v", year, month, day, got)
				}
			}
		}
	}
	if validDate(0, 1, 1) || validDate(10000, 1, 1) {
		t.Error("years 0 and 10000 are beyond")
	}
	for ns, want := range map[int64]int64{0: 0, 1: 1, -1: nsPerDay - 1, nsPerDay: 0, -nsPerDay: 0, 3*nsPerDay + 7: 7, -2*nsPerDay + 7: 7} {
		if got := TimeOfDayNs(ns); got != want {
			t.Errorf("%d ns is %d of its day; want %d", ns, got, want)
		}
	}
}

// Times as package time reads them, and what is no time is absent: nothing of
// it is passed.
func TestHostTimes(t *testing.T) {
	for _, text := range []string{
		"2024-05-01T12:00:00Z", "2024-05-01T12:00:00.25Z", "2024-02-29t23:59:59.123456789z", "1970-01-01T00:00:00Z",
		"2024-05-01T12:34:56+02:00", "2024-05-01T12:34:56.5-11:30", "2261-12-31T23:59:59Z", "2024-12-31T23:59:59+23:59",
	} {
		want, err := time.Parse(time.RFC3339Nano, strings.ToUpper(text))
		if err != nil {
			t.Fatal(err)
		}
		for _, by := range []string{" ", "\t", ",", ";", ":", " ;, "} {
			for _, start := range []string{"$", "!", "\\"} {
				ns, n, r := parseHostTime([]byte(text + by + start + "GP"))
				if r != present || ns != want.UnixNano() || n != len(text+by) {
					t.Errorf("%q: %d ns, %d bytes, %d; want %d ns, %d bytes", text+by+start, ns, n, r, want.UnixNano(), len(text+by))
				}
			}
		}
	}
	for text, want := range map[string]int64{
		"123456789 $": 123456789e9, "1714564800.000000001 $": 1714564800e9 + 1, "9223372035 $": 9223372035e9,
		"2024-05-01 12:00:00 $": 1714564800e9, "2024-05-01T14:00:00+0200 $": 1714564800e9, "1714564800.9999999999 $": 1714564800e9 + 999999999,
		"2024-04-30T23:59:60Z $": 1714521600e9, "0123456789 $": 123456789e9,
	} {
		if ns, n, r := parseHostTime([]byte(text)); r != present || ns != want || n != len(text)-1 {
			t.Errorf("%q: %d ns, %d bytes, %d; want %d ns", text, ns, n, r, want)
		}
	}
	for _, text := range []string{
		"12345678 $", "9223372036 $", "1714564800$", "1714564800. $", "1714564800 G", "1234567890123 $",
		"2024-05-01$", "2024-13-01T12:00:00Z $", "2024-00-01T12:00:00Z $", "2024-05-00T12:00:00Z $", "2024-02-30T12:00:00Z $",
		"2024-05-01T24:00:00Z $", "2024-05-01T12:60:00Z $", "2024-05-01T12:00:61Z $", "2024-05-01X12:00:00Z $",
		"1969-12-31T23:59:59Z $", "2262-01-01T00:00:00Z $", "2024-5-01T12:00:00Z $", "2024/05/01T12:00:00Z $",
		"2024-05-01T12.00:00Z $", "2024-05-01T12:00-00Z $", "2024-05-01T12:00:00+24:00 $", "2024-05-01T12:00:00+01:60 $",
		"202-05-01T12:00:00Z $", "20240-05-01T12:00:00Z $", "2024-05-01T12:00:00.Z $", "1714564800" + strings.Repeat(" ", 80) + "$",
	} {
		if ns, n, r := parseHostTime([]byte(text)); r != absent || ns != 0 || n != 0 {
			t.Errorf("%q: %d ns, %d bytes, %d; want it absent", text, ns, n, r)
		}
	}
	// The time and what divides it may be 79 bytes, no more.
	for _, n := range []int{68, 69, 70} {
		_, _, r := parseHostTime([]byte("1714564800" + strings.Repeat(" ", n) + "$"))
		if want := map[bool]reading{true: present, false: absent}[10+n < 80]; r != want {
			t.Errorf("%d bytes before the sentence: %d", 10+n, r)
		}
	}
	for _, text := range []string{"2", "2024-05-01T12:00:00", "1714564800 ", "1714564800.5", "1714564800"} {
		if _, n, r := parseHostTime([]byte(text)); r != cutOff || n != 0 {
			t.Errorf("%q: %d bytes, %d; want it cut off", text, n, r)
		}
	}
}

func TestTagBlocks(t *testing.T) {
	sealed := func(body string) string { return fmt.Sprintf("\\%s*%02X\\", body, sumOf([]byte(body))) }
	for text, want := range map[string]int64{
		sealed("c:1714564800"): 1714564800e9, sealed("s:r1,c:1714564800250"): 1714564800250e6, sealed("c:1714564800,s:x"): 1714564800e9, sealed("s:a ~,c:7"): 7e9,
		sealed("s:r1"): 0, sealed("c:"): 0, sealed("c:17x"): 0, sealed("n:c:1714564800"): 0, sealed("s:1,dc:1714564800"): 0,
		sealed("c:99999999999"): 0, sealed("c:9223372035"): 9223372035e9, sealed("c:9223372036"): 0,
		sealed("c:9223372035000"): 9223372035e9, sealed("c:9223372035001"): 0, sealed("c:12345678901234"): 0, sealed("c:0000000000005"): 5e9, sealed("c:00000000000005"): 0,
		sealed("c:100000000000"): 1e11 * 1e6, sealed("c:5,c:6"): 5e9, strings.ToLower(sealed("s:abc,c:7")): 7e9,
	} {
		ns, n, ok, r := parseTagBlock([]byte(text + "$GP"))
		if r != present || !ok || ns != want || n != len(text) {
			t.Errorf("%q: %d ns, %d bytes, ok %v, %d; want %d ns", text, ns, n, ok, r, want)
		}
	}
	for _, text := range []string{"\\c:1*00\\", sealed("s:a\x7f,c:1"), sealed("s:a$,c:1"), sealed("s:a\x1f,c:1"), sealed("s:a\x80,c:1"), "\\c:1\\", "\\c:\\", "\\c:1*4$\\", "\\c:1\n*48\\", "\\c:\x7f*48\\", "\\c:" + strings.Repeat("1", 300) + "\\", "\\c:1*4g\\", "\\c:1-48\\"} {
		if ns, n, ok, r := parseTagBlock([]byte(text)); r != present || ok || ns != 0 || n != 1 {
			t.Errorf("%q: %d ns, %d bytes, ok %v, %d; want it broken", text, ns, n, ok, r)
		}
	}
	for _, text := range []string{"x", "\\C:", "\\1:", "\\c;", "\\\\", "\\{:"} {
		if ns, n, ok, r := parseTagBlock([]byte(text)); r != absent || ok || ns != 0 || n != 0 {
			t.Errorf("%q: %d ns, %d bytes, ok %v, %d; want it absent", text, ns, n, ok, r)
		}
	}
	for _, text := range []string{"", "\\", "\\a", "\\z:", "\\c:1*48", "\\c:" + strings.Repeat("1", 252)} {
		if ns, n, ok, r := parseTagBlock([]byte(text)); r != cutOff || ok || ns != 0 || n != 0 {
			t.Errorf("%q: %d ns, %d bytes, ok %v, %d; want it cut off", text, ns, n, ok, r)
		}
	}
	// 256 bytes at most, the closing backslash left out.
	for _, fill := range []int{249, 250} {
		text := sealed("s:" + strings.Repeat("a", fill))
		if _, _, ok, _ := parseTagBlock([]byte(text)); ok != (len(text) <= 256) {
			t.Errorf("a tag block of %d bytes: ok %v", len(text), ok)
		}
	}
}

// An address has capital letters and digits; a checksum has two hexadecimal
// digits.
func TestAddressesAndHexDigits(t *testing.T) {
	for c := range 256 {
		b := byte(c)
		want := strings.IndexByte("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", b) >= 0
		if isAddress(b) != want {
			t.Errorf("%q: of an address %v", b, !want)
		}
	}
	for hi := range 256 {
		var want byte
		_, err := fmt.Sscanf(string([]byte{byte(hi), '7'}), "%2x", &want)
		ok := err == nil && strings.IndexByte("0123456789abcdefABCDEF", byte(hi)) >= 0
		if v, is := hexByte(byte(hi), '7'); is != ok || ok && v != want {
			t.Errorf("%q7 is %d, %v; want %d, %v", byte(hi), v, is, want, ok)
		}
		if _, is := hexByte('7', byte(hi)); is != ok {
			t.Errorf("7%q: %v", byte(hi), is)
		}
	}
}

// Fields that a sentence must refuse one by one, where all others are right.
func TestRefusedOneByOne(t *testing.T) {
	for _, tc := range []struct {
		body string
		ok   bool
	}{
		{"$GPZDA,120000,01,05,2024,00,00", true}, {"$GPZDA,120000,01.5,05,2024,00,00", false}, {"$GPZDA,120000,01,05.5,2024,00,00", false},
		{"$GPZDA,120000,01,05,2024.5,00,00", false}, {"$GPZDA,120000,01,05,1970,00,00", true}, {"$GPZDA,120000,01,05,1969,00,00", false},
		{"$GPZDA,120000,01,05,2261,00,00", true}, {"$GPZDA,120000,01,05,2262,00,00", false}, {"$GPZDA,120000,32,01,2024,00,00", false},
		{"$GPZDA,120000,,05,2024,00,00", true}, {"$GPZDA,120000,01,,2024,00,00", true}, {"$GPZDA,120000,01,05,,00,00", true},
		{"$GPGSA,A,3,01,02,,,,,,,,,,,1.5,0.9,1.2", true}, {"$GPGSA,X,3,,,,,,,,,,,,,1,1,1", false}, {"$GPGSA,M,4,,,,,,,,,,,,,1,1,1", false},
		{"$GPGSA,A,0,,,,,,,,,,,,,1,1,1", false}, {"$GPHDT,360,T", true}, {"$GPHDT,360.001,T", false}, {"$GPHDT,90,M", false}, {"$GPTHS,90,X", false},
		{"$GPROT,1,X", false}, {"$GPVTG,90,M", false}, {"$GPVTG,90,T,,T", false}, {"$GPVTG,90,T,,M,5,K", false}, {"$GPVTG,90,T,,M,5,N,9,N", false}, {"$GPVTG,90,T,,M,5,N,9,K,X", false},
		{"$GPGGA,120000,5230.0,N,00754.0,E,9,08,0.9,1,M,1,M,,", false}, {"$GPGGA,120000,5230.0,N,00754.0,E,8,08,0.9,1,M,1,M,,", true},
		{"$GPGGA,120000,5230.0,N,00754.0,E,4,256,0.9,1,M,1,M,,", false}, {"$GPGGA,120000,5230.0,N,00754.0,E,4,255,0.9,1,M,1,M,,", true},
		{"$GPGGA,120000,5230.0,N,00754.0,E,4,1.5,0.9,1,M,1,M,,", false}, {"$GPGGA,120000,5230.0,N,00754.0,E,4,08,0.9,1,F,1,M,,", false},
		{"$GPGGA,120000,5230.0,N,00754.0,E,4,08,0.9,1,M,1,F,,", false}, {"$GPGGA,240000,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,230000,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", true}, {"$GPGGA,126000,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,120060,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", true}, {"$GPGGA,120061,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,12000,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", false}, {"$GPGGA,1200000,5230.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,120000,9000.0,N,18000.0,E,4,08,0.9,1,M,1,M,,", true}, {"$GPGGA,120000,9000.1,N,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,120000,5230.0,N,18000.1,W,4,08,0.9,1,M,1,M,,", false}, {"$GPGGA,120000,5260.0,N,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,120000,5230.0,E,00754.0,E,4,08,0.9,1,M,1,M,,", false}, {"$GPGGA,120000,5230.0,,00754.0,E,4,08,0.9,1,M,1,M,,", false},
		{"$GPGGA,120000,,X,,,0,00,,,M,,M,,", false}, {"$GPGGA,120000,,N,,E,0,00,,,M,,M,,", true}, {"$GPGGA,120000,,S,,W,0,00,,,M,,M,,", true},
		{"$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,310224,,,A", false}, {"$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,290224,,,A", true},
		{"$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,29022,,,A", false}, {"$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,290224.5,,,A", false},
		{"$GPRMC,120000,X,5230.0,N,00754.0,E,5,90,290224,,,A", false}, {"$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,290224,,,X", false},
		{"$GPRMC,120000,A,5230.0,N,00754.0,E,-5,90,290224,,,A", false}, {"$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,000000,,,A", true},
		{"$GPGNS,120000,5230.0,N,00754.0,E,AX,08,0.9,1,1,,", false}, {"$GPGNS,120000,5230.0,N,00754.0,E,AA,08,0.9,1,1,,", true},
		{"$GPGST,120000,,-1,1,30,1,1,1", false}, {"$GPGST,120000,,1,1,30,,,", true}, {"$GPROT,-,A", false}, {"$GPROT,+3,A", true}, {"$GPROT,.,A", false}, {"$GPROT,-.5,A", true},
		{"$GPROT,12345678,A", false}, {"$GPROT,1234567,A", true}, {"$GPROT,-", false}, {"$GPROT,1e5,A", false}, {"$GPROT,5.,A", true}, {"$GPGGA,120000.,5230.,N,00754.,E,4,08,1.,1.,M,1.,M,,", true},
	} {
		var s Sentence
		if err := Parse([]byte(withSum(tc.body)), &s); (err == nil) != tc.ok {
			t.Errorf("%s: %v", tc.body, err)
		}
		// The same with room behind it, as in the scanner's buffer.
		roomy := append([]byte(withSum(tc.body)), "9999999999999999"...)
		if err := Parse(roomy[:len(roomy)-16], &s); (err == nil) != tc.ok {
			t.Errorf("%s, with room behind it: %v", tc.body, err)
		}
	}
}

// The values of the less common sentences, worked out by hand.
func TestLessCommonValues(t *testing.T) {
	parse := func(body string) (s Sentence) {
		t.Helper()
		if err := Parse([]byte(withSum(body)), &s); err != nil {
			t.Fatalf("%s: %v", body, err)
		}
		return s
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) < 1e-9) {
			t.Errorf("%s: %.12g; want %.12g", what, got, want)
		}
	}
	// An ellipse of 3 by 1 whose long axis points to 30°.
	s := parse("$GPGST,120000,,3,1,30,,,")
	near("north", s.SigmaNorthM, math.Sqrt(9*0.75+1*0.25))
	near("east", s.SigmaEastM, math.Sqrt(9*0.25+1*0.75))
	s = parse("$GPGST,120000,,3,1,30,0.5,0.7,0.9")
	near("north", s.SigmaNorthM, 0.5)
	near("east", s.SigmaEastM, 0.7)
	near("height", s.SigmaHeightM, 0.9)
	s = parse("$GPGST,120000,,3,1,30,0.5,,")
	if near("north", s.SigmaNorthM, 0.5); !math.IsNaN(s.SigmaEastM) {
		t.Errorf("east %g where only north is given", s.SigmaEastM)
	}
	s = parse("$GPGSA,A,3,01,02,,,05,,,,,,,12,1.5,0.9,1.2")
	near("HDOP", s.HDOP, 0.9)
	if s.Satellites != 4 || s.Status != StatusValid {
		t.Errorf("%d satellites, status %d; want 4, valid", s.Satellites, s.Status)
	}
	if s := parse("$GPGSA,A,1,,,,,,,,,,,,,,,"); s.Status != StatusVoid {
		t.Errorf("status %d; want void", s.Status)
	}
	near("knots", parse("$GPVTG,90,T,,M,10,N,18,K,A").SpeedMps, 10*1852.0/3600)
	near("km/h alone", parse("$GPVTG,90,T,,M,,N,18,K,A").SpeedMps, 5)
	near("km/h with more decimals", parse("$GPVTG,90,T,,M,9.7,N,18.00,K,A").SpeedMps, 5)
	near("km/h with as many", parse("$GPVTG,90,T,,M,9.72,N,18.00,K,A").SpeedMps, 9.72*1852/3600)
	near("knots with more", parse("$GPVTG,90,T,,M,9.720,N,18.0,K,A").SpeedMps, 9.72*1852/3600)
	near("turn", parse("$GPROT,-30,A").YawRateDegPerS, -0.5)
	near("north at 360", parse("$GPHDT,360,T").HeadingDeg, 0)
	near("below 360", parse("$GPHDT,359.9999,T").HeadingDeg, 359.9999)
	if s := parse("$GPROT,-30,V"); !math.IsNaN(s.YawRateDegPerS) {
		t.Errorf("a void rate of turn is %g", s.YawRateDegPerS)
	}
	for letters, want := range map[string]Quality{"NA": Autonomous, "RF": RTKFixed, "FR": RTKFixed, "NN": NoFix, "DA": Differential, "FP": RTKFloat, "EM": Estimated, "SM": ManualInput, "AE": Autonomous, "PD": PPS} {
		if s := parse("$GNGNS,120000,5230.0,N,00754.0,E," + letters + ",08,0.9,1,2,,"); s.Quality != want || (s.Status == StatusVoid) != (want == NoFix) || !s.HasQuality {
			t.Errorf("modes %s: %v, status %d; want %v", letters, s.Quality, s.Status, want)
		}
	}
	day := time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC).UnixNano()
	if s := parse("$GPRMC,120000.25,A,5230.0,N,00754.0,E,5,90,060180,,,A"); s.DateNs != day || s.TimeOfDayNs != 12*3600e9+250e6 {
		t.Errorf("day %d, %d ns; want %d", s.DateNs, s.TimeOfDayNs, day)
	}
	if s := parse("$GPRMC,120000,A,5230.0,N,00754.0,E,5,90,311279,,,A"); s.DateNs != time.Date(2079, 12, 31, 0, 0, 0, 0, time.UTC).UnixNano() {
		t.Errorf("day %d; year 79 is 2079", s.DateNs)
	}
	for text, want := range map[string]int64{"120000.123456789": 123456789, "120000.12345678912": 123456789, "120000.1234567891": 123456789, "120000.1": 100e6, "120000.1234567": 123456700} {
		if s := parse("$GPRMC," + text + ",A,5230.0,N,00754.0,E,5,90,060180,,,A"); s.TimeOfDayNs != 12*3600e9+want {
			t.Errorf("%s: %d ns past noon; want %d", text, s.TimeOfDayNs-12*3600e9, want)
		}
	}
}

// A head of digits may begin with any of them.
func TestHeadsOfEveryDigit(t *testing.T) {
	for d := int64(0); d <= 9; d++ {
		sc := NewScanner(strings.NewReader(fmt.Sprintf("%d23456789 %s\n", d, withSum("$GPHDT,5,T"))))
		if want := (d*100_000_000 + 23456789) * 1e9; !sc.Scan() || sc.ArrivalNs() != want {
			t.Errorf("a head that begins with %d: arrival %d; want %d", d, sc.ArrivalNs(), want)
		}
	}
}

// Ranks order qualities by what they are good for.
func TestRanks(t *testing.T) {
	for want, list := range [][]Quality{{NoFix, 9, 255}, {Estimated, ManualInput}, {Autonomous}, {Differential, PPS}, {RTKFloat}, {RTKFixed, Simulator}} {
		for _, q := range list {
			if got := q.Rank(); got != want {
				t.Errorf("%v has the rank %d; want %d", q, got, want)
			}
		}
	}
}
