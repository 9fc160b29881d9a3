// This file gathers changes of single sections into crossings of the whole bar.

package score

import "liftbench/sections"

// Crossing is the bar going over one border: some or all of its sections change the same
// way, one soon after the other, each of them once.
type Crossing struct {
	On              bool    // a drop; otherwise a lift
	FromNs, UntilNs int64   // of the first change and of the last
	Changes         []int32 // indices of the changes, in order of time
}

// BetweenSectionsNs is the longest time between two changes of one crossing. At 3 km/h
// the border is then 4 m farther on for the next section, as it is for a section of 3 m
// at a border that slants by 54°.
const BetweenSectionsNs = 5e9

// Crossings gathers changes, which must be in order of time, into crossings, in the order
// of their first changes. It works for ideal and for actual changes. A section that
// changes again in the same direction begins a new crossing.
func Crossings(changes []sections.WorkChange) []Crossing {
	var list []Crossing
	latest := [2]int{-1, -1} // of lifts, of drops
	for i, c := range changes {
		way := 0
		if c.On {
			way = 1
		}
		if k := latest[way]; k >= 0 && c.TimeNs-list[k].UntilNs <= BetweenSectionsNs && !list[k].has(changes, c.Section) {
			list[k].Changes = append(list[k].Changes, int32(i))
			list[k].UntilNs = c.TimeNs
			continue
		}
		latest[way] = len(list)
		list = append(list, Crossing{On: c.On, FromNs: c.TimeNs, UntilNs: c.TimeNs, Changes: []int32{int32(i)}})
	}
	return list
}

// has reports whether the section is among those of the crossing.
func (x *Crossing) has(changes []sections.WorkChange, section int16) bool {
	for _, i := range x.Changes {
		if changes[i].Section == section {
			return true
		}
	}
	return false
}
