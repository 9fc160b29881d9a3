// What belongs to an epoch, and which of two sentences counts.

package epoch

import (
	"fmt"
	"strings"
	"testing"

	"liftbench/nmea"
)

// GGA and RMC of one receiver, then of another, of one time: the talker makes
// them kinds of their own, and only a kind that comes again is a repetition.
func TestTalkersAreKinds(t *testing.T) {
	for _, tc := range []struct {
		talkers    []string
		duplicates int64
	}{
		{[]string{"GP", "GL"}, 0}, {[]string{"GP", "GP"}, 1}, {[]string{"GP", "GL", "GA", "GB", "GN"}, 0}, {[]string{"GP", "GL", "GP"}, 1}, {[]string{"GP", "HP"}, 0}, {[]string{"AB", "BA"}, 0},
	} {
		var in []string
		for _, talker := range tc.talkers {
			in = append(in, strings.Replace(gga("120000.0", 1), "GP", talker, 1))
		}
		r := NewReader(strings.NewReader(stream(in...)))
		n := 0
		for r.Next() {
			n++
		}
		if got := r.Counts().Epochs; n != 1 || got.Duplicates != tc.duplicates {
			t.Errorf("%v: %d fixes, %+v; want one, %d duplicates", tc.talkers, n, got, tc.duplicates)
		}
	}
}

// A pause shows only where both arrivals are known: one sentence without an
// arrival time, before or after, says nothing.
func TestPauseNeedsBothArrivals(t *testing.T) {
	for _, tc := range []struct {
		before, at string
		leads      bool
	}{
		{"1714564800.100 ", "1714564800.190 ", true}, {"1714564800.100 ", "1714564800.161 ", true}, {"1714564800.100 ", "1714564800.159 ", false},
		{"", "1714564800.190 ", false}, {"1714564800.100 ", "", false},
	} {
		in := []string{"1714564800.000 " + gga("120000.0", 1), tc.before + gga("120000.1", 2), tc.at + hdt(7), "1714564800.200 " + gga("120000.2", 3)}
		r := NewReader(strings.NewReader(stream(in...)))
		var with []int64
		for r.Next() {
			if f := r.Fix(); f.HeadingDeg == 7 {
				with = append(with, f.TimeNs/1e8%10)
			}
		}
		want := int64(1)
		if tc.leads {
			want = 2
		}
		if len(with) != 1 || with[0] != want {
			t.Errorf("%q, %q: the heading is of epoch %v; want %d", tc.before, tc.at, with, want)
		}
	}
}

// Of two receivers' GGA the first gives height, geoid, HDOP and age, whatever
// the second says; GGA goes over GNS; what the better one leaves empty the other
// fills in; of satellites the most count.
func TestFirstOfEqualsCounts(t *testing.T) {
	sentence := func(kind, talker, hdop, height, geoid, age string, sats int) string {
		if kind == "GNS" {
			return fmt.Sprintf("$%sGNS,120000.0,5201.5,N,00754.0,E,RR,%02d,%s,%s,%s,%s,", talker, sats, hdop, height, geoid, age)
		}
		return fmt.Sprintf("$%sGGA,120000.0,5201.5,N,00754.0,E,4,%02d,%s,%s,M,%s,M,%s,", talker, sats, hdop, height, geoid, age)
	}
	for _, tc := range []struct {
		name                     string
		in                       []string
		hdop, height, geoid, age float64
		sats                     uint8
	}{
		{"GGA of two", []string{sentence("GGA", "GP", "0.7", "101", "45", "1", 9), sentence("GGA", "GL", "0.9", "102", "46", "2", 7)}, 0.7, 101, 45, 1, 9},
		{"the second has more satellites", []string{sentence("GGA", "GP", "0.7", "101", "45", "1", 7), sentence("GGA", "GL", "0.9", "102", "46", "2", 9)}, 0.7, 101, 45, 1, 9},
		{"GNS, then GGA", []string{sentence("GNS", "GN", "0.7", "101", "45", "1", 9), sentence("GGA", "GN", "0.9", "102", "46", "2", 7)}, 0.9, 102, 46, 2, 9},
		{"GGA, then GNS", []string{sentence("GGA", "GN", "0.9", "102", "46", "2", 7), sentence("GNS", "GN", "0.7", "101", "45", "1", 9)}, 0.9, 102, 46, 2, 9},
		{"GNS, then an empty GGA", []string{sentence("GNS", "GN", "0.7", "101", "45", "1", 9), sentence("GGA", "GN", "", "", "", "", 7)}, 0.7, 101, 45, 1, 9},
		{"an empty GGA, then GNS", []string{sentence("GGA", "GN", "", "", "", "", 7), sentence("GNS", "GN", "0.7", "101", "45", "1", 9)}, 0.7, 101, 45, 1, 9},
	} {
		r := NewReader(strings.NewReader(stream(tc.in...)))
		if !r.Next() {
			t.Fatalf("%s: no fix", tc.name)
		}
		f := r.Fix()
		if float64(f.HDOP) != float64(float32(tc.hdop)) || f.HeightM != tc.height || f.GeoidM != tc.geoid || float64(f.AgeS) != tc.age || f.Satellites != tc.sats {
			t.Errorf("%s: HDOP %g, height %g, geoid %g, age %g, %d satellites; want %g, %g, %g, %g, %d", tc.name, f.HDOP, f.HeightM, f.GeoidM, f.AgeS, f.Satellites, tc.hdop, tc.height, tc.geoid, tc.age, tc.sats)
		}
	}
}

// What a stream was learned to send stays known however often it comes again.
func TestCycleNeverForgets(t *testing.T) {
	var c cycle
	var e epoch
	e.reset()
	e.kinds.add(&nmea.Sentence{Type: nmea.GGA, Talker: [2]byte{'G', 'P'}})
	for n := 1; n <= 600; n++ {
		c.learn(&e)
		if got := c.complete(&e); got != (n >= 3) {
			t.Fatalf("after %d alike: complete %v", n, got)
		}
	}
}
