// When the machine was in work.

package zones

import (
	"sort"

	"liftbench/sections"
)

// work is the work states of the machine as one section, in order of time.
type work []sections.WorkChange

// workOf joins the states of all sections: the machine is in work while more than
// half of those that ever worked are.
func workOf(changes []sections.WorkChange) work {
	sectionsSeen := map[int16]bool{}
	for _, c := range changes {
		sectionsSeen[c.Section] = true
	}
	on := map[int16]bool{}
	down := 0
	var out work
	for i, c := range changes {
		if on[c.Section] != c.On {
			on[c.Section] = c.On
			if c.On {
				down++
			} else {
				down--
			}
		}
		if i+1 < len(changes) && changes[i+1].TimeNs == c.TimeNs {
			continue
		}
		if working := 2*down > len(sectionsSeen); len(out) == 0 || out[len(out)-1].On != working {
			out = append(out, sections.WorkChange{TimeNs: c.TimeNs, On: working})
		}
	}
	return out
}

// at reports whether the machine was in work.
func (w work) at(timeNs int64) bool {
	i := sort.Search(len(w), func(i int) bool { return w[i].TimeNs > timeNs })
	return i > 0 && w[i-1].On
}

// changeIn returns the first change after one time and not after another.
func (w work) changeIn(afterNs, untilNs int64) (timeNs int64, ok bool) {
	i := sort.Search(len(w), func(i int) bool { return w[i].TimeNs > afterNs })
	if i == len(w) || w[i].TimeNs > untilNs {
		return 0, false
	}
	return w[i].TimeNs, true
}

// share is how much of a time the machine was in work; 1 where that is not
// recorded.
func (w work) share(fromNs, toNs int64) float64 {
	if len(w) == 0 || toNs <= fromNs {
		return 1
	}
	sum := int64(0)
	on, last := w.at(fromNs), fromNs
	for _, c := range w {
		if c.TimeNs <= fromNs {
			continue
		}
		t := min(c.TimeNs, toNs)
		if on {
			sum += t - last
		}
		on, last = c.On, t
		if c.TimeNs >= toNs {
			break
		}
	}
	if on && last < toNs {
		sum += toNs - last
	}
	return float64(sum) / float64(toNs-fromNs)
}
