// Which sentences make one fix, in what order and rate they come, across
// midnight, without date, repeated and out of order.

package epoch

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"liftbench/nmea"
)

// withSum adds the checksum to a sentence without one.
func withSum(body string) string {
	sum := byte(0)
	for _, c := range []byte(body[1:]) {
		sum ^= c
	}
	return fmt.Sprintf("%s*%02X", body, sum)
}

const mpsPerKnot = 1852.0 / 3600

// stream joins bodies of sentences, each as "[arrival] body".
func stream(bodies ...string) string {
	var b strings.Builder
	for _, body := range bodies {
		head := ""
		if i := strings.IndexByte(body, '$'); i > 0 {
			head, body = body[:i], body[i:]
		}
		b.WriteString(head + withSum(body) + "\r\n")
	}
	return b.String()
}

func gga(clock string, lat int) string {
	return fmt.Sprintf("$GPGGA,%s,52%02d.5,N,00754.0,E,4,17,0.7,101.2,M,45.1,M,1.0,", clock, lat)
}

func rmc(clock, date string, knots int) string {
	return fmt.Sprintf("$GPRMC,%s,A,5259.9,N,00754.0,E,%d,33.2,%s,,,R", clock, knots, date)
}

func vtg(knots int) string { return fmt.Sprintf("$GPVTG,33.2,T,,M,%d,N,,K,R", knots) }

func hdt(deg int) string { return fmt.Sprintf("$GPHDT,%d,T", deg) }

func zda(clock string, day, month, year int) string {
	return fmt.Sprintf("$GPZDA,%s,%02d,%02d,%d,00,00", clock, day, month, year)
}

// show writes a fix as "time lat speed heading", what is missing as -.
func show(f *nmea.Fix) string {
	layout := "15:04:05.0"
	if f.Dated {
		layout = "2006-01-02T15:04:05.0"
	} else if f.TimeNs >= nsPerDay {
		layout = "+2 15:04:05.0" // the second day
	}
	out := time.Unix(0, f.TimeNs).UTC().Format(layout)
	if f.HasPosition() {
		out += fmt.Sprintf(" %.1f'", (f.LatDeg-52)*60)
	} else {
		out += " -"
	}
	for _, v := range []float64{f.SpeedMps / mpsPerKnot, f.HeadingDeg} {
		if math.IsNaN(v) {
			out += " -"
		} else {
			out += fmt.Sprintf(" %.0f", v)
		}
	}
	return out
}

func TestAssembler(t *testing.T) {
	tests := []struct {
		name   string
		in     []string
		want   []string
		counts Counts // Fixes is filled in from want
	}{
		{"GGA first", []string{gga("120000.0", 1), rmc("120000.0", "010524", 5), vtg(9), gga("120000.1", 2), rmc("120000.1", "010524", 6), vtg(9)},
			[]string{"2024-05-01T12:00:00.0 1.5' 5 -", "2024-05-01T12:00:00.1 2.5' 6 -"}, Counts{}},
		{"RMC first, GGA last", []string{rmc("120000.0", "010524", 5), gga("120000.0", 1), rmc("120000.1", "010524", 6), gga("120000.1", 2)},
			[]string{"2024-05-01T12:00:00.0 1.5' 5 -", "2024-05-01T12:00:00.1 2.5' 6 -"}, Counts{}},
		{"RMC alone", []string{rmc("120000.0", "010524", 5)}, []string{"2024-05-01T12:00:00.0 59.9' 5 -"}, Counts{}},
		{"VTG at 1 Hz, GGA at 10 Hz", []string{gga("120000.0", 1), vtg(5), gga("120000.1", 2), gga("120000.2", 3), vtg(6)},
			[]string{"12:00:00.0 1.5' 5 -", "12:00:00.1 2.5' - -", "12:00:00.2 3.5' 6 -"}, Counts{Undated: 3}},
		{"HDT at 20 Hz between: the first after the fix counts", []string{hdt(1), gga("120000.0", 1), hdt(2), hdt(3), gga("120000.1", 2), hdt(4)},
			[]string{"12:00:00.0 1.5' - 2", "12:00:00.1 2.5' - 4"}, Counts{Undated: 2}},
		{"a pause shows that HDT leads", []string{
			"1714564800.000 " + gga("120000.0", 1), "1714564800.090 " + hdt(2), "1714564800.100 " + gga("120000.1", 2),
			"1714564800.190 " + hdt(3), "1714564800.192 " + vtg(7), "1714564800.200 " + gga("120000.2", 3), "1714564800.201 " + vtg(8)},
			[]string{"12:00:00.0 1.5' - 2", "12:00:00.1 2.5' - -", "12:00:00.2 3.5' 8 3"}, Counts{Undated: 3}},
		{"no pause while other sentences come", []string{
			"1714564800.000 " + gga("120000.0", 1), "1714564800.100 " + gga("120000.1", 2), "1714564800.150 $GPGSV,1,1,00", "1714564800.190 " + vtg(7)},
			[]string{"12:00:00.0 1.5' - -", "12:00:00.1 2.5' 7 -"}, Counts{Undated: 2}},
		{"whole seconds show no pause", []string{
			"1714564800 " + gga("120000.0", 1), "1714564801 " + gga("120001.0", 2), "1714564802 " + vtg(7), "1714564802 " + gga("120002.0", 3)},
			[]string{"12:00:00.0 1.5' - -", "12:00:01.0 2.5' 7 -", "12:00:02.0 3.5' - -"}, Counts{Undated: 3}},
		{"ZDA once a second", []string{gga("120000.0", 1), zda("120000.0", 1, 5, 2024), gga("120000.5", 2), gga("120001.0", 3), zda("120001.0", 1, 5, 2024)},
			[]string{"2024-05-01T12:00:00.0 1.5' - -", "2024-05-01T12:00:00.5 2.5' - -", "2024-05-01T12:00:01.0 3.5' - -"}, Counts{}},
		{"ZDA before the other sentences of its epoch", []string{zda("120000.0", 1, 5, 2024), gga("120000.0", 1), gga("120000.5", 2), zda("120001.0", 1, 5, 2024), gga("120001.0", 3), vtg(5), zda("120002.0", 1, 5, 2024), rmc("120002.0", "010524", 6), gga("120002.0", 4)},
			[]string{"2024-05-01T12:00:00.0 1.5' - -", "2024-05-01T12:00:00.5 2.5' - -", "2024-05-01T12:00:01.0 3.5' 5 -", "2024-05-01T12:00:02.0 4.5' 6 -"}, Counts{}},
		{"ZDA before its epoch, over midnight", []string{gga("235959.0", 1), zda("000000.0", 2, 5, 2024), gga("000000.0", 2), gga("235959.0", 1), zda("000001.0", 2, 5, 2024), gga("000001.0", 3)},
			[]string{"23:59:59.0 1.5' - -", "2024-05-02T00:00:00.0 2.5' - -", "2024-05-02T00:00:01.0 3.5' - -"}, Counts{Undated: 1, OutOfOrder: 1}},
		{"ZDA between the epochs opens none", []string{gga("120000.0", 1), zda("120000.3", 1, 5, 2024), vtg(5), gga("120000.5", 2)},
			[]string{"12:00:00.0 1.5' 5 -", "2024-05-01T12:00:00.5 2.5' - -"}, Counts{Undated: 1}},
		{"date comes late", []string{gga("120000.0", 1), gga("120001.0", 2), rmc("120001.0", "010524", 5), gga("120002.0", 3)},
			[]string{"12:00:00.0 1.5' - -", "2024-05-01T12:00:01.0 2.5' 5 -", "2024-05-01T12:00:02.0 3.5' - -"}, Counts{Undated: 1}},
		{"midnight, date in each epoch", []string{gga("235959.9", 1), rmc("235959.9", "311224", 5), gga("000000.0", 2), rmc("000000.0", "010125", 5)},
			[]string{"2024-12-31T23:59:59.9 1.5' 5 -", "2025-01-01T00:00:00.0 2.5' 5 -"}, Counts{}},
		{"midnight, date once before", []string{rmc("235959.8", "280224", 5), gga("235959.9", 1), gga("000000.0", 2)},
			[]string{"2024-02-28T23:59:59.8 59.9' 5 -", "2024-02-28T23:59:59.9 1.5' - -", "2024-02-29T00:00:00.0 2.5' - -"}, Counts{}},
		{"midnight without date", []string{gga("235959.9", 1), gga("000000.0", 2)},
			[]string{"23:59:59.9 1.5' - -", "+2 00:00:00.0 2.5' - -"}, Counts{Undated: 2}},
		{"straggler over midnight", []string{gga("000000.0", 2), gga("235959.9", 1), gga("000000.1", 3)},
			[]string{"00:00:00.0 2.5' - -", "00:00:00.1 3.5' - -"}, Counts{Undated: 2, OutOfOrder: 1}},
		{"the next day's work", []string{gga("193000.0", 1), gga("074500.0", 2), gga("074500.1", 3), gga("074500.2", 4), gga("074500.3", 5), gga("074500.4", 6)},
			[]string{"19:30:00.0 1.5' - -", "+2 07:45:00.0 2.5' - -", "+2 07:45:00.1 3.5' - -", "+2 07:45:00.2 4.5' - -", "+2 07:45:00.3 5.5' - -", "+2 07:45:00.4 6.5' - -"}, Counts{Undated: 6}},
		{"the next day's work, too little of it to be believed", []string{gga("193000.0", 1), gga("074500.0", 2), gga("074500.1", 3), gga("074500.2", 4), gga("074500.3", 5)},
			[]string{"19:30:00.0 1.5' - -"}, Counts{Undated: 1, NotBelieved: 4}},
		{"days later by date", []string{rmc("120000.0", "010524", 5), gga("105900.0", 1), rmc("105900.0", "040524", 6), gga("105901.0", 2), gga("105902.0", 3), gga("105903.0", 4), gga("105904.0", 5)},
			[]string{"2024-05-01T12:00:00.0 59.9' 5 -", "2024-05-04T10:59:00.0 1.5' 6 -", "2024-05-04T10:59:01.0 2.5' - -", "2024-05-04T10:59:02.0 3.5' - -", "2024-05-04T10:59:03.0 4.5' - -", "2024-05-04T10:59:04.0 5.5' - -"}, Counts{}},
		{"a pause that the arrival shows is believed at once", []string{"1714564800.100 " + gga("120000.0", 1), "1714564800.200 " + gga("120000.1", 2), "1714568400.100 " + gga("130000.0", 3)},
			[]string{"12:00:00.0 1.5' - -", "12:00:00.1 2.5' - -", "13:00:00.0 3.5' - -"}, Counts{Undated: 3}},
		{"repeated epoch", []string{gga("120000.0", 1), vtg(5), gga("120000.0", 1), vtg(5), gga("120000.1", 2)},
			[]string{"12:00:00.0 1.5' 5 -", "12:00:00.1 2.5' - -"}, Counts{Undated: 2, Duplicates: 1}},
		{"repeated after the next", []string{gga("120000.0", 1), gga("120000.1", 2), gga("120000.0", 1), gga("120000.0", 1), vtg(5)},
			[]string{"12:00:00.0 1.5' - -", "12:00:00.1 2.5' 5 -"}, Counts{Undated: 2, Duplicates: 1}},
		{"out of order", []string{gga("120000.2", 1), gga("120000.3", 2), gga("120000.1", 3), gga("120000.1", 3), gga("115959.9", 3), gga("120000.4", 4)},
			[]string{"12:00:00.2 1.5' - -", "12:00:00.3 2.5' - -", "12:00:00.4 4.5' - -"}, Counts{Undated: 3, OutOfOrder: 2}},
		{"an old recording again", []string{rmc("120000.0", "010524", 5), rmc("120001.0", "010524", 5), gga("120000.0", 1), rmc("120000.0", "010524", 5), gga("100000.0", 1), rmc("100000.0", "010524", 5), rmc("120002.0", "010524", 7)},
			[]string{"2024-05-01T12:00:00.0 59.9' 5 -", "2024-05-01T12:00:01.0 59.9' 5 -", "2024-05-01T12:00:02.0 59.9' 7 -"}, Counts{Duplicates: 1, OutOfOrder: 1, Late: 1}},
		{"two talkers, one epoch", []string{gga("120000.0", 1), strings.Replace(gga("120000.0", 1), "GP", "GL", 1), gga("120000.1", 2)},
			[]string{"12:00:00.0 1.5' - -", "12:00:00.1 2.5' - -"}, Counts{Undated: 2}},
		{"status V takes the fix away, and says no date", []string{gga("120000.0", 1), strings.Replace(rmc("120000.0", "010524", 5), ",A,", ",V,", 1)},
			[]string{"12:00:00.0 - 5 -"}, Counts{Undated: 1}},
		{"before the first fix", []string{"$GPGGA,,,,,,0,,,,,,,,", "$GPRMC,,V,,,,,,,,,,N", vtg(1), gga("120000.0", 1)},
			[]string{"12:00:00.0 1.5' - -"}, Counts{Undated: 1, Untimed: 2}},
		{"time from ZDA alone", []string{zda("120000.0", 1, 5, 2024), "$GPGGA,,,,,,0,,,,,,,,", vtg(1), "$GPGGA,,,,,,0,,,,,,,,", zda("120001.0", 1, 5, 2024), "$GPGGA,,,,,,0,,,,,,,,"},
			[]string{"2024-05-01T12:00:00.0 - 1 -", "2024-05-01T12:00:01.0 - - -"}, Counts{Untimed: 1}},
		{"GST alone is no fix", []string{"$GPGST,120000.0,,,,,1,1,1", gga("120000.1", 1)}, []string{"12:00:00.1 1.5' - -"}, Counts{Undated: 1}},
		{"leap second", []string{gga("235959.0", 1), gga("235960.0", 2), gga("000000.0", 3), gga("000001.0", 4)},
			[]string{"23:59:59.0 1.5' - -", "+2 00:00:00.0 2.5' - -", "+2 00:00:01.0 4.5' - -"}, Counts{Undated: 3, OutOfOrder: 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rd := NewReader(strings.NewReader(stream(tt.in...)))
			var got []string
			for rd.Next() {
				f := rd.Fix()
				got = append(got, show(&f))
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got\n  %s\nexpected\n  %s", strings.Join(got, "\n  "), strings.Join(tt.want, "\n  "))
			}
			tt.counts.Fixes = int64(len(tt.want))
			if c := rd.Counts().Epochs; c != tt.counts {
				t.Errorf("counts %+v; expected %+v", c, tt.counts)
			}
		})
	}
}

func TestPrecedenceWhateverTheOrder(t *testing.T) {
	const clock = "120000.00"
	bodies := []string{
		"$GNGGA," + clock + ",5201.0,N,00701.0,E,5,11,0.7,101.2,M,,M,1.5,",
		"$GNGNS," + clock + ",5202.0,N,00702.0,E,AA,12,0.8,102.2,45.5,2.5,,",
		"$GNRMC," + clock + ",A,5203.0,N,00703.0,E,3,,010524,,,A",
		"$GNGLL,5204.0,N,00704.0,E," + clock + ",A,D",
		"$GNVTG,44,T,,M,4,N,,K,A",
		"$GNGSA,A,3,1,2,,,,,,,,,,,2,0.9,1",
		"$GNGST," + clock + ",,,,,0.1,0.2,0.3",
		"$GNROT,60,A",
		"$GNTHS,77,A",
		"$GNZDA," + clock + ",01,05,2024,,",
	}
	knots := 3.0
	want := nmea.EmptyFix()
	want.TimeNs, want.Dated = time.Date(2024, 5, 1, 12, 0, 0, 0, time.UTC).UnixNano(), true
	want.LatDeg, want.LonDeg, want.Quality = 52+1.0/60, 7+1.0/60, nmea.RTKFloat
	want.Satellites, want.HDOP, want.HeightM, want.GeoidM, want.AgeS = 12, 0.7, 101.2, 45.5, 1.5
	want.SpeedMps, want.CourseDeg, want.HeadingDeg, want.YawRateDegPerS = knots*mpsPerKnot, 44, 77, 1
	want.SigmaNorthM, want.SigmaEastM, want.SigmaHeightM = 0.1, 0.2, 0.3
	rapid.Check(t, func(t *rapid.T) {
		order := rapid.Permutation(bodies).Draw(t, "order")
		// A timed sentence must open the epoch.
		first := slices.IndexFunc(order, func(s string) bool { return strings.Contains(s, clock) && !strings.Contains(s, "ZDA") })
		order[0], order[first] = order[first], order[0]
		rd := NewReader(strings.NewReader(stream(order...)))
		if !rd.Next() {
			t.Fatal("no fix")
		}
		got := rd.Fix()
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("got  %+v\nexpected %+v", got, want)
		}
	})
}

// liveFixes reads a stream sentence by sentence and notes after which one each
// fix came out.
func liveFixes(t *testing.T, in string, live bool) (fixes []nmea.Fix, after []int, counts Counts) {
	t.Helper()
	sc := nmea.NewScanner(strings.NewReader(in))
	a := Assembler{Live: live}
	var s nmea.Sentence
	var f nmea.Fix
	n := 0
	drain := func() {
		for a.Next(&f) {
			fixes, after = append(fixes, f), append(after, n)
		}
	}
	for sc.Scan() {
		if err := nmea.Parse(sc.Bytes(), &s); err != nil {
			t.Fatal(err)
		}
		s.ArrivalNs = sc.ArrivalNs()
		a.Add(&s)
		drain()
		n++
	}
	a.Flush()
	drain()
	return fixes, after, a.Counts()
}

// tenHertz is seconds of a receiver that sends GGA and RMC at 10 Hz, VTG after
// the first of each second, GST before the sixth, and ZDA and GSA once.
func tenHertz(seconds int) (bodies []string, last []int) {
	for i := range seconds * 10 {
		clock := time.UnixMilli(1714564790_000 + int64(i)*100).UTC().Format("150405.0")
		if i%10 == 5 {
			bodies = append(bodies, "$GPGST,"+clock+",,,,,0.01,0.02,0.03")
		}
		bodies = append(bodies, gga(clock, i%60), rmc(clock, "010524", i))
		if i%10 == 0 {
			bodies = append(bodies, vtg(i))
		}
		last = append(last, len(bodies)-1)
		if i%10 == 3 {
			bodies = append(bodies, zda(clock, 1, 5, 2024), "$GPGSA,A,3,,,,,,,,,,,,,1,1,1")
		}
	}
	return bodies, last
}

func TestLiveAddsNoLatency(t *testing.T) {
	bodies, last := tenHertz(10)
	in := stream(bodies...)
	offline, _, _ := liveFixes(t, in, false)
	live, after, counts := liveFixes(t, in, true)
	if fmt.Sprint(live) != fmt.Sprint(offline) || len(live) != 100 {
		t.Errorf("%d fixes live, %d offline; expected the same 100", len(live), len(offline))
	}
	for i := 10 * seenBefore; i < len(after); i++ {
		if after[i] != last[i] {
			t.Errorf("fix %d came after sentence %d; expected after its own last, %d", i, after[i], last[i])
		}
	}
	if counts.Late != 0 {
		t.Errorf("%d late sentences; expected none", counts.Late)
	}
}

// When a receiver starts to send more, live loses it once for each place in
// the second, and then waits for it.
func TestLiveLearnsAnew(t *testing.T) {
	var bodies []string
	for i := range 20 {
		clock := time.UnixMilli(1714564790_000 + int64(i)*1000).UTC().Format("150405.0")
		bodies = append(bodies, gga(clock, i))
		if i >= 10 {
			bodies = append(bodies, vtg(i))
		}
	}
	fixes, _, counts := liveFixes(t, stream(bodies...), true)
	if len(fixes) != 20 || counts.Late != 1 {
		t.Fatalf("%d fixes, %d late; expected 20 and 1", len(fixes), counts.Late)
	}
	for i, f := range fixes {
		if math.IsNaN(f.SpeedMps) != (i <= 10) {
			t.Errorf("fix %d has speed %v; expected one from the twelfth on", i, f.SpeedMps)
		}
	}
}

// Where epochs differ in turn, nothing is closed early and nothing is lost.
func TestLiveWaitsWhereNothingRepeats(t *testing.T) {
	var bodies []string
	for i := range 30 {
		clock := time.UnixMilli(1714564790_000 + int64(i)*1000).UTC().Format("150405.0")
		bodies = append(bodies, gga(clock, i))
		if i%2 == 0 {
			bodies = append(bodies, vtg(i))
		}
	}
	in := stream(bodies...)
	offline, _, _ := liveFixes(t, in, false)
	live, _, counts := liveFixes(t, in, true)
	if counts.Late != 0 || fmt.Sprint(live) != fmt.Sprint(offline) {
		t.Errorf("%d late; expected none, and the same fixes as offline", counts.Late)
	}
}

// From any mess of sentences, fixes come out in strictly increasing time, and
// live or not loses none of a regular stream.
func TestTimeNeverDecreases(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		piece := rapid.Custom(func(t *rapid.T) string {
			clock := time.UnixMilli(rapid.Int64Range(0, 2*86400*5).Draw(t, "t") * 200).UTC()
			hms := clock.Format("150405.0")
			switch rapid.IntRange(0, 6).Draw(t, "type") {
			case 0, 1:
				return gga(hms, 1)
			case 2:
				return rmc(hms, clock.Format("020106"), 1)
			case 3:
				return zda(hms, clock.Day(), int(clock.Month()), clock.Year())
			case 4:
				return vtg(1)
			case 5:
				return "$GPGGA,,,,,,0,,,,,,,,"
			}
			return hdt(1)
		})
		bodies := rapid.SliceOf(piece).Draw(t, "bodies")
		for _, live := range []bool{false, true} {
			rd := NewReader(strings.NewReader(stream(bodies...)))
			rd.Assembler.Live = live
			last := int64(math.MinInt64)
			for rd.Next() {
				f := rd.Fix()
				if f.TimeNs <= last {
					t.Fatalf("time %d after %d", f.TimeNs, last)
				}
				last = f.TimeNs
			}
		}
	})
}
