// Paints the worked ground on the bitmap, in as few quadrilaterals as the way
// allows, to find what was worked more than once.

package score

import (
	"math"
	"math/bits"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// abutM is the gap between two sections that counts as none.
const abutM = 1e-6

// painter follows the bar along the track from corner to corner, and paints
// sections that are in work side by side as one.
type painter struct {
	bar   *bar
	on    []bool
	count int // of on

	ground *bitmap
	again  repeats
}

// paint returns the bitmap of all ground worked, and the cells painted again
// by each section. turns are the track's corners.
func paint(track motion.Track, turns []int, b *bar, lanes []lane, moves []sections.WorkChange) (*bitmap, []int64, error) {
	ground, err := newBitmap(workedBox(track, b, lanes, moves))
	if err != nil {
		return nil, nil, err
	}
	p := &painter{bar: b, on: make([]bool, len(lanes)), ground: ground}
	p.again.cells = make([]int64, len(lanes))
	p.again.sections = b.machine.Sections
	for i := range lanes {
		p.set(i, lanes[i].on)
	}
	p.run(track, turns, moves)
	return ground, p.again.cells, nil
}

// workedBox returns the corners of the ground that the bar can have reached
// on the legs on which any section was in work; the first pose when none was.
func workedBox(track motion.Track, b *bar, lanes []lane, moves []sections.WorkChange) (lo, hi orb.Point) {
	count := 0
	for i := range lanes {
		if lanes[i].on {
			count++
		}
	}
	inf := math.Inf(1)
	lo, hi = orb.Point{inf, inf}, orb.Point{-inf, -inf}
	next := 0
	for k := 1; k < len(track); k++ {
		worked := count > 0
		for ; next < len(moves) && moves[next].TimeNs <= track[k].TimeNs; next++ {
			worked = true
			if moves[next].On {
				count++
			} else {
				count--
			}
		}
		if worked {
			p, q := &track[k-1], &track[k]
			lo = orb.Point{min(lo[0], p.EastM, q.EastM), min(lo[1], p.NorthM, q.NorthM)}
			hi = orb.Point{max(hi[0], p.EastM, q.EastM), max(hi[1], p.NorthM, q.NorthM)}
		}
	}
	if lo[0] > hi[0] {
		lo = orb.Point{track[0].EastM, track[0].NorthM}
		return lo, lo
	}
	// The tool turns about the hitch, which lies c from the tractor's turning point.
	reach := b.reachM + b.hitchM
	return orb.Point{lo[0] - reach, lo[1] - reach}, orb.Point{hi[0] + reach, hi[1] + reach}
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
	set := func(until int64) {
		for ; next < len(moves) && moves[next].TimeNs <= until; next++ {
			p.set(int(moves[next].Section), moves[next].On)
		}
	}
	for k := 1; k < len(turns); k++ {
		a, b := &track[turns[k-1]], &track[turns[k]]
		if turns[k] == turns[k-1]+1 && jumps(a, b) { // from corner to corner it may have been faster than at either
			set(b.TimeNs)
			continue
		}
		from := p.bar.machine.Frame(a)
		for next < len(moves) && moves[next].TimeNs <= b.TimeNs {
			t := moves[next].TimeNs
			pose := track.At(t, &cursor)
			to := p.bar.machine.Frame(&pose)
			p.stretch(&from, &to)
			set(t)
			from = to
		}
		to := p.bar.machine.Frame(b)
		p.stretch(&from, &to)
	}
}

// stretch fills what the sections in work sweep on a straight way.
func (p *painter) stretch(from, to *sections.Frame) {
	if p.count == 0 {
		return
	}
	s := p.bar.machine.Sections
	for i := 0; i < len(s); i++ {
		if !p.on[i] {
			continue
		}
		j := i
		for j+1 < len(s) && p.on[j+1] && s[j].XM == s[j+1].XM &&
			math.Abs(s[j].YM+s[j].WidthM/2-s[j+1].YM+s[j+1].WidthM/2) < abutM {
			j++
		}
		p.fill(i, j, from, to)
		i = j
	}
}

// fill fills what sections i to j, side by side, sweep on a straight way.
func (p *painter) fill(i, j int, from, to *sections.Frame) {
	m := p.bar.machine
	var quad [4]orb.Point
	quad[0][0], quad[0][1], _, _ = m.Line(i, from)
	_, _, quad[1][0], quad[1][1] = m.Line(j, from)
	_, _, quad[2][0], quad[2][1] = m.Line(j, to)
	quad[3][0], quad[3][1], _, _ = m.Line(i, to)
	p.again.aim(i, j, &quad)
	p.ground.fill(&quad, &p.again)
}

// repeats attributes cells painted again to the sections of one quadrilateral.
//
// A point q lies at the share (q-A)×d / (B-A)×d of the bar's width from its
// left end, with A, B the bar's ends and d the way of its middle: exact on
// straights, and within 1 cm where the way bends.
type repeats struct {
	sections    []sections.Section
	cells       []int64 // by section
	first, last int
	leftM       float64 // y of the left end of section first
	corner, way orb.Point
	perShare    float64 // width over (B-A)×d
}

// aim turns to the quadrilateral of sections i to j: left and right end at the
// start, right and left end at the end.
func (r *repeats) aim(i, j int, quad *[4]orb.Point) {
	r.first, r.last = i, j
	r.leftM = r.sections[i].YM - r.sections[i].WidthM/2
	width := r.sections[j].YM + r.sections[j].WidthM/2 - r.leftM
	r.corner = quad[0]
	r.way = orb.Point{quad[2][0] + quad[3][0] - quad[0][0] - quad[1][0], quad[2][1] + quad[3][1] - quad[0][1] - quad[1][1]}
	r.perShare = width / r.cross(quad[1])
}

// cross returns (q-A)×d.
func (r *repeats) cross(q orb.Point) float64 {
	return (q[0]-r.corner[0])*r.way[1] - (q[1]-r.corner[1])*r.way[0]
}

// section returns the section that holds the centre of a cell.
func (r *repeats) section(m *bitmap, row, column int) int {
	q := orb.Point{m.eastM + float64(column)*m.cellM, m.northM + float64(row)*m.cellM}
	y := r.leftM + r.cross(q)*r.perShare
	lo, hi := r.first, r.last
	for lo < hi {
		mid := (lo + hi) / 2
		if s := &r.sections[mid]; y < s.YM+s.WidthM/2 {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

// add counts the cells of one word of the bitmap, the first of which lies in
// column. Cells between two of the same section are of that section.
func (r *repeats) add(m *bitmap, row, column int, cells uint64) {
	low, high := bits.TrailingZeros64(cells), 63-bits.LeadingZeros64(cells)
	a, b := r.section(m, row, column+low), r.section(m, row, column+high)
	if a == b {
		r.cells[a] += int64(bits.OnesCount64(cells))
		return
	}
	half := ^uint64(0) << uint((low+high)/2+1)
	r.add(m, row, column, cells&^half)
	r.add(m, row, column, cells&half)
}
