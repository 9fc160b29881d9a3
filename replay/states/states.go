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
	"sort"
	"strconv"
	"strings"
	"time"

	"liftbench/sections"
)

// Recorded are recorded work states, in order of time: what sections were told
// (setpoint, ISO 11783-11 DDI 289) and what their tools did (actual, DDI 141).
type Recorded struct {
	// Setpoints and Actuals hold changes only: a row that repeats the state
	// is left out, but a section's first row stays whatever it says. Either may
	// be nil where the file lacks the column.
	Setpoints, Actuals []sections.WorkChange
	// Whole is true where every row is of section 1 and the machine has more:
	// one state for the whole machine, given to each of its sections.
	Whole bool
	// FirstNs and LastNs are the times of the first and last row.
	FirstNs, LastNs int64
}

// Read reads recorded work states for a machine of n sections: CSV
// (RFC 4180) with a heading line; columns time (RFC 3339), section (from 1)
// and setpoint, actual or both (0 or 1; empty = not said), in any order.
// Other columns are ignored, rows may come in any order. The last section must
// be among them, unless section 1 is alone. name stands in errors, which give the line, what was found and what was expected.
func Read(r io.Reader, name string, n int) (*Recorded, error) {
	br := bufio.NewReader(r)
	if magic, _ := br.Peek(2); bytes.Equal(magic, []byte("\x1f\x8b")) {
		return nil, fmt.Errorf("%s: compressed by gzip; expected CSV as it is, unpacked", name)
	}
	if bom, _ := br.Peek(3); bytes.Equal(bom, []byte("\xef\xbb\xbf")) {
		br.Discard(3)
	}
	if head, _ := br.Peek(4); isUTF16(head) {
		return nil, fmt.Errorf("%s: is in UTF-16; expected UTF-8: save it anew in that encoding, as CSV", name)
	}
	rows := &rowReader{in: br}
	cr := csv.NewReader(rows)
	cr.ReuseRecord = true
	cr.TrimLeadingSpace = true
	head, err := cr.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: empty; expected a heading line with time, section and setpoint or actual", name)
	}
	if err != nil {
		return nil, csvError(name, err)
	}
	col, err := findColumns(name, head)
	if err != nil {
		return nil, err
	}
	s := &Recorded{}
	highest := 0
	for count := 0; ; count++ {
		rows.bytes = 0
		row, err := cr.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, csvError(name, err)
		}
		if count == maxRows {
			return nil, fmt.Errorf("%s: more than %d rows; expected one day: cut the file, or leave out rows that repeat a state", name, maxRows)
		}
		section, err := s.add(row, col, n)
		if err != nil {
			line, _ := cr.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: %w", name, line, err)
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
	s.Setpoints = s.finish(s.Setpoints, n)
	s.Actuals = s.finish(s.Actuals, n)
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

// columns are the positions of the columns; -1 = absent.
type columns struct{ time, section, setpoint, actual int }

func findColumns(name string, head []string) (columns, error) {
	col := columns{-1, -1, -1, -1}
	for i, h := range head {
		var c *int
		switch strings.ToLower(strings.TrimSpace(h)) {
		case "time":
			c = &col.time
		case "section":
			c = &col.section
		case "setpoint":
			c = &col.setpoint
		case "actual":
			c = &col.actual
		default:
			continue
		}
		if *c >= 0 {
			return col, fmt.Errorf("%s:1: two columns named %s", name, quoted(h))
		}
		*c = i
	}
	if col.time < 0 || col.section < 0 || col.setpoint < 0 && col.actual < 0 {
		return col, fmt.Errorf("%s:1: found the columns %s; expected time, section and setpoint or actual", name, quoted(strings.Join(head, ",")))
	}
	return col, nil
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

// add takes one row and returns its section, from 1.
func (s *Recorded) add(row []string, col columns, n int) (section int, err error) {
	t, err := time.Parse(time.RFC3339Nano, strings.TrimSpace(row[col.time]))
	if err != nil {
		return 0, fmt.Errorf("time %s; expected RFC 3339, like 2031-05-09T14:03:07.250Z", quoted(row[col.time]))
	}
	if y := t.Year(); y < 1971 || y > 2200 {
		return 0, fmt.Errorf("time %q; expected a year from 1971 to 2200", row[col.time])
	}
	section, err = strconv.Atoi(strings.TrimSpace(row[col.section]))
	if err != nil || section < 1 || section > n {
		return 0, fmt.Errorf("section %s; this machine has sections 1 to %d", quoted(row[col.section]), n)
	}
	said := false
	for _, c := range []struct {
		name string
		at   int
		to   *[]sections.WorkChange
	}{{"setpoint", col.setpoint, &s.Setpoints}, {"actual", col.actual, &s.Actuals}} {
		if c.at < 0 {
			continue
		}
		v := strings.TrimSpace(row[c.at])
		if v == "" {
			continue
		}
		if v != "0" && v != "1" {
			return 0, fmt.Errorf("%s %s; expected 0 (up) or 1 (in work)", c.name, quoted(v))
		}
		said = true
		*c.to = append(*c.to, sections.WorkChange{TimeNs: t.UnixNano(), Section: int16(section - 1), On: v == "1"})
	}
	if !said {
		return 0, errors.New("neither setpoint nor actual; expected 0 (up) or 1 (in work)")
	}
	if s.FirstNs == 0 || t.UnixNano() < s.FirstNs {
		s.FirstNs = t.UnixNano()
	}
	s.LastNs = max(s.LastNs, t.UnixNano())
	return section, nil
}

// finish sorts rows by time, drops those that repeat a section's state, and
// gives a whole machine's state to each of its n sections. A section's first
// row stays whatever it says.
func (s *Recorded) finish(rows []sections.WorkChange, n int) []sections.WorkChange {
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].TimeNs < rows[j].TimeNs })
	var known, on [sections.MaxSections]bool
	var out []sections.WorkChange
	for _, r := range rows {
		if known[r.Section] && on[r.Section] == r.On {
			continue
		}
		known[r.Section], on[r.Section] = true, r.On
		if !s.Whole {
			out = append(out, r)
			continue
		}
		for i := range n {
			r.Section = int16(i)
			out = append(out, r)
		}
	}
	return out
}

// Work returns what the sections did, in order of time. Where the file has no
// actual states the setpoints stand for them.
func (s *Recorded) Work() []sections.WorkChange {
	if len(s.Actuals) > 0 {
		return s.Actuals
	}
	return s.Setpoints
}

// csvError names the file in an error of the CSV reader.
func csvError(name string, err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return fmt.Errorf("%s:%d:%d: not CSV: %w", name, p.Line, p.Column, p.Err)
	}
	return fmt.Errorf("%s: %w", name, err)
}
