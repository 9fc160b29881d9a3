// Parts of the assembler by themselves: days, distances in time, pauses, kinds and cycles, beside a
// search through all answers.

package epoch

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"liftbench/nmea"
)

const hourNs = 3600 * nsPerSecond

// aTime draws a time within ten days, on a grid so that limits are met.
func aTime(t *rapid.T, name string) int64 {
	return rapid.Int64Range(0, 10*24*4).Draw(t, name) * hourNs / 4
}

// Days are whole, and nearest; a half goes away from 0.
func TestWholeDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ns := rapid.Int64Range(-400, 400).Draw(t, "quarter days") * nsPerDay / 4
		want := int64(0)
		for d := int64(-101); d <= 101; d++ {
			off, best := max(ns-d*nsPerDay, d*nsPerDay-ns), max(ns-want, want-ns)
			if off < best || off == best && max(d, -d)*nsPerDay > max(want, -want) {
				want = d * nsPerDay
			}
		}
		if got := wholeDays(ns); got != want {
			t.Fatalf("%d ns: %d; want %d", ns, got, want)
		}
	})
}

// A time of day without a date is of the day that puts it at most an hour before the last time known,
// or less than 23 hours after: one of all days does.
func TestFullTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		last := nsPerDay*100 + aTime(t, "last")
		s := nmea.Sentence{TimeOfDayNs: rapid.Int64Range(0, 95).Draw(t, "time of day") * hourNs / 4, DateNs: 7 * nsPerDay, Status: nmea.StatusVoid}
		set := rapid.Int64Range(-40, 40).Draw(t, "clock set") * hourNs / 4
		of := map[string]*Assembler{
			"an open epoch": {currentOpen: true, current: epoch{fix: nmea.Fix{TimeNs: last - set}}, line: timeline{setNs: set}},
			"a fix":         {hasLast: true, last: epoch{fix: nmea.Fix{TimeNs: last - set}}, line: timeline{setNs: set}},
			"a clock after": {hasLast: true, last: epoch{fix: nmea.Fix{TimeNs: last - set - 5e9}}, hasClock: true, clockNs: last - set, line: timeline{setNs: set}},
			"a clock alone": {hasClock: true, clockNs: last},
		}
		want := int64(0)
		for d := int64(95); d < 115; d++ {
			if at := d*nsPerDay + s.TimeOfDayNs; at >= last-hourNs && at < last+23*hourNs {
				want = at
			}
		}
		for name, a := range of {
			if got := a.fullTime(&s); got != want {
				t.Fatalf("after %s at %d: %d; want %d", name, last, got, want)
			}
		}
		s.Status = 0
		if got := of["a fix"].fullTime(&s); got != 7*nsPerDay+s.TimeOfDayNs {
			t.Fatalf("with a date: %d", got)
		}
		s.DateNs = nmea.EmptyFix().TimeNs
		if got := (&Assembler{}).fullTime(&nmea.Sentence{TimeOfDayNs: 5, DateNs: 3 * nsPerDay, Status: nmea.StatusVoid}); got != 5 {
			t.Fatalf("nothing known: %d; want 5", got)
		}
	})
}

// A time of day is ahead by more than minus half a day and at most half a day, counted from the
// stream's time by the receiver's clock.
func TestAhead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := timeline{setNs: rapid.Int64Range(-200, 200).Draw(t, "clock set") * hourNs / 4}
		from, by := 20*nsPerDay+aTime(t, "from"), rapid.Int64Range(-47, 48).Draw(t, "by")*hourNs/4
		if got := l.aheadNs(from, nmea.TimeOfDayNs(from+by+l.setNs)); got != by {
			t.Fatalf("%d ahead; want %d", got, by)
		}
	})
}

// Near is two and a half of the shorter of the last two intervals, from two seconds to a minute.
func TestNear(t *testing.T) {
	for _, tc := range []struct{ older, newer, want float64 }{{1, 1, 2.5}, {0.1, 0.1, 2}, {0.8, 9, 2}, {0.88, 9, 2.2}, {9, 0.88, 2.2}, {30, 40, 60}, {20, 30, 50}, {0, 30, 2}} {
		l := timeline{}
		l.noteInterval(int64(tc.older * 1e9))
		l.noteInterval(int64(tc.newer * 1e9))
		if got := l.nearNs(); got != int64(tc.want*1e9) {
			t.Errorf("intervals of %g and %g s: %d ns; want %g s", tc.older, tc.newer, got, tc.want)
		}
	}
}

// After a pause the day is the last one on which the epoch would not have arrived sooner after its
// own time, by more than two seconds, than any before it did.
func TestTimeAfterPause(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		newest := 50*nsPerDay + aTime(t, "newest")
		least := rapid.Int64Range(-8, 8).Draw(t, "least age") * hourNs / 4
		ahead := rapid.Int64Range(-47, 48).Draw(t, "ahead") * hourNs / 4
		arrival := newest + least + rapid.Int64Range(-8, 400).Draw(t, "arrival")*hourNs/4 - rapid.SampledFrom([]int64{0, 1, 2e9, 2e9 + 1}).Draw(t, "less")
		l := timeline{hasAge: true, leastAgeNs: least}
		want, known := int64(0), false
		for d := int64(-2); d < 9; d++ {
			if at := newest + ahead + d*nsPerDay; at > newest && d >= 0 && arrival-at >= least-2e9 {
				want, known = at, true
			}
		}
		if got, ok := l.timeAfterPause(newest, ahead, arrival); ok != known || known && got != want {
			t.Fatalf("%d, %v; want %d, %v", got, ok, want, known)
		}
		if _, ok := l.timeAfterPause(newest, ahead, 0); ok {
			t.Fatal("known without an arrival time")
		}
		l.hasAge = false
		if _, ok := l.timeAfterPause(newest, ahead, arrival); ok {
			t.Fatal("known without an age")
		}
	})
}

// The clock was set when five dates in a row are off by the same number of days.
func TestJudgeDate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l timeline
		set, run, before := int64(0), 0, int64(0)
		for i, off := range rapid.SliceOfN(rapid.SampledFrom([]int64{0, 1, 1, 1, 2}), 1, 40).Draw(t, "days off") {
			if off != before {
				run = 0
			}
			run, before = run+1, off
			want := off != 0 && run == 5
			if want {
				set, run, before = set+off*nsPerDay, 0, 0
			}
			if got := l.judgeDate(off * nsPerDay); got != want || l.setNs != set {
				t.Fatalf("date %d: set %v, by %d; want %v, %d", i, got, l.setNs, want, set)
			}
		}
	})
}

// The least age falls at once and rises by a 256th of what is more.
func TestNoteAge(t *testing.T) {
	var l timeline
	at := func(ageNs, timeNs int64) { l.noteAge(&nmea.Fix{TimeNs: timeNs, ArrivalNs: timeNs + ageNs}) }
	for _, tc := range []struct{ age, want int64 }{{5000, 5000}, {5000 + 2560, 5010}, {4000, 4000}, {4000, 4000}, {4255, 4000}, {4256, 4001}} {
		if at(tc.age, 77e9); l.leastAgeNs != tc.want || !l.hasAge || l.lastArrivalNs != 77e9+tc.age {
			t.Errorf("an age of %d: least %d; want %d", tc.age, l.leastAgeNs, tc.want)
		}
	}
	if l.noteAge(&nmea.Fix{TimeNs: 5}); l.hasAge {
		t.Error("a fix without an arrival time has an age")
	}
}

// A set of kinds holds each once, twelve at most; two sets have one signature if they hold the
// same kinds, GSA and ZDA aside.
func TestKindSet(t *testing.T) {
	types := []nmea.Type{nmea.GGA, nmea.GNS, nmea.RMC, nmea.GLL, nmea.VTG, nmea.GSA, nmea.GST, nmea.ZDA, nmea.HDT}
	sentence := rapid.Custom(func(t *rapid.T) nmea.Sentence {
		return nmea.Sentence{Type: rapid.SampledFrom(types).Draw(t, "type"), Talker: [2]byte{'G', rapid.SampledFrom([]byte("PLN")).Draw(t, "talker")}}
	})
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(sentence, 0, 20).Draw(t, "sentences")
		var set kindSet
		var kept []uint32
		for i := range list {
			if k := kind(&list[i]); !slices.Contains(kept, k) && len(kept) < 12 {
				kept = append(kept, k)
			}
			set.add(&list[i])
		}
		if int(set.n) != len(kept) {
			t.Fatalf("%d kinds; want %d", set.n, len(kept))
		}
		s := sentence.Draw(t, "asked for")
		hasType := slices.ContainsFunc(kept, func(k uint32) bool { return nmea.Type(k>>16) == s.Type })
		if set.has(&s) != slices.Contains(kept, kind(&s)) || set.hasType(s.Type) != hasType {
			t.Fatalf("has %v: %v, its type: %v", s, set.has(&s), set.hasType(s.Type))
		}
		// The same in another order, with GSA and ZDA as well.
		if len(kept) < 11 {
			var other kindSet
			other.add(&nmea.Sentence{Type: nmea.ZDA, Talker: [2]byte{'X', 'X'}})
			for i := len(list) - 1; i >= 0; i-- {
				other.add(&list[i])
			}
			if other.signature() != set.signature() {
				t.Fatal("the same kinds have two signatures")
			}
			more := nmea.Sentence{Type: nmea.HDT, Talker: [2]byte{'X', 'X'}}
			other.add(&more)
			if other.signature() == set.signature() {
				t.Fatal("one kind more has the same signature")
			}
		}
	})
}

// An epoch is complete with the kinds that three epochs in a row had at its fiftieth of a second; each time
// one was closed too early, twice as many are asked for, up to 192.
func TestCycleCounts(t *testing.T) {
	with := func(timeNs int64, types ...nmea.Type) *epoch {
		e := &epoch{fix: nmea.Fix{TimeNs: timeNs}}
		for _, x := range types {
			e.kinds.add(&nmea.Sentence{Type: x})
		}
		return e
	}
	var c cycle
	const at = 100*nsPerDay + 140_000_000 // the eighth fiftieth
	needed := 3
	for early := range 9 {
		for i := range needed {
			if c.complete(with(at, nmea.GGA, nmea.RMC)) {
				t.Fatalf("closed too early %d times: complete after %d alike; want %d", early, i, needed)
			}
			c.learn(with(at+int64(i)*nsPerSecond+19_999_999, nmea.GGA, nmea.RMC))
		}
		if !c.complete(with(at, nmea.RMC, nmea.GGA)) || c.complete(with(at, nmea.GGA)) || c.complete(with(at+20_000_000, nmea.GGA, nmea.RMC)) || c.complete(with(at-1, nmea.GGA, nmea.RMC)) {
			t.Fatalf("closed too early %d times, %d alike: not complete with them, or with others, or at another place", early, needed)
		}
		c.closedTooEarly(at)
		needed = min(2*needed, 192)
	}
	// One with other kinds begins the count anew.
	c = cycle{}
	for _, x := range []nmea.Type{nmea.GGA, nmea.GGA, nmea.GNS, nmea.GGA, nmea.GGA} {
		c.learn(with(at, x))
	}
	if c.complete(with(at, nmea.GGA)) {
		t.Error("two in a row are complete")
	}
	if c.learn(with(at, nmea.GGA)); !c.complete(with(at, nmea.GGA)) {
		t.Error("three in a row are not complete")
	}
	for ns, want := range map[int64]int64{100e6: 100e6, 10*nsPerSecond - 1: 10*nsPerSecond - 1, 10 * nsPerSecond: 0, 11 * nsPerSecond: 0} {
		if c.notePeriod(ns); c.periodNs != want {
			t.Errorf("%d ns between epochs: period %d; want %d", ns, c.periodNs, want)
		}
	}
}

// Fixes before the first date get its day, all in order; if none comes within ten seconds and arrivals are
// known, the day nearest to them.
func TestDatingDays(t *testing.T) {
	const date = 1000 * nsPerDay
	for _, tc := range []struct {
		name    string
		readyNs int64 // after the true time; 0 = not known
		datedAt int   // which of the fixes, one each second, has the first date; -1 = none
		passed  int   // before Flush
		dated   int
	}{
		{"at once", 0, 0, 20, 20}, {"after 9 s", 1e9, 9, 20, 20}, {"after 10 s", 1e9, 10, 20, 20}, {"never, with arrivals", 1e9, -1, 20, 20},
		{"never, without", 0, -1, 0, 0}, {"after 15 s, without arrivals", 0, 15, 20, 20}, {"arrivals 11 h off", 11 * hourNs, -1, 20, 20},
	} {
		for _, begins := range []int64{6 * hourNs, nsPerDay - 5e9} { // also over midnight
			var d Dating
			var out []nmea.Fix
			use := func(f *nmea.Fix) { out = append(out, *f) }
			atFirst := 0
			for i := range 20 {
				f := nmea.Fix{TimeNs: begins + int64(i)*nsPerSecond}
				if tc.readyNs != 0 {
					f.ReadyNs = date + f.TimeNs + tc.readyNs
				}
				if tc.datedAt >= 0 && i >= tc.datedAt {
					f.TimeNs, f.Dated = date+f.TimeNs, true
				}
				if d.Add(f, use); i == 9 {
					atFirst = len(out)
				}
			}
			if len(out) != tc.passed {
				t.Errorf("%s: %d fixes; want %d", tc.name, len(out), tc.passed)
			}
			if want := tc.datedAt == 0 || tc.datedAt == 9; (atFirst > 0) != want {
				t.Errorf("%s: %d fixes within nine seconds", tc.name, atFirst)
			}
			d.Flush(use)
			dated := 0
			for i, f := range out {
				want := begins + int64(i)*nsPerSecond
				if f.Dated {
					dated++
					want += date
				}
				if f.TimeNs != want {
					t.Errorf("%s: fix %d at %d; want %d", tc.name, i, f.TimeNs, want)
				}
			}
			if len(out) != 20 || dated != tc.dated {
				t.Errorf("%s: %d fixes, %d dated; want 20, %d", tc.name, len(out), dated, tc.dated)
			}
		}
	}
}
