package day_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"liftbench/nmea"
	"liftbench/replay/day"
	"liftbench/replay/states"
	"liftbench/sections"
	"liftbench/sim/campaign"
)

const startNs = 1_778_630_400_000_000_000

// drawn is a day of fixes and changes of n sections.
func drawn(r *rand.Rand, n int) *day.Day {
	d := &day.Day{Form: "drawn", Work: &states.Recorded{}, Machine: &day.Machine{Sections: make([]sections.Section, n)}}
	for i := range 300 {
		f := nmea.EmptyFix()
		f.TimeNs, f.LatDeg, f.LonDeg = startNs+int64(i)*1e9, 52+float64(i)*1e-5, 9
		d.Fixes = append(d.Fixes, f)
	}
	on := make([]bool, n)
	for i := range n {
		on[i] = r.IntN(2) > 0
		d.Work.Actuals = append(d.Work.Actuals, sections.WorkChange{TimeNs: startNs, Section: int16(i), On: on[i]})
	}
	for t := int64(1); t < 299e3; t += r.Int64N(9000) + 1 { // ms
		i := r.IntN(n)
		on[i] = !on[i]
		d.Work.Actuals = append(d.Work.Actuals, sections.WorkChange{TimeNs: startNs + t*1e6, Section: int16(i), On: on[i]})
	}
	d.Work.FirstNs, d.Work.LastNs = d.Work.Actuals[0].TimeNs, d.Work.Actuals[len(d.Work.Actuals)-1].TimeNs
	return d
}

// cut is what a logger that ran from one fix to another recorded: the states as they
// were when it began, and the changes.
func cut(d *day.Day, from, to int) *day.Day {
	c := &day.Day{Form: d.Form, Fixes: d.Fixes[from : to+1], Work: &states.Recorded{}, Machine: d.Machine}
	firstNs, lastNs := c.Fixes[0].TimeNs, c.Fixes[to-from].TimeNs
	state := make([]bool, len(d.Machine.Sections))
	k := 0
	for ; k < len(d.Work.Actuals) && d.Work.Actuals[k].TimeNs <= firstNs; k++ {
		state[d.Work.Actuals[k].Section] = d.Work.Actuals[k].On
	}
	for i, on := range state {
		c.Work.Actuals = append(c.Work.Actuals, sections.WorkChange{TimeNs: firstNs, Section: int16(i), On: on})
	}
	for ; k < len(d.Work.Actuals) && d.Work.Actuals[k].TimeNs <= lastNs; k++ {
		c.Work.Actuals = append(c.Work.Actuals, d.Work.Actuals[k])
	}
	return c
}

// A day that several loggers recorded in turn, each beginning before the one before it
// ended, is that day again, in whatever order they come.
func TestJoinedIsWhole(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 3))
	for range campaign.Times(200, 2000, 20_000) {
		whole := drawn(r, 1+r.IntN(5))
		var parts []day.Part
		for from := 0; ; {
			to := min(from+5+r.IntN(150), len(whole.Fixes)-1)
			parts = append(parts, day.Part{Name: fmt.Sprint("log ", len(parts)), Day: cut(whole, from, to)})
			if to == len(whole.Fixes)-1 {
				break
			}
			from = max(to-r.IntN(8), from+1)
		}
		if r.IntN(3) == 0 { // one that the others hold whole
			parts = append(parts, day.Part{Name: "log again", Day: cut(whole, 10, 14)})
		}
		r.Shuffle(len(parts), func(i, k int) { parts[i], parts[k] = parts[k], parts[i] })
		got, err := day.Join(parts)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.EqualFunc(got.Fixes, whole.Fixes, func(a, b nmea.Fix) bool { return a.TimeNs == b.TimeNs && a.LatDeg == b.LatDeg }) {
			t.Fatalf("%d fixes; recorded were %d", len(got.Fixes), len(whole.Fixes))
		}
		if !reflect.DeepEqual(got.Work, whole.Work) {
			t.Fatalf("changes\n%v\nrecorded were\n%v", got.Work, whole.Work)
		}
	}
}

// What is told, and what is refused.
func TestJoin(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	whole := drawn(r, 2)
	early, late := cut(whole, 0, 150), cut(whole, 140, 299)
	field := func(d *day.Day, text string) *day.Day {
		x := *d
		x.Field = []byte(text)
		return &x
	}
	width := func(d *day.Day, m float64) *day.Day {
		x := *d
		x.Machine = &day.Machine{Sections: []sections.Section{{WidthM: m}, {WidthM: m}}}
		return &x
	}
	bare := *late
	bare.Work = nil
	single := *late
	single.Single = true
	other := *late
	other.Fixes = slices.Clone(late.Fixes)
	for i := range other.Fixes {
		other.Fixes[i].TimeNs += 13 * 3600e9
	}
	for _, c := range []struct {
		name  string
		a, b  *day.Day
		told  string // among what is said
		err   string
		fixes int
	}{
		{"overlap", late, early, "11 positions of a up to 2026-05-13 00:02:30, which b has too", "", 300},
		{"within", whole, cut(whole, 20, 30), "b, because a has all of its time too", "", 300},
		{"two fields", field(early, "x"), field(late, "y"), "the field of a, not that of b", "", 300},
		{"one field", early, field(late, "y"), "together 300 positions from 2026-05-13 00:00:00", "", 300},
		{"no states in one", early, &bare, "b, because it has no work states", "", 151},
		{"one state for all", early, &single, "", "one has a state for each section", 0},
		{"another machine", width(early, 3), width(late, 2), "", "sections 1 that are 3.00 and 2.00 m wide", 0},
		{"another day", early, &other, "", "a ends 2026-05-13 00:02:30, b begins 2026-05-13 13:02:20", 0},
	} {
		d, err := day.Join([]day.Part{{Name: "a", Day: c.a}, {Name: "b", Day: c.b}})
		if c.err != "" {
			if !errors.Is(err, day.ErrNotOneDay) || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: error %v; expected %q", c.name, err, c.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		said := strings.Join(slices.Concat(d.Found, d.Chosen, d.LeftOut, d.Notes), "\n")
		if !strings.Contains(said, c.told) || len(d.Fixes) != c.fixes || math.IsNaN(d.Fixes[0].LatDeg) {
			t.Errorf("%s: %d fixes, said\n%s\nexpected %d, %q", c.name, len(d.Fixes), said, c.fixes, c.told)
		}
	}
}
