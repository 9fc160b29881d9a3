// This file makes holes of polygons that lie inside others.

package outline

import "github.com/paulmach/orb"

// Nesting is what is wrong with polygons within each other, by their numbers: Inner lies in
// Outer, and also in another, or, where Also is -1, has a hole itself.
type Nesting struct{ Inner, Outer, Also int }

// Nest returns polygons on a plane with those of them as holes that lie wholly inside another,
// farther than nearM from its border.
func Nest(parts []orb.Polygon, nearM float64) (orb.MultiPolygon, *Nesting) {
	in := make([]int, len(parts)) // which part it is a hole of; -1 = of none
	for i := range parts {
		in[i] = -1
		for k := range parts {
			if i == k || !Inside(parts[k], parts[i], nearM) {
				continue
			}
			if in[i] >= 0 || len(parts[i]) > 1 {
				return nil, &Nesting{i, k, in[i]}
			}
			in[i] = k
		}
	}
	var mp orb.MultiPolygon
	at := make([]int, len(parts))
	for i := range parts {
		if in[i] < 0 {
			at[i] = len(mp)
			mp = append(mp, parts[i])
		}
	}
	for i := range parts {
		if k := in[i]; k >= 0 {
			hole := parts[i][0].Clone()
			hole.Reverse()
			mp[at[k]] = append(mp[at[k]][:len(mp[at[k]]):len(mp[at[k]])], hole)
		}
	}
	return mp, nil
}
