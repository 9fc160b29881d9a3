// This file marks the worked ground on the hatch, which tells what was worked more than
// once.

package score

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

const (
	// abutM is the largest gap between two sections, or passes, that counts as none.
	abutM = 1e-6
	// sagM is how far a leg of the track may stray from the straight parts that are drawn
	// for it. More than mostParts are not drawn.
	sagM      = 0.0002
	mostParts = 64
)

// painter follows the bar along the track. Neighbouring sections that are in work are
// painted as one.
type painter struct {
	bar   *bar
	on    []bool // by section, whether it is in work
	count int    // number of sections in work

	at          motion.Pose
	way         []sections.Frame // places up to at that are not painted yet
	left, right []orb.Point      // of both ends of the painted sections, at those places

	ground *hatch
	again  repeats
}

// paint returns the hatch with all worked ground, and for each section the length on its
// lines that it worked again.
func paint(track motion.Track, corners []int, zones *field.Field, b *bar, lanes []lane, moves []sections.WorkChange) (*hatch, []float64, error) {
	s := newSurvey(track, b, lanes, moves)
	ground, err := newHatch(&s, zones)
	if err != nil {
		return nil, nil, err
	}
	p := &painter{bar: b, on: make([]bool, len(lanes)), ground: ground}
	p.again.lengthM = make([]float64, len(lanes))
	p.again.sections = b.machine.Sections
	for i := range lanes {
		p.set(i, lanes[i].on)
	}
	p.run(track, corners, moves)
	return ground, p.again.lengthM, nil
}

// set puts section i into or out of work.
func (p *painter) set(i int, on bool) {
	switch {
	case on && !p.on[i]:
		p.count++
	case !on && p.on[i]:
		p.count--
	}
	p.on[i] = on
}

// run paints the whole track.
func (p *painter) run(track motion.Track, corners []int, moves []sections.WorkChange) {
	next, cursor := 0, 0
	for k := 1; k < len(corners); k++ {
		a, b := &track[corners[k-1]], &track[corners[k]]
		// Between corners that are no neighbours the tractor may have driven faster than at
		// both, so that Jumps would be wrong about them.
		if corners[k] == corners[k-1]+1 && Jumps(a, b) {
			for ; next < len(moves) && moves[next].TimeNs <= b.TimeNs; next++ {
				p.set(int(moves[next].Section), moves[next].On)
			}
			continue
		}
		p.at = *a
		for i := corners[k-1] + 1; i <= corners[k]; i++ {
			for ; next < len(moves) && moves[next].TimeNs <= track[i].TimeNs; next++ {
				p.goTo(track.At(moves[next].TimeNs, &cursor))
				p.fill()
				p.set(int(moves[next].Section), moves[next].On)
			}
			p.goTo(track[i])
		}
		p.fill()
	}
}

// goTo goes on to a pose, in straight parts that stay within sagM of the way.
//
// The middle of an arc of length s that corners by θ lies s·θ/8 away from its chord. Of
// each of n parts of the arc it is n² times less.
func (p *painter) goTo(to motion.Pose) {
	if p.count > 0 {
		m := p.bar.machine
		if len(p.way) == 0 {
			p.way = append(p.way, m.Frame(&p.at))
		}
		turn := max(math.Abs(to.HeadingRad-p.at.HeadingRad), math.Abs(to.ToolHeadingRad-p.at.ToolHeadingRad))
		length := exact.Hypot(to.EastM-p.at.EastM, to.NorthM-p.at.NorthM) + float64(turn*p.bar.reachM)
		if off := length * turn / 8; off > sagM {
			parts := int64(min(math.Sqrt(off/sagM)+1, mostParts))
			for i := int64(1); i < parts; i++ {
				pose := motion.Interp(&p.at, &to, p.at.TimeNs+(to.TimeNs-p.at.TimeNs)/parts*i)
				p.way = append(p.way, m.Frame(&pose))
			}
		}
		p.way = append(p.way, m.Frame(&to))
	}
	p.at = to
}

// fill paints the ground that the sections in work have swept since the last time.
func (p *painter) fill() {
	s := p.bar.machine.Sections
	for i := 0; i < len(s) && len(p.way) > 1; i++ {
		if !p.on[i] {
			continue
		}
		j := i
		for j+1 < len(s) && p.on[j+1] && s[j].XM == s[j+1].XM &&
			math.Abs(s[j].YM+float64(s[j].WidthM/2)-s[j+1].YM+float64(s[j+1].WidthM/2)) < abutM {
			j++
		}
		p.left, p.right = p.left[:0], p.right[:0]
		for k := range p.way {
			leftE, leftN, _, _ := p.bar.machine.Line(i, &p.way[k])
			_, _, rightE, rightN := p.bar.machine.Line(j, &p.way[k])
			p.left = append(p.left, p.ground.point(leftE, leftN))
			p.right = append(p.right, p.ground.point(rightE, rightN))
		}
		p.again.aim(i, j)
		p.ground.fill(p.left, p.right, &p.again)
		i = j
	}
	p.way = p.way[:0]
}

// repeats counts ground worked again for the sections that did it.
//
// Between two marks on a line the place on the bar is taken to change evenly. That is
// exact where the bar goes straight, and within 1 cm elsewhere.
type repeats struct {
	sections      []sections.Section
	lengthM       []float64 // worked again by each section, along the lines
	first, last   int       // neighbouring sections that are being painted
	leftM, rightM float64   // y of the left end of the first and of the right end of the last
}

// aim sets the sections that are painted next, i to j.
func (r *repeats) aim(i, j int) {
	r.first, r.last = i, j
	r.leftM, r.rightM = r.sections[i].YM-float64(r.sections[i].WidthM/2), r.edge(j)
}

// edge returns the y of the right end of section i.
func (r *repeats) edge(i int) float64 { return r.sections[i].YM + float64(r.sections[i].WidthM/2) }

// add counts the ground between two places on a line, which both lie between its marks a
// and b.
func (r *repeats) add(a, b *mark, fromM, toM float64) {
	slope := (b.yM - a.yM) / (b.atM - a.atM)
	y0, y1 := a.yM+float64((fromM-a.atM)*slope), a.yM+float64((toM-a.atM)*slope)
	if y1 < y0 {
		y0, y1 = y1, y0
	}
	i, _ := slices.BinarySearchFunc(r.sections[r.first:r.last], y0, func(s sections.Section, y float64) int {
		if s.YM+float64(s.WidthM/2) <= y {
			return -1
		}
		return 1
	})
	rest, perY := toM-fromM, (toM-fromM)/(y1-y0)
	for i += r.first; i < r.last && r.edge(i) < y1; i++ {
		part := float64((r.edge(i) - y0) * perY)
		r.lengthM[i] += part
		rest -= part
		y0 = r.edge(i)
	}
	r.lengthM[i] += rest
}
