package day

import (
	"testing"

	"liftbench/replay/states"
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
