// Readings from CSV as people and spreadsheets write it.

package tape

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Bounds of a file of readings: far more than anyone measures in a season.
const (
	maxBytes = 1 << 20
	maxRows  = 5000
)

// Defaults are what was the same on every pass, for rows that do not say it.
type Defaults struct {
	LeadS    [2]*float64 // by Move
	AntennaM *float64
	OverM    *float64 // the length that `seconds` were taken over
}

// Sheet is what a file holds: readings behind a moving machine, times at standstill, or both.
type Sheet struct {
	Readings []Reading
	Still    []StillReading
	Unread   []Unread // rows that could not be read, in their order
	Ignored  []string // headings of columns that are not read
}

// The headings, without case, spaces, hyphens and underscores, and the column that each is.
var headings = map[string]string{
	"pass": "pass", "move": "move", "section": "section",
	"speedkmh": "speed_kmh", "speed": "speed_kmh", "seconds": "seconds", "overm": "over_m",
	"latecm": "late_cm", "late": "late_cm", "leadms": "lead_ms", "lead": "lead_ms",
	"antennam": "antenna_m", "oil": "oil", "oilc": "oil", "direction": "direction",
	"event": "event", "sections": "sections", "times": "time_s", "frames": "frames", "fps": "fps",
}

// Columns says what a file may hold, for help and errors.
const Columns = "move, late_cm, speed_kmh (or seconds and over_m), and if known pass, section, lead_ms, antenna_m, oil, direction; or, at standstill, event, sections, time_s (or frames and fps), oil"

// Read reads CSV with a heading line. Columns are separated by semicolons, commas or tabs, as the
// heading shows, and stand in any order; numbers have a point or a comma. An empty lead_ms or
// antenna_m means that of the row above with the same move. A row that cannot be read is kept in
// Unread; the error is of a file that holds nothing to read, and says the line, what was found and
// what was expected. name stands in it.
func Read(r io.Reader, name string, d Defaults) (*Sheet, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(text) > maxBytes {
		return nil, fmt.Errorf("%s: found more than %d bytes; expected a file of readings", name, maxBytes)
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(text, []byte("\xff\xfe")) || bytes.HasPrefix(text, []byte("\xfe\xff")) || bytes.IndexByte(text, 0) >= 0 {
		return nil, fmt.Errorf("%s: found UTF-16 or no text at all; expected CSV in UTF-8: save it anew in that encoding", name)
	}
	c := csv.NewReader(bufio.NewReader(bytes.NewReader(text)))
	c.Comma, c.FieldsPerRecord, c.TrimLeadingSpace, c.LazyQuotes = separator(text), -1, true, true
	head, err := c.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: is empty; expected a heading line with %s", name, Columns)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	line, _ := c.FieldPos(0)
	s := &Sheet{}
	at, err := s.columns(head)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: %w", name, line, err)
	}
	t := table{at: at, d: d}
	rows := 0
	for {
		fields, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		t.fields = fields
		t.row, _ = c.FieldPos(0)
		if t.empty() {
			continue
		}
		if rows++; rows > maxRows {
			return nil, fmt.Errorf("%s:%d: found more than %d rows; expected a file of readings", name, t.row, maxRows)
		}
		if err := s.add(&t); err != nil {
			s.Unread = append(s.Unread, Unread{t.row, err.Error()})
		}
	}
	if rows == 0 {
		return nil, fmt.Errorf("%s: found the heading alone; expected rows with readings below it", name)
	}
	if len(s.Readings)+len(s.Still) == 0 {
		return nil, fmt.Errorf("%s:%d: %s (and so on: of %d rows none can be read)", name, s.Unread[0].Row, s.Unread[0].Why, rows)
	}
	return s, nil
}

// separator is what the heading line has most of.
func separator(text []byte) rune {
	line, _, _ := bytes.Cut(text, []byte("\n"))
	best := ','
	for _, c := range ";\t" {
		if bytes.Count(line, []byte(string(c))) > bytes.Count(line, []byte(string(best))) {
			best = c
		}
	}
	return best
}

// columns finds the columns by their headings.
func (s *Sheet) columns(head []string) (map[string]int, error) {
	at := map[string]int{}
	for i, h := range head {
		h = strings.TrimSpace(h)
		name, ok := headings[strings.NewReplacer(" ", "", "_", "", "-", "", "(", "", ")", "", "/", "").Replace(strings.ToLower(h))]
		if !ok {
			if h != "" {
				s.Ignored = append(s.Ignored, h)
			}
			continue
		}
		if _, twice := at[name]; twice {
			return nil, fmt.Errorf("found the column %s twice; expected it once", name)
		}
		at[name] = i
	}
	has := func(name string) bool { _, ok := at[name]; return ok }
	moving := has("move") && has("late_cm") && (has("speed_kmh") || has("seconds"))
	still := has("event") && (has("time_s") || has("frames"))
	if !moving && !still {
		return nil, fmt.Errorf("found the columns %s; expected %s", strings.Join(head, ", "), Columns)
	}
	return at, nil
}

// table is one row of a file, with what rows before it said.
type table struct {
	at      map[string]int
	d       Defaults
	fields  []string
	row     int
	leadS   [2]*float64
	antenna *float64
}

func (t *table) empty() bool {
	for _, f := range t.fields {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}

// text returns a field; "" where the column or the field is not there.
func (t *table) text(column string) string {
	i, ok := t.at[column]
	if !ok || i >= len(t.fields) {
		return ""
	}
	return strings.TrimSpace(t.fields[i])
}

// number returns a field as a number from lo to hi; nil where it is empty.
func (t *table) number(column string, lo, hi float64) (*float64, error) {
	found := t.text(column)
	if found == "" {
		return nil, nil
	}
	v, err := Number(found)
	if err != nil || !(v >= lo && v <= hi) {
		return nil, fmt.Errorf("%s: found %q; expected a number from %g to %g", column, found, lo, hi)
	}
	return &v, nil
}

// Number reads a number with a decimal point or comma, and with or without a sign.
func Number(text string) (float64, error) {
	plain := strings.NewReplacer(",", ".", "−", "-", "\u00a0", "").Replace(strings.TrimSpace(text))
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(plain, "xXpP_") {
		return 0, fmt.Errorf("%q is no number", text)
	}
	return v, nil
}

// add reads a row as what its columns say it is.
func (s *Sheet) add(t *table) error {
	if t.text("event") != "" {
		r, err := t.still()
		if err == nil {
			s.Still = append(s.Still, r)
		}
		return err
	}
	r, err := t.moving()
	if err == nil {
		s.Readings = append(s.Readings, r)
	}
	return err
}

// The words for the moves, lower case, as they are written in English, German and French.
var moveWords = map[string]Move{
	"lift": Lift, "up": Lift, "heben": Lift, "ausheben": Lift, "aushub": Lift, "relevage": Lift, "relever": Lift,
	"drop": Drop, "down": Drop, "senken": Drop, "absenken": Drop, "terrage": Drop, "terrer": Drop,
}

// The words for the oil.
var oilWords = map[string]Oil{"": OilUnknown, "cold": OilCold, "kalt": OilCold, "froid": OilCold, "froide": OilCold, "warm": OilWarm, "chaud": OilWarm, "chaude": OilWarm}

// The words for all sections.
var allWords = map[string]bool{"": true, "all": true, "alle": true, "tous": true}

// moving reads a row that was measured behind a moving machine.
func (t *table) moving() (Reading, error) {
	r := Reading{Row: t.row, Pass: t.text("pass"), Direction: strings.ToLower(t.text("direction"))}
	word := strings.ToLower(t.text("move"))
	move, ok := moveWords[word]
	if !ok {
		return r, fmt.Errorf("move: found %q; expected lift or drop", word)
	}
	r.Move = move
	late, err := t.number("late_cm", -2000, 2000)
	if err != nil {
		return r, err
	}
	if late == nil {
		return r, errors.New("late_cm: found nothing; expected the way from the flag line to the edge of the undisturbed soil, in cm, + = late")
	}
	r.LateM = *late / 100
	if r.SpeedMps, err = t.speed(); err != nil {
		return r, err
	}
	if r.Section, err = t.section("section"); err != nil {
		return r, err
	}
	lead, err := t.number("lead_ms", 0, 10000)
	if err != nil {
		return r, err
	}
	if lead != nil {
		s := *lead / 1000
		t.leadS[move] = &s
	}
	if r.LeadS = t.leadS[move]; r.LeadS == nil {
		r.LeadS = t.d.LeadS[move]
	}
	antenna, err := t.number("antenna_m", -30, 30)
	if err != nil {
		return r, err
	}
	if antenna != nil {
		t.antenna = antenna
	}
	if r.AntennaM = t.antenna; r.AntennaM == nil {
		r.AntennaM = t.d.AntennaM
	}
	r.OilC, r.Oil, err = t.oil()
	return r, err
}

// speed returns the speed in m/s, as it stands or from a time over a length.
func (t *table) speed() (float64, error) {
	kmh, err := t.number("speed_kmh", 0.1, 40)
	if err != nil {
		return 0, err
	}
	if kmh != nil {
		return *kmh / 3.6, nil
	}
	seconds, err := t.number("seconds", 0.1, 3600)
	if err != nil {
		return 0, err
	}
	over, err := t.number("over_m", 0.1, 1000)
	if err != nil {
		return 0, err
	}
	if over == nil {
		over = t.d.OverM
	}
	switch {
	case seconds == nil:
		return 0, errors.New("speed_kmh: found nothing; expected a speed in km/h, or seconds and over_m")
	case over == nil:
		return 0, errors.New("over_m: found nothing; expected the length in m that the seconds were taken over")
	}
	if v := *over / *seconds; v > 0.02 && v <= 40/3.6 {
		return v, nil
	}
	return 0, fmt.Errorf("seconds, over_m: found %g m in %g s; expected a speed from 0.1 to 40 km/h", *over, *seconds)
}

// section reads a section's number; 0 where it says all, or nothing.
func (t *table) section(column string) (int, error) {
	word := strings.ToLower(t.text(column))
	if allWords[word] {
		return 0, nil
	}
	n, err := strconv.Atoi(word)
	if err != nil || n < 1 || n > 256 {
		return 0, fmt.Errorf("%s: found %q; expected a number from 1 to 256, or all", column, word)
	}
	return n, nil
}

// oil reads a temperature, or cold or warm.
func (t *table) oil() (*float64, Oil, error) {
	word := strings.ToLower(t.text("oil"))
	if oil, ok := oilWords[word]; ok {
		return nil, oil, nil
	}
	c, err := Number(strings.TrimSuffix(strings.TrimSuffix(word, "c"), "°"))
	if err != nil || !(c >= -30 && c <= 120) {
		return nil, OilUnknown, fmt.Errorf("oil: found %q; expected cold, warm or a temperature from -30 to 120 °C", word)
	}
	return &c, OilUnknown, nil
}
