// How long a lift takes when sections share the pump.

package sections

import "math"

// timeStrokes works out how long each pending lift will move up to the
// effective depth. Where the pump does not feed all sections at once, each
// stroke depends on the others: the longest possible strokes are assumed first,
// which is right where all lift together, and are then corrected in a few rounds
// of computing each from the others.
func (c *Controller) timeStrokes() {
	l := &c.set.LiftLead
	longestNs, rounds := l.LongestNs(len(c.section))-l.DeadNs, 4
	if l.FedAtOnce <= 0 {
		longestNs, rounds = l.MoveNs, 0
	}
	for i := range c.section {
		if s := &c.section[i]; s.On && s.PendingNs != 0 {
			s.StrokeNs = longestNs
		}
	}
	if rounds == 0 {
		return
	}
	var strokes [MaxSections]span // of every section, as expected so far
	for i := range c.section {
		strokes[i] = c.stroke(i)
	}
	for range rounds {
		for i := range c.section {
			if s := &c.section[i]; s.On && s.PendingNs != 0 {
				s.StrokeNs = c.strokeNs(i, strokes[:len(c.section)])
				strokes[i] = c.stroke(i)
			}
		}
	}
}

// strokeNs adds up, from the crossing of section i back and in slices, the
// stroke that it makes with as many others moving as there are then.
func (c *Controller) strokeNs(i int, strokes []span) int64 {
	l := &c.set.LiftLead
	crossNs := c.section[i].PendingNs
	sliceNs := max(l.MoveNs/flowSlices, 1)
	toGo, t := float64(l.MoveNs), crossNs
	for toGo >= 1 && t > crossNs-c.lift {
		n := 1.0
		mid := t - sliceNs/2
		for j := range strokes {
			if s := &strokes[j]; j != i && s.FromNs <= mid && mid < s.UntilNs {
				n++
			}
		}
		rate := 1 / l.Stretch(n)
		step := min(float64(sliceNs), toGo/rate)
		toGo -= float64(step * rate)
		t -= int64(math.Round(step))
	}
	return crossNs - t
}

// flowSlices is how many slices a stroke is looked at in.
const flowSlices = 12

// stroke returns when section j moves up, from its start until it is all the
// way up, or no time at all: as commanded, or as expected of a lift that is pending. The whole
// stroke is stretched as its part up to the effective depth is.
func (c *Controller) stroke(j int) span {
	l, s := &c.set.LiftLead, &c.section[j]
	fromNs := int64(0)
	switch {
	case s.On && s.PendingNs != 0:
		fromNs = s.PendingNs - s.StrokeNs
	case !s.On && s.DueNs != 0:
		fromNs = s.DueNs + c.deadNs(j, false)
	default:
		return span{}
	}
	stretch := float64(max(s.StrokeNs, l.MoveNs)) / float64(l.MoveNs)
	return span{fromNs, fromNs + int64(float64(l.TravelNs)*stretch)}
}
