// The intervals within which changes happened, where reports of a state tell them.

package clock

import (
	"slices"

	"liftbench/replay/states"
)

// Polls are the intervals within which recorded changes happened. nil knows none.
type Polls struct {
	widthNs map[change]int64
	// least, median and most are of the widths, ns.
	least, median, most int64
}

// change is a section's change by when it was recorded.
type change struct {
	section int16
	ns      int64
}

// widestPollNs bounds an interval: one that is wider, as over a break, says no more of where
// in it a change lies.
const widestPollNs = 5e9

// pollsOf gathers intervals; nil without any.
func pollsOf(list []states.Poll) *Polls {
	p := &Polls{widthNs: map[change]int64{}}
	var widths []int64
	for _, x := range list {
		w := min(x.AtNs-x.AfterNs, widestPollNs)
		if w <= 0 {
			continue
		}
		p.widthNs[change{x.Section, x.AtNs}] = w
		widths = append(widths, w)
	}
	if len(widths) == 0 {
		return nil
	}
	slices.Sort(widths)
	p.least, p.median, p.most = widths[0], widths[len(widths)/2], widths[len(widths)-1]
	return p
}

// beside returns the intervals, or nil where the times are written on a coarser grid than
// they are long: then the grid is what is known.
func (p *Polls) beside(g *Grid) *Polls {
	if p == nil || 2*g.StepNs > 3*p.median {
		return nil
	}
	return p
}

// middleNs is the middle of the interval of a section's change that was recorded at an
// instant; the instant itself where it is not known.
func (p *Polls) middleNs(section int16, recordedNs int64) int64 {
	if p == nil {
		return recordedNs
	}
	return recordedNs - p.widthNs[change{section, recordedNs}]/2
}

// Widths returns how wide the interval of a change is, s, by when it truly was as c tells.
func (c *Clock) Widths(recorded []states.Poll) map[Placed]float64 {
	if c.Polls == nil {
		return nil
	}
	list := make(map[Placed]float64, len(recorded))
	for _, x := range recorded {
		if w := c.Polls.widthNs[change{x.Section, x.AtNs}]; w > 0 {
			list[Placed{x.Section, c.TrueNs(x.Section, x.AtNs)}] = float64(w) * 1e-9
		}
	}
	return list
}

// Placed is a section's change by when it was.
type Placed struct {
	Section int16
	Ns      int64
}
