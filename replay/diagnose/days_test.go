// Golden days: what is said of one drive of each kind, to the last digit that counts.

package diagnose

import (
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
)

var update = flag.Bool("update", false, "rewrite testdata")

// days are drives by name. To add one, add a line and run the test with -update.
func days() (names []string, days []evidence.Day) {
	add := func(name string, day evidence.Day) {
		names, days = append(names, name), append(days, day)
	}
	with := func(change func(*shape)) shape {
		s := clearDay(21)
		s.transitions = 120
		change(&s)
		return s
	}
	same := with(func(*shape) {})
	braking := with(func(s *shape) { s.braking = true })
	recorded := with(func(s *shape) { s.told, s.braking = true, true })
	turning := with(func(s *shape) { s.turning = true })
	long := with(func(s *shape) { s.transitions = 240 })
	add("a time and a place that cancel", closedForm(same, fault{liftS: 0.2, liftM: -0.35}))
	add("position old, lifts a little later", closedForm(same, fault{latencyS: 0.2, liftS: 0.06}))
	add("lifts and drops late by one place, drops by less", closedForm(same, fault{bothM: 0.3, dropM: -0.1}))
	add("two sections, pump short", closedForm(with(func(s *shape) { s.sections = 2 }), fault{flowS: 0.08}))
	add("a short piece of border", closedForm(with(func(s *shape) { s.transitions = 144 }), fault{borderM: 0.5}))
	add("cold oil and position old", closedForm(long, fault{coldS: 0.5, tauS: 300, latencyS: 0.2, dropM: 0.2}))
	add("nothing wrong", closedForm(same, fault{}))
	add("lifts late", closedForm(braking, fault{liftS: 0.2}))
	add("drops early", closedForm(same, fault{dropS: -0.15}))
	add("lifts and drops late by times of their own", closedForm(same, fault{liftS: 0.3, dropS: 0.12}))
	add("position old", closedForm(same, fault{latencyS: 0.15}))
	add("position old, a place beside it", closedForm(braking, fault{latencyS: 0.3, liftM: 0.12}))
	add("bar elsewhere", closedForm(braking, fault{bothM: 0.4}))
	add("drops by a place", closedForm(braking, fault{dropM: -0.3}))
	add("pump short", closedForm(same, fault{flowS: 0.04}))
	add("a slow section and a short pump", closedForm(long, fault{slow: 3, slowS: 0.4, flowS: 0.05}))
	add("cold oil", closedForm(long, fault{coldS: 0.4, tauS: 400}))
	add("cold oil, lifts late", closedForm(with(func(s *shape) { s.transitions = 480 }), fault{coldS: 0.3, tauS: 700, liftS: 0.2}))
	add("a slow section", closedForm(same, fault{slow: 2, slowS: 0.2}))
	add("a quick section", closedForm(same, fault{slow: 6, slowS: -0.1}))
	add("heading old in turns", closedForm(turning, fault{headingS: -0.3}))
	add("heading old and position old", closedForm(turning, fault{headingS: -0.3, latencyS: 0.2}))
	add("a piece of border", closedForm(long, fault{borderM: 0.3}))
	add("a piece of border, braking", closedForm(with(func(s *shape) { s.transitions, s.braking = 240, true }), fault{borderM: -0.4, dropS: 0.1}))
	add("poor reception", closedForm(long, fault{floatM: 0.4}))
	add("by hand", closedForm(long, fault{byHand: 0.3, liftS: 0.1}))
	add("one speed", closedForm(with(func(s *shape) { s.spreadKmh = 0.1 }), fault{liftS: 0.3}))
	add("one speed, drops early", closedForm(with(func(s *shape) { s.spreadKmh = 0.6 }), fault{dropM: -0.3}))
	add("all sections at once", closedForm(with(func(s *shape) { s.square = true }), fault{liftS: 0.3}))
	add("scatter", closedForm(with(func(s *shape) { s.noiseM = 0.4 }), fault{}))
	add("scatter by a time", closedForm(with(func(s *shape) { s.noiseM = 0.2 }), fault{latencyS: 0.4}))
	add("setpoints: nothing wrong", closedForm(recorded, fault{}))
	add("setpoints: lifts late", closedForm(recorded, fault{liftS: 0.25}))
	add("setpoints: a slow section, drops early", closedForm(recorded, fault{slow: 4, slowS: 0.3, dropS: -0.2}))
	add("setpoints: pump short, bar elsewhere", closedForm(recorded, fault{flowS: 0.05, bothM: 0.2}))
	machine := closedForm(with(func(s *shape) { s.told = true }), fault{})
	for i := range machine.Actual {
		machine.Actual[i].ActualNs += 150e6
		machine.Actual[i].TimeErrorS += 0.15
		machine.Actual[i].PlaceErrorM += 0.15 * machine.Actual[i].SpeedMps
	}
	add("setpoints: machine slow", machine)
	alone := closedForm(recorded, fault{liftS: 0.25})
	alone.Actual = nil
	add("setpoints alone", alone)
	aware := closedForm(recorded, fault{flowS: 0.04, slow: 2, slowS: 0.3})
	aware.Settings.LiftLead.FedAtOnce, aware.LiftStrokeNs = 2, 700e6
	add("a lead that counts sections", aware)
	lifts := closedForm(same, fault{liftM: 0.3})
	lifts.Actual = slices.DeleteFunc(lifts.Actual, func(e score.Event) bool { return e.On })
	add("lifts alone", lifts)
	one := closedForm(with(func(s *shape) { s.transitions = 240 }), fault{latencyS: 0.3})
	first := map[int64]int64{}
	for i := range one.Actual {
		e := &one.Actual[i]
		k := e.IdealNs / 45e9
		if e.Section == 0 {
			first[k] = e.ActualNs
		}
		e.ActualNs = first[k]
	}
	add("one state for the machine", one)
	trailed := closedForm(turning, fault{headingS: 0.3})
	trailed.Machine.Mount, trailed.Machine.DrawbarM = sections.Trailed, 4
	add("trailed, heading ahead", trailed)
	few := closedForm(same, fault{liftS: 0.4})
	few.Actual = few.Actual[:40]
	add("few", few)
	return names, days
}

// written is a diagnosis as lines.
func written(d *Diagnosis) string {
	var b strings.Builder
	number := func(x *float64, ci *Interval) string {
		if x == nil {
			return "unknown"
		}
		return fmt.Sprintf("%.9g ( %.9g %.9g )", *x, ci[0], ci[1])
	}
	for i, f := range [...]*Fit{&d.Lift, &d.Drop} {
		fmt.Fprintf(&b, "  %s: %d, time %s place %s\n", [...]string{"lift", "drop"}[i], f.Count, number(f.TimeErrorS, f.TimeErrorCI), number(f.PlaceErrorM, f.PlaceErrorCI))
		if place, ci, ok := f.Band(2); ok {
			fmt.Fprintf(&b, "  at 2 m/s: %s\n", number(&place, &ci))
		}
	}
	for i := range d.Causes {
		f := &d.Causes[i]
		fmt.Fprintf(&b, "  cause: %s %d %q %s %s\n    %s\n    %s\n", f.Cause, f.Section, f.Move, number(&f.Size, &f.CI95), f.Unit, f.Evidence, f.Change)
	}
	for _, q := range d.CannotTell {
		fmt.Fprintf(&b, "  cannot tell: %q\n    %s\n    %s\n", q.Between, q.Why, q.Drive)
	}
	b.WriteString("  floors:")
	for _, f := range d.Floors {
		size := "unknown"
		if f.Size != nil {
			size = fmt.Sprintf("%.9g", *f.Size)
		}
		fmt.Fprintf(&b, " %s %s %s %s;", f.Cause, f.Move, size, f.Unit)
	}
	return b.String() + "\n"
}

// sameText compares word by word, numbers with a tolerance that other processors need.
func sameText(got, want string) bool {
	a, b := strings.Fields(got), strings.Fields(want)
	return len(a) == len(b) && slices.EqualFunc(a, b, func(x, y string) bool {
		p, errP := strconv.ParseFloat(x, 64)
		q, errQ := strconv.ParseFloat(y, 64)
		if errP != nil || errQ != nil {
			return x == y
		}
		return math.Abs(p-q) <= 1e-6*max(math.Abs(p), math.Abs(q), 1e-3)
	})
}

// TestDays holds every number and every word against the golden file.
func TestDays(t *testing.T) {
	const golden = "testdata/days.golden"
	names, days := days()
	var all strings.Builder
	got := map[string]string{}
	for i, day := range days {
		d, err := Run(day)
		if err != nil {
			t.Fatalf("%s: %v", names[i], err)
		}
		got[names[i]] = written(d)
		fmt.Fprintf(&all, "# %s\n%s\n", names[i], got[names[i]])
	}
	if *update {
		if err := os.WriteFile(golden, []byte(all.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	file, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range strings.Split(string(file), "# ")[1:] {
		name, want, _ := strings.Cut(part, "\n")
		if !sameText(got[name], want) {
			t.Errorf("%s:\n%s; want\n%s", name, got[name], want)
		}
		delete(got, name)
	}
	for name := range got {
		t.Errorf("%s is not in %s; run the test with -update", name, golden)
	}
}
