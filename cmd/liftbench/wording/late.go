// Late commands in plain words.

package wording

import (
	"fmt"
	"strings"

	"liftbench/sections"
)

// lateWords say why a command came late, by sections.LateCause.
var lateWords = [sections.LateCauses]string{
	sections.EstimateMoved:  "the estimate of the motion changed",
	sections.ShortRun:       "straight run too short",
	sections.LateFix:        "position late or lost",
	sections.Stood:          "standing",
	sections.Backed:         "reversing",
	sections.TooSlow:        "too slow to drop",
	sections.ShortestTime:   "held by the shortest time up or down",
	sections.HysteresisHeld: "held by hysteresis",
	sections.Operated:       "operator",
	sections.NoMotionYet:    "heading not known yet",
}

// Late counts late commands by their causes, in a line: "3 commands late: 3 ×
// standing".
func Late(c *sections.Counts, noun string) string {
	text := Counted(int(c.AllLate()), noun) + " late"
	var by []string
	for cause, n := range c.Late {
		if n > 0 {
			by = append(by, fmt.Sprintf("%d × %s", n, lateWords[cause]))
		}
	}
	if by != nil {
		text += ": " + strings.Join(by, ", ")
	}
	return text
}
