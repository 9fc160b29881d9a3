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

// painter follows the bar along the track. A stretch runs from start to end
// with the same sections in work and both ends of the bar on straight lines;
// sections side by side are painted as one.
type painter struct {
	track motion.Track
	bar   *bar
	moves []sections.WorkChange
	on    []bool
	count int // of on

	ground *bitmap
	again  repeats

	start, end  sections.Frame
	left, right sleeve
}

// paint returns the bitmap of all ground worked, and the cells painted again
// by each section.
func paint(track motion.Track, b *bar, lanes []lane, moves []sections.WorkChange) (*bitmap, []int64, error) {
	ground, err := newBitmap(workedBox(track, b, lanes, moves))
	if err != nil {
		return nil, nil, err
	}
	p := &painter{track: track, bar: b, moves: moves, on: make([]bool, len(lanes)), ground: ground}
	p.again.cells = make([]int64, len(lanes))
	p.again.sections = b.machine.Sections
	for i := range lanes {
		p.set(i, lanes[i].on)
	}
	p.run()
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
func (p *painter) run() {
	next := 0
	turn := func(until int64) {
		for ; next < len(p.moves) && p.moves[next].TimeNs <= until; next++ {
			p.set(int(p.moves[next].Section), p.moves[next].On)
		}
	}
	p.begin(p.bar.machine.Frame(&p.track[0]))
	for k := 1; k < len(p.track); k++ {
		a, b := &p.track[k-1], &p.track[k]
		if jumps(a, b) {
			p.paint()
			turn(b.TimeNs)
			p.begin(p.bar.machine.Frame(b))
			continue
		}
		for next < len(p.moves) && p.moves[next].TimeNs <= b.TimeNs {
			t := p.moves[next].TimeNs
			pose := motion.Interp(a, b, t)
			frame := p.bar.machine.Frame(&pose)
			if p.count > 0 {
				p.extend(frame)
				p.paint()
			}
			turn(t)
			p.begin(frame)
		}
		if p.count > 0 {
			p.extend(p.bar.machine.Frame(b))
		}
	}
	p.paint()
}

// begin starts a stretch.
func (p *painter) begin(f sections.Frame) {
	p.start, p.end = f, f
	l, r := p.ends(&f)
	p.left, p.right = sleeve{start: l}, sleeve{start: r}
}

// extend takes the stretch on to f, painting it when it would bend too much.
func (p *painter) extend(f sections.Frame) {
	l, r := p.ends(&f)
	if !p.left.holds(l) || !p.right.holds(r) {
		p.paint()
		p.begin(p.end)
		p.left.holds(l)
		p.right.holds(r)
	}
	p.end = f
}

// ends returns both ends of the bar.
func (p *painter) ends(f *sections.Frame) (left, right orb.Point) {
	m := p.bar.machine
	le, ln, _, _ := m.Line(0, f)
	_, _, re, rn := m.Line(len(m.Sections)-1, f)
	return orb.Point{le, ln}, orb.Point{re, rn}
}

// paint fills what the sections in work swept in the stretch.
func (p *painter) paint() {
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
		p.fill(i, j)
		i = j
	}
}

// fill fills what sections i to j, side by side, swept in the stretch.
func (p *painter) fill(i, j int) {
	m := p.bar.machine
	var quad [4]orb.Point
	quad[0][0], quad[0][1], _, _ = m.Line(i, &p.start)
	_, _, quad[1][0], quad[1][1] = m.Line(j, &p.start)
	_, _, quad[2][0], quad[2][1] = m.Line(j, &p.end)
	quad[3][0], quad[3][1], _, _ = m.Line(i, &p.end)
	p.again.aim(i, j, &quad)
	p.ground.fill(&quad, &p.again)
}

// repeats attributes cells painted again to the sections of one quadrilateral.
//
// A point q lies at the share (q-A)×d / (B-A)×d of the bar's width from its
// left end, with A, B the bar's ends and d the way of its middle: exact on
// straights, and within straightM where the way bends.
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
