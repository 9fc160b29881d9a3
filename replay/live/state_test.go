// A run goes on where the one before it was killed.

package live

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/port"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/schedule"
	"liftbench/sim/receiver"
)

// bed is an engine without a stream: fixes are handed to it, and the host's clock
// stands until it is set.
type bed struct {
	*Engine
	now     time.Time
	decided []sections.Setpoint
}

func newBed(t *testing.T, m *sections.Machine, now time.Time, to ...Output) *bed {
	t.Helper()
	b := &bed{now: now}
	var err error
	b.Engine, err = New(Config{Machine: m, Field: strips(t), Settings: settings(), Outputs: to, Now: func() time.Time { return b.now },
		Hooks: Hooks{Setpoints: func(s []sections.Setpoint) { b.decided = append(b.decided, s...) }}})
	if err != nil {
		t.Fatal(err)
	}
	b.out = newOutputs(to, len(m.Sections), 1)
	return b
}

// give hands over fixes when they arrive, 30 ms after the instant they are of.
func (b *bed) give(fixes []nmea.Fix) {
	for i := range fixes {
		b.now = time.Unix(0, fixes[i].ReadyNs)
		b.take(&fixes[i])
	}
}

func fixesOf(t *testing.T, m *sections.Machine) []nmea.Fix {
	t.Helper()
	rd := epoch.NewReader(bytes.NewReader(log(t, m, startNs, 60, receiver.Params{RateHz: 10, SigmaM: 0.014, Seed: 1})))
	var fixes []nmea.Fix
	for rd.Next() {
		f := rd.Fix()
		f.ArrivalNs, f.ReadyNs = f.TimeNs+20e6, f.TimeNs+30e6
		fixes = append(fixes, f)
	}
	return fixes
}

// TestResume: a run that is killed with sections in work and started again 2 s
// later first tells every section to be up, for a second. Then it decides what the
// run before would have decided, had it been silent for 2 s and held all up for
// so long.
func TestResume(t *testing.T) {
	m := bar(6)
	fixes := fixesOf(t, m)
	killed, from := 303, 323
	before := newBed(t, m, time.Unix(0, startNs))
	before.give(fixes[:killed])
	left := before.State()
	if len(left.InWork) == 0 {
		t.Fatal("no section is in work where the run is killed; choose another place")
	}
	text, err := left.AppendJSON(nil)
	if err != nil {
		t.Fatal(err)
	}
	read, err := ParseState(text)
	if err != nil {
		t.Fatal(err)
	}

	restart := time.Unix(0, fixes[from].ReadyNs-50e6)
	path := filepath.Join(t.TempDir(), "setpoints")
	to, err := port.Open(t.Context(), spec(t, "file:"+path), port.Out, port.Options{})
	if err != nil {
		t.Fatal(err)
	}
	after := newBed(t, m, restart, Output{to, JSON})
	if err := after.Resume(&read); err != nil {
		t.Fatal(err)
	}
	after.clock = newClock(after.cfg.Now, 1)
	after.raise()
	to.Close()
	first, err := os.ReadFile(path)
	if n := bytes.Count(first, []byte(`"on":false,"reason":"held-up"`)); err != nil || n != 6 || bytes.Count(first, []byte("\n")) != 6 {
		t.Errorf("%v; the first words are %s; want a lift of each section", err, first)
	}
	after.give(fixes[from:])

	for i := range 6 {
		before.ctl.Hold(i, sections.HoldUp)
	}
	before.ctl.Tick(restart.UnixNano(), nil)
	before.decided = nil
	before.when = schedule.New(&before.cfg.Settings)
	before.started = false
	released := from + slices.IndexFunc(fixes[from:], func(f nmea.Fix) bool { return f.ReadyNs >= restart.UnixNano()+1e9 })
	before.give(fixes[from:released])
	for i := range 6 {
		before.ctl.Hold(i, sections.Released)
	}
	before.give(fixes[released:])
	if !slices.Equal(after.decided, before.decided) || len(after.decided) < 50 {
		t.Errorf("decided %d setpoints after the restart; want the %d that the run before would have decided", len(after.decided), len(before.decided))
	}
}

// What cannot be gone on with is named, and every section is lifted all the same.
func TestResumeRefuses(t *testing.T) {
	m := bar(6)
	fixes := fixesOf(t, m)
	before := newBed(t, m, time.Unix(0, startNs))
	none := before.State()
	before.give(fixes[:303])
	good := before.State()
	at := time.Unix(0, good.HostNs)
	for name, c := range map[string]struct {
		left State
		now  time.Time
		want string
	}{
		"old":          {good, at.Add(11 * time.Second), "it is 11 s old"},
		"from ahead":   {good, at.Add(-time.Second), "it is -1 s old"},
		"another hoe":  {State{Setup: "another", HostNs: good.HostNs, Controller: good.Controller}, at, "another machine, field or settings"},
		"no fix":       {none, time.Unix(0, none.HostNs), "no position yet"},
		"other bytes":  {State{Setup: good.Setup, HostNs: good.HostNs, NowNs: good.NowNs, Controller: good.Controller[:20]}, at, "not a saved state"},
		"nothing read": {State{}, at, "no position yet"},
	} {
		b := newBed(t, m, c.now)
		if err := b.Resume(&c.left); !errors.Is(err, ErrLeft) || !bytes.Contains([]byte(err.Error()), []byte(c.want)) {
			t.Errorf("%s: %v; want %q", name, err, c.want)
		}
		b.out.state.Set(0, true)
		if b.raise(); b.out.state.On(0) || b.out.state.Seq == 0 {
			t.Errorf("%s: section 1 is not lifted", name)
		}
	}
}

// What is known of worked ground is left apart from the state, as it is some seconds
// older, and taken up with it: the next run knows the rows of the one before. Where it
// is missing or damaged, the controller begins anew and says so.
func TestResumeWorkedGround(t *testing.T) {
	m := bar(6)
	fixes := fixesOf(t, m)
	engine := func(now time.Time) *bed {
		b := newBed(t, m, now)
		rowed := strips(t)
		zones := slices.Clone(rowed.Zones)
		for i := range zones {
			zones[i].RowBearingRad = fixes[300].CourseDeg * math.Pi / 180
		}
		f, err := field.New(rowed.Plane, nil, zones)
		if err != nil {
			t.Fatal(err)
		}
		set := settings()
		set.WorkedGround, set.RowSpacingM = sections.LeaveWorked, 0.5
		if b.Engine, err = New(Config{Machine: m, Field: f, Settings: set, Now: func() time.Time { return b.now }}); err != nil {
			t.Fatal(err)
		}
		b.out = newOutputs(nil, len(m.Sections), 1)
		return b
	}
	before := engine(time.Unix(0, startNs))
	fresh := before.Worked(nil)
	before.give(fixes[:200])
	older := before.Worked(nil)
	before.give(fixes[200:303])
	left := before.State()
	if len(older) <= len(fresh) {
		t.Fatalf("worked ground takes %d bytes after 20 s; want more than %d", len(older), len(fresh))
	}
	if len(left.Controller) > 8000 {
		t.Errorf("the state without it takes %d bytes; want some thousands", len(left.Controller))
	}
	t.Logf("state %d bytes, worked ground %d", len(left.Controller), len(older))
	for name, worked := range map[string][]byte{"as it is": before.Worked(nil), "some seconds older": older, "missing": nil, "cut off": older[:len(older)-1], "of nothing worked": fresh} {
		after := engine(time.Unix(0, left.HostNs+2e9))
		left.Worked = worked
		err := after.Resume(&left)
		if bad := name == "missing" || name == "cut off"; bad != errors.Is(err, ErrLeft) || bad == (err == nil) {
			t.Errorf("%s: %v", name, err)
		}
		if err == nil && !bytes.Equal(after.Worked(nil), worked) {
			t.Errorf("%s: the next run knows other rows", name)
		}
	}
}

// A receiver whose clock went back meanwhile is not stale for ever.
func TestResumeAfterAnotherClock(t *testing.T) {
	m := bar(6)
	fixes := fixesOf(t, m)
	before := newBed(t, m, time.Unix(0, startNs))
	before.give(fixes[:303])
	left := before.State()
	after := newBed(t, m, time.Unix(0, left.HostNs+2e9))
	if err := after.Resume(&left); err != nil {
		t.Fatal(err)
	}
	after.raise()
	earlier := slices.Clone(fixes)
	for i := range earlier {
		earlier[i].TimeNs -= 3600e9
		earlier[i].ArrivalNs, earlier[i].ReadyNs = 0, 0
	}
	for i := range earlier[323:] {
		after.take(&earlier[323+i])
	}
	if c := after.ctl.Counts(); c.Stale != 0 || c.Accepted < 200 {
		t.Errorf("counts %+v; want the fixes used", c)
	}
}

func FuzzParseState(f *testing.F) {
	s := State{Setup: "x", HostNs: 1, NowNs: 2, FixNs: 3, InWork: []int{0, 5}, Controller: []byte{1, 2}}
	text, err := s.AppendJSON(nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"format":"liftbench live state 2","saved":"9999-01-01T00:00:00Z","in_work":[0]}`))
	f.Add([]byte(`{}`))
	f.Add([]byte(``))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := ParseState(text)
		if err != nil {
			if !errors.Is(err, ErrLeft) {
				t.Errorf("%v is no ErrLeft", err)
			}
			return
		}
		again, err := s.AppendJSON(nil)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ParseState(again)
		if err != nil || back.HostNs != s.HostNs || back.NowNs != s.NowNs || back.FixNs != s.FixNs || !slices.Equal(back.InWork, s.InWork) || !bytes.Equal(back.Controller, s.Controller) {
			t.Errorf("%+v, read again %+v, %v", s, back, err)
		}
	})
}

// BenchmarkState is how long the engine is held for a state of 48 sections, as
// after each change.
func BenchmarkState(b *testing.B) {
	s, err := port.Parse("file:/dev/null")
	if err != nil {
		b.Fatal(err)
	}
	to, err := port.Open(b.Context(), s, port.Out, port.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer to.Close()
	e, _ := warm(b, bar(48), []Output{{to, Line}})
	b.ReportAllocs()
	for b.Loop() {
		e.State()
	}
}
