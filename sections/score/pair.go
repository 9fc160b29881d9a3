// This file decides which actual change belongs to which ideal one.

package score

// pairs matches the ideal and the actual lifts of one section, or its drops, both in order
// of time. It returns, for each ideal one, the index of the actual one, or -1.
//
// Two form a pair if each is nearest in time to the other (the earlier of two that are
// equally near) and they are at most windowNs apart. Pairs never cross: if i < i' were
// paired with a' and a, where a < a', then |i-a'| + |i'-a| would be less than
// |i-a| + |i'-a'|, but the sum for pairs in order is never the larger one.
func pairs(idealNs, actualNs []int64, windowNs int64) []int {
	answer := make([]int, len(idealNs))
	i, a := 0, 0
	for k, t := range idealNs {
		answer[k] = -1
		if a = nearest(actualNs, a, t); a == len(actualNs) {
			continue
		}
		if i = nearest(idealNs, i, actualNs[a]); i == k && distance(t, actualNs[a]) <= windowNs {
			answer[k] = a
		}
	}
	return answer
}

// nearest returns the index of the instant that is nearest to t in an ordered list, the
// first of several that are equally near, or len(list) if the list is empty. The search
// begins at start, which must not be greater than the result.
func nearest(list []int64, start int, t int64) int {
	i := start
	for j := start + 1; j < len(list) && (list[j] <= t || distance(list[j], t) < distance(list[i], t)); j++ {
		if list[j] != list[i] {
			i = j
		}
	}
	return i
}

func distance(a, b int64) int64 {
	return max(a-b, b-a)
}

// steady removes pairs of changes that a controller is not meant to follow: a gap (lift,
// then drop) shorter than opt.GapNs, and a spell of work (drop, then lift) shorter than
// opt.SpellNs. It changes list.
func steady(list []change, opt Options) []change {
	kept := list[:0]
	for _, c := range list {
		shortest := opt.SpellNs
		if c.on {
			shortest = opt.GapNs
		}
		if n := len(kept); n > 0 && kept[n-1].on != c.on && c.timeNs-kept[n-1].timeNs < shortest {
			kept = kept[:n-1]
			continue
		}
		kept = append(kept, c)
	}
	return kept
}

// ungrazed returns the crossings without those that went back before they were
// sure, in the same array.
func ungrazed(list []change) []change {
	kept := list[:0]
	for _, c := range list {
		if n := len(kept); n > 0 && !kept[n-1].sure {
			kept = kept[:n-1]
			continue
		}
		kept = append(kept, c)
	}
	return kept
}
