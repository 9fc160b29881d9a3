// The seconds around one crossing: where each section's line was, how high its
// tool, and where it ought to have changed.

package web

import (
	"math"
	"net/http"
	"strconv"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/motion"
	"liftbench/sections/score"
)

const (
	closeUpStepNs = 20e6
	marginNs      = 1000e6 // before the first and after the last instant shown
	longestNs     = 20e9   // of a close-up
	borderReachM  = 15.0   // zone borders farther from the crossing are left out
)

// closeUp answers with one crossing of a drive.
func (s *server) closeUp(w http.ResponseWriter, r *http.Request, a *Ask) error {
	d, err := s.driveOr(r.Context(), r.URL.Query().Get("drive"), a)
	if err != nil {
		return err
	}
	list := crossings(d.Outcome.Score.Events)
	k, err := strconv.Atoi(r.URL.Query().Get("crossing"))
	if err != nil || k < 0 || k >= len(list) {
		return badRequest("crossing %.20q; expected 0 to %d", r.URL.Query().Get("crossing"), len(list)-1)
	}
	answer(w, r, "application/json", d.closeUpJSON(&list[k]))
	return nil
}

// closeUpJSON is the answer to a close-up.
func (d *Drive) closeUpJSON(c *crossing) []byte {
	events := d.Outcome.Score.Events
	commands := make([]int64, len(c.Changes)) // 0 = none
	from, until := c.FromNs, c.UntilNs
	for i, k := range c.Changes {
		v := &events[k]
		commands[i] = CommandNs(d.Outcome.Setpoints, v)
		for _, t := range [...]int64{v.IdealNs, v.ActualNs, commands[i]} {
			if t != 0 {
				from, until = min(from, t), max(until, t)
			}
		}
	}
	from, until = from-marginNs, until+marginNs
	until = min(until, from+longestNs)
	from -= mod(from-d.startNs(), closeUpStepNs)

	e := &encoder{}
	e.open('{')
	e.key("on")
	e.bool(c.On)
	e.key("from")
	e.int(d.ms(from))
	e.key("until")
	e.int(d.ms(until))
	e.key("step")
	e.int(closeUpStepNs / 1e6)
	d.borderJSON(e, orb.Point{c.eastM, c.northM})
	e.key("sections")
	e.open('[')
	for i, k := range c.Changes {
		d.sectionJSON(e, int(k), commands[i], from, until)
	}
	e.close(']')
	e.close('}')
	return e.b
}

// CommandNs returns when the setpoint of a transition took effect at the valve:
// the last setpoint in the same direction before the actual change, or, if
// there is none, the one nearest to the ideal instant; 0 = there is none.
func CommandNs(setpoints []sections.Setpoint, v *score.Event) int64 {
	const farthest = 10e9
	best := int64(0)
	for _, s := range setpoints {
		if s.Section != v.Section || s.On != v.On {
			continue
		}
		if v.ActualNs != 0 {
			if s.DueNs <= v.ActualNs && v.ActualNs-s.DueNs <= farthest {
				best = s.DueNs
			}
			continue
		}
		if away := abs(s.DueNs - v.IdealNs); away <= farthest && (best == 0 || away < abs(best-v.IdealNs)) {
			best = s.DueNs
		}
	}
	return best
}

func abs(x int64) int64 {
	if x < 0 {
		return -x
	}
	return x
}

// borderJSON appends the edges of zones that come near a point.
func (d *Drive) borderJSON(e *encoder, at orb.Point) {
	e.key("border")
	e.open('[')
	for i := range d.Field.Zones {
		for _, p := range d.Field.Zones[i].Polygons {
			for _, r := range p {
				for j := 1; j < len(r); j++ {
					if segmentM(at, r[j-1], r[j]) > borderReachM {
						continue
					}
					e.open('[')
					for _, q := range [...]orb.Point{r[j-1], r[j]} {
						e.mm(q[0])
						e.mm(q[1])
					}
					e.close(']')
				}
			}
		}
	}
	e.close(']')
}

// segmentM is the distance of p from the segment from a to b.
func segmentM(p, a, b orb.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	u := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		u = min(max(((p[0]-a[0])*dx+(p[1]-a[1])*dy)/l, 0), 1)
	}
	return math.Hypot(p[0]-a[0]-u*dx, p[1]-a[1]-u*dy)
}

// sectionJSON appends what the section of event k did over the seconds shown.
func (d *Drive) sectionJSON(e *encoder, k int, commandNs, from, until int64) {
	v := &d.Outcome.Score.Events[k]
	section := int(v.Section)
	e.open('{')
	e.key("section")
	e.int(int64(section))
	e.key("event")
	e.int(int64(k))

	cursor := 0
	line := func(ns int64) (l, r orb.Point) {
		p := d.Outcome.Track.At(ns, &cursor)
		f := d.Machine.Frame(&p)
		l[0], l[1], r[0], r[1] = d.Machine.Line(section, &f)
		return l, r
	}
	e.key("line")
	e.open('[')
	for t := from; t <= until; t += closeUpStepNs {
		l, r := line(t)
		e.open('[')
		for _, x := range [...]float64{l[0], l[1], r[0], r[1]} {
			e.mm(x)
		}
		e.close(']')
	}
	e.close(']')

	if d.Outcome.Heights != nil {
		e.key("height")
		e.open('[')
		for t := from; t <= until; t += closeUpStepNs {
			e.mm(d.Outcome.Heights[section].AtM(t))
		}
		e.close(']')
	}

	e.key("way")
	if v.IdealNs == 0 {
		e.null()
	} else {
		e.open('[')
		for t := from; t <= until; t += closeUpStepNs {
			e.mm(wayM(d.Outcome.Track, d.Machine, section, v.IdealNs, t))
		}
		e.close(']')
	}
	for _, x := range [...]struct {
		name string
		ns   int64
	}{{"ideal", v.IdealNs}, {"command", commandNs}, {"actual", v.ActualNs}} {
		e.key(x.name)
		d.instant(e, x.ns)
	}
	for _, x := range [...]struct {
		name string
		ns   int64
	}{{"idealAt", v.IdealNs}, {"actualAt", v.ActualNs}} {
		e.key(x.name)
		if x.ns == 0 {
			e.null()
			continue
		}
		l, r := line(x.ns)
		e.open('[')
		e.mm((l[0] + r[0]) / 2)
		e.mm((l[1] + r[1]) / 2)
		e.close(']')
	}
	e.key("timeError")
	e.scaled(v.TimeErrorS, 1e4)
	e.key("placeError")
	e.scaled(v.PlaceErrorM, 1e4)
	e.close('}')
}

// wayM returns how far the middle of a section moved from t0 to t1, negative
// back in time, as the sum of short chords. Over the seconds of a close-up it
// is within a millimetre. The place error itself comes from the score.
func wayM(track motion.Track, m *sections.Machine, section int, t0, t1 int64) float64 {
	if t1 < t0 {
		return -wayM(track, m, section, t1, t0)
	}
	cursor := 0
	middle := func(ns int64) (orb.Point, float64) {
		p := track.At(ns, &cursor)
		f := m.Frame(&p)
		le, ln, re, rn := m.Line(section, &f)
		return orb.Point{(le + re) / 2, (ln + rn) / 2}, p.SpeedMps
	}
	sum := 0.0
	last, _ := middle(t0)
	for t := t0; t < t1; {
		t = min(t+5*closeUpStepNs, t1)
		at, speed := middle(t)
		sum += math.Copysign(math.Hypot(at[0]-last[0], at[1]-last[1]), speed)
		last = at
	}
	return sum
}
