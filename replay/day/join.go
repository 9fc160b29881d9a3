// Several recordings of one day as one: the logs of each hour, the sticks of two tasks.

package day

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"liftbench/nmea"
	"liftbench/replay/states"
	"liftbench/sections"
)

// Part is one of several recordings, and what it is called.
type Part struct {
	Name string
	*Day
}

// ErrNotOneDay is wrapped by Join where the recordings are of several days or machines.
var ErrNotOneDay = errors.New("not one day of one machine")

// apartNs is how long a machine may rest on one day.
const apartNs = 12 * 3600e9

// Join makes one day of recordings with a position each. They come in any order; of what
// two of them recorded at a time, that of the one which began earlier is taken. Where some
// have work states, those without are left out, as nobody knows what the sections did
// then. Of fields that differ the first is taken.
func Join(parts []Part) (*Day, error) {
	parts = slices.Clone(parts)
	sort.SliceStable(parts, func(i, k int) bool { return parts[i].firstNs() < parts[k].firstNs() })
	d := &Day{}
	withWork := slices.ContainsFunc(parts, func(p Part) bool { return p.Work != nil })
	var forms []string
	toNs, last, fieldOf, workOf := int64(math.MinInt64), "", "", ""
	taken := 0
	for _, p := range parts {
		for _, list := range []struct{ to, from *[]string }{{&d.Found, &p.Found}, {&d.Chosen, &p.Chosen}, {&d.LeftOut, &p.LeftOut}, {&d.Notes, &p.Notes}} {
			for _, s := range *list.from {
				*list.to = append(*list.to, p.Name+": "+s)
			}
		}
		if withWork && p.Work == nil {
			d.LeftOut = append(d.LeftOut, p.Name+", because it has no work states and others have: what the sections did then is not known")
			continue
		}
		if last != "" && p.firstNs()-toNs > apartNs {
			return nil, fmt.Errorf("%w: %s ends %s, %s begins %s", ErrNotOneDay, last, clockTime(toNs), p.Name, clockTime(p.firstNs()))
		}
		at := sort.Search(len(p.Fixes), func(i int) bool { return p.Fixes[i].TimeNs > toNs })
		switch {
		case at == len(p.Fixes):
			d.LeftOut = append(d.LeftOut, fmt.Sprintf("%s, because %s has all of its time too", p.Name, last))
			continue
		case at > 0:
			d.LeftOut = append(d.LeftOut, fmt.Sprintf("%d positions of %s up to %s, which %s has too", at, p.Name, clockTime(toNs), last))
		}
		if p.Machine != nil {
			if d.Machine == nil {
				d.Machine = p.Machine
			} else if what := d.Machine.differs(p.Machine); what != "" {
				return nil, fmt.Errorf("%w: %s and %s tell of two machines, of %s", ErrNotOneDay, workOf, p.Name, what)
			}
		}
		if p.Work != nil {
			if d.Work == nil {
				d.Work, d.Single = &states.Recorded{Whole: p.Work.Whole}, p.Single
			} else if d.Single != p.Single {
				return nil, fmt.Errorf("%w: of %s and %s one has a state for each section, the other one for the whole machine", ErrNotOneDay, workOf, p.Name)
			}
			d.Work.Setpoints = later(d.Work.Setpoints, p.Work.Setpoints, toNs)
			d.Work.Actuals = later(d.Work.Actuals, p.Work.Actuals, toNs)
			d.Work.SetpointPolls = laterPolls(d.Work.SetpointPolls, p.Work.SetpointPolls, toNs)
			d.Work.ActualPolls = laterPolls(d.Work.ActualPolls, p.Work.ActualPolls, toNs)
			d.Work.Notes = append(d.Work.Notes, p.Work.Notes...)
		}
		switch {
		case p.Field == nil:
		case d.Field == nil:
			d.Field, fieldOf = p.Field, p.Name
		case !bytes.Equal(d.Field, p.Field):
			d.Chosen = append(d.Chosen, fmt.Sprintf("the field of %s, not that of %s, which is another: give both as one with --field FILE", fieldOf, p.Name))
		}
		d.Fixes = append(d.Fixes, p.Fixes[at:]...)
		toNs, last = d.Fixes[len(d.Fixes)-1].TimeNs, p.Name
		if !slices.Contains(forms, p.Form) {
			forms = append(forms, p.Form)
		}
		if taken++; workOf == "" {
			workOf = p.Name
		}
	}
	if d.Work != nil {
		span(d.Work)
	}
	d.Form = fmt.Sprintf("%d of %d recordings of one day, %s", taken, len(parts), strings.Join(forms, " and "))
	d.Found = append(d.Found, fmt.Sprintf("together %d positions from %s to %s UTC", len(d.Fixes), clockTime(d.Fixes[0].TimeNs), clockTime(toNs)))
	return d, nil
}

// firstNs returns the time of the first fix.
func (d *Day) firstNs() int64 { return d.Fixes[0].TimeNs }

// Span returns the times of the first and the last fix.
func (d *Day) Span() (firstNs, lastNs int64) { return d.firstNs(), d.Fixes[len(d.Fixes)-1].TimeNs }

// later appends the changes of a list after an instant to those up to it. What a section
// did at that instant counts if it is another state than before.
func later(all, list []sections.WorkChange, afterNs int64) []sections.WorkChange {
	state := map[int16]bool{}
	for _, c := range all {
		state[c.Section] = c.On
	}
	at := sort.Search(len(list), func(i int) bool { return list[i].TimeNs > afterNs })
	list = slices.Clone(list)
	for i := range list[:at] { // of a section the last of these counts, at the instant
		list[i].TimeNs = afterNs
	}
	for i, c := range list {
		if i < at && slices.ContainsFunc(list[i+1:at], func(next sections.WorkChange) bool { return next.Section == c.Section }) {
			continue
		}
		if was, known := state[c.Section]; known && was == c.On {
			continue // no change, as of a recording that begins
		}
		state[c.Section] = c.On
		all = append(all, c)
	}
	return all
}

func laterPolls(all, list []states.Poll, afterNs int64) []states.Poll {
	for _, p := range list {
		if p.AtNs > afterNs {
			all = append(all, p)
		}
	}
	return all
}

// differs says by what sections two machines differ; "" = by none.
func (m *Machine) differs(o *Machine) string {
	if a, b := len(m.Sections), len(o.Sections); a != b {
		return fmt.Sprintf("%d and %d sections", a, b)
	}
	const sameM = 0.01
	for i := range m.Sections {
		a, b := &m.Sections[i], &o.Sections[i]
		if math.Abs(a.WidthM-b.WidthM) > sameM || math.Abs(a.YM-b.YM) > sameM {
			return fmt.Sprintf("sections %d that are %.2f and %.2f m wide, %.2f and %.2f m from the middle", i+1, a.WidthM, b.WidthM, a.YM, b.YM)
		}
	}
	return ""
}

// FromFixes is a day of which only the receiver was recorded.
func FromFixes(fixes []nmea.Fix) *Day {
	return &Day{Form: "a log of NMEA sentences", Fixes: fixes, Found: []string{fmt.Sprintf("%d positions", len(fixes))}}
}
