package day

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/replay/states"
	"liftbench/replay/taskdata"
	"liftbench/sections"
)

// TestWorkOf: one state for the whole machine is given to each section, and a section that
// alone has worked stays alone.
func TestWorkOf(t *testing.T) {
	work := &states.Recorded{Actuals: []sections.WorkChange{{TimeNs: 1, On: true}, {TimeNs: 2}}}
	for _, c := range []struct {
		single bool
		n      int
		want   int // changes
		whole  bool
	}{{true, 3, 6, true}, {true, 1, 2, false}, {false, 3, 2, false}} {
		d := Day{Work: work, Single: c.single}
		w, err := d.WorkOf(c.n)
		if err != nil || len(w.Actuals) != c.want || w.Whole != c.whole {
			t.Errorf("%+v: %+v, %v", c, w, err)
		}
	}
	d := Day{Work: &states.Recorded{Actuals: []sections.WorkChange{{TimeNs: 1, Section: 5, On: true}}}}
	if _, err := d.WorkOf(4); err == nil {
		t.Error("states of 6 sections are taken for a machine of 4")
	}
}

// TestWorkedHeadland: a headland is taken as left, and it is said where work on it contradicts that. Driven is a line
// eastward, one position a second, ten seconds over a body and then ten over the headland; nothing else is in work.
func TestWorkedHeadland(t *testing.T) {
	const stepDeg = 2e-5
	square := func(from, to float64) orb.Polygon {
		west, east := (from-0.5)*stepDeg, (to-0.5)*stepDeg
		return orb.Polygon{{{west, -1e-4}, {east, -1e-4}, {east, 1e-4}, {west, 1e-4}, {west, -1e-4}}}
	}
	zones := []taskdata.Zone{{Kind: taskdata.Body, Polygon: square(0, 11)}, {Kind: taskdata.Headland, Polygon: square(11, 21)}}
	for _, c := range []struct {
		fromS, toS int64 // in work
		want       string
	}{
		{0, 10, ""}, // the body alone
		{0, 12, ""}, // 2 of 12 s between positions
		{0, 13, "for 23 % of their time"},
		{5, 14, "for 40 % of their time"},
		{11, 20, "for 100 % of their time"},
	} {
		d := Day{Work: &states.Recorded{Actuals: []sections.WorkChange{{TimeNs: c.fromS * 1e9, On: true}, {TimeNs: c.toS*1e9 + 1, Section: 0}}}}
		for s := range int64(21) {
			d.Fixes = append(d.Fixes, nmea.Fix{TimeNs: s * 1e9, LonDeg: float64(s) * stepDeg, Quality: nmea.RTKFixed})
		}
		said := d.headland(zones)
		if !strings.Contains(said, "as left in this job") || strings.Contains(said, "of their time") != (c.want != "") || !strings.Contains(said, c.want) {
			t.Errorf("in work from %d to %d s: %q; want %q", c.fromS, c.toS, said, c.want)
		}
	}
}
