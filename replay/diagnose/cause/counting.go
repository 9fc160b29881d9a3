// A controller that counts the sections which share the pump, beside a machine file that has
// one lead, in sentences.

package cause

import "fmt"

// Counting says that up to so many sections at once are told to lift by a size in s earlier
// than one alone, as a pump that feeds so many needs, and that the file has a fixed lead.
func Counting(sizeS float64, ci Interval, feeds float64, feedsCI Interval, atOnce float64) (evidence, change string) {
	ms, inMs := Sized(sizeS, ci, 1e-3, "ms")
	f := Fact{Feeds: feeds, FeedsCI95: feedsCI}
	return fmt.Sprintf("Where %.0f sections lift at once they are commanded %s earlier than one alone, and the machine takes as much longer (%s): the two cancel. The pump feeds about %s, and the controller counts on that; the machine file has a fixed lead.",
			atOnce, ms, inMs, f.feeds()),
		"Nothing on the machine or in the terminal: correct the machine file, controller.flow_aware: true, with the flow of the pump (hydraulics.pump_l_min), which feeds about " + f.feeds() + "."
}
