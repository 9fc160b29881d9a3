// Which times are believed: clocks that are set, pauses, wrong dates.

package epoch

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"liftbench/nmea"
)

// sent is one epoch as the receiver sends it. Times are in seconds after noon
// of 2024-05-01.
type sent struct {
	atS       float64 // by the receiver's clock
	arrivalS  float64 // by the host's; 0 = the stream has no arrival times
	dated     bool    // an RMC follows the GGA
	wrongDays int     // by which the date of the RMC is too late
}

// epochs returns n epochs from startS on, stepS apart.
func epochs(startS, stepS float64, n int) (out []sent) {
	for i := range n {
		out = append(out, sent{atS: startS + float64(i)*stepS})
	}
	return out
}

// arriving adds arrival times delayS after the receiver's times.
func arriving(delayS float64, list []sent) []sent {
	for i := range list {
		list[i].arrivalS = list[i].atS + delayS
	}
	return list
}

// dated adds dates, wrong by so many days.
func dated(wrongDays int, list []sent) []sent {
	for i := range list {
		list[i].dated, list[i].wrongDays = true, wrongDays
	}
	return list
}

func join(lists ...[]sent) (out []sent) {
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

var noon = time.Date(2024, 5, 1, 12, 0, 0, 0, time.UTC)

func afterNoon(s float64) time.Time {
	return noon.Add(time.Duration(math.Round(s*1000)) * time.Millisecond)
}

func written(list []sent) string {
	var bodies []string
	for _, e := range list {
		head := ""
		if e.arrivalS != 0 {
			head = afterNoon(e.arrivalS).Format("2006-01-02T15:04:05.000Z ")
		}
		at := afterNoon(e.atS)
		bodies = append(bodies, head+gga(at.Format("150405.0"), 1))
		if e.dated {
			bodies = append(bodies, head+rmc(at.Format("150405.0"), at.AddDate(0, 0, e.wrongDays).Format("020106"), 5))
		}
	}
	return stream(bodies...)
}

func TestTimesBelieved(t *testing.T) {
	const hour, day = 3600.0, 86400.0
	for _, tt := range []struct {
		name   string
		in     []sent
		wantS  []sent // the times expected, in seconds after noon
		setS   float64
		counts Counts // Fixes is filled in from wantS, Undated where nothing is dated
	}{
		{"set back an hour", join(epochs(0, 0.1, 10), epochs(1-hour, 0.1, 9)), epochs(0, 0.1, 19), -hour, Counts{ClockSets: 1}},
		{"set back an hour after the first epoch: 0.1 s is assumed", join(epochs(0, 0.5, 1), epochs(0.5-hour, 0.5, 6)), join(epochs(0, 0.5, 1), epochs(0.1, 0.5, 6)), 0.4 - hour, Counts{ClockSets: 1}},
		{"set back an hour after the second", join(epochs(0, 0.5, 2), epochs(1-hour, 0.5, 6)), join(epochs(0, 0.5, 2), epochs(0.6, 0.5, 6)), 0.4 - hour, Counts{ClockSets: 1}},
		{"set back an hour after the third", join(epochs(0, 0.5, 3), epochs(1.5-hour, 0.5, 6)), epochs(0, 0.5, 9), -hour, Counts{ClockSets: 1}},
		{"set back an hour for four epochs", join(epochs(0, 0.1, 10), epochs(1-hour, 0.1, 4), epochs(1, 0.1, 3)), epochs(0, 0.1, 13), 0, Counts{OutOfOrder: 4}},
		{"ahead an hour for four epochs", join(epochs(0, 0.1, 10), epochs(hour, 0.1, 4), epochs(1, 0.1, 3)), epochs(0, 0.1, 13), 0, Counts{NotBelieved: 4}},
		{"ahead an hour", join(epochs(0, 0.1, 10), epochs(hour, 0.1, 9)), join(epochs(0, 0.1, 10), epochs(hour, 0.1, 9)), 0, Counts{}},
		{"ahead an hour, one epoch repeated", join(epochs(0, 0.1, 10), epochs(hour, 0.1, 3), epochs(hour+0.1, 0.1, 7)), join(epochs(0, 0.1, 10), epochs(hour, 0.1, 8)), 0, Counts{OutOfOrder: 2}},
		{"ahead an hour, epochs a minute apart", join(epochs(0, 0.1, 10), epochs(hour, 60, 5)), join(epochs(0, 0.1, 10), epochs(hour, 60, 5)), 0, Counts{}},
		{"ahead an hour, epochs more than a minute apart", join(epochs(0, 0.1, 10), epochs(hour, 60.1, 6)), epochs(0, 0.1, 10), 0, Counts{NotBelieved: 6}},
		{"set back an hour from one epoch to the next", join(epochs(0, 0.1, 10), epochs(0.9-hour, 0.1, 9)), epochs(0, 0.1, 19), -hour - 0.1, Counts{ClockSets: 1}},
		{"set back more than an hour: the next day's time", join(epochs(0, 0.1, 10), epochs(0.8-hour, 0.1, 9)), join(epochs(0, 0.1, 10), epochs(day+0.8-hour, 0.1, 9)), 0, Counts{}},
		{"set back half an hour, over midnight", join(epochs(12*hour, 0.1, 10), epochs(11.5*hour, 0.1, 9)), epochs(12*hour-day, 0.1, 19), -hour/2 - 1, Counts{ClockSets: 1}},
		{"ahead half an hour, over midnight", join(epochs(12*hour-20, 0.1, 10), epochs(12.5*hour, 0.1, 9)), join(epochs(12*hour-20, 0.1, 10), epochs(12.5*hour, 0.1, 9)), 0, Counts{}},
		{"ahead for four epochs, and once more", join(epochs(0, 0.1, 10), epochs(hour, 0.1, 4), epochs(1, 0.1, 3), epochs(hour+0.4, 0.1, 1), epochs(1.3, 0.1, 3)), epochs(0, 0.1, 16), 0, Counts{NotBelieved: 5}},
		{"four dates a day late, an hour's pause, one more", join(dated(0, epochs(0, 0.1, 10)), dated(1, epochs(1, 0.1, 4)), dated(0, epochs(hour, 0.1, 5)), dated(1, epochs(hour+0.5, 0.1, 1)), dated(0, epochs(hour+0.6, 0.1, 3))),
			join(epochs(0, 0.1, 14), epochs(hour, 0.1, 9)), 0, Counts{WrongDates: 5}},

		{"2 s ahead", join(epochs(0, 0.1, 10), epochs(2.9, 0.1, 1)), join(epochs(0, 0.1, 10), epochs(2.9, 0.1, 1)), 0, Counts{}},
		{"2.1 s ahead", join(epochs(0, 0.1, 10), epochs(3, 0.1, 1)), epochs(0, 0.1, 10), 0, Counts{NotBelieved: 1}},
		{"2 s back", join(epochs(0, 0.1, 30), epochs(0.9, 1, 1), epochs(3, 0.1, 2)), epochs(0, 0.1, 32), 0, Counts{OutOfOrder: 1}},
		{"every 10 s, 25 s ahead", join(epochs(0, 10, 10), epochs(115, 10, 1)), join(epochs(0, 10, 10), epochs(115, 10, 1)), 0, Counts{}},
		{"every 10 s, 25.1 s ahead", join(epochs(0, 10, 10), epochs(115.1, 10, 1)), epochs(0, 10, 10), 0, Counts{NotBelieved: 1}},
		{"every 50 s, 60 s ahead", join(epochs(0, 2, 2), epochs(4, 5, 2), epochs(14, 12, 2), epochs(55, 30, 2), epochs(135, 50, 10), epochs(645, 50, 1)),
			join(epochs(0, 2, 2), epochs(4, 5, 2), epochs(14, 12, 2), epochs(55, 30, 2), epochs(135, 50, 10), epochs(645, 50, 1)), 0, Counts{}},
		{"every 50 s, 60.1 s ahead", join(epochs(0, 2, 2), epochs(4, 5, 2), epochs(14, 12, 2), epochs(55, 30, 2), epochs(135, 50, 10), epochs(645.1, 50, 1)),
			join(epochs(0, 2, 2), epochs(4, 5, 2), epochs(14, 12, 2), epochs(55, 30, 2), epochs(135, 50, 10)), 0, Counts{NotBelieved: 1}},

		{"arrivals go on, the clock an hour ahead", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05-hour, epochs(1+hour, 0.1, 9))), epochs(0, 0.1, 19), hour, Counts{ClockSets: 1}},
		{"arrivals pause for two seconds, the clock an hour ahead", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05-hour, epochs(3+hour, 0.1, 9))), join(epochs(0, 0.1, 10), epochs(3, 0.1, 9)), hour, Counts{ClockSets: 1}},
		{"arrivals pause for an hour", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05, epochs(hour, 0.1, 1))), join(epochs(0, 0.1, 10), epochs(hour, 0.1, 1)), 0, Counts{}},
		{"arrivals pause for two days and an hour", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05, epochs(2*day+hour, 0.1, 1))), join(epochs(0, 0.1, 10), epochs(2*day+hour, 0.1, 1)), 0, Counts{}},
		{"arrivals pause for a day less an hour", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05, epochs(day-hour, 0.1, 1))), join(epochs(0, 0.1, 10), epochs(day-hour, 0.1, 1)), 0, Counts{}},
		{"arrivals pause for an hour, the epoch 2 s before its instant", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05-2, epochs(hour, 0.1, 1))), join(epochs(0, 0.1, 10), epochs(hour, 0.1, 1)), 0, Counts{}},
		{"arrivals pause for an hour, the epoch 2.1 s before its instant", join(arriving(0.05, epochs(0, 0.1, 10)), arriving(0.05-2.1, epochs(hour, 0.1, 1))), epochs(0, 0.1, 10), 0, Counts{NotBelieved: 1}},
		{"arrivals missing before a pause", join(arriving(0.05, epochs(0, 0.1, 8)), epochs(0.8, 0.1, 2), arriving(0.05, epochs(hour, 0.1, 1))), epochs(0, 0.1, 10), 0, Counts{NotBelieved: 1}},

		{"four dates a day late", join(dated(0, epochs(0, 0.1, 10)), dated(1, epochs(1, 0.1, 4)), dated(0, epochs(1.4, 0.1, 9))), epochs(0, 0.1, 23), 0, Counts{WrongDates: 4}},
		{"five dates a day late", join(dated(0, epochs(0, 0.1, 10)), dated(1, epochs(1, 0.1, 9))), epochs(0, 0.1, 19), day, Counts{WrongDates: 5, ClockSets: 1}},
		{"one date two days late, then four one day late", join(dated(0, epochs(0, 0.1, 10)), dated(2, epochs(1, 0.1, 1)), dated(1, epochs(1.1, 0.1, 4)), dated(0, epochs(1.5, 0.1, 9))), epochs(0, 0.1, 24), 0, Counts{WrongDates: 5}},
		{"four dates a day late, twice", join(dated(0, epochs(0, 0.1, 10)), dated(1, epochs(1, 0.1, 4)), dated(0, epochs(1.4, 0.1, 1)), dated(1, epochs(1.5, 0.1, 4)), dated(0, epochs(1.9, 0.1, 1))), epochs(0, 0.1, 20), 0, Counts{WrongDates: 8}},
		{"a day late for good, then a pause without dates", join(dated(0, epochs(0, 0.1, 10)), dated(1, epochs(1, 0.1, 9)), epochs(hour, 0.1, 9)), join(epochs(0, 0.1, 19), epochs(hour, 0.1, 9)), day, Counts{WrongDates: 5, ClockSets: 1}},
		{"a year less a day later", join(dated(0, epochs(0, 0.1, 10)), dated(0, epochs(364*day+hour, 0.1, 9))), join(epochs(0, 0.1, 10), epochs(364*day+hour, 0.1, 9)), 0, Counts{}},
		{"366 days and an hour later", join(dated(0, epochs(0, 0.1, 10)), dated(0, epochs(366*day+hour, 0.1, 9))), epochs(0, 0.1, 19), 366*day + hour - 1, Counts{ClockSets: 1}},
		{"an hour ahead, one of the dates wrong", join(dated(0, epochs(0, 0.1, 10)), dated(0, epochs(hour, 0.1, 2)), dated(3, epochs(hour+0.2, 0.1, 1)), dated(0, epochs(hour+0.3, 0.1, 6))), join(epochs(0, 0.1, 10), epochs(hour, 0.1, 9)), 0, Counts{WrongDates: 1}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			anyDated := false
			for _, e := range tt.in {
				anyDated = anyDated || e.dated
			}
			rd := NewReader(strings.NewReader(written(tt.in)))
			var got, want []string
			last := nmea.Fix{}
			for rd.Next() {
				last = rd.Fix()
				got = append(got, time.Unix(0, last.TimeNs).UTC().Format("2006-01-02T15:04:05.000"))
			}
			for _, e := range tt.wantS {
				at := afterNoon(e.atS)
				if !anyDated { // days count from the midnight before the first
					at = at.Add(-time.Duration(noon.Truncate(24 * time.Hour).UnixNano()))
				}
				want = append(want, at.Format("2006-01-02T15:04:05.000"))
			}
			if fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			if setS := float64(last.ClockSetNs) / 1e9; setS-tt.setS > 0.001 || tt.setS-setS > 0.001 {
				t.Errorf("the clock is set by %g s; want %g", setS, tt.setS)
			}
			if tt.counts.Fixes = int64(len(tt.wantS)); !anyDated {
				tt.counts.Undated = tt.counts.Fixes
			}
			if c := rd.Counts().Epochs; c != tt.counts {
				t.Errorf("counts %+v; want %+v", c, tt.counts)
			}
		})
	}
}

// The first date may come with epochs whose time is not believed yet. All days
// are counted from it then, and no clock was set.
func TestFirstDateAmongHeld(t *testing.T) {
	rd := NewReader(strings.NewReader(written(join(epochs(0, 0.1, 10), epochs(3*3600, 0.1, 2), dated(0, epochs(3*3600+0.2, 0.1, 5))))))
	var fixes []nmea.Fix
	for rd.Next() {
		fixes = append(fixes, rd.Fix())
	}
	if len(fixes) != 17 || fixes[9].Dated || fixes[9].TimeNs != int64(12*time.Hour+900*time.Millisecond) {
		t.Fatalf("%d fixes; want 17, the first ten without a date", len(fixes))
	}
	for i, f := range fixes[10:] {
		if want := afterNoon(3*3600 + float64(i)*0.1).UnixNano(); f.TimeNs != want || !f.Dated || f.ClockSetNs != 0 {
			t.Errorf("fix %d of the later ones is of %d, dated %v, clock set by %d; want %d", i, f.TimeNs, f.Dated, f.ClockSetNs, want)
		}
	}
	if c := rd.Counts().Epochs; c != (Counts{Fixes: 17, Undated: 10}) {
		t.Errorf("%+v", c)
	}
}

// A GST opens an epoch without a position. Times elsewhere are believed all the
// same once enough agree, and are not taken for a clock that was set.
func TestHeldBeforeAnyFix(t *testing.T) {
	rd := NewReader(strings.NewReader(stream("$GPGST,120000.0,,,,,1,1,1") + written(epochs(3600, 0.1, 7))))
	n := 0
	for rd.Next() {
		f := rd.Fix()
		if want := int64(13*time.Hour) + int64(n)*1e8; f.TimeNs != want || f.ClockSetNs != 0 {
			t.Errorf("fix %d is of %d; want %d", n, f.TimeNs, want)
		}
		n++
	}
	if c := rd.Counts().Epochs; c != (Counts{Fixes: 7, Undated: 7}) {
		t.Errorf("%+v; want 7 fixes", c)
	}
}

// However often an epoch was closed too early, 192 alike are enough.
func TestCycleAsksForNoMoreThan192(t *testing.T) {
	var c cycle
	var e epoch
	e.reset()
	e.kinds.add(&nmea.Sentence{Type: nmea.GGA, Talker: [2]byte{'G', 'P'}})
	for range 10 {
		c.closedTooEarly(0)
	}
	for n := 1; n <= 300; n++ {
		c.learn(&e)
		if got := c.complete(&e); got != (n >= 192) {
			t.Fatalf("after %d alike: complete %v", n, got)
		}
	}
}

// The least age follows clocks that drift: down at once, up by a 256th of the
// difference with each epoch.
func TestLeastAge(t *testing.T) {
	var l timeline
	arrive := func(ageMs int64) {
		f := nmea.Fix{TimeNs: 1000e9, ArrivalNs: 1000e9 + ageMs*1e6}
		l.noteAge(&f)
	}
	for _, tt := range []struct{ ageMs, wantMs float64 }{{100, 100}, {80, 80}, {336, 81}, {80, 80}} {
		if arrive(int64(tt.ageMs)); math.Abs(float64(l.leastAgeNs)/1e6-tt.wantMs) > 0.001 || !l.hasAge {
			t.Errorf("after an age of %g ms the least is %g ms; want %g", tt.ageMs, float64(l.leastAgeNs)/1e6, tt.wantMs)
		}
	}
	for range 2000 {
		arrive(336)
	}
	if ms := float64(l.leastAgeNs) / 1e6; ms < 335 || ms > 336 {
		t.Errorf("long after the drift the least age is %g ms; want 336", ms)
	}
	l.noteAge(&nmea.Fix{TimeNs: 1})
	if l.hasAge {
		t.Error("an epoch without an arrival time leaves an age")
	}
}
