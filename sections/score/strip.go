// Outlines of the ground that each section swept, for maps.

package score

import (
	"github.com/paulmach/orb"

	"liftbench/sections/motion"
)

// strips draws the spans of all lanes.
func strips(track motion.Track, b *bar, lanes []lane) []Strip {
	list := []Strip{}
	for i := range lanes {
		at := 0
		for _, s := range lanes[i].spans {
			list = append(list, Strip{
				Section: int16(i),
				Ground:  s.ground,
				FromNs:  s.from,
				UntilNs: s.to,
				Ring:    outline(track, b, i, &s, &at),
			})
		}
	}
	return list
}

// outline returns the ring around what section i swept in a span: along its
// left end, back along its right end. at is the pose before the span and moves on.
func outline(track motion.Track, b *bar, i int, s *span, at *int) orb.Ring {
	for *at+1 < len(track) && track[*at+1].TimeNs <= s.from {
		*at++
	}
	ends := func(p motion.Pose) (l, r orb.Point) {
		f := b.machine.Frame(&p)
		l[0], l[1], r[0], r[1] = b.machine.Line(i, &f)
		return l, r
	}
	cursor := *at
	l, r := ends(track.At(s.from, &cursor))
	left, right := orb.LineString{l}, orb.LineString{r}
	leftWay, rightWay := sleeve{start: l}, sleeve{start: r}
	lastL, lastR := l, r
	onTo := func(p motion.Pose) {
		l, r := ends(p)
		if !leftWay.holds(l) || !rightWay.holds(r) {
			left, right = append(left, lastL), append(right, lastR)
			leftWay, rightWay = sleeve{start: lastL}, sleeve{start: lastR}
			leftWay.holds(l)
			rightWay.holds(r)
		}
		lastL, lastR = l, r
	}
	for k := *at + 1; k < len(track) && track[k].TimeNs < s.to; k++ {
		onTo(track[k])
	}
	onTo(track.At(s.to, &cursor))
	left, right = append(left, lastL), append(right, lastR)
	ring := orb.Ring(left)
	for k := len(right) - 1; k >= 0; k-- {
		ring = append(ring, right[k])
	}
	return append(ring, left[0])
}
