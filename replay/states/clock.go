// Times of rows, those of a place's clocks among them.

package states

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"liftbench/sections"
)

// clock reads times, in the order of the rows.
type clock struct {
	zone *time.Location // of times that say none; nil = each must
	// lastNs are the instants of the last rows: of any section, and of each.
	lastNs   int64
	lastOfNs [sections.MaxSections]int64
	// Rows in an hour that comes twice.
	twice                  int
	firstLine, firstSecond int
	firstTime              string
}

func newClock(zone *time.Location) *clock { return &clock{zone: zone} }

// disorderNs is how far rows may go back in time without any clock having been set.
const disorderNs = 10e9

// The forms of a time that says its offset, and of one that is a place's. Seconds have a point or a
// comma; a space may stand for the T.
var (
	offsetForms = []string{time.RFC3339Nano, "2006-01-02T15:04:05 Z07:00", "2006-01-02T15:04:05Z0700", "2006-01-02T15:04:05 Z0700"}
	localForms  = []string{"2006-01-02 15:04:05", "02.01.2006 15:04:05"}
	american    = regexp.MustCompile(`^\d{1,2}/\d{1,2}/\d{4} `)
	dayNumber   = regexp.MustCompile(`^\d{5}[.,]\d+$`)
	noSeconds   = regexp.MustCompile(`^(\d{4}-\d\d-\d\d|\d\d\.\d\d\.\d{4})[ T]\d\d:\d\d$`)
)

// read returns the instant of a row, by its section, from 0, where the hour comes twice.
func (c *clock) read(text string, section, line int) (int64, error) {
	ns, err := c.instant(text, section, line)
	if err == nil {
		c.lastNs, c.lastOfNs[section] = ns, ns
	}
	return ns, err
}

func (c *clock) instant(text string, section, line int) (int64, error) {
	const expected = "expected RFC 3339, like 2031-05-09T14:03:07.250Z"
	plain := strings.Replace(text, ",", ".", 1)
	if len(plain) > 10 && plain[10] == ' ' && plain[4] == '-' {
		plain = plain[:10] + "T" + plain[11:]
	}
	for _, form := range offsetForms {
		if t, err := time.Parse(form, plain); err == nil {
			return checked(t, text)
		}
	}
	var t time.Time
	err := fmt.Errorf("no form")
	for _, form := range localForms {
		if t, err = time.Parse(form, strings.Replace(plain, "T", " ", 1)); err == nil {
			break
		}
	}
	switch {
	case err == nil && c.zone == nil:
		return 0, fmt.Errorf("time %s has no offset from UTC; %s, or give the clock's zone, as Europe/Berlin or +02:00 (--zone)", quoted(text), expected)
	case err == nil:
	case american.MatchString(text):
		return 0, fmt.Errorf("time %s may have its day or its month first; expected 2031-05-09 14:03:07 or 09.05.2031 14:03:07", quoted(text))
	case dayNumber.MatchString(text):
		return 0, fmt.Errorf("time %s is a spreadsheet's number of a day; %s: format the column as text of that form", quoted(text), expected)
	case noSeconds.MatchString(text):
		return 0, fmt.Errorf("time %s has no seconds; %s: format the column with seconds and decimals", quoted(text), expected)
	default:
		return 0, fmt.Errorf("time %s; %s", quoted(text), expected)
	}
	if _, err := checked(t, text); err != nil {
		return 0, err
	}
	first, second := c.candidates(t)
	switch {
	case first == 0 && second == 0:
		return 0, fmt.Errorf("time %s does not exist in %s, whose clocks leave that hour out; expected times of that zone: was it another?", quoted(text), c.zone)
	case second == 0:
		return first, nil
	}
	if c.twice++; c.twice == 1 {
		c.firstLine, c.firstTime = line, text
	}
	// By the order of all rows; where they are in no order at all, by that of the section's.
	afterNs := c.lastNs
	if second < afterNs-disorderNs {
		afterNs = c.lastOfNs[section]
	}
	if afterNs != 0 && first < afterNs-disorderNs {
		if c.firstSecond == 0 {
			c.firstSecond = line
		}
		return second, nil
	}
	return first, nil
}

// candidates returns the instants at which clocks of the zone show t: none, one, or two.
func (c *clock) candidates(t time.Time) (first, second int64) {
	// Offsets a day before and after are all that can hold, as no zone changes twice in two days.
	var found []int64
	for _, about := range []time.Time{t.Add(-24 * time.Hour), t.Add(24 * time.Hour)} {
		_, offset := time.Unix(about.Unix(), 0).In(c.zone).Zone()
		at := t.Add(-time.Duration(offset) * time.Second)
		local := at.In(c.zone)
		same := local.Hour() == t.Hour() && local.Minute() == t.Minute() && local.Second() == t.Second() && local.Day() == t.Day()
		if same && (len(found) == 0 || found[0] != at.UnixNano()) {
			found = append(found, at.UnixNano())
		}
	}
	switch len(found) {
	case 0:
		return 0, 0
	case 1:
		return found[0], 0
	}
	return min(found[0], found[1]), max(found[0], found[1])
}

// checked returns an instant of a year that can be.
func checked(t time.Time, text string) (int64, error) {
	if y := t.Year(); y < 1971 || y > 2200 {
		return 0, fmt.Errorf("time %q; expected a year from 1971 to 2200", text)
	}
	return t.UnixNano(), nil
}

// note says how times of an hour that comes twice were read; "" where there are none.
func (c *clock) note() string {
	switch {
	case c.twice == 0:
		return ""
	case c.firstSecond == 0:
		return fmt.Sprintf("%d times lie in the hour that clocks of %s go through twice, from line %d on (%s); as none comes after a later one, all are taken for its first run", c.twice, c.zone, c.firstLine, c.firstTime)
	}
	return fmt.Sprintf("%d times lie in the hour that clocks of %s go through twice, from line %d on (%s); by the order of the rows the second run begins in line %d", c.twice, c.zone, c.firstLine, c.firstTime, c.firstSecond)
}
