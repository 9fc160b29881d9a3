// A day from task data.

package day

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/replay/states"
	"liftbench/replay/taskdata"
	"liftbench/sections"
)

// FromTaskData takes a task of a set as a day.
func FromTaskData(s *taskdata.Set, o taskdata.Options) (*Day, error) {
	t, err := s.Day(o)
	if err != nil {
		return nil, err
	}
	d := &Day{Form: "ISO 11783-10 task data", Fixes: t.Fixes}
	d.foundTask(s, t)
	d.LeftOut = append(d.LeftOut, damages(s.Damage)...)
	if t.Bank != nil {
		d.Single = len(t.Bank.Sections) == 1
		d.Work = &states.Recorded{Actuals: t.Actual.Work(), ActualPolls: polls(t.Actual.Changes)}
		if t.SetpointsUsable() {
			d.Work.Setpoints, d.Work.SetpointPolls = t.Setpoint.Work(), polls(t.Setpoint.Changes)
			d.Work.OneClock = true // the terminal's
		}
		span(d.Work)
		d.Machine = machineOf(t)
		d.Chosen = append(d.Chosen, t.Geometry.Unsure...)
	}
	d.Notes = append(d.Notes, t.Unsure...)
	if t.Field != nil {
		if d.Field, err = t.Field.GeoJSON(); err != nil {
			return nil, err
		}
		for _, z := range t.Field.Zones {
			if z.Kind == taskdata.Headland {
				d.Chosen = append(d.Chosen, d.headland(t.Field.Zones))
				break
			}
		}
	}
	return d, nil
}

// headland says what is taken of a headland. Task data tell where it is (ISO 11783-10, polygon
// type 10) and neither how its rows run nor whether this job has it worked.
//
// Rows of the body end at it, and there a section lifts in row crops: so it is left. Were it
// worked at any heading, nothing would be expected at that border, and no lift or drop of the
// day could be judged.
func (d *Day) headland(zones []taskdata.Zone) string {
	said := "the headland as left in this job, so that sections lift where the rows of the body end: nothing tells how its own rows run. --leave none has it worked at any heading; --field FILE gives its rows"
	if share := d.workIn(zones, taskdata.Headland); share >= headlandWorked {
		said += fmt.Sprintf("; sections were in work while the antenna was over it for %.0f %% of their time: what was worked there counts as outside all zones", 100*share)
	}
	return said
}

// headlandWorked is the share of the time in work from which on a headland was worked: the antenna is
// ahead of a tool that lifts at a headland's border, for seconds of each pass.
const headlandWorked = 0.2

// workIn is the share of the time with any section in work for which the antenna was over
// zones of a kind.
func (d *Day) workIn(zones []taskdata.Zone, kind taskdata.Kind) float64 {
	if d.Work == nil {
		return 0
	}
	const mostGapNs = 2e9
	work, on, count, k := d.Work.Work(), map[int16]bool{}, 0, 0
	var in, all int64
	for i := 1; i < len(d.Fixes); i++ {
		f := &d.Fixes[i]
		for ; k < len(work) && work[k].TimeNs <= f.TimeNs; k++ {
			if c := work[k]; on[c.Section] != c.On {
				on[c.Section] = c.On
				if c.On {
					count++
				} else {
					count--
				}
			}
		}
		dt := f.TimeNs - d.Fixes[i-1].TimeNs
		if count == 0 || dt > mostGapNs || !f.HasPosition() {
			continue
		}
		all += dt
		for _, z := range zones {
			if z.Kind == kind && planar.PolygonContains(z.Polygon, orb.Point{f.LonDeg, f.LatDeg}) {
				in += dt
				break
			}
		}
	}
	if all == 0 {
		return 0
	}
	return float64(in) / float64(all)
}

// foundTask says what a set holds and which of it is taken.
func (d *Day) foundTask(s *taskdata.Set, t *taskdata.Day) {
	found := func(format string, a ...any) { d.Found = append(d.Found, fmt.Sprintf(format, a...)) }
	if n := len(s.Tasks); n > 1 {
		var list []string
		for i := range s.Tasks {
			if usable(&s.Tasks[i]) {
				list = append(list, s.Tasks[i].ID)
			}
		}
		if len(list) > 1 {
			d.Chosen = append(d.Chosen, fmt.Sprintf("task %s of %s", t.Task.ID, strings.Join(list, ", ")))
		}
	}
	var logs []string
	for i := range t.Task.Logs {
		if l := &t.Task.Logs[i]; l.Usable {
			logs = append(logs, l.Name)
		}
	}
	found("task %s: %d rows from %s", t.Task.ID, t.Rows, listed(logs, "log"))
	if n := len(t.Fixes); n > 0 {
		found("%d positions from %s to %s UTC", n, clockTime(t.Fixes[0].TimeNs), clockTime(t.Fixes[n-1].TimeNs))
	}
	found("%s", t.Clock)
	if t.Bank == nil {
		return
	}
	on := 0
	for _, c := range t.Actual.Changes {
		if c.On {
			on++
		}
	}
	v := deviceOf(s, t)
	if v.Changes > 0 {
		found("device %s; %d on and %d off", v.String(), on, v.Changes-on)
	} else {
		found("device %s", v.String())
	}
	if len(t.Task.Banks) > 1 {
		var others []string
		for _, x := range Devices(s, t.Task.ID) {
			if x.ID != v.ID || x.Element != v.Element {
				others = append(others, x.String())
			}
		}
		d.Chosen = append(d.Chosen, fmt.Sprintf("the work states of %s %s; others of this task, for --device: %s", v.ID, v.Element, strings.Join(others, "; ")))
	}
	d.foundWithin(polls(t.Actual.Changes))
	if t.SetpointsUsable() {
		found("%d changes of setpoint", len(t.Setpoint.Changes))
	}
}

// usable reports whether any log of a task can be read.
func usable(t *taskdata.Task) bool {
	for i := range t.Logs {
		if t.Logs[i].Usable {
			return true
		}
	}
	return false
}

// damages says what is wrong with the files of a set; what is wrong with several alike, once.
func damages(list []taskdata.Damage) []string {
	alike := map[[2]string]int{}
	for _, x := range list {
		alike[[2]string{x.What, x.Done}]++
	}
	var said []string
	for _, x := range list {
		k := [2]string{x.What, x.Done}
		switch n := alike[k]; {
		case n == 1:
			said = append(said, x.String())
		case n > 1:
			said = append(said, fmt.Sprintf("%s and %d others: %s; %s", x.File, n-1, x.What, x.Done))
		}
		alike[k] = 0
	}
	return said
}

// listed names things, or counts them where they are many.
func listed(names []string, what string) string {
	if len(names) == 1 {
		return what + " " + names[0]
	}
	if len(names) > 6 {
		return fmt.Sprintf("%d %ss, %s to %s", len(names), what, names[0], names[len(names)-1])
	}
	return what + "s " + strings.Join(names, ", ")
}

// polls are the intervals within which changes of task data happened; nil where the log was
// written at the changes.
func polls(changes []taskdata.Change) []states.Poll {
	var list []states.Poll
	for _, c := range changes {
		if c.AtNs > c.AfterNs {
			list = append(list, states.Poll{Section: c.Section, AfterNs: c.AfterNs, AtNs: c.AtNs})
		}
	}
	return list
}

// foundWithin says how well the times of changes are known, by the intervals from the
// report before a change to the one that shows it.
func (d *Day) foundWithin(list []states.Poll) {
	if len(list) == 0 {
		return
	}
	widths := make([]int64, len(list))
	for i, p := range list {
		widths[i] = p.AtNs - p.AfterNs
	}
	slices.Sort(widths)
	const ms = 1e6
	d.Found = append(d.Found, fmt.Sprintf("a change was up to %.0f ms before the report that shows it (median; %.0f ms at most); a diagnosis allows for it",
		float64(widths[len(widths)/2])/ms, float64(widths[len(widths)-1])/ms))
}

func clockTime(ns int64) string { return time.Unix(0, ns).UTC().Format("2006-01-02 15:04:05") }

// span notes the times of the first and the last row.
func span(w *states.Recorded) {
	w.FirstNs, w.LastNs = math.MaxInt64, math.MinInt64
	for _, list := range [][]sections.WorkChange{w.Setpoints, w.Actuals} {
		if n := len(list); n > 0 {
			w.FirstNs, w.LastNs = min(w.FirstNs, list[0].TimeNs), max(w.LastNs, list[n-1].TimeNs)
		}
	}
}

// machineOf takes over what a description and the logs tell of the machine; nil where the
// widths of the sections are not told.
func machineOf(t *taskdata.Day) *Machine {
	const ms = 1e6 // ns
	g := &t.Geometry
	told, _ := t.Machine()
	m := &Machine{
		Mount:     told.Mount,
		AntennaXM: orNaN(g.AntennaXM, g.AntennaKnown), AntennaYM: orNaN(g.AntennaYM, g.AntennaKnown),
		AntennaZM:    orNaN(g.AntennaZM, g.AntennaKnown && g.AntennaZM > 0),
		HitchBehindM: orNaN(-g.HitchXM, g.HitchXM < 0), DrawbarM: orNaN(g.PivotM, g.PivotM > 0),
		Sections:   told.Sections,
		LiftLeadMs: math.NaN(), DropLeadMs: math.NaN(),
	}
	leads := len(g.Sections) > 0
	for i, s := range g.Sections {
		if !(s.WidthM > 0) {
			return nil
		}
		m.Sections[i].XM = orNaN(s.XM, g.Tractor != "")
		leads = leads && s.LeadsKnown && s.LiftNs == g.Sections[0].LiftNs && s.DropNs == g.Sections[0].DropNs
	}
	if leads {
		m.LiftLeadMs, m.DropLeadMs = float64(g.Sections[0].LiftNs)/ms, float64(g.Sections[0].DropNs)/ms
	}
	return m
}
