// What each type of sentence says, with full, empty and wrong fields.

package nmea

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/big"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// sentenceWith returns an empty sentence changed by set.
func sentenceWith(typ Type, talker string, set func(s *Sentence)) Sentence {
	s := emptySentence
	s.Type = typ
	copy(s.Talker[:], talker)
	if set != nil {
		set(&s)
	}
	return s
}

// sameSentence compares field by field, where NaN is NaN and numbers agree to
// within 1e-12.
func sameSentence(got, want Sentence) (difference string) {
	g, w := reflect.ValueOf(got), reflect.ValueOf(want)
	for i := range g.NumField() {
		a, b := g.Field(i).Interface(), w.Field(i).Interface()
		if x, ok := a.(float64); ok {
			y := b.(float64)
			if math.IsNaN(x) && math.IsNaN(y) || math.Abs(x-y) <= 1e-12 {
				continue
			}
		}
		if a != b {
			return fmt.Sprintf("%s is %v; expected %v", g.Type().Field(i).Name, a, b)
		}
	}
	return ""
}

func TestParse(t *testing.T) {
	const hms = int64(12*3600+34*60+56) * nsPerSecond
	const may1 = int64(1714521600) * nsPerSecond // 2024-05-01 (date -d)
	tests := []struct {
		name, body string
		want       Sentence
	}{
		{"GGA", "$GPGGA,123456.789,4807.038,N,01131.000,E,4,08,0.9,545.4,M,46.9,M,1.5,0120", sentenceWith(GGA, "GP", func(s *Sentence) {
			s.TimeOfDayNs = hms + 789e6
			s.LatDeg, s.LonDeg = 48+7.038/60, 11+31.0/60
			s.Quality, s.HasQuality, s.Satellites = RTKFixed, true, 8
			s.HDOP, s.HeightM, s.GeoidM, s.AgeS = 0.9, 545.4, 46.9, 1.5
		})},
		{"GGA south, west, below the sea, signed", "$GNGGA,123456,0000.5,S,17959.999999999,W,1,12,1.2,-3.25,M,+4.5,M,,", sentenceWith(GGA, "GN", func(s *Sentence) {
			s.TimeOfDayNs = hms
			s.LatDeg, s.LonDeg = -0.5/60, -(179 + 59.999999999/60)
			s.Quality, s.HasQuality, s.Satellites = Autonomous, true, 12
			s.HDOP, s.HeightM, s.GeoidM = 1.2, -3.25, 4.5
		})},
		{"GGA all empty", "$GPGGA,,,,,,,,,,,,,,", sentenceWith(GGA, "GP", nil)},
		{"GGA without fix, from a receiver", "$GPGGA,,,,,,0,,,,M,,M,,", sentenceWith(GGA, "GP", func(s *Sentence) { s.HasQuality = true })},
		{"GGA cut to its address", "$GPGGA,", sentenceWith(GGA, "GP", nil)},
		{"GGA at the pole and the date line", "$GPGGA,,9000.000,S,18000.000,E,8,,,,,,,,", sentenceWith(GGA, "GP", func(s *Sentence) {
			s.LatDeg, s.LonDeg, s.Quality, s.HasQuality = -90, 180, Simulator, true
		})},
		{"leap second", "$GPGGA,235960.5,,,,,,,,,,,,,", sentenceWith(GGA, "GP", func(s *Sentence) { s.TimeOfDayNs = nsPerDay + 500e6 })},
		{"RMC", "$GNRMC,123456.00,A,4807.03800000,N,01131.00000000,W,022.4,084.4,010524,003.1,W,R,V", sentenceWith(RMC, "GN", func(s *Sentence) {
			s.TimeOfDayNs, s.DateNs = hms, may1
			s.LatDeg, s.LonDeg = 48+7.038/60, -(11 + 31.0/60)
			s.SpeedMps, s.CourseDeg = 22.4*1852/3600, 84.4
			s.Quality, s.HasQuality, s.Status = RTKFixed, true, StatusValid
		})},
		{"RMC before NMEA 2.3", "$GPRMC,123456,A,,,,,,360.0,010580,,", sentenceWith(RMC, "GP", func(s *Sentence) {
			s.TimeOfDayNs, s.DateNs = hms, 325987200*nsPerSecond // 1980-05-01 (date -d)
			s.CourseDeg = 0
			s.Quality, s.HasQuality, s.Status = Autonomous, true, StatusValid
		})},
		{"RMC without fix", "$GPRMC,,V,,,,,,,,,,N", sentenceWith(RMC, "GP", func(s *Sentence) { s.HasQuality, s.Status = true, StatusVoid })},
		{"RMC void in spite of its mode", "$GPRMC,,V,,,,,,,,,,A", sentenceWith(RMC, "GP", func(s *Sentence) { s.HasQuality, s.Status = true, StatusVoid })},
		{"RMC valid but mode N", "$GPRMC,,A,,,,,,,,,,N", sentenceWith(RMC, "GP", func(s *Sentence) { s.HasQuality, s.Status = true, StatusVoid })},
		{"RMC date of zeros", "$GPRMC,,V,,,,,,,000000,,,N", sentenceWith(RMC, "GP", func(s *Sentence) { s.HasQuality, s.Status = true, StatusVoid })},
		{"VTG", "$GPVTG,54.7,T,34.4,M,5.5,N,10.2,K,D", sentenceWith(VTG, "GP", func(s *Sentence) {
			s.CourseDeg, s.SpeedMps, s.Status = 54.7, 5.5*1852/3600, StatusValid
		})},
		{"VTG with finer km/h", "$GPVTG,,T,,M,5.5,N,10.25,K,A", sentenceWith(VTG, "GP", func(s *Sentence) { s.SpeedMps, s.Status = 10.25/3.6, StatusValid })},
		{"VTG with km/h alone", "$GPVTG,,,,,,,9,K", sentenceWith(VTG, "GP", func(s *Sentence) { s.SpeedMps = 2.5 })},
		{"VTG without fix", "$GPVTG,1,T,,M,0,N,0,K,N", sentenceWith(VTG, "GP", func(s *Sentence) { s.Status = StatusVoid })},
		{"VTG empty", "$GPVTG,,,,,,,,,", sentenceWith(VTG, "GP", nil)},
		{"GNS", "$GNGNS,123456.00,4807.038,N,01131.000,E,RNA,13,0.9,255.747,-32.00,2.5,33,S", sentenceWith(GNS, "GN", func(s *Sentence) {
			s.TimeOfDayNs, s.LatDeg, s.LonDeg = hms, 48+7.038/60, 11+31.0/60
			s.Quality, s.HasQuality, s.Status, s.Satellites = RTKFixed, true, StatusValid, 13
			s.HDOP, s.HeightM, s.GeoidM, s.AgeS = 0.9, 255.747, -32, 2.5
		})},
		{"GNS without fix", "$GNGNS,123456,,,,,NN,0,99.99,,,,", sentenceWith(GNS, "GN", func(s *Sentence) {
			s.TimeOfDayNs, s.HasQuality, s.Status, s.HDOP = hms, true, StatusVoid, 99.99
		})},
		{"GLL", "$GPGLL,4916.45,N,12311.12,W,123456,A,D", sentenceWith(GLL, "GP", func(s *Sentence) {
			s.TimeOfDayNs, s.LatDeg, s.LonDeg = hms, 49+16.45/60, -(123 + 11.12/60)
			s.Quality, s.HasQuality, s.Status = Differential, true, StatusValid
		})},
		{"GLL empty", "$GPGLL,,,,,,V,N", sentenceWith(GLL, "GP", func(s *Sentence) { s.HasQuality, s.Status = true, StatusVoid })},
		{"ZDA", "$GPZDA,123456.00,01,05,2024,-03,00", sentenceWith(ZDA, "GP", func(s *Sentence) { s.TimeOfDayNs, s.DateNs = hms, may1 })},
		{"ZDA empty", "$GPZDA,,,,,,", sentenceWith(ZDA, "GP", nil)},
		{"HDT", "$HEHDT,274.07,T", sentenceWith(HDT, "HE", func(s *Sentence) { s.HeadingDeg = 274.07 })},
		{"HDT empty", "$GPHDT,,T", sentenceWith(HDT, "GP", nil)},
		{"THS", "$GPTHS,77.5,A", sentenceWith(THS, "GP", func(s *Sentence) { s.HeadingDeg, s.Status = 77.5, StatusValid })},
		{"THS not valid", "$GPTHS,77.5,V", sentenceWith(THS, "GP", func(s *Sentence) { s.Status = StatusVoid })},
		{"ROT to port", "$HEROT,-90.0,A", sentenceWith(ROT, "HE", func(s *Sentence) { s.YawRateDegPerS, s.Status = -1.5, StatusValid })},
		{"ROT not valid", "$HEROT,0.0,V", sentenceWith(ROT, "HE", func(s *Sentence) { s.Status = StatusVoid })},
		{"GST", "$GNGST,123456.00,1.8,,,,1.7,1.3,2.2", sentenceWith(GST, "GN", func(s *Sentence) {
			s.TimeOfDayNs, s.SigmaNorthM, s.SigmaEastM, s.SigmaHeightM = hms, 1.7, 1.3, 2.2
		})},
		// a² cos² 30° + b² sin² 30° with a = 2, b = 1: √3.25; the other √1.75.
		{"GST with the ellipse alone", "$GNGST,123456,,2,1,30,,,", sentenceWith(GST, "GN", func(s *Sentence) {
			s.TimeOfDayNs, s.SigmaNorthM, s.SigmaEastM = hms, math.Sqrt(3.25), math.Sqrt(1.75)
		})},
		{"GSA", "$GNGSA,A,3,15,17,30,28,01,19,24,11,,,,,1.8,0.9,1.5", sentenceWith(GSA, "GN", func(s *Sentence) {
			s.Status, s.Satellites, s.HDOP = StatusValid, 8, 0.9
		})},
		{"GSA of NMEA 4.11", "$GNGSA,A,1,,,,,,,,,,,,,99.9,99.9,99.9,1", sentenceWith(GSA, "GN", func(s *Sentence) {
			s.Status, s.HDOP = StatusVoid, 99.9
		})},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var s Sentence
			for _, raw := range []string{withSum(tt.body), tt.body} {
				if err := Parse([]byte(raw), &s); err != nil {
					t.Fatal(err)
				}
				if d := sameSentence(s, tt.want); d != "" {
					t.Errorf("%s: %s", raw, d)
				}
			}
		})
	}
}

func TestParseRefuses(t *testing.T) {
	tests := []struct {
		body string
		want error
	}{
		{"$GPGSV,4,1,13,03,03,074,37", ErrUnknown},
		{"$PGGGA,1", ErrUnknown},
		{"$PUBX,00,1", ErrUnknown},
		{"!AIVDM,1,1,,A,13u?etPv2;0n:dDPwUM1U1Cb069D,0", ErrUnknown},
		{"$GPGGAX,1", ErrUnknown},
		{"$GPGGA", ErrUnknown},
		{"$GPGGA,240000,,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,126000,,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,125961,,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,1234,,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,12345x,,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,-12345,,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,9000.001,N,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,9100,N,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,4860,N,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,4807.1,,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,4807.1,E,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,-4807.1,N,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,,,18000.00001,W,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,4807.1.2,N,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,48 7.1,N,,,,,,,,,,,", ErrMalformed},
		{"$GPGGA,,,,,,9,,,,,,,,", ErrMalformed},
		{"$GPGGA,,,,,,44,,,,,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,256,,,,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,1.5,,,,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,,-1,,,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,,,-,M,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,,,.,M,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,,,1e3,M,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,,,123456789,M,,,,", ErrMalformed},
		{"$GPGGA,,,,,,1,,,5,F,,,,", ErrMalformed},
		{"$GPRMC,,X,,,,,,,,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,-1,,,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,361,,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,-1,,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,,310424,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,,290223,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,,011324,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,,10524,,,", ErrMalformed},
		{"$GPRMC,,A,,,,,,,,,,Q", ErrMalformed},
		{"$GNGNS,,,,,,AQ,,,,,,", ErrMalformed},
		{"$GPVTG,,M,,M,,N,,K", ErrMalformed},
		{"$GPVTG,,T,,M,-1,N,,K", ErrMalformed},
		{"$GPHDT,400,T", ErrMalformed},
		{"$GPTHS,4,Q", ErrMalformed},
		{"$GPGSA,A,4,,,,,,,,,,,,,,,", ErrMalformed},
		{"$GPZDA,,31,02,2024,,", ErrMalformed},
		{"$GPZDA,,01,01,1969,,", ErrMalformed},
	}
	for _, tt := range tests {
		var s Sentence
		if err := Parse([]byte(withSum(tt.body)), &s); !errors.Is(err, tt.want) {
			t.Errorf("%s: %v; expected %v", tt.body, err, tt.want)
		}
	}
}

// Any decimal number of up to 7 digits and 11 decimals reads as the nearest
// float64, or where that needs more than 53 bits on the way, within one unit
// in the last place of it.
func TestNumbersAreNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.StringMatching(`[0-9]{1,7}`).Draw(t, "whole")
		text := whole
		if rapid.Bool().Draw(t, "point") {
			text += "." + rapid.StringMatching(`[0-9]{0,11}`).Draw(t, "part")
		}
		sign := rapid.SampledFrom([]string{"", "-", "+"}).Draw(t, "sign")
		behind := rapid.SampledFrom([]string{"", ",", ",12345678", ",M,9"}).Draw(t, "behind")
		exact, ok := new(big.Rat).SetString(sign + text)
		if !ok {
			exact, _ = new(big.Rat).SetString(sign + text + "0")
		}
		want, _ := exact.Float64()
		f := fields{b: []byte(sign + text + behind)}
		got := f.float()
		if f.bad || math.Abs(got-want) > math.Abs(want)*0x1p-52 {
			t.Fatalf("%s%s read as %v; expected %v", sign, text, got, want)
		}
		if len(text) <= 15 && got != want {
			t.Fatalf("%s%s read as %v; expected %v exactly", sign, text, got, want)
		}
		if rest := f.text(); behind != "" && string(rest) != strings.Split(behind[1:], ",")[0] {
			t.Fatalf("next field is %q of %q", rest, behind)
		}
	})
}

// Coordinates are within 1e-12 degrees of the exact quotient, in both the
// word-wise and the byte-wise path.
func TestCoordinatesAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.IntRange(0, 179).Draw(t, "deg")
		minutes := rapid.IntRange(0, 59).Draw(t, "minutes")
		decimals := rapid.StringMatching(`[0-9]{1,9}`).Draw(t, "decimals")
		m, _ := new(big.Rat).SetString(fmt.Sprintf("%d.%s", minutes, decimals))
		exact := new(big.Rat).Add(big.NewRat(int64(deg), 1), m.Quo(m, big.NewRat(60, 1)))
		want, _ := exact.Float64()
		text := fmt.Sprintf("%03d%02d.%s,W", deg, minutes, decimals)
		for _, room := range []int{0, 16} {
			b := append([]byte(text), bytes.Repeat([]byte{'7'}, room)...)[:len(text)]
			f := fields{b: b}
			if got := f.coordinate('E', 'W', 180); f.bad || got != -want {
				t.Fatalf("%s read as %.15f; expected %.15f", text, got, -want)
			}
		}
	})
}

func TestQualityHasMeaning(t *testing.T) {
	if got := fmt.Sprint(NoFix, RTKFixed, Simulator, Quality(9)); got != "no fix RTK fixed simulator unknown quality" {
		t.Error(got)
	}
	if got := fmt.Sprint(GGA, ZDA, Type(0), Type(99)); got != "GGA ZDA unknown unknown" {
		t.Error(got)
	}
}

func TestTypesAsText(t *testing.T) {
	for typ := GGA; typ <= ZDA; typ++ {
		text, err := typ.MarshalText()
		var back Type
		if err2 := back.UnmarshalText(text); string(text) != typ.String() || err != nil || back != typ || err2 != nil {
			t.Errorf("%v is %q, %v and read back as %v, %v", typ, text, err, back, err2)
		}
	}
	for _, typ := range []Type{0, ZDA + 1, 255} {
		if text, err := typ.MarshalText(); err == nil {
			t.Errorf("type %d is %q", typ, text)
		}
	}
	for _, text := range []string{"", "unknown", "gga", "GGA "} {
		typ := HDT
		if err := typ.UnmarshalText([]byte(text)); err == nil || typ != HDT || !strings.HasSuffix(err.Error(), "expected GGA, GNS, RMC, GLL, VTG, HDT, THS, ROT, GST, GSA or ZDA") {
			t.Errorf("%q is %v, %v", text, typ, err)
		}
	}
}

func TestCenturiesAreNoLeapYears(t *testing.T) {
	for year, leap := range map[int64]bool{1900: false, 2000: true, 2023: false, 2024: true, 2100: false} {
		if got := validDate(year, 2, 29); got != leap {
			t.Errorf("29 February %d: %v; expected %v", year, got, leap)
		}
	}
}

// The calendar against the standard library's.
func TestDates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.Int64Range(-200_000, 2_900_000).Draw(t, "days")
		year, month, day := civilFromDays(days)
		if back := daysFromCivil(year, month, day); back != days || !validDate(year, month, day) {
			t.Fatalf("day %d is %d-%d-%d, which is day %d", days, year, month, day, back)
		}
		want := time.Unix(days*86400, 0).UTC().Format(time.DateOnly)
		if want != fmt.Sprintf("%04d-%02d-%02d", year, month, day) {
			t.Fatalf("day %d is %d-%d-%d; expected %s", days, year, month, day, want)
		}
	})
}
