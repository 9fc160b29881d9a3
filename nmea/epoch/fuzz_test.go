// Whatever the sentences: no panic, time increases, and what a fix is written
// as is read as the same fix.

package epoch

import (
	"bytes"
	"math"
	"testing"

	"liftbench/nmea"
)

func FuzzReader(f *testing.F) {
	f.Add([]byte(stream(gga("120000.0", 1), rmc("120000.0", "010524", 5), vtg(9), zda("000000.0", 2, 5, 2024), gga("000000.0", 1))))
	f.Fuzz(func(t *testing.T, lines []byte) {
		var in []byte
		for line := range bytes.SplitSeq(lines, []byte("\n")) {
			if body, _, _ := bytes.Cut(line, []byte("*")); len(body) > 0 && body[0] == '$' {
				line = []byte(withSum(string(body)))
			}
			in = append(append(in, line...), '\n')
		}
		for _, live := range []bool{false, true} {
			rd := NewReader(bytes.NewReader(in))
			rd.Assembler.Live = live
			last := int64(math.MinInt64)
			n := int64(0)
			for rd.Next() {
				fix := rd.Fix()
				if fix.TimeNs <= last {
					t.Fatalf("time %d after %d", fix.TimeNs, last)
				}
				last = fix.TimeNs
				n++
				checkRewritten(t, &fix)
			}
			if c := rd.Counts(); c.Epochs.Fixes != n || c.OK+c.Unknown > c.Scan.Sentences {
				t.Fatalf("%d fixes; counts %+v", n, c)
			}
		}
	})
}

// checkRewritten checks that the sentences which say a fix are read as a fix
// of which the same sentences are written. RMC leaves the century out, and
// takes the quality from a fix without a position.
func checkRewritten(t *testing.T, fix *nmea.Fix) {
	first, end := int64(315532800)*nsPerSecond, int64(3471292800)*nsPerSecond // 1980 to 2079
	if !(math.Abs(fix.LatDeg) <= 90 && math.Abs(fix.LonDeg) <= 180) || fix.Dated && (fix.TimeNs < first || fix.TimeNs >= end-nsPerSecond) {
		return
	}
	// VTG says the speed in knots and in km/h, each rounded for itself: of a speed with
	// more than four decimals the two differ, by half a unit of the last one.
	const mpsPerKnot = 1852.0 / 3600
	fix.SpeedMps = math.Round(fix.SpeedMps/mpsPerKnot*1e4) / 1e4 * mpsPerKnot
	want := appendAll(nil, fix)
	rd := NewReader(bytes.NewReader(want))
	if !rd.Next() {
		t.Fatalf("no fix in %q", want)
	}
	got := rd.Fix()
	if again := appendAll(nil, &got); !bytes.Equal(again, want) || rd.Next() {
		t.Fatalf("%q\nis read and written as\n%q", want, again)
	}
}

func appendAll(buf []byte, f *nmea.Fix) []byte {
	buf = nmea.AppendZDA(buf, f)
	buf = nmea.AppendGGA(buf, f)
	buf = nmea.AppendRMC(buf, f)
	buf = nmea.AppendVTG(buf, f)
	buf = nmea.AppendHDT(buf, f)
	return nmea.AppendGST(buf, f)
}
