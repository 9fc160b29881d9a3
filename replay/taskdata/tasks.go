package taskdata

import (
	"fmt"
	"sort"

	"liftbench/replay/poll"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/timelog"
)

// values are values of elements as logs recorded them.
type values map[variable]recorded

type variable struct {
	element string
	ddi     uint16
}

type recorded struct{ first, most int32 }

// First implements device.Values.
func (v values) First(element string, ddi uint16) (int32, bool) {
	r, ok := v[variable{element, ddi}]
	return r.first, ok
}

// Most implements device.Values.
func (v values) Most(element string, ddi uint16) (int32, bool) {
	r, ok := v[variable{element, ddi}]
	return r.most, ok
}

// add takes what one log says into v.
func (v values) add(c *timelog.Column, first, most int32) {
	if c.DDI == timelog.PGNBased || c.Element == "" {
		return
	}
	k := variable{c.Element, c.DDI}
	if r, ok := v[k]; ok {
		first, most = r.first, max(r.most, most)
	}
	v[k] = recorded{first, most}
}

// layered asks the task's own logs first.
type layered struct{ own, all values }

// First implements device.Values.
func (l layered) First(element string, ddi uint16) (int32, bool) {
	if x, ok := l.own.First(element, ddi); ok {
		return x, true
	}
	return l.all.First(element, ddi)
}

// Most implements device.Values.
func (l layered) Most(element string, ddi uint16) (int32, bool) {
	if x, ok := l.own.Most(element, ddi); ok && x > 0 {
		return x, true
	}
	return l.all.Most(element, ddi)
}

// column is what a log says in one of its columns.
type column struct {
	first, last, most int32
	reports, changes  int
	lastNs            int64 // of the last report, the terminal's clock
	// habit is how its reports come. Where they come at intervals alone, a change lies after the
	// report before it. Other columns are told when they change, some at intervals
	// besides; then a row without one says that it has not changed.
	habit poll.Habit
}

// tally goes through the rows of a log once.
type tally struct {
	rows            int
	firstNs, lastNs int64
	columns         [timelog.MaxColumns]column
	// habit is how rows come, and whether they come when a work state changes.
	habit poll.Habit
}

func (t *tally) read(h *timelog.Header, s *timelog.Scanner) {
	for s.Scan() {
		r := s.Row()
		if t.rows == 0 {
			t.firstNs = r.TimeNs
		}
		rowGapNs, changes := r.TimeNs-t.lastNs, false
		for _, v := range r.Values {
			c := &t.columns[v.Column]
			if c.reports == 0 {
				c.first, c.most = v.Value, v.Value
			} else if isState(h.Columns[v.Column].DDI) {
				changed := v.Value != c.last
				changes = changes || changed
				if changed {
					c.changes++
				}
				c.habit.Add(r.TimeNs-c.lastNs, changed)
			}
			c.last, c.lastNs = v.Value, r.TimeNs
			c.most = max(c.most, v.Value)
			c.reports++
		}
		if t.rows > 0 {
			t.habit.Add(rowGapNs, changes)
		}
		t.rows++
		t.lastNs = r.TimeNs
	}
}

// isState reports whether a number of the data dictionary is that of a work state.
func isState(ddi uint16) bool {
	return ddi == device.ActualState || ddi == device.SetpointState ||
		ddi >= device.ActualWord && ddi < device.ActualWord+device.Words ||
		ddi >= device.SetpointWord && ddi < device.SetpointWord+device.Words
}

// values gives what the log says to v.
func (t *tally) values(h *timelog.Header, v values) {
	for k := range h.Columns {
		c := &h.Columns[k]
		switch {
		case t.columns[k].reports > 0:
			v.add(c, t.columns[k].first, t.columns[k].most)
		case c.Constant:
			v.add(c, c.Value, c.Value)
		}
	}
}

// tasks takes the tasks of the XML and goes through their logs once.
func (s *Set) tasks(root *xmlRoot) {
	var scan timelog.Scanner
	logs := 0
	named := map[string]bool{}
	for _, x := range root.TSK {
		t := Task{ID: timelog.Name(x.A), FieldID: timelog.Name(x.E)}
		if t.ID == "" {
			s.damage("TASKDATA.XML", -1, "a task without a usable id", "left out")
			continue
		}
		used := map[string]bool{}
		for _, c := range x.CNN {
			l := device.Connection{DeviceA: timelog.Name(c.A), ConnectorA: timelog.Name(c.B), DeviceB: timelog.Name(c.C), ConnectorB: timelog.Name(c.D)}
			t.Connections = append(t.Connections, l)
			used[l.DeviceA], used[l.DeviceB] = true, true
		}
		for _, d := range x.DAN {
			used[timelog.Name(d.C)] = true
		}
		banks := map[string]*Bank{}
		for _, f := range x.TLG {
			file := timelog.Name(f.A)
			if file == "" || named[file] {
				s.damage("TASKDATA.XML", -1, "task "+t.ID+" has a time log without a usable name, or one named before", "left out")
				continue
			}
			named[file] = true
			if logs++; logs > maxLogs {
				s.damage("TASKDATA.XML", -1, fmt.Sprintf("more than %d time logs", maxLogs), "the rest is left out")
				break
			}
			l := Log{Name: file, file: file}
			s.summarise(&l, &scan, used, banks)
			t.Logs = append(t.Logs, l)
		}
		for _, d := range s.Devices {
			if used[d.ID] {
				t.DeviceIDs = append(t.DeviceIDs, d.ID)
			}
		}
		t.Banks = s.banks(banks)
		s.Tasks = append(s.Tasks, t)
	}
}

// summarise goes through a log: its times, its values, its damage, and the
// elements whose work state it tells.
func (s *Set) summarise(l *Log, scan *timelog.Scanner, used map[string]bool, banks map[string]*Bank) {
	_, hasHeader := s.files[upper(l.file+".XML")]
	_, hasRows := s.files[upper(l.file+".BIN")]
	switch {
	case !hasHeader && !hasRows:
		s.damage(l.file, -1, "neither header nor rows are there", "the log is left out")
		return
	case !hasRows:
		s.damage(s.files[upper(l.file+".XML")], -1, "the rows, "+l.file+".BIN, are missing", "the log is left out")
		return
	case !hasHeader:
		s.damage(s.files[upper(l.file+".BIN")], -1, "the header, "+l.file+".XML, is missing", "the log is left out")
		return
	}
	h, data, err := s.log(l)
	if h == nil {
		s.damage(s.files[upper(l.file+".XML")], -1, firstLine(err.Error()), "the log is left out")
		return
	}
	if err != nil {
		s.damage(s.files[upper(l.file+".BIN")], int64(len(data)), firstLine(err.Error()), "what comes before is used")
	}
	if h.Beyond > 0 {
		s.damage(s.files[upper(l.file+".XML")], -1, fmt.Sprintf("%d columns beyond the %d that a row can speak of", h.Beyond, timelog.MaxColumns), "left out")
	}
	scan.Reset(h, data)
	t := &tally{}
	t.read(h, scan)
	gaps, all := scan.Gaps()
	if h.Cut != "" {
		file, what := s.files[upper(l.file+".XML")], "the header is cut short, "+firstLine(h.Cut)
		if all > 0 || t.rows == 0 {
			s.damage(file, -1, what, "the log is left out: its rows do not fit what there is of the header")
			return
		}
		s.damage(file, -1, what, fmt.Sprintf("all %d rows fit the %d columns before that and are used", t.rows, len(h.Columns)))
	}
	for _, g := range gaps {
		done := fmt.Sprintf("%d bytes are left out", g.Length)
		if g.Offset+g.Length == int64(len(data)) {
			done = fmt.Sprintf("the %d rows before it are used", t.rows)
		}
		s.damage(s.files[upper(l.file+".BIN")], g.Offset, g.What, done)
	}
	if all > len(gaps) {
		s.damage(s.files[upper(l.file+".BIN")], -1, fmt.Sprintf("%d more such places", all-len(gaps)), "left out")
	}
	l.Rows, l.FirstNs, l.LastNs, l.Usable = t.rows, t.firstNs, t.lastNs, t.rows > 0
	t.values(h, s.values)
	for k := range h.Columns {
		c := &h.Columns[k]
		d := s.owners[c.Element]
		told := &t.columns[k]
		if d == nil || told.reports == 0 && !c.Constant {
			continue
		}
		used[d.ID] = true
		state := c.DDI == device.ActualState
		word := c.DDI >= device.ActualWord && c.DDI < device.ActualWord+device.Words
		if !state && !word {
			continue
		}
		b := banks[c.Element]
		if b == nil {
			b = &Bank{DeviceID: d.ID, Element: c.Element}
			banks[c.Element] = b
		}
		if word && !b.words {
			b.words, b.Reports, b.Changes = true, 0, 0
		}
		if word || !b.words {
			b.Reports += told.reports
			b.Changes += told.changes
		}
	}
}

// banks makes banks of the elements whose state was logged. Elements with condensed
// words are a bank each, with the sections below them. A device without such words
// is one bank: its sections where they tell their own state, else the whole device as one.
func (s *Set) banks(told map[string]*Bank) []Bank {
	var all []Bank
	for _, d := range s.Devices {
		words := false
		var own []string
		whole := Bank{DeviceID: d.ID}
		for i := range d.Elements {
			e := &d.Elements[i]
			b := told[e.ID]
			if b == nil || b.DeviceID != d.ID {
				continue
			}
			if b.words {
				words = true
				b.Sections = d.Sections(e.ID, layered{s.values, s.values})
				if len(b.Sections) > device.MaxSections {
					b.Sections = b.Sections[:device.MaxSections]
				}
				if len(b.Sections) > 0 {
					all = append(all, *b)
				}
				continue
			}
			whole.Reports += b.Reports
			whole.Changes += b.Changes
			if e.Type == device.Section {
				own = append(own, e.ID)
			} else if whole.Element == "" || e.Type == device.Whole && d.Find(whole.Element).Type != device.Whole {
				whole.Element = e.ID
			}
		}
		if words || whole.Element == "" && len(own) == 0 {
			continue
		}
		if root := d.Root(); len(own) > 0 && len(own) <= device.MaxSections {
			whole.Sections = own
			sections := d.Sections(root.ID, s.values)
			if len(sections) <= device.MaxSections {
				whole.Sections = keep(sections, own)
			}
			whole.Element = root.ID
		} else if whole.Element != "" {
			whole.Sections = []string{whole.Element}
		}
		if len(whole.Sections) > 0 {
			all = append(all, whole)
		}
	}
	// Condensed words are of sections, the state of a whole device may be the tractor's.
	rank := func(b *Bank) (r int) {
		if b.Changes > 0 {
			r = 2
		}
		if b.words {
			r++
		}
		return r
	}
	sort.SliceStable(all, func(a, b int) bool {
		if x, y := rank(&all[a]), rank(&all[b]); x != y {
			return x > y
		}
		return all[a].Changes > all[b].Changes
	})
	return all
}

// keep returns those of all that are in some, in the order of all.
func keep(all, some []string) []string {
	in := map[string]bool{}
	for _, id := range some {
		in[id] = true
	}
	var kept []string
	for _, id := range all {
		if in[id] {
			kept = append(kept, id)
		}
	}
	return kept
}
