// A finished drive, and the answer that describes it: whole millimetres and
// milliseconds in plain arrays, so that ten minutes of driving take little
// space.

package web

import (
	"math"
	"time"

	"github.com/paulmach/orb/planar"

	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
)

// Drive is one drive that was run and scored.
type Drive struct {
	Title, MachineName string
	Set                map[string]any // every control: its value
	Fixed              []string       // controls without effect on this drive
	Outcome            *sim.Outcome
	Machine            *sections.Machine // that stands on the field
	Field              *field.Field
	Settings           sections.Settings
	Hydraulics         hydraulics.Params
	Passes             []drive.Pass
	Warnings           []string
	Simulated          bool      // false: the work states were recorded
	Straight           *Straight // nil = not known

	Summary   []byte              // summary.json
	Diagnosis []byte              // diagnosis.json; nil = none
	Explained *diagnose.Diagnosis // what Diagnosis says; nil = none
	// Of is for the caller, who makes files of the drive from it.
	Of any

	key string // under which the server keeps it for a while; "" = it does not
}

// Straight describes the straight runs before borders: how long they have to be
// and how long they were.
type Straight struct {
	Text  string // "on the line 5.9 m before …"
	LineM float64
	Runs  []sim.Run
}

// startNs is the instant from which times count.
func (d *Drive) startNs() int64 {
	t := d.Outcome.Reception.FirstNs
	if len(d.Outcome.Track) > 0 {
		t = min(t, d.Outcome.Track[0].TimeNs)
	}
	return t - mod(t, 1e9)
}

func mod(a, m int64) int64 { return ((a % m) + m) % m }

// ms is an instant in milliseconds since the start.
func (d *Drive) ms(ns int64) int64 { return int64(math.Round(float64(ns-d.startNs()) * 1e-6)) }

// fit appends Δx and Δt of e = Δx + v·Δt for lifts and for drops, rounded to a
// micrometre and a microsecond.
func (e *encoder) fit(lift, drop diagnose.Fit) {
	round := func(x *float64) { *x = math.Round(*x*1e6)/1e6 + 0 }
	e.key("fit")
	e.open('{')
	for i, f := range [...]diagnose.Fit{lift, drop} {
		e.key([...]string{"lift", "drop"}[i])
		if f.TimeErrorS != nil && f.PlaceErrorM != nil {
			s, m, si, mi := *f.TimeErrorS, *f.PlaceErrorM, *f.TimeErrorCI, *f.PlaceErrorCI
			for _, x := range [...]*float64{&s, &m, &si[0], &si[1], &mi[0], &mi[1]} {
				round(x)
			}
			f.TimeErrorS, f.PlaceErrorM, f.TimeErrorCI, f.PlaceErrorCI = &s, &m, &si, &mi
		}
		e.value(f)
	}
	e.close('}')
}

// State is a drive that is still going on, for the page that follows it: the
// answer to a run, without a setting.
func (d *Drive) State() []byte { return d.appendJSON(nil, nil) }

// appendJSON appends the answer to a run.
func (d *Drive) appendJSON(b []byte, controls []Control) []byte {
	e := &encoder{b}
	o := d.Outcome
	e.open('{')
	e.key("drive")
	e.value(d.key)
	e.key("query")
	e.value(Query(controls, d.Set))
	e.key("set")
	e.value(d.Set)
	e.key("fixed")
	if d.Fixed == nil {
		e.raw([]byte("[]"))
	} else {
		e.value(d.Fixed)
	}
	e.key("title")
	e.value(d.Title)
	e.key("machine")
	e.value(d.MachineName)
	e.key("start")
	e.value(time.Unix(0, d.startNs()).UTC().Format(time.RFC3339))
	e.key("duration")
	e.scaled(o.DurationS, 1000)
	e.key("distance")
	e.mm(o.DistanceM)
	e.key("simulated")
	e.value(d.Simulated)
	e.key("warnings")
	e.open('[')
	for _, w := range d.Warnings {
		e.value(w)
	}
	e.close(']')
	d.machineJSON(e)
	d.groundJSON(e)
	d.trackJSON(e)
	d.stripsJSON(e)
	d.eventsJSON(e)
	d.statesJSON(e)
	if d.Explained != nil {
		e.fit(d.Explained.Lift, d.Explained.Drop)
	} else {
		e.fit(diagnose.Line(o.Score.Events))
	}
	e.key("summary")
	if d.Summary == nil {
		e.null()
	} else {
		e.raw(d.Summary)
	}
	e.key("diagnosis")
	if d.Diagnosis == nil {
		e.null()
	} else {
		e.raw(d.Diagnosis)
	}
	e.close('}')
	return e.b
}

func (d *Drive) machineJSON(e *encoder) {
	e.key("leads")
	e.open('{')
	e.key("lift")
	e.scaled(float64(d.Settings.LiftLead.AloneNs()), 1e-6)
	e.key("drop")
	e.scaled(float64(d.Settings.DropLead.AloneNs()), 1e-6)
	e.close('}')
	e.key("depth")
	e.open('{')
	e.key("raised")
	e.mm(d.Hydraulics.RaisedM)
	e.key("working")
	e.mm(d.Hydraulics.WorkingDepthM)
	e.key("effective")
	e.mm(d.Hydraulics.EffectiveDepthM)
	e.close('}')
	e.key("rowTolerance")
	e.mm(d.Settings.RowToleranceRad)
	e.key("sections")
	e.open('[')
	for i := range d.Machine.Sections {
		s := &d.Machine.Sections[i]
		e.open('[')
		e.mm(s.XM)
		e.mm(s.YM)
		e.mm(s.WidthM)
		e.close(']')
	}
	e.close(']')
}

// groundJSON appends the field.
func (d *Drive) groundJSON(e *encoder) {
	bound := d.Field.Bound()
	e.key("bound")
	e.open('[')
	for _, x := range [...]float64{bound.Min[0], bound.Min[1], bound.Max[0], bound.Max[1]} {
		e.mm(x)
	}
	e.close(']')
	e.key("origin")
	lat, lon := d.Field.Plane.Origin()
	e.value([]float64{math.Round(lat*1e8) / 1e8, math.Round(lon*1e8) / 1e8})
	e.key("boundary")
	e.rings(d.Field.Boundary)
	e.key("zones")
	e.open('[')
	for i := range d.Field.Zones {
		z := &d.Field.Zones[i]
		e.open('{')
		e.key("name")
		e.value(z.Name)
		e.key("kind")
		e.value(z.Kind.String())
		e.key("bearing")
		e.scaled(z.RowBearingRad, 1000)
		e.key("rings")
		e.rings(z.Polygons)
		e.close('}')
	}
	e.close(']')
	e.key("passes")
	e.open('[')
	for _, p := range d.Passes {
		e.open('[')
		e.mm(p.From[0])
		e.mm(p.From[1])
		e.mm(p.To[0])
		e.mm(p.To[1])
		e.close(']')
	}
	e.close(']')
	e.key("straight")
	d.straightJSON(e)
}

// straightJSON appends the straight runs.
func (d *Drive) straightJSON(e *encoder) {
	if d.Straight == nil {
		e.null()
		return
	}
	e.open('{')
	e.key("text")
	e.value(d.Straight.Text)
	e.key("line")
	e.mm(d.Straight.LineM)
	e.key("runs")
	e.open('[')
	for _, r := range d.Straight.Runs {
		e.open('[')
		for _, x := range [...]float64{r.From[0], r.From[1], r.To[0], r.To[1], r.LineM} {
			e.mm(x)
		}
		e.close(']')
	}
	e.close(']')
	e.close('}')
}

// A pose is left out of the answer's track while it differs from the last one
// by no more than this in time and in heading.
const (
	trackStepNs  = 500e6
	trackStepRad = 0.06
)

func (d *Drive) trackJSON(e *encoder) {
	e.key("track")
	e.open('[')
	track := d.Outcome.Track
	distanceM := 0.0
	var last *motion.Pose
	for i := range track {
		p := &track[i]
		if i > 0 {
			q := &track[i-1]
			distanceM += math.Abs(p.SpeedMps+q.SpeedMps) / 2 * float64(p.TimeNs-q.TimeNs) * 1e-9
		}
		if last != nil && i+1 < len(track) && p.TimeNs-last.TimeNs < trackStepNs && math.Abs(p.HeadingRad-last.HeadingRad) < trackStepRad &&
			(p.SpeedMps < 0) == (last.SpeedMps < 0) {
			continue
		}
		last = p
		e.open('[')
		e.int(d.ms(p.TimeNs))
		e.mm(p.EastM)
		e.mm(p.NorthM)
		e.mm(p.HeadingRad)
		e.mm(p.SpeedMps)
		e.mm(distanceM)
		e.mm(p.ToolHeadingRad)
		e.close(']')
	}
	e.close(']')
}

// leastStripM2 is the least area of a strip that is drawn.
const leastStripM2 = 1e-3

func (d *Drive) stripsJSON(e *encoder) {
	e.key("strips")
	e.open('[')
	for i := range d.Outcome.Score.Strips {
		s := &d.Outcome.Score.Strips[i]
		if math.Abs(planar.Area(s.Ring)) < leastStripM2 {
			continue
		}
		e.open('[')
		e.int(int64(s.Section))
		e.int(int64(s.Ground))
		e.int(d.ms(s.FromNs))
		e.int(d.ms(s.UntilNs))
		e.ring(s.Ring)
		e.close(']')
	}
	e.close(']')
}

func (d *Drive) eventsJSON(e *encoder) {
	events := d.Outcome.Score.Events
	e.key("events")
	e.open('[')
	for i := range events {
		v := &events[i]
		e.open('[')
		e.int(int64(v.Section))
		e.bool(v.On)
		e.int(int64(v.Kind))
		d.instant(e, v.IdealNs)
		d.instant(e, v.ActualNs)
		e.scaled(v.TimeErrorS, 1e4)
		e.scaled(v.PlaceErrorM, 1e4)
		e.mm(v.EastM)
		e.mm(v.NorthM)
		e.mm(v.SpeedMps)
		e.mm(v.HeadingRad)
		e.mm(v.YawRateRadPerS)
		e.int(int64(v.Together))
		e.close(']')
	}
	e.close(']')
	e.key("crossings")
	e.open('[')
	for _, c := range crossings(events) {
		e.open('[')
		e.bool(c.On)
		e.int(d.ms(c.FromNs))
		e.int(d.ms(c.UntilNs))
		e.mm(c.eastM)
		e.mm(c.northM)
		e.open('[')
		for _, k := range c.Changes {
			e.int(int64(k))
		}
		e.close(']')
		e.close(']')
	}
	e.close(']')
}

// instant appends a time, null where it is 0.
func (d *Drive) instant(e *encoder, ns int64) {
	if ns == 0 {
		e.null()
		return
	}
	e.int(d.ms(ns))
}

// statesJSON appends, for each section, what it was told, what it did and how
// high its tool was.
func (d *Drive) statesJSON(e *encoder) {
	n := len(d.Machine.Sections)
	lists := func(name string, each func(i int)) {
		e.key(name)
		e.open('[')
		for i := range n {
			e.open('[')
			each(i)
			e.close(']')
		}
		e.close(']')
	}
	lists("setpoints", func(i int) {
		for _, s := range d.Outcome.Setpoints {
			if int(s.Section) == i {
				e.int(d.ms(s.DueNs))
				e.bool(s.On)
				e.int(int64(s.Reason))
			}
		}
	})
	lists("work", func(i int) {
		for _, c := range d.Outcome.Changes {
			if int(c.Section) == i {
				e.int(d.ms(c.TimeNs))
				e.bool(c.On)
			}
		}
	})
	if d.Outcome.Heights != nil {
		lists("height", func(i int) {
			for _, k := range d.Outcome.Heights[i] {
				e.int(d.ms(k.TimeNs))
				e.mm(k.HeightM)
			}
		})
	}
}
