// What belongs to an epoch, and which of two sentences counts.

package epoch

import (
	"fmt"
	"math"
	"slices"
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

// Of two sentences that give a position, GGA goes before GNS, RMC and GLL, GNS
// before RMC and GLL, RMC before GLL, whichever comes first.
func TestRankOfPairs(t *testing.T) {
	ranked := []struct {
		body    string
		latDeg  float64
		quality nmea.Quality
	}{
		{"$GNGGA,120000.0,5201.0,N,00701.0,E,5,11,0.7,101.2,M,,M,1.5,", 52 + 1.0/60, nmea.RTKFloat},
		{"$GNGNS,120000.0,5202.0,N,00702.0,E,RR,12,0.8,102.2,45.5,2.5,,", 52 + 2.0/60, nmea.RTKFixed},
		{"$GNRMC,120000.0,A,5203.0,N,00703.0,E,3,,010524,,,D", 52 + 3.0/60, nmea.Differential},
		{"$GNGLL,5204.0,N,00704.0,E,120000.0,A,E", 52 + 4.0/60, nmea.Estimated},
	}
	for i, better := range ranked {
		for _, worse := range ranked[i+1:] {
			for _, in := range []string{stream(better.body, worse.body), stream(worse.body, better.body)} {
				rd := NewReader(strings.NewReader(in))
				if rd.Next(); rd.Fix().LatDeg != better.latDeg || rd.Fix().Quality != better.quality {
					t.Errorf("%q: latitude %g, %v; want %g, %v", in, rd.Fix().LatDeg, rd.Fix().Quality, better.latDeg, better.quality)
				}
			}
		}
	}
	// Speed and course: RMC before VTG, and a VTG after the first sentence with a
	// time before one that led. Heading: the same.
	for _, tt := range []struct {
		in          []string
		knots, head float64
	}{
		{[]string{rmc("120000.0", "010524", 5), vtg(7)}, 5, 0},
		{[]string{gga("120000.0", 1), vtg(7), rmc("120000.0", "010524", 5)}, 5, 0},
		{[]string{"1714564800.100 " + gga("120000.1", 1), "1714564800.190 " + vtg(7), "1714564800.191 " + hdt(70), "1714564800.200 " + gga("120000.2", 1), "1714564800.201 " + vtg(8), "1714564800.202 " + hdt(80)}, 8, 80},
	} {
		rd := NewReader(strings.NewReader(stream(append([]string{"1714564800.000 " + gga("120000.0", 1)}, tt.in...)...)))
		var last nmea.Fix
		for rd.Next() {
			last = rd.Fix()
		}
		if knots := last.SpeedMps / mpsPerKnot; knots < tt.knots-1e-9 || knots > tt.knots+1e-9 || tt.head != 0 && last.HeadingDeg != tt.head {
			t.Errorf("%q: %g knots, heading %g; want %g, %g", tt.in, knots, last.HeadingDeg, tt.knots, tt.head)
		}
	}
}

// A pause is measured against the time between epochs, unless that is ten
// seconds or more.
func TestPeriod(t *testing.T) {
	var c cycle
	for _, tt := range []struct{ ns, want int64 }{{1e8, 1e8}, {10e9 - 1, 10e9 - 1}, {10e9, 0}, {10e9 + 1, 0}, {5e9, 5e9}} {
		if c.notePeriod(tt.ns); c.periodNs != tt.want {
			t.Errorf("%d ns between epochs: period %d; want %d", tt.ns, c.periodNs, tt.want)
		}
	}
}

// A ZDA before the first epoch does not put an epoch out of order, whether its
// time is that epoch's or not.
func TestClockBeforeTheFirstEpoch(t *testing.T) {
	for _, clock := range []string{"120000.0", "120000.5", "120002.0", "120002.1", "115957.9", "115958.0"} {
		rd := NewReader(strings.NewReader(stream(zda(clock, 1, 5, 2024), gga("120000.0", 1), gga("120000.2", 1), gga("120001.5", 1), gga("120003.0", 1))))
		for rd.Next() {
		}
		if got := rd.Counts().Epochs; got != (Counts{Fixes: 4}) {
			t.Errorf("ZDA of %s: %+v; want 4 fixes", clock, got)
		}
	}
}

// A ZDA between epochs gives the date if its time is within two seconds of the
// newest epoch.
func TestClockBetweenEpochs(t *testing.T) {
	for _, tt := range []struct {
		clock   string
		undated int64
	}{{"120002.9", 3}, {"120004.5", 2}, {"120005.1", 2}, {"120006.0", 2}, {"120007.0", 2}, {"120007.1", 3}} {
		rd := NewReader(strings.NewReader(stream(gga("120004.0", 1), gga("120005.0", 1), zda(tt.clock, 1, 5, 2024), gga("120006.0", 1))))
		for rd.Next() {
		}
		want := Counts{Fixes: 3, Undated: tt.undated}
		if got := rd.Counts().Epochs; got != want {
			t.Errorf("ZDA of %s: %+v; want %+v", tt.clock, got, want)
		}
	}
}

// Sentences without a time go to the epoch of the last one with a time, also
// where that is not believed yet; of an epoch that was dropped, nothing is left.
func TestUntimedOfHeld(t *testing.T) {
	in := []string{gga("120000.0", 1), vtg(1)}
	for i := range 7 {
		in = append(in, gga(fmt.Sprintf("130000.%d", i), 1), vtg(10+i))
	}
	in = append(in, gga("150000.0", 1), vtg(99), gga("130000.7", 1))
	rd := NewReader(strings.NewReader(stream(in...)))
	var knots []float64
	for rd.Next() {
		knots = append(knots, math.Round(rd.Fix().SpeedMps/mpsPerKnot))
	}
	if got := fmt.Sprint(knots); got != "[1 10 11 12 13 14 15 16 NaN]" {
		t.Errorf("speeds %s; want those of 1 and 10 to 16 knots, and none for the last", got)
	}
}

// ReadAsLive is live where there are arrival times alone, and tells Each all the
// same.
func TestReadAsLive(t *testing.T) {
	for _, arrivals := range []bool{false, true} {
		for _, each := range []bool{false, true} {
			var in []string
			for i := range 9 {
				head := ""
				if arrivals {
					head = fmt.Sprintf("17145648%02d.1 ", i)
				}
				in = append(in, head+gga(fmt.Sprintf("12000%d.0", i), 1))
			}
			late := "$GPHDT,5,T" // of the last epoch
			if arrivals {
				late = "1714564808.2 " + late
			}
			rd := NewReader(strings.NewReader(stream(append(in, late)...)))
			told := 0
			if each {
				rd.Each = func([]byte, *nmea.Sentence, error) { told++ }
			}
			rd.ReadAsLive()
			n := 0
			for rd.Next() {
				n++
			}
			want := Counts{Fixes: 9, Undated: 9}
			if arrivals {
				want.Late = 1
			}
			if got := rd.Counts().Epochs; got != want || n != 9 || each && told != 10 {
				t.Errorf("arrivals %v: %+v, %d fixes, %d sentences told; want %+v", arrivals, got, n, told, want)
			}
		}
	}
}

// A GGA without a time belongs to the time of a ZDA that is at most two seconds
// ahead of the first epoch.
func TestPositionAtTheClock(t *testing.T) {
	for _, tt := range []struct {
		clock   string
		untimed int64
	}{{"120000.0", 1}, {"120000.1", 0}, {"120002.0", 0}, {"120002.1", 1}, {"115959.0", 1}} {
		rd := NewReader(strings.NewReader(stream(zda(tt.clock, 1, 5, 2024), gga("120000.0", 1), "$GPGGA,,,,,,0,,,,,,,,")))
		for rd.Next() {
		}
		if got, want := rd.Counts().Epochs, (Counts{Fixes: 2 - tt.untimed, Untimed: tt.untimed}); got != want {
			t.Errorf("ZDA of %s: %+v; want %+v", tt.clock, got, want)
		}
	}
}

// Sets of up to three kinds have different signatures, in whatever order; GSA
// and ZDA do not count.
func TestSignatures(t *testing.T) {
	var kinds []nmea.Sentence
	for typ := nmea.GGA; typ <= nmea.GST; typ++ {
		for _, talker := range []string{"GP", "GN", "GL", "GA"} {
			kinds = append(kinds, nmea.Sentence{Type: typ, Talker: [2]byte([]byte(talker))})
		}
	}
	of := func(list ...nmea.Sentence) uint32 {
		var x kindSet
		for i := range list {
			x.add(&list[i])
		}
		return x.signature()
	}
	seen := map[uint32]bool{0: true}
	note := func(list ...nmea.Sentence) {
		s := of(list...)
		if seen[s] {
			t.Fatalf("%v has the signature of another set", list)
		}
		seen[s] = true
		slices.Reverse(list)
		if of(append(list, nmea.Sentence{Type: nmea.GSA}, nmea.Sentence{Type: nmea.ZDA})...) != s {
			t.Errorf("%v: another signature in another order, with GSA and ZDA", list)
		}
	}
	for i, a := range kinds {
		note(a)
		for j, b := range kinds[:i] {
			note(a, b)
			for _, c := range kinds[:j] {
				note(a, b, c)
			}
		}
	}
}
