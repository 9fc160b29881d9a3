// A lane is one pass over a zone: where along it the bar enters and leaves.

package drive

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/field"
)

// tractorHalfM is half the width of ground that the tractor itself takes.
const tractorHalfM = 1.0

// lane is a pass line in the direction in which it is driven. Its stations
// are the turning point's distances in that direction, from the row
// coordinate 0.
type lane struct {
	zone *field.Zone
	rows *rows
	v    float64 // of the turning point
	dir  float64 // 1 along the row bearing, -1 against it
	pace float64 // of the speeds that the driver is to drive; 0 until it is driven

	enterM  float64 // the first section touches the zone
	insideM float64 // the last section is all in
	leaveM  float64 // the first section begins to leave
	leftM   float64 // the last section is out
	// The same for bar and tractor together: where the turn before must have
	// ended, and where the one after may begin.
	firstM, lastM float64
}

// newLane returns the pass whose bar is centred on v = centre. There is none
// where the bar meets nothing.
func newLane(z *field.Zone, r *rows, m *sections.Machine, centre, dir float64) (lane, bool) {
	l := lane{
		zone: z, rows: r, dir: dir, v: centre - float64(dir*barOf(m).middleM()),
		enterM: math.Inf(1), insideM: math.Inf(-1), leaveM: math.Inf(1), leftM: math.Inf(-1),
	}
	for _, s := range m.Sections {
		a, b := l.v+float64(dir*s.YM)-float64(s.WidthM/2), l.v+float64(dir*s.YM)+float64(s.WidthM/2)
		enter, left, ok := l.stations(a, b)
		if !ok {
			continue
		}
		l.enterM, l.leftM = min(l.enterM, enter-l.stationsOf(s.XM, enter)), max(l.leftM, left-l.stationsOf(s.XM, left))
		for _, v := range [2]float64{a, b} {
			if lo, hi, ok := l.stations(v, v); ok {
				l.insideM, l.leaveM = max(l.insideM, lo-l.stationsOf(s.XM, lo)), min(l.leaveM, hi-l.stationsOf(s.XM, hi))
			}
		}
	}
	if l.enterM >= l.leftM {
		return lane{}, false
	}
	l.insideM = max(l.enterM, min(l.insideM, l.leftM))
	l.leaveM = max(l.enterM, min(l.leaveM, l.leftM))
	if l.insideM > l.leaveM { // shorter than its slanting borders
		l.insideM = (l.insideM + l.leaveM) / 2
		l.leaveM = l.insideM
	}
	l.firstM, l.lastM = l.enterM, l.leftM
	if lo, hi, ok := l.stations(l.v-tractorHalfM, l.v+tractorHalfM); ok {
		l.firstM, l.lastM = min(l.firstM, lo), max(l.lastM, hi)
	}
	return l, true
}

// stations is rows.extent in the driving direction.
func (l *lane) stations(v0, v1 float64) (lo, hi float64, ok bool) {
	lo, hi, ok = l.rows.extent(v0, v1)
	if l.dir < 0 {
		lo, hi = -hi, -lo
	}
	return lo, hi, ok
}

func (l *lane) at(stationM float64) place {
	againstRad := 0.0
	if l.dir < 0 {
		againstRad = math.Pi
	}
	return l.rows.place(l.dir*stationM, l.v, againstRad)
}

// append drives the lane from one station to another, slower at its borders
// and outside.
func (l *lane) append(p path, fromM, toM float64, s *Params) path {
	steadyM := l.enterM
	if s.BorderMps != s.HeadlandMps {
		steadyM -= s.SteadyBeforeM
	}
	for _, piece := range []struct{ toM, capMps float64 }{
		{steadyM, s.HeadlandMps},
		{l.insideM, s.BorderMps},
		{l.leaveM, s.WorkMps},
		{l.leftM, s.BorderMps},
		{toM, s.HeadlandMps},
	} {
		piece.toM = min(piece.toM, toM)
		if l.rows.line != nil {
			p = l.alongLine(p, fromM, piece.toM, l.pace*piece.capMps)
		} else {
			p = p.straightTo(l.at(fromM), piece.toM-fromM, l.pace*piece.capMps)
		}
		fromM = max(fromM, piece.toM)
	}
	return p
}

// reversed is the lane driven the other way.
func (l *lane) reversed(m *sections.Machine) lane {
	centre := l.v + float64(l.dir*barOf(m).middleM())
	r, _ := newLane(l.zone, l.rows, m, centre, -l.dir)
	return r
}

// order returns the order in which n lanes are driven when skip are left out
// on each way across: 0, skip+1, ..., and back on those beside them.
func order(n, skip int) []int {
	out := make([]int, 0, n)
	for r := 0; r <= skip && r < n; r++ {
		if r%2 == 0 {
			for i := r; i < n; i += skip + 1 {
				out = append(out, i)
			}
			continue
		}
		for i := r + (n-1-r)/(skip+1)*(skip+1); i >= 0; i -= skip + 1 {
			out = append(out, i)
		}
	}
	return out
}
