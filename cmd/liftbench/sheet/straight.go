// The set-up sheet's part on the straight run: what the driver is to be told first.

package sheet

import (
	"fmt"
	"math"
	"strings"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sim"
)

// straightRun prints how far before a border the driver has to be on his line and at
// speed, with a drawing to scale, and warns where the planned drive is not.
func (s *Sheet) straightRun(b *strings.Builder) {
	need := s.straight
	heading(b, "Straight run before the border")
	b.WriteString(wording.Wrap("  the driver       ", strings.Repeat(" ", 19), run.NeedText(need)))
	b.WriteString(approach(need.LineM, need.SteadyM, need.LeadM))
	if s.ideal == nil {
		return
	}
	runs := s.ideal.Runs(s.field, need.LineM, sim.OnLineRad)
	if len(runs) == 0 {
		return
	}
	least := math.Inf(1)
	for _, r := range runs {
		least = min(least, r.LineM)
	}
	wording.KeyLine(b, "planned drive", "%.1f m at least", least)
	if short := run.ShortRuns(need, runs); short > 0 {
		s.warn("In the planned drive %s.", run.ShortText(need, short, len(runs)))
	}
}

// approach draws the way to the border: on the line, at speed, the command.
func approach(lineM, steadyM, leadM float64) string {
	const columns = 50
	at := func(m float64) int { return int(math.Round(columns * (1 - m/lineM))) }
	way := []rune(strings.Repeat("-", columns) + "#")
	words := []rune(strings.Repeat(" ", columns+40))
	put := func(column int, text string) { copy(words[column:], []rune(text)) }
	way[0] = '|'
	put(0, "on line")
	if a := at(steadyM); a >= 9 && at(leadM)-a >= 9 {
		way[a] = '|'
		put(a, "at speed")
	}
	if a := at(leadM); a >= 9 {
		way[a] = '|'
		put(a, fmt.Sprintf("command %.1f m", leadM))
	}
	put(columns, "border")
	return fmt.Sprintf("%19s%s\n%19s%s\n", "", string(way), "", strings.TrimRight(string(words), " "))
}
