// Package states reads recorded work states: what the sections of a machine were
// told and did on a day.
package states

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"liftbench/replay/poll"
	"liftbench/sections"
)

// Recorded are recorded work states, in order of time: what sections were told
// (setpoint, ISO 11783-11 DDI 289) and what their tools did (actual, DDI 141).
type Recorded struct {
	// Setpoints and Actuals hold changes only: a row that repeats the state
	// is left out, but a section's first row stays whatever it says. Either may
	// be nil where the file lacks the column.
	Setpoints, Actuals []sections.WorkChange
	// SetpointPolls and ActualPolls say of each of these changes, but a section's first
	// row, within which interval it happened, in order of time. nil where the states were
	// not polled but written when they changed: then no interval is known.
	SetpointPolls, ActualPolls []Poll
	// Whole is true where every row is of section 1 and the machine has more:
	// one state for the whole machine, given to each of its sections.
	Whole bool
	// OneClock is true where it is known that one clock stamped setpoints and actual states.
	OneClock bool
	// FirstNs and LastNs are the times of the first and last row.
	FirstNs, LastNs int64
	// Notes are sentences about what could be read in more than one way, and how it
	// was read.
	Notes []string
	// setpoints and actuals are the intervals that rows tell of themselves.
	setpoints, actuals []Poll
	clocks             clocks
}

// Poll is the interval within which a section's state changed: after the report before, of the other
// state, and at the latest with the report that shows it.
type Poll struct {
	Section       int16 // from 0
	AfterNs, AtNs int64
}

// Read reads recorded work states for a machine of n sections: CSV with a heading line, whose columns
// are separated by commas, semicolons or tabs, as it shows, and stand in any order:
//
//	time              RFC 3339, or without its offset where zone is not nil; or a
//	                  day alone in date, and the time of day here
//	section           from 1
//	setpoint, actual  either or both; in work: 1, on, true, …; up: 0, off, false, …;
//	                  empty: not said
//	within_ms         how long before its time a change may have happened; empty: not known
//	clock             the name of the clock that stamped the row; empty: not known
//
// Or the states of all sections stand in one row: then columns named after the section, as
// "section 3", "setpoint 3" or "section 3 actual", take the place of the last
// three; without setpoint or actual in its name a column is the actual state.
// Other columns are ignored, rows may come in any order. The last section must
// be among them, unless section 1 is alone. name stands in errors, which give the line, what was found and what was expected.
//
// In the hour that clocks of zone go through twice, a time that comes after a later one, by its row, is
// the second.
func Read(r io.Reader, name string, n int, zone *time.Location) (*Recorded, error) {
	br := bufio.NewReaderSize(r, maxRowBytes)
	if magic, _ := br.Peek(2); bytes.Equal(magic, []byte("\x1f\x8b")) {
		return nil, fmt.Errorf("%s: compressed by gzip; expected CSV as it is, unpacked", name)
	}
	if bom, _ := br.Peek(3); bytes.Equal(bom, []byte("\xef\xbb\xbf")) {
		br.Discard(3)
	}
	if head, _ := br.Peek(4); isUTF16(head) {
		return nil, fmt.Errorf("%s: is in UTF-16; expected UTF-8: save it anew in that encoding, as CSV", name)
	}
	comma, before := separator(br)
	rows := &rowReader{in: br}
	cr := csv.NewReader(rows)
	cr.Comma = comma
	cr.ReuseRecord = true
	cr.TrimLeadingSpace = comma != '\t'
	head, err := cr.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: empty; expected a heading line with time, section and setpoint or actual", name)
	}
	if err != nil {
		return nil, csvError(name, err, before)
	}
	col, err := findColumns(head, n)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: %w", name, 1+before, err)
	}
	s := &Recorded{}
	clock := newClock(zone)
	highest := 0
	most := maxRows
	if col.section < 0 {
		most = maxRows / max(len(col.states), 1)
	}
	for count := 0; ; count++ {
		rows.bytes = 0
		row, err := cr.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, csvError(name, err, before)
		}
		if count == most {
			return nil, fmt.Errorf("%s: more than %d rows; expected one day: cut the file, or leave out rows that repeat a state", name, most)
		}
		line, _ := cr.FieldPos(0)
		section, err := s.add(row, &col, clock, n, line+before)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, line+before, err)
		}
		highest = max(highest, section)
	}
	if len(s.Setpoints)+len(s.Actuals) == 0 {
		return nil, fmt.Errorf("%s: no work state below the heading line", name)
	}
	s.Whole = highest == 1 && n > 1
	if highest < n && !s.Whole {
		// Of a machine that was not out that day the last sections would count as
		// never worked, and the others lie elsewhere.
		return nil, fmt.Errorf("%s: states of sections 1 to %d; this machine has %d. Expected the machine that was out, and a row with 0 for a section that stayed up", name, highest, n)
	}
	if s.Whole && max(len(s.Setpoints), len(s.Actuals)) > maxRows/n {
		return nil, fmt.Errorf("%s: more than %d rows of the whole machine, for %d sections; expected one day: leave out rows that repeat a state", name, maxRows/n, n)
	}
	s.Setpoints, s.SetpointPolls = s.finish(s.Setpoints, s.setpoints, n)
	s.Actuals, s.ActualPolls = s.finish(s.Actuals, s.actuals, n)
	s.setpoints, s.actuals = nil, nil
	s.OneClock = len(s.Setpoints) > 0 && len(s.Actuals) > 0 && s.clocks.one()
	if note := clock.note(); note != "" {
		s.Notes = append(s.Notes, name+": "+note)
	}
	return s, nil
}

const (
	// maxRows is a day of 12 hours in which 24 sections say their state ten
	// times a second.
	maxRows = 12 * 3600 * 10 * 24
	// maxRowBytes is far longer than a row of work states.
	maxRowBytes = 64 << 10
)

// rowReader fails within a row that does not end, so that a file that is no
// text is not read into memory whole.
type rowReader struct {
	in    io.Reader
	bytes int // since the last row
}

var errLongRow = fmt.Errorf("a row of more than %d bytes; expected time, section and states", maxRowBytes)

func (r *rowReader) Read(b []byte) (int, error) {
	if r.bytes > maxRowBytes {
		return 0, errLongRow
	}
	n, err := r.in.Read(b)
	r.bytes += n
	return n, err
}

// isUTF16 reports whether a file begins as text in UTF-16 does: with its mark, or
// with an ASCII character whose other byte is NUL.
func isUTF16(head []byte) bool {
	if bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return true
	}
	return len(head) > 1 && (head[0] == 0) != (head[1] == 0)
}

// quoted is what a file says, for an error: its beginning where it is long, as
// in a file that is no CSV at all.
func quoted(text string) string {
	const most = 60
	if r := []rune(text); len(r) > most {
		text = string(r[:most]) + "…"
	}
	return strconv.Quote(text)
}

// add takes one row and returns its highest section, from 1; 0 where it says nothing.
func (s *Recorded) add(row []string, col *columns, clock *clock, n, line int) (highest int, err error) {
	if strings.TrimSpace(strings.Join(row, "")) == "" {
		return 0, nil // as spreadsheets leave below a table
	}
	section := 0
	if col.section >= 0 {
		section, err = strconv.Atoi(strings.TrimSpace(row[col.section]))
		if err != nil || section < 1 || section > n {
			section = 0 // time first: what is no such file says so there
		}
	}
	text := strings.TrimSpace(row[col.time])
	if col.date >= 0 {
		text = strings.TrimSpace(row[col.date]) + " " + text
	}
	ns, err := clock.read(text, max(section-1, 0), line)
	if err != nil {
		return 0, err
	}
	if col.section >= 0 && section == 0 {
		return 0, fmt.Errorf("section %s; this machine has sections 1 to %d", quoted(row[col.section]), n)
	}
	withinNs, err := col.withinNs(row)
	if err != nil {
		return 0, err
	}
	clockName := ""
	if col.clock >= 0 {
		clockName = strings.TrimSpace(row[col.clock])
	}
	said := false
	for _, c := range col.states {
		v := strings.TrimSpace(row[c.at])
		if v == "" {
			continue
		}
		on, known := stateOf(v)
		if !known {
			return 0, fmt.Errorf("%s %s; expected 0 (up) or 1 (in work)", c.name, quoted(v))
		}
		said = true
		s.clocks.add(clockName)
		of := section
		if c.section > 0 {
			of = c.section
		}
		highest = max(highest, of)
		to, within := &s.Actuals, &s.actuals
		if c.setpoint {
			to, within = &s.Setpoints, &s.setpoints
		}
		if withinNs > 0 {
			*within = append(*within, Poll{int16(of - 1), ns - withinNs, ns})
		}
		*to = append(*to, sections.WorkChange{TimeNs: ns, Section: int16(of - 1), On: on})
	}
	if !said {
		if col.section < 0 {
			return 0, nil // nothing changed
		}
		return 0, errors.New("neither setpoint nor actual; expected 0 (up) or 1 (in work)")
	}
	if s.FirstNs == 0 || ns < s.FirstNs {
		s.FirstNs = ns
	}
	s.LastNs = max(s.LastNs, ns)
	return highest, nil
}

// clocks are the names of the clocks that stamped the rows.
type clocks struct {
	name          string // the first
	other, silent bool   // some row names another, or none
}

func (c *clocks) add(name string) {
	switch {
	case name == "":
		c.silent = true
	case c.name == "":
		c.name = name
	case name != c.name:
		c.other = true
	}
}

// one reports whether every row names the same clock.
func (c *clocks) one() bool { return c.name != "" && !c.other && !c.silent }

// withinNs is how long before its time what a row says may have happened; 0 = not known.
func (c *columns) withinNs(row []string) (int64, error) {
	if c.withinMs < 0 {
		return 0, nil
	}
	v := strings.TrimSpace(row[c.withinMs])
	if v == "" {
		return 0, nil
	}
	ms, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	if err != nil || !(ms >= 0 && ms <= 3600e3) {
		return 0, fmt.Errorf("within_ms %s; expected milliseconds, 0 to 3600000", quoted(v))
	}
	return int64(math.Round(ms * 1e6)), nil
}

// states are the words for in work and up: numbers, English, and what spreadsheets in other
// languages write for true and false.
var states = map[string]bool{
	"on": true, "true": true, "yes": true, "in work": true, "down": true,
	"off": false, "false": false, "no": false, "up": false,
	"wahr": true, "falsch": false, "ein": true, "aus": false, "vrai": true, "faux": false, "vero": true, "verdadero": true, "verdadeiro": true,
	"falso": false, "waar": true, "onwaar": false, "prawda": true, "fałsz": false, "sand": true, "falsk": false, "sant": true, "usann": false,
}

// stateOf reads a state; 1.0 and 1,0 are 1.
func stateOf(v string) (on, known bool) {
	switch v {
	case "1":
		return true, true
	case "0":
		return false, true
	}
	if on, known = states[strings.ToLower(v)]; known {
		return on, true
	}
	x, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	return x == 1, err == nil && (x == 0 || x == 1)
}

// finish sorts rows by time, drops those that repeat a section's state, and
// gives a whole machine's state to each of its n sections. A section's first
// row stays whatever it says. Where rows tell intervals of themselves, these count.
func (s *Recorded) finish(rows []sections.WorkChange, told []Poll, n int) ([]sections.WorkChange, []Poll) {
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].TimeNs < rows[j].TimeNs })
	var known, on [sections.MaxSections]bool
	var lastNs [sections.MaxSections]int64
	var out []sections.WorkChange
	var polls []Poll
	within := map[Poll]int64{}
	for _, p := range told {
		within[Poll{Section: p.Section, AtNs: p.AtNs}] = p.AfterNs
	}
	var habits [sections.MaxSections]poll.Habit
	for _, r := range rows {
		was, afterNs := known[r.Section], lastNs[r.Section]
		lastNs[r.Section] = r.TimeNs
		same := was && on[r.Section] == r.On
		if was {
			habits[r.Section].Add(r.TimeNs-afterNs, !same)
		}
		if same {
			continue
		}
		known[r.Section], on[r.Section] = true, r.On
		if after, ok := within[Poll{Section: r.Section, AtNs: r.TimeNs}]; ok {
			afterNs = after
		} else if len(told) > 0 {
			was = false // its interval is not known
		}
		of := []int16{r.Section}
		if s.Whole {
			of = all(n)
		}
		for _, section := range of {
			r.Section = section
			out = append(out, r)
			if was {
				polls = append(polls, Poll{Section: section, AfterNs: afterNs, AtNs: r.TimeNs})
			}
		}
	}
	var habit poll.Habit
	for i := range habits {
		habit.Join(&habits[i])
	}
	if len(told) == 0 && !habit.Polls() {
		polls = nil
	}
	return out, polls
}

// all lists n sections.
func all(n int) []int16 {
	list := make([]int16, n)
	for i := range list {
		list[i] = int16(i)
	}
	return list
}

// Work returns what the sections did, in order of time. Where the file has no
// actual states the setpoints stand for them.
func (s *Recorded) Work() []sections.WorkChange {
	if len(s.Actuals) > 0 {
		return s.Actuals
	}
	return s.Setpoints
}

// csvError names the file in an error of the CSV reader; before is the number of lines before its first.
func csvError(name string, err error, before int) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return fmt.Errorf("%s:%d:%d: not CSV: %w", name, p.Line+before, p.Column, p.Err)
	}
	return fmt.Errorf("%s: %w", name, err)
}
