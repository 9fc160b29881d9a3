// Which actual transition answers which ideal one.

package score

// pairs matches the ideal and actual transitions of one section and direction,
// both in order of time. It returns for each ideal one the index of its actual
// one, or -1.
//
// Two make a pair when each is the nearest in time to the other (the earlier
// of two equally near) and they are no more than windowNs apart. Such pairs
// keep their order: were i < i' paired the other way round, with a' > a, then
// |i-a'| + |i'-a| would be less than |i-a| + |i'-a'|, but of two ordered pairs
// the sum in order is never the greater.
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

// nearest returns the index of the instant nearest to t in an ordered list, of
// equals the first, and len(list) when it is empty. It looks from start on,
// which must not lie behind that index.
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

// steady returns the crossings without gaps (off, then on) shorter than
// opt.GapNs and spells (on, then off) shorter than opt.SpellNs, in the same
// array.
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
