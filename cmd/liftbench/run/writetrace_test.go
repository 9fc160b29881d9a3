// What drive writes for a bus, read back.

package run

import (
	"bytes"
	"io"
	"math"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
	"liftbench/replay/trace/process"
	"liftbench/sections"
	"liftbench/sim/receiver"
)

// A drive that is written as a bus carries it and read from there is the same
// drive: every epoch to the digit of a position, with its instant to the
// receiver's jitter, and every command and every change of a tool at its time.
func TestTraceOfDrive(t *testing.T) {
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	u.Scenario.Receiver.ClockAheadMs = 250
	out := filepath.Join(t.TempDir(), "drive.log")
	if err := WriteTrace(u, out, nil, io.Discard); err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	var survey bus.Survey
	var work process.Recorder
	each := func(use func(*trace.Frame)) {
		s := trace.NewScanner(bytes.NewReader(raw))
		last := int64(0)
		for s.Next() {
			f := s.Frame()
			if f.TimeNs < last {
				t.Fatalf("a frame at %d after one at %d", f.TimeNs, last)
			}
			last = f.TimeNs
			use(&f)
		}
		if s.Err() != nil || s.Counts().Malformed > 0 || s.Form() != trace.CandumpLog {
			t.Fatal(s.Err(), s.Warnings(), s.Form())
		}
	}
	each(func(f *trace.Frame) {
		survey.Add(f.TimeNs, f.Channel, &f.Frame)
		work.Add(f.TimeNs, f.Channel, &f.Frame)
	})
	plan, err := survey.Plan(-1)
	if err != nil {
		t.Fatal(err)
	}
	decoder := bus.NewDecoder(plan)
	var got []nmea.Fix
	each(func(f *trace.Frame) {
		if decoder.Add(f.TimeNs, f.Channel, &f.Frame) {
			got = append(got, decoder.Fix())
		}
	})
	if decoder.Flush() {
		got = append(got, decoder.Fix())
	}

	job, o := Job(u), New(u)
	in, err := Open(u, job, o, nil, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if err := o.Take(job, in, ""); err != nil {
		t.Fatal(err)
	}
	p := ReceiverParams(u)
	r, err := receiver.New(job.Truth, &u.Field.Plane, u.Machine.Geometry(), p)
	if err != nil {
		t.Fatal(err)
	}
	i := 0
	for ; r.Scan(); i++ {
		w := r.Fix()
		if i >= len(got) {
			t.Fatalf("%d fixes", len(got))
		}
		g := got[i]
		if math.Abs(g.LatDeg-w.LatDeg) > 0.6e-7 || math.Abs(g.LonDeg-w.LonDeg) > 0.6e-7 || g.Quality != w.Quality || math.Abs(g.SpeedMps-w.SpeedMps) > 0.0051 {
			t.Fatalf("fix %d is %+v; sent %+v", i, g, *w)
		}
		if late := g.TimeNs - w.TimeNs; late < -2e6 || late > p.JitterNs+2e6 {
			t.Fatalf("fix %d is at %d ns from its instant; jitter %d", i, late, p.JitterNs)
		}
	}
	if i != len(got) {
		t.Errorf("%d fixes; sent %d", len(got), i)
	}
	if d := plan.Offset.LessNs - p.LatencyNs - 250e6; d < -2e6 || d > 20e6 {
		t.Errorf("offset %d; expected the latency and 250 ms", plan.Offset.LessNs)
	}

	devices := work.Devices()
	if len(devices) != 1 {
		t.Fatalf("%d devices; expected 1", len(devices))
	}
	var orders []sections.WorkChange
	for _, s := range o.Setpoints {
		orders = append(orders, sections.WorkChange{TimeNs: s.DueNs, Section: s.Section, On: s.On})
	}
	compare := func(what string, got []process.Change, want []sections.WorkChange, lateNs int64) {
		var changes []sections.WorkChange
		on := map[int16]bool{}
		sort.SliceStable(want, func(i, k int) bool { return want[i].TimeNs < want[k].TimeNs })
		for _, c := range want {
			if on[c.Section] != c.On {
				changes = append(changes, c)
			}
			on[c.Section] = c.On
		}
		if len(changes) < 100 || len(got) != len(changes) {
			t.Fatalf("%s: %d changes; expected %d, 100 at least", what, len(got), len(changes))
		}
		sort.SliceStable(changes, func(i, k int) bool {
			a, b := changes[i], changes[k]
			return a.TimeNs/1000 < b.TimeNs/1000 || a.TimeNs/1000 == b.TimeNs/1000 && a.Section < b.Section
		})
		sort.SliceStable(got, func(i, k int) bool {
			return got[i].TimeNs < got[k].TimeNs || got[i].TimeNs == got[k].TimeNs && got[i].Section < got[k].Section
		})
		for i, g := range got {
			w := changes[i]
			if int16(g.Section) != w.Section || g.On != w.On || math.Abs(float64(g.TimeNs-w.TimeNs-250e6-lateNs)) > 1000 {
				t.Fatalf("%s: change %d is %+v; expected %+v, 250 ms and %d ns later", what, i, g, w, lateNs)
			}
		}
	}
	compare("setpoints", devices[0].Setpoints, orders, 0)
	compare("actuals", devices[0].Actuals, o.Changes, 20e6)
	for _, c := range devices[0].Actuals {
		if c.BeforeNs == 0 {
			t.Errorf("%+v has no report before", c)
		}
	}
	if d := work.Directions(); len(d) == 0 || d[0].Reverse {
		t.Errorf("directions %+v; expected forward first", d)
	}
	t.Log(plan.Lines(), work.Lines())
}
