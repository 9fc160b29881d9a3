// This file is a tool's height over time, kept when asked for.

package hydraulics

import "sort"

// Knot is one corner of a Profile: the tool's height above its lowest place
// at an instant.
type Knot struct {
	TimeNs  int64
	HeightM float64 // 0 at working depth, Params.TravelM when raised
}

// Profile is the height of one tool over time: straight between its knots. A
// tool at rest stays at its last knot; of one that moves, the last knot is
// where it last changed speed, and what follows is not known yet.
type Profile []Knot

// AtM returns the height at an instant: of the first knot before it, of the
// last knot after it, 0 for a Profile without knots.
func (p Profile) AtM(timeNs int64) float64 {
	i := sort.Search(len(p), func(i int) bool { return p[i].TimeNs > timeNs })
	switch {
	case len(p) == 0:
		return 0
	case i == 0:
		return p[0].HeightM
	case i == len(p):
		return p[i-1].HeightM
	}
	a, b := p[i-1], p[i]
	u := float64(timeNs-a.TimeNs) / float64(b.TimeNs-a.TimeNs)
	return a.HeightM + u*(b.HeightM-a.HeightM)
}

// Record makes the bank keep every tool's Profile from now on. A lift and a
// drop are four knots, more where sections share the pump; without Record
// none are kept.
func (b *Bank) Record() {
	b.profiles = make([]Profile, len(b.sections))
	for i := range b.sections {
		b.knot(i, b.nowNs, b.HeightM(i))
	}
}

// Profile returns the knots of section i so far: a view, valid until the next
// Start or Record; nil when Record was not called.
func (b *Bank) Profile(i int) Profile {
	if b.profiles == nil {
		return nil
	}
	return b.profiles[i]
}

// knot notes that the speed of tool i changes at (t, h).
func (b *Bank) knot(i int, t int64, h float64) {
	if b.profiles == nil {
		return
	}
	k := Knot{t, h}
	if n := len(b.profiles[i]); n == 0 || b.profiles[i][n-1] != k {
		b.profiles[i] = append(b.profiles[i], k)
	}
}
