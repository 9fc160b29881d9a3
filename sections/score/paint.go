// Paints the worked ground on the hatch, to find what was worked more than once.

package score

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

const (
	// abutM is the gap between two sections, or passes, that counts as none.
	abutM = 1e-6
	// sagM is how far a leg of the track may stray from the lines drawn for it,
	// as long as mostParts of them do.
	sagM      = 0.0002
	mostParts = 64
)

// painter follows the bar along the track from corner to corner, and paints
// sections that are in work side by side as one.
type painter struct {
	bar   *bar
	on    []bool
	count int // of on

	at          motion.Pose
	way         []sections.Frame // up to at, of what is not painted yet
	left, right []orb.Point      // the same, of both ends of what is painted

	ground *hatch
	again  repeats
}

// paint returns all ground worked, and the lengths on it that each section
// worked again. turns are the track's corners.
func paint(track motion.Track, turns []int, zones *field.Field, b *bar, lanes []lane, moves []sections.WorkChange) (*hatch, []float64, error) {
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
	p.run(track, turns, moves)
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
func (p *painter) run(track motion.Track, turns []int, moves []sections.WorkChange) {
	next, cursor := 0, 0
	for k := 1; k < len(turns); k++ {
		a, b := &track[turns[k-1]], &track[turns[k]]
		if turns[k] == turns[k-1]+1 && jumps(a, b) { // from corner to corner it may have been faster than at either
			for ; next < len(moves) && moves[next].TimeNs <= b.TimeNs; next++ {
				p.set(int(moves[next].Section), moves[next].On)
			}
			continue
		}
		p.at = *a
		for i := turns[k-1] + 1; i <= turns[k]; i++ {
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

// goTo goes on to a pose, in straight lines that stay within sagM of the way.
//
// The middle of an arc of length s that turns by θ lies s·θ/8 off its chord;
// of each of n parts of it, n² times less.
func (p *painter) goTo(to motion.Pose) {
	if p.count > 0 {
		m := p.bar.machine
		if len(p.way) == 0 {
			p.way = append(p.way, m.Frame(&p.at))
		}
		turn := max(math.Abs(to.HeadingRad-p.at.HeadingRad), math.Abs(to.ToolHeadingRad-p.at.ToolHeadingRad))
		length := math.Hypot(to.EastM-p.at.EastM, to.NorthM-p.at.NorthM) + turn*p.bar.reachM
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

// fill paints what the sections in work have swept on the way to where the bar is.
func (p *painter) fill() {
	s := p.bar.machine.Sections
	for i := 0; i < len(s) && len(p.way) > 1; i++ {
		if !p.on[i] {
			continue
		}
		j := i
		for j+1 < len(s) && p.on[j+1] && s[j].XM == s[j+1].XM &&
			math.Abs(s[j].YM+s[j].WidthM/2-s[j+1].YM+s[j+1].WidthM/2) < abutM {
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

// repeats attributes ground worked again to the sections of one polygon.
//
// Between two marks on a line the place on the bar is taken to change evenly:
// exact on straights, and within 1 cm from corner to corner.
type repeats struct {
	sections      []sections.Section
	lengthM       []float64 // on the hatch's lines, by section
	first, last   int       // of those side by side
	leftM, rightM float64   // y of their ends
}

// aim turns to sections i to j.
func (r *repeats) aim(i, j int) {
	r.first, r.last = i, j
	r.leftM, r.rightM = r.sections[i].YM-r.sections[i].WidthM/2, r.edge(j)
}

// edge returns the y of the right end of section i.
func (r *repeats) edge(i int) float64 { return r.sections[i].YM + r.sections[i].WidthM/2 }

// add counts the ground between two places of a line, both between marks a and b.
func (r *repeats) add(a, b *mark, fromM, toM float64) {
	slope := (b.yM - a.yM) / (b.atM - a.atM)
	y0, y1 := a.yM+(fromM-a.atM)*slope, a.yM+(toM-a.atM)*slope
	if y1 < y0 {
		y0, y1 = y1, y0
	}
	i, _ := slices.BinarySearchFunc(r.sections[r.first:r.last], y0, func(s sections.Section, y float64) int {
		if s.YM+s.WidthM/2 <= y {
			return -1
		}
		return 1
	})
	rest, perY := toM-fromM, (toM-fromM)/(y1-y0)
	for i += r.first; i < r.last && r.edge(i) < y1; i++ {
		part := (r.edge(i) - y0) * perY
		r.lengthM[i] += part
		rest -= part
		y0 = r.edge(i)
	}
	r.lengthM[i] += rest
}
