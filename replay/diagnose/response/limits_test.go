// What counts as an answer, as strange and as a hand's work: just within each limit and just
// beyond it, one function at a time.

package response

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"liftbench/nmea"
	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

const second = int64(1e9)

func at(seconds float64) int64 { return int64(math.Round(seconds * 1e9)) }

// moved is a recorded change without a border.
func moved(section int16, on bool, seconds float64) score.Event {
	return score.Event{Section: section, On: on, Kind: score.Spurious, ActualNs: at(seconds)}
}

// paired is a change that was late at its border.
func paired(section int16, on bool, idealS, lateS float64) score.Event {
	return score.Event{Section: section, On: on, Kind: score.Paired, IdealNs: at(idealS), ActualNs: at(idealS + lateS), SpeedMps: 2, TimeErrorS: lateS, PlaceErrorM: 2 * lateS}
}

// ignored is a border at which nothing changed.
func ignored(section int16, on bool, idealS float64) score.Event {
	return score.Event{Section: section, On: on, Kind: score.Missed, IdealNs: at(idealS), SpeedMps: 2}
}

// dayOf is a day of n sections.
func dayOf(n int, actual, setpoint []score.Event) *evidence.Day {
	lead := sections.Lead{DeadNs: 200e6, MoveNs: 400e6}
	return &evidence.Day{Machine: &sections.Machine{Sections: make([]sections.Section, n)}, Settings: sections.Settings{LiftLead: lead, DropLead: lead}, Actual: actual, Setpoint: setpoint}
}

// An instant is near if one of the list lies between both ends, the ends among it.
func TestNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOf(rapid.Int64Range(0, 9)).Draw(t, "list")
		slices.Sort(list)
		from, to := rapid.Int64Range(-1, 10).Draw(t, "from"), rapid.Int64Range(-1, 10).Draw(t, "to")
		if got := near(list, from, to); got != slices.ContainsFunc(list, func(ns int64) bool { return ns >= from && ns <= to }) {
			t.Fatalf("near %v", got)
		}
	})
}

// A setpoint is answered by a change to its state from 0.5 s before it to 10 s after it, or to 0.5 s
// after the next one; to a section in that state already it is no question.
func TestAskedBySetpoints(t *testing.T) {
	bracket := []score.Event{moved(1, true, 0), moved(1, false, 1000)} // another section, so that states are recorded all day
	for _, tc := range []struct {
		name     string
		actual   []score.Event
		setpoint []score.Event
		want     string // for each setpoint: answered, failed or no question
	}{
		{"at once", []score.Event{moved(0, true, 100)}, []score.Event{moved(0, true, 100)}, "[answered]"},
		{"0.5 s earlier", []score.Event{moved(0, true, 99.5)}, []score.Event{moved(0, true, 100)}, "[answered]"},
		{"more than 0.5 s earlier", []score.Event{moved(0, true, 99.49)}, []score.Event{moved(0, true, 100)}, "[]"},
		{"more than 0.5 s earlier the other way", []score.Event{moved(0, false, 99.49)}, []score.Event{moved(0, true, 100)}, "[failed]"},
		{"10 s later", []score.Event{moved(0, true, 110)}, []score.Event{moved(0, true, 100)}, "[answered]"},
		{"more than 10 s later", []score.Event{moved(0, true, 110.01)}, []score.Event{moved(0, true, 100)}, "[failed]"},
		{"never a change", nil, []score.Event{moved(0, true, 100)}, "[failed]"},
		{"in that state from the start", []score.Event{moved(0, false, 500)}, []score.Event{moved(0, true, 100)}, "[]"},
		{"in the other state from the start", []score.Event{moved(0, true, 500)}, []score.Event{moved(0, true, 100)}, "[failed]"},
		{"after the next setpoint, within 0.5 s", []score.Event{moved(0, true, 104.5), moved(0, false, 106)}, []score.Event{moved(0, true, 100), moved(0, false, 104)}, "[answered answered]"},
		{"after the next setpoint", []score.Event{moved(0, true, 104.51), moved(0, false, 106)}, []score.Event{moved(0, true, 100), moved(0, false, 104)}, "[failed answered]"},
		{"two, the second not", []score.Event{moved(0, true, 101)}, []score.Event{moved(0, true, 100), moved(0, false, 200)}, "[answered failed]"},
		{"told again what it does", []score.Event{moved(0, true, 101)}, []score.Event{moved(0, true, 100), moved(0, true, 200)}, "[answered]"},
		{"10 s before the first state", []score.Event{moved(0, true, 0)}, []score.Event{moved(0, true, -10)}, "[answered]"},
		{"long before the first state", []score.Event{moved(0, true, 0)}, []score.Event{moved(0, true, -10.01)}, "[]"},
		{"at the last state", nil, []score.Event{moved(0, true, 1000)}, "[failed]"},
		{"after the last state", nil, []score.Event{moved(0, true, 1000.01)}, "[]"},
	} {
		list := atSetpoints(dayOf(2, append(slices.Clone(bracket), tc.actual...), tc.setpoint))
		got := []string{}
		for i, a := range list {
			got = append(got, map[bool]string{false: "answered", true: "failed"}[a.failed])
			if a.section != 0 || i > 0 && a.ns <= list[i-1].ns {
				t.Errorf("%s: %+v", tc.name, list)
			}
		}
		if fmt.Sprint(got) != tc.want {
			t.Errorf("%s: %v; want %s", tc.name, got, tc.want)
		}
	}
}

// A border that nothing changed at asked for something unless the section was in that state
// already, a hand made the change within 30 s, reception was poor within 5 s before it, or
// a change as far off as usual would have fallen beyond the opposite border.
func TestAskedByCrossings(t *testing.T) {
	var fixes []evidence.Fix // every 0.1 s, but for a gap that ends at 200 s
	for i := int64(0); i < 6000; i++ {
		if i <= 1900 || i >= 2000 {
			fixes = append(fixes, evidence.Fix{TimeNs: i * 1e8, AgeNs: -1, Quality: nmea.RTKFixed})
		}
	}
	r := evidence.NewReception(fixes)
	for _, tc := range []struct {
		name   string
		events []score.Event
		want   int
	}{
		{"nothing else known", []score.Event{ignored(0, true, 100)}, 1},
		{"up before", []score.Event{paired(0, false, 50, 0), ignored(0, true, 100)}, 1},
		{"down before", []score.Event{paired(0, true, 50, 0), ignored(0, true, 100)}, 0},
		{"down at that very instant", []score.Event{paired(0, true, 95, 5), ignored(0, true, 100)}, 1},
		{"down from the start", []score.Event{ignored(0, true, 100), paired(0, false, 150, 0)}, 0},
		{"up from the start", []score.Event{ignored(0, true, 100), paired(0, true, 150, 0)}, 1},
		{"another section is down", []score.Event{paired(1, true, 50, 0), ignored(0, true, 100)}, 1},
		{"a hand 30 s before", []score.Event{moved(0, true, 70), moved(0, false, 80), ignored(0, true, 100)}, 0},
		{"a hand more than 30 s before", []score.Event{moved(0, true, 69.9), moved(0, false, 80), ignored(0, true, 100)}, 1},
		{"a hand 30 s later", []score.Event{ignored(0, true, 100), moved(0, true, 130)}, 0},
		{"a hand more than 30 s later", []score.Event{ignored(0, true, 100), moved(0, true, 130.1)}, 1},
		{"a hand on another section", []score.Event{ignored(0, true, 100), moved(1, true, 110)}, 1},
		{"a hand the other way", []score.Event{moved(0, false, 90), ignored(0, true, 100)}, 1},
		{"a gap ended 5 s before", []score.Event{ignored(0, true, 205)}, 0},
		{"a gap ended more than 5 s before", []score.Event{ignored(0, true, 205.1)}, 1},
		// Drops are 4 s late, so one at 100 s would come after the lift at 103 s.
		{"a late drop beyond the lift", []score.Event{paired(1, true, 50, 4), ignored(0, true, 100), ignored(0, false, 103)}, 1},
		{"a late drop before the lift", []score.Event{paired(1, true, 50, 4), ignored(0, true, 100), ignored(0, false, 104.6)}, 2},
		{"a late drop just beyond the lift", []score.Event{paired(1, true, 50, 4), ignored(0, true, 100), ignored(0, false, 104.4)}, 1},
		{"an early drop before the lift", []score.Event{paired(1, true, 50, -4), ignored(0, true, 100), ignored(0, false, 97)}, 1},
		{"an early drop just before the lift", []score.Event{paired(1, true, 50, -4), ignored(0, true, 100), ignored(0, false, 95.6)}, 1},
		{"an early drop after the lift", []score.Event{paired(1, true, 50, -4), ignored(0, true, 100), ignored(0, false, 95.4)}, 2},
		{"a lift of another section", []score.Event{paired(1, true, 50, 4), ignored(0, true, 100), ignored(1, false, 103)}, 2},
		{"0.5 s late is in time", []score.Event{paired(1, true, 50, 0.5), ignored(0, true, 100), ignored(0, false, 100.2)}, 2},
		{"0.6 s late is not", []score.Event{paired(1, true, 50, 0.6), ignored(0, true, 100), ignored(0, false, 100.2)}, 1},
	} {
		list := missedCrossings(tc.events, &r)
		for _, a := range list {
			if !a.failed {
				t.Errorf("%s: %+v; want all failed", tc.name, list)
			}
		}
		if len(list) != tc.want {
			t.Errorf("%s: %+v; want %d", tc.name, list, tc.want)
		}
		// Those that are paired were asked for and happened.
		happened := 0
		for _, a := range atCrossings(tc.events, &r) {
			if !a.failed {
				happened++
			}
		}
		if want, _, _ := kinds(tc.events); happened != want {
			t.Errorf("%s: %d happened; want %d", tc.name, happened, want)
		}
	}
	// The usual error is the median of lifts, and of drops.
	got := usualShiftNs([]score.Event{paired(0, true, 1, 3), paired(0, true, 9, 0.5), paired(0, true, 20, 1), paired(0, false, 30, -2), moved(0, false, 40)})
	if got != [2]int64{-2e9, 1e9} {
		t.Errorf("usual errors %v ns; want -2 s, 1 s", got)
	}
}

// A section stands still if it failed at least four times and at nothing else in between.
func TestStandsStill(t *testing.T) {
	for history, want := range map[string]bool{"FFFF": true, "FFF": false, ".FFFF.": true, "FF.FF": false, "FFFFF": true, ".F.FFFF": false, "....": false, "": false} {
		var list []asked
		for i, c := range history {
			list = append(list, asked{section: 1, ns: int64(100 - i), failed: c == 'F'}, asked{section: 0, ns: int64(100 - i), failed: c != 'F'})
		}
		if got := atOnce(list, 1); got != want {
			t.Errorf("%q: stands still %v", history, got)
		}
	}
}

// Fisher's exact test beside drawing all hands: of the subsets of n among total things, the share
// with k or more marked.
func TestAtLeastBesideAllDraws(t *testing.T) {
	for total := 1; total <= 7; total++ {
		for marked := 0; marked <= total; marked++ {
			for n := 0; n <= total; n++ {
				for k := 0; k <= n+1; k++ {
					hits, all := 0, 0
					for draw := range 1 << total {
						size, of := 0, 0
						for i := range total {
							if draw>>i&1 == 1 {
								size++
								if i < marked {
									of++
								}
							}
						}
						if size == n {
							all++
							if of >= k {
								hits++
							}
						}
					}
					if got, want := atLeast(k, n, marked, total), float64(hits)/float64(all); !(math.Abs(got-want) <= 1e-12) {
						t.Fatalf("%d or more of %d drawn, %d of %d marked: %g; want %g", k, n, marked, total, got, want)
					}
				}
			}
		}
	}
}

// A section that fails is found from three failures and 3 % on, if chance gives one of all
// sections so many less often than once in 200 days; what it does not hold is left.
func TestFewestUnmet(t *testing.T) {
	for _, tc := range []struct {
		name             string
		n, asks, failing int
	}{
		{"two of 20", 4, 20, 2},
		{"three of 20", 4, 20, 3},
		{"four of 20", 4, 20, 4},
		{"five of 20", 4, 20, 5},
		{"six of 201, of three sections", 3, 201, 6},
		{"six of 199, of three sections", 3, 199, 6},
		{"seven of 200, of eight sections", 8, 200, 7},
		{"seven of 240, of eight sections", 8, 240, 7},
		{"six of 200, of eight sections", 8, 200, 6},
		{"three of 20, of thirty sections", 30, 20, 3},
		{"three of 100", 1, 100, 3},
		{"three of 101", 1, 101, 3},
	} {
		var events []score.Event
		for k := range tc.asks {
			for s := range tc.n {
				// Each lift is followed by a drop elsewhere, by hand, so that the next is asked for.
				e := paired(int16(s), false, 100*float64(k+1), 0)
				if s == 0 && k%2 == 1 && k/2 < tc.failing {
					e.Kind = score.Missed
				}
				events = append(events, e, moved(int16(s), true, 100*float64(k+1)+50))
			}
		}
		r := evidence.NewReception(nil)
		found, missed := unmet(dayOf(tc.n, events, nil), &r)
		who := []int{}
		failed := 0
		for _, u := range found {
			who = append(who, u.Section)
			failed += u.failed()
		}
		if failed+missed != tc.failing {
			t.Errorf("%s: %d failures found and %d left; want %d together", tc.name, failed, missed, tc.failing)
		}
		if want := wantUnmet(tc.n, tc.asks, tc.failing); fmt.Sprint(who) != want {
			t.Errorf("%s: %v, %d missed; want %s", tc.name, who, missed, want)
		}
	}
}

// Of a day without work states nothing is asked.
func TestUnmetWithoutStates(t *testing.T) {
	r := evidence.NewReception(nil)
	if found, missed := unmet(dayOf(2, nil, []score.Event{moved(0, true, 5)}), &r); found != nil || missed != 0 {
		t.Errorf("%+v, %d missed", found, missed)
	}
	// Of one change there is something to ask: the other section did nothing at three of its borders.
	found, missed := unmet(dayOf(1, []score.Event{paired(0, true, 10, 0), ignored(0, false, 20), ignored(0, false, 40), ignored(0, false, 60)}, nil), &r)
	if len(found) != 1 || found[0].Lift != (Count{3, 3, 3}) || found[0].Drop != (Count{0, 1, 1}) || missed != 0 {
		t.Errorf("%+v, %d missed; want three lifts of the machine", found, missed)
	}
}

// wantUnmet says who is found if section 0 of n fails so often, by the limits in words.
func wantUnmet(n, asks, failing int) string {
	// The chance that all failures fall on one of n sections: a product, as they are drawn in turn.
	chance := 1.0
	for i := range failing {
		chance *= float64(asks-i) / float64(n*asks-i)
	}
	switch {
	case failing >= 3 && 100*failing >= 3*asks && chance*2*float64(n) < 0.005:
		return "[0]"
	case failing >= 3 && 100*failing >= 3*n*asks && n > 1: // chance may have done it, but no other section failed
		return "[0]"
	case failing >= 3 && 100*failing >= 3*asks && n == 1:
		return "[-1]"
	}
	return "[]"
}

// Two changes of a tool are never less than 400 ms apart, or than its leads where those are shorter.
func TestChatterLimits(t *testing.T) {
	for _, tc := range []struct {
		leadMs float64
		gapS   float64
		want   int
	}{{600, 0.399, 5}, {600, 0.4, 0}, {200, 0.199, 5}, {200, 0.2, 0}} {
		var list []score.Event
		for k := range 5 {
			s := 100 * float64(k+1)
			list = append(list, moved(0, true, s), moved(0, false, s+tc.gapS), moved(1, true, s), moved(1, false, s+60))
		}
		day := dayOf(2, list, nil)
		// The two leads are as different as they can be; their mean counts.
		day.Settings.LiftLead = sections.Lead{DeadNs: int64(tc.leadMs * 2e6)}
		day.Settings.DropLead = sections.Lead{}
		got := sensors(day)
		bursts := 0
		for _, f := range got {
			bursts += f.Chatters
		}
		if bursts != tc.want {
			t.Errorf("leads of %g ms, %g s apart: %+v; want %d bursts", tc.leadMs, tc.gapS, got, tc.want)
		}
	}
}

// Three strange changes make a sensor of which to speak; they are taken out, a burst of an odd
// number but for one.
func TestStrangeChanges(t *testing.T) {
	for _, tc := range []struct {
		bursts, changes int
		found           bool
		left            int
	}{{2, 2, false, 4}, {3, 2, true, 0}, {3, 3, true, 3}, {3, 4, true, 0}, {4, 5, true, 4}} {
		var list []score.Event
		for k := range tc.bursts {
			for c := range tc.changes {
				list = append(list, moved(0, c%2 == 0, 100*float64(k+1)+0.1*float64(c)))
			}
			list = append(list, moved(1, k%2 == 0, 100*float64(k+1)), moved(2, k%2 == 0, 100*float64(k+1))) // nobody alone
		}
		day := dayOf(3, list, nil)
		got := sensors(day)
		if (len(got) == 1) != tc.found || tc.found && (got[0].Chatters != tc.bursts || got[0].Alone != 0 || got[0].Changes != tc.bursts) {
			t.Errorf("%d bursts of %d: %+v", tc.bursts, tc.changes, got)
		}
		left := 0
		for _, e := range day.Actual {
			if e.Section == 0 {
				left++
			}
		}
		if left != tc.left {
			t.Errorf("%d bursts of %d: %d changes left; want %d", tc.bursts, tc.changes, left, tc.left)
		}
	}
	// Of a burst at a border its first change remains, whichever had the border: then the tool moved. A
	// burst that ends as it began leaves a border at which nothing changed.
	for _, tc := range []struct {
		burst []score.Event
		want  string
	}{
		{[]score.Event{moved(0, true, 100), moved(0, false, 100.1), paired(0, true, 100, 0.2)}, "[paired 100]"},
		{[]score.Event{paired(0, true, 100, 0), moved(0, false, 100.1), moved(0, true, 100.2)}, "[paired 100]"},
		{[]score.Event{moved(0, true, 100), paired(0, false, 100, 0.1), moved(0, true, 100.2)}, "[missed 100 spurious 100]"},
		{[]score.Event{paired(0, true, 100, 0), moved(0, false, 100.1)}, "[missed 100]"},
	} {
		var list []score.Event
		for k := range 3 {
			for _, e := range tc.burst {
				e.ActualNs += int64(k) * 1000 * second
				if e.Kind == score.Paired {
					e.IdealNs += int64(k) * 1000 * second
				}
				list = append(list, e)
			}
			list = append(list, moved(1, k%2 == 0, 100+1000*float64(k)))
		}
		day := dayOf(2, list, nil)
		sensors(day)
		got := []string{}
		for _, e := range day.Actual {
			if e.Section == 0 && e.TimeNs() < 500*second {
				ns := e.TimeNs()
				if e.Kind == score.Paired {
					ns = e.ActualNs
				}
				got = append(got, fmt.Sprintf("%v %g", e.Kind, float64(ns)*1e-9))
			}
		}
		if fmt.Sprint(got) != tc.want {
			t.Errorf("%+v: %v left; want %s", tc.burst, got, tc.want)
		}
	}
}

// A change is commanded if a setpoint came up to 12 s before it or 0.5 s after it; alone if no other
// section changes within 2 s.
func TestCommandedAndAlone(t *testing.T) {
	e := moved(0, true, 100)
	for setpointS, want := range map[float64]bool{88: true, 87.9: false, 100.5: true, 100.6: false, 95: true} {
		day := dayOf(1, nil, []score.Event{moved(0, true, setpointS)})
		if got := isCommanded(day, []int64{at(setpointS)}, &e); got != want {
			t.Errorf("setpoint at %g s: commanded %v", setpointS, got)
		}
	}
	start, border := score.Event{Kind: score.Start, ActualNs: at(100)}, paired(0, true, 100, 0)
	if day := dayOf(1, nil, nil); !isCommanded(day, nil, &start) || !isCommanded(day, nil, &border) || isCommanded(day, nil, &e) {
		t.Error("without setpoints a change at the start or at a border counts as commanded, another does not")
	}
	for otherS, want := range map[float64]bool{98: false, 97.9: true, 102: false, 102.1: true, 100: false} {
		if got := isAlone([][]int64{{at(100)}, {at(otherS)}}, 0, at(100)); got != want {
			t.Errorf("another section at %g s: alone %v", otherS, got)
		}
	}
	if isAlone([][]int64{{at(100)}}, 0, at(100)) {
		t.Error("the only section of a bar is alone")
	}
	// Two setpoints up to twice as far apart as the changes, from 12 s before the first to the last.
	for _, tc := range []struct {
		setpointsS []float64
		want       bool
	}{
		{[]float64{99, 99.4}, true}, {[]float64{99, 99.5}, false}, {[]float64{88, 88.3}, true}, {[]float64{87.9, 88.3}, false},
		{[]float64{99.9, 100.2}, true}, {[]float64{99.9, 100.21}, false}, {[]float64{90, 95, 95.2}, true}, {[]float64{99}, false}, {nil, false},
	} {
		var list []int64
		for _, s := range tc.setpointsS {
			list = append(list, at(s))
		}
		if got := commandedTwice(list, at(100), at(100.2)); got != tc.want {
			t.Errorf("setpoints at %v s for changes at 100 and 100.2 s: commanded %v", tc.setpointsS, got)
		}
	}
}

// Transitions of one kind that follow one another within 5 s are of one movement of the bar.
func TestBars(t *testing.T) {
	list := []score.Event{
		paired(0, true, 10, 0), paired(0, false, 11, 0), paired(1, true, 15, 0), paired(2, true, 20, 0), paired(0, true, 25.1, 0),
		ignored(1, true, 26), moved(1, true, 27), paired(1, false, 31, 0), {Section: 2, On: true, Kind: score.Start, ActualNs: at(28)},
	}
	if got, want := fmt.Sprint(bars(list)), "[[0 2 3] [1] [4 6] [7]]"; got != want {
		t.Errorf("%v; want %s", got, want)
	}
}

// A transition was made by hand if it is both 2 m and 1.5 s from the median of its kind, with
// most of the bar; hands count from three places, 3 % and an interval from 1 % on.
func TestHandLimits(t *testing.T) {
	off := func(lateS, placeM float64) func(k, s int) (float64, float64) {
		return func(k, s int) (float64, float64) {
			if k%5 == 2 {
				return lateS, placeM
			}
			return 0, 0
		}
	}
	few := func(many, sections int) func(k, s int) (float64, float64) {
		return func(k, s int) (float64, float64) {
			if k < many && s < sections {
				return 3, 6
			}
			return 0, 0
		}
	}
	for _, tc := range []struct {
		name         string
		places, n    int
		error        func(k, s int) (lateS, placeM float64)
		hands, count int
	}{
		{"far", 60, 1, off(1.51, 2.01), 12, 12},
		{"far, early", 60, 1, off(-1.51, -2.01), 12, 12},
		{"not far in time", 60, 1, off(1.49, 2.01), 0, 0},
		{"not far in place", 60, 1, off(1.51, 1.99), 0, 0},
		{"two places", 30, 1, few(2, 1), 0, 0},
		{"three places", 30, 1, few(3, 1), 3, 3},
		{"three of 100", 100, 1, few(3, 1), 3, 3},
		{"three of 101", 101, 1, few(3, 1), 0, 0},
		{"half of the bar", 30, 4, few(9, 2), 0, 0},
		{"most of the bar", 30, 4, few(9, 3), 9, 27},
	} {
		var list []score.Event
		for k := range tc.places {
			for s := range tc.n {
				e := paired(int16(s), false, 100*float64(k+1), 0)
				lateS, placeM := tc.error(k, s)
				e.ActualNs, e.TimeErrorS, e.PlaceErrorM = e.IdealNs+at(lateS), lateS, placeM
				list = append(list, e)
			}
		}
		for _, usualS := range []float64{0, 4, -4} { // a wrong lead is no hand's work
			late := slices.Clone(list)
			for i := range late {
				e := &late[i]
				e.ActualNs, e.TimeErrorS, e.PlaceErrorM = e.ActualNs+at(usualS), e.TimeErrorS+usualS, e.PlaceErrorM+2*usualS
			}
			if h, kept := ByHand(late, &evidence.Reception{}); (h != nil) != (tc.hands > 0) || h != nil && (h.Count != tc.count || len(kept) != len(list)-tc.count) {
				t.Errorf("%s, all %g s late: %+v", tc.name, usualS, h)
			}
		}
		h, kept := ByHand(list, &evidence.Reception{})
		share := float64(tc.count) / float64(tc.places*tc.n)
		lo, hi := sample.Wilson(share, float64(tc.places), sample.Z95)
		switch {
		case tc.hands == 0 && h == nil:
		case tc.hands == 0 || h == nil || h.Count != tc.count || h.Share != share || h.CI95 != [2]float64{lo, hi} || len(kept) != len(list)-tc.count:
			t.Errorf("%s: %+v, %d kept; want %d of %d by hand", tc.name, h, len(kept), tc.count, len(list))
		}
	}
}

// What is made within 3 s after poor reception may be the fail-safe's and is no hand's work.
func TestHandAfterAGap(t *testing.T) {
	var fixes []evidence.Fix
	for i := int64(0); i < 36000; i++ {
		if i%1000 < 900 { // gaps of 10 s that end at each 100 s
			fixes = append(fixes, evidence.Fix{TimeNs: i * 1e8, AgeNs: -1, Quality: nmea.RTKFixed})
		}
	}
	r := evidence.NewReception(fixes)
	for afterS, want := range map[float64]bool{3: false, 3.1: true} {
		var list []score.Event
		for k := range 30 {
			if list = append(list, paired(0, false, 100*float64(k+1)+50, 0)); k%4 == 3 {
				list = append(list, moved(0, true, 100*float64(k+1)+afterS))
			}
		}
		if h, kept := ByHand(list, &r); (h != nil) != want || len(kept) != 30 {
			t.Errorf("%g s after gaps: %+v, %d kept; want hands %v", afterS, h, len(kept), want)
		}
	}
}

// What the fail-safe may have made is in no share: of 30 transitions and five hands, five are by hand.
func TestHandsShareAfterGaps(t *testing.T) {
	fixes := []evidence.Fix{}
	for i := int64(0); i < 36000; i++ {
		if i%1000 < 900 {
			fixes = append(fixes, evidence.Fix{TimeNs: i * 1e8, AgeNs: -1, Quality: nmea.RTKFixed})
		}
	}
	r := evidence.NewReception(fixes)
	var list []score.Event
	for k := range 30 {
		list = append(list, paired(0, false, 100*float64(k+1)+50, 0))
		switch k % 6 {
		case 1:
			list = append(list, moved(0, true, 100*float64(k+1)+20))
		case 3, 5:
			list = append(list, moved(0, true, 100*float64(k+1)+1))
		}
	}
	if h, kept := ByHand(list, &r); h == nil || h.Count != 5 || h.Share != 5.0/35 || len(kept) != 30 {
		t.Errorf("%+v, %d kept; want 5 of 35, 30 kept", h, len(kept))
	}
}

// A section that has lost its number does not follow, and that is all there is to say of it; another
// that never follows is said to, though the numbers are shifted.
func TestNeverBesideAnOrder(t *testing.T) {
	r := day(5, 42)
	renumbered := r.actual[:0:0]
	for _, c := range r.actual {
		if c.section++; c.section < 5 && c.section != 2 {
			renumbered = append(renumbered, c)
		}
	}
	r.actual = renumbered
	with, without, _ := r.examine(t)
	for _, rep := range []Report{with, without} {
		if rep.Order == nil || rep.Order.By != 1 || len(rep.Unmet) != 1 || rep.Unmet[0].Section != 1 || !rep.Unmet[0].Never() {
			t.Errorf("%+v, %+v; want one too high, and section 2 that never follows", rep.Order, rep.Unmet)
		}
	}
}

// A section loses its number when all are shifted beyond either end.
func TestLost(t *testing.T) {
	for _, tc := range []struct {
		kind OrderKind
		by   int
		want string
	}{{Shifted, 1, "[4]"}, {Shifted, 2, "[3 4]"}, {Shifted, -1, "[0]"}, {Shifted, -2, "[0 1]"}, {Reversed, 1, "[]"}} {
		o, got := Order{Kind: tc.kind, By: tc.by}, []int{}
		for s := range 5 {
			if o.lost(s, 5) {
				got = append(got, s)
			}
		}
		if fmt.Sprint(got) != tc.want {
			t.Errorf("by %d: %v lost; want %s", tc.by, got, tc.want)
		}
	}
}
