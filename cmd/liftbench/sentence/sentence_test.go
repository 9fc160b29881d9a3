package sentence

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/clock"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/response"
	"liftbench/replay/tape"
	"liftbench/sections"
)

// said are sentences that a diagnosis can make: of every cause, either way, of lifts, drops and both.
func said() []string {
	var list []string
	add := func(s ...string) { list = append(list, s...) }
	day := evidence.Day{Machine: &sections.Machine{AntennaXM: 1, Sections: []sections.Section{{XM: -2.1, WidthM: 1}}}}
	for _, name := range []cause.Name{cause.LiftTiming, cause.DropTiming, cause.LiftGeometry, cause.DropGeometry, cause.Geometry, cause.CommandTiming, cause.MachineSlow, cause.FileLead,
		cause.SlowSection, cause.FlowShortage, cause.ColdOil, cause.Latency, cause.HeadingError, cause.PoorReception, cause.WrongBorder} {
		for _, moves := range []evidence.Kind{evidence.Both, evidence.Lifts, evidence.Drops} {
			for _, size := range []float64{0.3, -0.3, 0.0304} {
				for _, after := range []bool{false, true} {
					f := cause.Fact{Cause: name, Moves: moves, Section: 3, Size: size, CI95: cause.Interval{size - 0.02, size + 0.0205}, LateS: [2]float64{0.2, -0.1}, Crossings: 40, TauS: 900,
						Feeds: 3.2, FeedsCI95: cause.Interval{2.9, 3.6}, SlowestKmh: 5, FastestKmh: 10, AtOnce: 6, DayS: 7200, AfterCommand: after}
					if after {
						f.Piece = &regress.Piece{Rows: 4, RadiusM: 30, Point: regress.Point{EastM: -12, NorthM: 40}}
						day.Settings.LiftLead.FedAtOnce = 4
					}
					add(f.Evidence(), f.Change(&day))
				}
			}
		}
	}
	pair := func(a, b string) { add(a, b) }
	for _, x := range []float64{0.3, -0.3} {
		pair(cause.Counting(x, cause.Interval{0.2, 0.4}, 3, cause.Interval{2, 4}, 6))
		pair(cause.ErraticSection(2, 0.2, cause.Interval{0.1, 0.3}, 12, 0.03))
		pair(cause.ErraticAll(0.2, cause.Interval{0.1, 0.3}, 12, 2))
		pair(cause.OrFileLead(cause.CommandTiming, evidence.Lifts, x))
		pair(cause.OrFileLead(cause.MachineSlow, evidence.Drops, x))
		pair(cause.Scattered(0.2, 0))
		pair(cause.Scattered(0.2, 1e9))
		pair(cause.BeforeTold(0.4))
		pair(cause.BesidePump(x, 0.5))
		pair(cause.OwnOrShared(evidence.Lifts, x, evidence.Drops, 0.1))
		pair(cause.OneWay(evidence.Both, x))
		pair(cause.Cancelling(evidence.Drops, x, -x, 0.05, 7, 9))
	}
	for i := range 64 {
		u := cause.Unsure{Moves: evidence.Lifts, SlowestKmh: 7, FastestKmh: 9, DayS: 1800, Lifts: true, Drops: i&1 != 0, Crossings: 12, ScatterM: 0.12}
		if i&2 != 0 {
			u.FastestKmh = 16
		}
		for bit, c := range map[int]cause.Name{4: cause.LiftTiming, 8: cause.LiftGeometry, 16: cause.FlowShortage, 32: cause.ColdOil} {
			if i&bit != 0 {
				u.Add(c, map[bool]string{true: "place", false: "time"}[c == cause.LiftGeometry])
			}
		}
		pair(u.Why())
	}
	words := func(s response.Said) { add(s.Evidence, s.Change) }
	words((&response.Hand{Count: 30, Share: 0.4, CI95: [2]float64{0.3, 0.5}}).Said())
	for _, o := range []response.Order{{}, {Kind: response.Shifted, By: 2}, {Kind: response.Shifted, By: -1}, {Kind: response.Exchanged}} {
		o.Wrong, o.Crossings, o.BeforeM, o.AfterM = []int{1, 2}, 20, 0.5, 0.05
		words(o.Said())
	}
	for _, section := range []int{-1, 4} {
		for _, commanded := range []bool{false, true} {
			for _, failed := range [][2]int{{3, 0}, {0, 3}, {3, 2}} {
				u := response.Unmet{Section: section, Commanded: commanded}
				u.Lift = response.Count{Failed: failed[0], Asked: 10, Places: 10}
				u.Drop = response.Count{Failed: failed[1], Asked: 10, Places: 10}
				words(u.Said())
				pair(u.OrSticks())
			}
		}
	}
	for _, s := range []response.Sensor{{Section: 1, Chatters: 4, Changes: 30}, {Section: 1, Alone: 4, Changes: 30}, {Section: 1, Chatters: 2, Alone: 4, Changes: 30}} {
		words(s.Said())
	}
	pair((&response.Report{Uncommanded: 3}).LeftOver())
	pair((&response.Report{Missed: 3}).LeftOver())
	for _, record := range []string{"", "setpoint", "actual"} {
		for _, x := range []float64{7200, -0.42, 86400} {
			for _, drift := range []float64{0, 0.5, -0.5} {
				o := clock.Offset{Record: record, Clock: clock.Clock{OffsetS: x, CI95: [2]float64{x - 0.1, x + 0.1}, DriftS: drift, Crossings: 40, LastNs: 3600e9}}
				for _, o.Likely = range []clock.Mistake{clock.Unset, clock.LocalTime, clock.LeapSeconds, clock.WrongDate} {
					add(o.Evidence(), o.Change())
				}
			}
		}
	}
	for _, g := range []clock.Grid{{StepNs: 1e9, Kind: clock.Sampled}, {StepNs: 1e8, Kind: clock.Sampled, Guessed: true}, {StepNs: 1e9, Kind: clock.Rounded}, {StepNs: 1e9, Kind: clock.Rounded, Guessed: true}} {
		add(g.Text() + ".")
	}
	add("Each change lies within an interval of 0.5 s, between two reports: half of that is taken out, and each time is known to ±144 ms.",
		"Each change lies within an interval of 0.2 to 1 s, usually 0.5 s, between two reports: half of that is taken out, and each time is known to ±144 ms.",
		clock.Compare, "Lifts and drops are alike off by 0.30 s, as far as their speeds tell: it may be one lateness of both, an old position or a terminal's clock.")
	sheet, err := tape.Read(strings.NewReader(badRows), "x.csv", tape.Defaults{})
	if err != nil || len(sheet.Unread) != strings.Count(badRows, "\n")-2 {
		panic(fmt.Sprint(err, sheet))
	}
	for _, u := range sheet.Unread {
		add(u.Why, "my passes.csv: "+u.Why)
	}
	return list
}

// badRows are rows of which one can be read.
const badRows = `move;speed_kmh;late_cm;section;oil;seconds;over_m;event;time_s;frames;fps;sections
lift;8;1
rise;8;1
lift;8;
lift;8;ten "10"
lift;;3
lift;0;3
lift;;3;;;5
lift;;3;;;1;900
lift;8;3;left
lift;8;3;;hot
;;;;;;;up;1
;;;;;;;out;
;;;;;;;out;;12
;;;;;;;out;1;;;many
`

var english = regexp.MustCompile(`(?i)\b(the|with|crossings|late|early|lower|raise|sections|and)\b`)

// TestEverySentence: whatever a diagnosis says of its causes is said in German and French, with the same numbers, and
// nothing of it is left in English; and no entry is there for nothing.
func TestEverySentence(t *testing.T) {
	used := map[string]bool{}
	digits := regexp.MustCompile(`\d+`)
	for _, s := range said() {
		for _, l := range []language.Language{language.German, language.French} {
			got, ok := In(l, s)
			if !ok {
				t.Errorf("%v: not known: %s", l, s)
				continue
			}
			if w := english.FindString(regexp.MustCompile(`\([^)]*\)`).ReplaceAllString(regexp.MustCompile(`"[^"]*"|sections[\s\x{a0}]?:`).ReplaceAllString(got, ""), "")); w != "" {
				t.Errorf("%v: %q is left in\n%s", l, w, got)
			}
			a, b := digits.FindAllString(s, -1), digits.FindAllString(got, -1)
			slices.Sort(a)
			slices.Sort(b)
			if !slices.Equal(a, b) {
				t.Errorf("%v: the numbers of\n%s\nare others in\n%s", l, s, got)
			}
			if strings.ContainsAny(got, "{}") {
				t.Errorf("%v: a place is open in %s", l, got)
			}
		}
		for rest := s; rest != ""; {
			for _, e := range load().Sentences {
				if e.pattern.MatchString(rest) {
					used[e.EN] = true
				}
			}
			_, after, found := strings.Cut(rest, ". ")
			if !found {
				break
			}
			rest = after
		}
	}
	for _, e := range load().Sentences {
		if !used[e.EN] && !strings.Contains(e.EN, "the speeds") && strings.HasSuffix(e.EN, ".") && !strings.Contains(e.EN, "; ") {
			t.Errorf("no diagnosis says: %s", e.EN)
		}
		a, b, c := place.FindAllString(e.EN, -1), place.FindAllString(e.DE, -1), place.FindAllString(e.FR, -1)
		slices.Sort(a)
		slices.Sort(b)
		slices.Sort(c)
		if !slices.Equal(a, b) || !slices.Equal(a, c) {
			t.Errorf("places %v, in German %v, in French %v: %s", a, b, c, e.EN)
		}
	}
}

// What is not known stays English, and says so.
func TestUnknown(t *testing.T) {
	for _, s := range []string{"Nobody has ever said this.", "Lifts come 3 apples late at every speed."} {
		if got, ok := In(language.German, s); ok || got != s {
			t.Errorf("%q, %v", got, ok)
		}
	}
	if got, ok := In(language.French, "Lifts come 30.5 cm early at every speed from 5.0 to 10.0 km/h (95 % interval -2.0 to 3.5 cm, 40 crossings)."); !ok || got != "Relevages\u00a0: 30,5 cm en avance à toute vitesse de 5,0 à 10,0 km/h (intervalle à 95\u00a0% : −2,0 à 3,5 cm, 40 passages)." {
		t.Errorf("%q, %v", got, ok)
	}
}

// Any text is answered, soon, and what is not known comes back as it was.
func FuzzIn(f *testing.F) {
	for _, s := range said()[:40] {
		f.Add(s)
	}
	f.Add(strings.Repeat("a: b, and ", 40))
	f.Add("x: y: late_cm: found \"\xff\": expected")
	f.Fuzz(func(t *testing.T, text string) {
		for _, l := range []language.Language{language.English, language.German, language.French} {
			if got, ok := In(l, text); !ok && got != text {
				t.Errorf("%q came back as %q", text, got)
			}
		}
	})
}
