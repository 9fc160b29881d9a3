// Package poll tells from reports of a state whether they come at intervals alone. If so, a
// change lies between the report before it and the one that shows it. If reports come
// when the state changes, it happened when it was reported.
package poll

import "math"

// Habit is how the reports of one state come. The zero value has seen none.
type Habit struct {
	repeats, changes int
	logS, squares    float64 // of the logarithms of the gaps before reports that repeat the state
	changedS         float64 // gaps before those that change it, all together
}

const (
	// leastRepeats tell how reports come.
	leastRepeats = 3
	// uneven is the widest standard deviation of the logarithm of the gaps of a poll: gaps that are
	// drawn evenly between 0.1 and 2 s have 0.7. Where another state's changes
	// trigger reports, some follow in milliseconds and others in minutes, and it is 2 or more.
	uneven = 1.1
	// rareS is the longest usual gap of a poll. States are polled at 0.1 to 1 s (common
	// practice, no source); what comes more rarely says that all is well.
	rareS = 5.0
	// A poll's gaps are as long before changes as before repeats, longer if they are uneven.
	// Told on change and at the latest after a while, changes come in the middle of that
	// while on average: half of it.
	early = 0.75
	// mostUsual bounds a gap before a change, in usual ones: one in which nothing was
	// recorded must not outweigh the others.
	mostUsual = 4.0
)

// Add takes a report gapNs after the one before it of the same state, and whether that
// state is another one now.
func (h *Habit) Add(gapNs int64, changed bool) {
	if gapNs <= 0 {
		return // two in one instant say nothing of when the next comes
	}
	s := float64(gapNs) * 1e-9
	if !changed {
		l := math.Log(s)
		h.repeats++
		h.logS += l
		h.squares += float64(l * l)
		return
	}
	h.changes++
	if h.repeats >= leastRepeats {
		s = min(s, mostUsual*h.usualS())
	}
	h.changedS += s
}

// Join adds what was seen of another state that is reported in the same way.
func (h *Habit) Join(other *Habit) {
	h.repeats += other.repeats
	h.changes += other.changes
	h.logS += other.logS
	h.squares += other.squares
	h.changedS += other.changedS
}

// usualS is the geometric mean of the gaps before repeats, in s.
func (h *Habit) usualS() float64 { return math.Exp(h.logS / float64(h.repeats)) }

// Polls reports whether reports come at intervals alone, whatever the state does.
func (h *Habit) Polls() bool {
	if h.repeats < leastRepeats || h.repeats <= h.changes {
		return false
	}
	n := float64(h.repeats)
	mean := h.logS / n
	spread := math.Sqrt(max(0, h.squares/n-float64(mean*mean)))
	usualS := h.usualS()
	return spread <= uneven && usualS <= rareS && h.changedS >= early*usualS*float64(h.changes)
}
