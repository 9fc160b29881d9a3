// What is written reads back as what it was, to the last decimal written.

package nmea

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestEncode(t *testing.T) {
	f := EmptyFix()
	f.TimeNs = time.Date(2024, 5, 1, 9, 8, 7, 250e6, time.UTC).UnixNano()
	f.Dated = true
	f.LatDeg, f.LonDeg = 52.5, -7.00000000008 // less than half a unit of the last decimal beyond 7
	f.HeightM, f.GeoidM = -0.00004, 45.1
	f.SpeedMps, f.CourseDeg, f.HeadingDeg = 1852.0/3600, 359.99996, -90
	f.Quality, f.Satellites, f.HDOP, f.AgeS = RTKFixed, 7, 0.7, 1.5
	f.SigmaNorthM, f.SigmaEastM = 0.014, 0.012
	none := EmptyFix()
	none.TimeNs = -1
	before := none // midnight, in a stream without date
	before.TimeNs = -600_000
	tests := []struct {
		name, got, want string
	}{
		{"GGA", string(AppendGGA(nil, &f)), "$GNGGA,090807.25,5230.00000000,N,00700.00000000,W,4,07,0.70,0.0000,M,45.1000,M,1.5,"},
		{"RMC", string(AppendRMC(nil, &f)), "$GNRMC,090807.25,A,5230.00000000,N,00700.00000000,W,1.0000,0.0000,010524,,,R"},
		{"VTG", string(AppendVTG(nil, &f)), "$GNVTG,0.0000,T,,M,1.0000,N,1.8520,K,R"},
		{"HDT", string(AppendHDT(nil, &f)), "$GNHDT,270.0000,T"},
		{"ZDA", string(AppendZDA(nil, &f)), "$GNZDA,090807.25,01,05,2024,00,00"},
		{"GST", string(AppendGST(nil, &f)), "$GNGST,090807.25,,,,,0.0140,0.0120,"},
		{"GGA of nothing", string(AppendGGA(nil, &none)), "$GNGGA,000000.00,,,,,0,00,,,M,,M,,"},
		{"just before midnight", string(AppendZDA(nil, &before)), "$GNZDA,235959.999,,,,,"},
		{"RMC of nothing", string(AppendRMC(nil, &none)), "$GNRMC,000000.00,V,,,,,,,,,,N"},
		{"VTG of nothing", string(AppendVTG(nil, &none)), "$GNVTG,,T,,M,,N,,K,N"},
		{"HDT of nothing", string(AppendHDT(nil, &none)), "$GNHDT,,T"},
		{"ZDA of nothing", string(AppendZDA(nil, &none)), "$GNZDA,000000.00,,,,,"},
		{"GST of nothing", string(AppendGST(nil, &none)), "$GNGST,000000.00,,,,,,,"},
	}
	for _, tt := range tests {
		if want := withSum(tt.want) + "\r\n"; tt.got != want {
			t.Errorf("%s:\n got %q\nwant %q", tt.name, tt.got, want)
		}
	}
}

// Rounded to the decimals asked for, 1 to 9; carried into the minutes.
func TestEncodeDigits(t *testing.T) {
	f := EmptyFix()
	f.LatDeg, f.LonDeg = 52+12.3456789876/60, -9.99999999/60
	for _, tt := range []struct {
		digits   int
		lat, lon string
	}{
		{1, "5212.3,N", "00010.0,W"},
		{4, "5212.3457,N", "00010.0000,W"},
		{7, "5212.3456790,N", "00010.0000000,W"},
		{9, "5212.345678988,N", "00009.999999990,W"},
		{0, "5212.3,N", "00010.0,W"},
		{99, "5212.345678988,N", "00009.999999990,W"},
	} {
		want := "," + tt.lat + "," + tt.lon + ","
		for _, got := range []string{string(AppendGGADigits(nil, &f, tt.digits)), string(AppendRMCDigits(nil, &f, tt.digits))} {
			if !strings.Contains(got, want) {
				t.Errorf("%d digits: %q; want %q in it", tt.digits, got, want)
			}
		}
	}
}

func TestEncodeLeavesOutWhatNoReceiverSays(t *testing.T) {
	f := EmptyFix()
	inf := math.Inf(1)
	f.LatDeg, f.LonDeg, f.HeightM, f.GeoidM, f.SpeedMps, f.CourseDeg = 91, 0, inf, -1e300, -inf, inf
	f.HDOP, f.AgeS, f.Quality = float32(inf), 1e30, 200
	got := string(AppendVTG(AppendRMC(AppendGGA(nil, &f), &f), &f))
	want := withSum("$GNGGA,000000.00,,,,,0,00,,,M,,M,,") + "\r\n" +
		withSum("$GNRMC,000000.00,V,,,,,,,,,,N") + "\r\n" + withSum("$GNVTG,,T,,M,,N,,K,N") + "\r\n"
	if got != want {
		t.Errorf("got %s; expected %s", got, want)
	}
}
