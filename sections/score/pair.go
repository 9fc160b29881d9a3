// This file decides which actual change belongs to which ideal one.

package score

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

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
// While the tractor stands no time counts.
func steady(list []change, rest []pause, opt Options) []change {
	kept := list[:0]
	for _, c := range list {
		shortest := opt.SpellNs
		if c.on {
			shortest = opt.GapNs
		}
		if n := len(kept); n > 0 && kept[n-1].on != c.on && c.timeNs-kept[n-1].timeNs-restNs(rest, kept[n-1].timeNs, c.timeNs) < shortest {
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

// withoutSlivers returns the crossings of section i without the two of each gap or
// spell that is shorter than sliverM along the way, in the same array: a look every
// 10 cm may see it or not.
func withoutSlivers(list []change, i int16, way *path) []change {
	kept := list[:0]
	var at orb.Point // of the last of kept
	for _, c := range list {
		to := way.middle(i, c.timeNs)
		// As the crow flies first: that costs less, and the way is no shorter.
		if n := len(kept); n > 0 && kept[n-1].on != c.on && exact.Hypot(to[0]-at[0], to[1]-at[1]) < sliverM &&
			math.Abs(way.lengthM(i, kept[n-1].timeNs, c.timeNs)) < sliverM {
			if kept = kept[:n-1]; n > 1 {
				at = way.middle(i, kept[n-2].timeNs)
			}
			continue
		}
		kept, at = append(kept, c), to
	}
	return kept
}

// sliverM is two looks.
const sliverM = 2 * lookM

// pause is a time at which the tractor stands.
type pause struct{ fromNs, toNs int64 }

// pauses returns when the tractor stands, in order.
func pauses(track motion.Track) []pause {
	const restMps = 0.05
	var rest []pause
	for k := 1; k < len(track); k++ {
		a, b := &track[k-1], &track[k]
		if math.Abs(a.SpeedMps) > restMps || math.Abs(b.SpeedMps) > restMps {
			continue
		}
		if n := len(rest); n > 0 && rest[n-1].toNs == a.TimeNs {
			rest[n-1].toNs = b.TimeNs
			continue
		}
		rest = append(rest, pause{a.TimeNs, b.TimeNs})
	}
	return rest
}

// restNs returns how long the tractor stands between two instants.
func restNs(rest []pause, fromNs, toNs int64) int64 {
	k, _ := slices.BinarySearchFunc(rest, fromNs, func(p pause, t int64) int { return cmp.Compare(p.toNs, t) })
	sum := int64(0)
	for ; k < len(rest) && rest[k].fromNs < toNs; k++ {
		sum += max(0, min(rest[k].toNs, toNs)-max(rest[k].fromNs, fromNs))
	}
	return sum
}
