// This file records each tool's height over time, if the caller asks for it.

package hydraulics

import "sort"

// Knot is one point of a Profile: the tool's height when its speed changed.
type Knot struct {
	TimeNs  int64
	HeightM float64 // 0 at working depth, Params.TravelM when raised
}

// Profile is the height of one tool over time, with straight lines between its
// knots. If the tool rests, it stays at the height of the last knot. If it
// moves, the profile after the last knot is not known yet.
type Profile []Knot

// AtM returns the height at a time: before the first knot the height of that
// knot, after the last knot the height of that one, 0 without any knots.
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
	return a.HeightM + float64(u*(b.HeightM-a.HeightM))
}

// Record makes the bank keep every tool's Profile from now on; without it none
// is kept. A lift and a drop together take four knots, and more when the pump
// cannot supply all rising sections.
func (b *Bank) Record() {
	b.profiles = make([]Profile, len(b.sections))
	for i := range b.sections {
		b.knot(i, b.nowNs, b.HeightM(i))
	}
}

// Profile returns the knots of section i so far, nil if Record was not called.
// The slice is the bank's own: it is valid until the next Start or Record.
func (b *Bank) Profile(i int) Profile {
	if b.profiles == nil {
		return nil
	}
	return b.profiles[i]
}

// knot records that the speed of tool i changes at time t and height h.
func (b *Bank) knot(i int, t int64, h float64) {
	if b.profiles == nil {
		return
	}
	k := Knot{t, h}
	if n := len(b.profiles[i]); n == 0 || b.profiles[i][n-1] != k {
		b.profiles[i] = append(b.profiles[i], k)
	}
}
