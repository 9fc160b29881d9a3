// Scatter that reception does not explain, in sentences.

package cause

import "fmt"

// ErraticSection says that one section scatters by a standard deviation, and the usual one by
// another, s.
func ErraticSection(section int, sizeS float64, ci Interval, crossings int, usualS float64) (evidence, change string) {
	ms, inMs := Sized(sizeS, ci, 1e-3, "ms")
	return fmt.Sprintf("Section %d comes early and late at random: against the others of its crossing it scatters by %s (standard deviation, %s, %d crossings), the usual section by %s.",
			section, ms, inMs, crossings, MS(usualS)),
		fmt.Sprintf("Section %d: no setting makes up for scatter. Look at the plug and cable of its valve and its sensor, for a valve that sticks, and for play where the section hangs. The other causes here are judged without it.", section)
}

// ErraticAll says that all sections scatter by a standard deviation, s.
func ErraticAll(sizeS float64, ci Interval, crossings int, speedMps float64) (evidence, change string) {
	ms, inMs := Sized(sizeS, ci, 1e-3, "ms")
	return fmt.Sprintf("Lifts and drops come early and late at random, by %s (standard deviation, %s, %d crossings): %s at %.1f km/h, more than the positions explain.",
			ms, inMs, crossings, Length(sizeS*speedMps), speedMps*3.6),
		"No setting makes up for scatter. Look at how often work states are recorded, at the link from the terminal to the valves, for air in the oil and valves that stick, and ask whether a hand lifted."
}
