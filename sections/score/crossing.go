// Changes of single sections gathered to crossings of the whole bar.

package score

// Crossing is the bar passing one border: its sections change the same way, one
// soon after the other, each section once.
type Crossing struct {
	On              bool    // into work, a drop; otherwise a lift
	FromNs, UntilNs int64   // of the first section's change and of the last one's
	Of              []int32 // the changes, as indices, in order of time
}

// TogetherNs is how long after one section's change the next one's still belongs
// to the same crossing: at 3 km/h a border 4 m further on for the next section,
// as a section of 3 m has at a slant of 54°.
const TogetherNs = 5e9

// Change is one section's change, at its ideal instant or its actual one.
type Change struct {
	TimeNs  int64
	Section int
	On      bool
}

// Crossings gathers n changes, given by index in order of time, in order of the
// crossings' first changes. A section that changes again the same way begins a
// new crossing.
func Crossings(n int, at func(i int) Change) []Crossing {
	var list []Crossing
	latest := [2]int{-1, -1} // of lifts, of drops
	for i := range n {
		c := at(i)
		way := 0
		if c.On {
			way = 1
		}
		again := func(x *Crossing) bool {
			for _, k := range x.Of {
				if at(int(k)).Section == c.Section {
					return true
				}
			}
			return false
		}
		if k := latest[way]; k >= 0 && c.TimeNs-list[k].UntilNs <= TogetherNs && !again(&list[k]) {
			list[k].Of = append(list[k].Of, int32(i))
			list[k].UntilNs = c.TimeNs
			continue
		}
		latest[way] = len(list)
		list = append(list, Crossing{On: c.On, FromNs: c.TimeNs, UntilNs: c.TimeNs, Of: []int32{int32(i)}})
	}
	return list
}
