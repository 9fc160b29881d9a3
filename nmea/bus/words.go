// This file says in words how a bus is read.

package bus

import (
	"fmt"
	"strings"
	"time"
)

// subjectNames say what a parameter group is for the user.
func (p PGN) words() string {
	switch p {
	case Position, GNSS, VehiclePlace:
		return "positions"
	case Motion, VehicleMotion:
		return "course and speed"
	case Heading:
		return "heading"
	case RateOfTurn:
		return "rate of turn"
	}
	return "other"
}

// Lines say who is believed on what and why, who else sends positions, and how
// old fixes are: one sentence each, for the head of a report.
func (p *Plan) Lines() []string {
	lines := []string{fmt.Sprintf("positions: %s%s", p.Position.words(), p.quality())}
	if p.names > 1 {
		lines = append(lines, fmt.Sprintf("%s has had %d names: more than one device used it", p.Position.Node, p.names))
	}
	for _, o := range p.Others {
		lines = append(lines, fmt.Sprintf("not used: positions of %s%s", o.words(), qualityWords(o.Quality, o.HasQuality, false)))
	}
	for _, c := range []Choice{p.Motion, p.Heading, p.RateOfTurn} {
		if c.PGN == 0 {
			continue
		}
		line := fmt.Sprintf("%s: %s", c.PGN.words(), c.words())
		if c.Magnetic > 0 {
			line += fmt.Sprintf("; %d from magnetic north", c.Magnetic)
			if p.Variation.PGN != 0 {
				line += fmt.Sprintf(", turned by the variation that %s tells", p.Variation.Node)
			} else if c.PGN != Heading {
				line += ", left out unless a heading tells the variation"
			}
		}
		lines = append(lines, line)
	}
	return append(lines, p.ages())
}

func (c Choice) words() string {
	line := fmt.Sprintf("PGN %d of %s", c.PGN, c.Node)
	if c.RateHz > 0 {
		line += fmt.Sprintf(", %.1f a second", c.RateHz)
	}
	if n := c.Messages - c.Available; n > 0 {
		line += fmt.Sprintf(", %d of %d not available", n, c.Messages)
	}
	return line
}

func (p *Plan) quality() string {
	return qualityWords(p.Quality, p.HasQuality, len(p.Others) > 0)
}

func qualityWords(q fmt.Stringer, known, chosen bool) string {
	switch {
	case known && chosen:
		return fmt.Sprintf(", %s: the best method, then the highest rate", q)
	case known:
		return fmt.Sprintf(", %s", q)
	case chosen:
		return ", no word on its quality: the highest rate"
	}
	return ", no word on its quality"
}

// ages says how old fixes are, or why that cannot be told.
func (p *Plan) ages() string {
	switch {
	case p.Untimed:
		return "age of fixes: cannot be told, the trace has no times; only positions that tell their own are used"
	case !p.Offset.Known:
		return "age of fixes: cannot be told, nobody on the bus tells UTC (126992, 129029, 129033, 65254); times are the logger's"
	}
	how := fmt.Sprintf("by PGN %d of %s", p.Time.PGN, p.Time.Node)
	if p.Matched {
		how = "by positions found again in PGN 129029"
	}
	least := fmt.Sprintf("the quickest were seen %s after their instant, if the logger's clock is right", words(p.Offset.LessNs))
	if p.Offset.LessNs < 0 || p.Offset.LessNs > 2e9 {
		least = fmt.Sprintf("the logger's clock and the age of the quickest are %s together, which nothing separates", words(p.Offset.LessNs))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "age of fixes: %s; the others are older by %s at the median, %s for 95 %%, %s at most; %d messages, %s",
		least, words(p.Age.MedianNs), words(p.Age.P95Ns), words(p.Age.MostNs), p.Age.Messages, how)
	if p.Offset.Drift != 0 {
		fmt.Fprintf(&b, "; the logger's clock gains %.1f ms an hour", p.Offset.Drift*3600e3)
	}
	return b.String()
}

// words returns a time to a tenth of a millisecond.
func words(ns int64) string {
	if ns > -10e9 && ns < 10e9 {
		return fmt.Sprintf("%.1f ms", float64(ns)/1e6)
	}
	return time.Duration(ns).Round(time.Millisecond).String()
}
