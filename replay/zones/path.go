// The way that was driven, point by point, and its strokes: stretches driven
// forward without a turn.

package zones

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/replay/zones/lines"

	"liftbench/sections/motion"
)

const (
	radPerDeg = math.Pi / 180

	stepM  = 0.4  // points of the way are at least this far apart
	chordM = 5.0  // a bend is seen between the chord that comes and the one that goes
	turnAt = 18.0 // degrees between both: a radius of 16 m, which hoes turn in at headlands (common practice, no source)
	least  = 8.0  // m, the shortest stroke

	gapNs    = 5e9 // no fix for longer: the way is broken there
	slowMps  = 0.1 // slower, nothing is driven
	apartM   = 6.0 // between two points, beyond what speed explains, the way is broken too
	fastMps  = 20.0
	settlesM = 1.5 // at the ends of a stroke the wheels are being turned
)

// point is a place on the way.
type point struct {
	at     orb.Point
	timeNs int64
	alongM float64 // driven forward since the start of the day
	dir    float64 // in which the way goes here, radians clockwise from north
	run    int     // points of one run follow each other without a break
}

// stroke is a stretch of the way without a turn: points[from:to].
type stroke struct {
	from, to int
	lengthM  float64
}

// way is the whole drive.
type way struct {
	points  []point
	strokes []stroke
	// middleM is how far right of the tractor's middle the middle of the machine is.
	middleM float64
}

// wayOf takes what of a track was driven forward, and finds its strokes.
// middleM shifts it to the middle of the machine's width, positive to the right.
func wayOf(track motion.Track, middleM float64) *way {
	w := &way{middleM: middleM}
	run := 0
	var last *motion.Pose
	for i := range track {
		p := &track[i]
		if p.SpeedMps < slowMps {
			if p.SpeedMps < -slowMps {
				last = nil // reversed: a new run begins
			}
			continue
		}
		at := orb.Point{p.EastM, p.NorthM}
		if last != nil {
			d := math.Hypot(p.EastM-last.EastM, p.NorthM-last.NorthM)
			dt := float64(p.TimeNs-last.TimeNs) * 1e-9
			if d < stepM {
				continue
			}
			if p.TimeNs-last.TimeNs > gapNs && d > apartM || d > apartM+fastMps*dt {
				last = nil
			}
		}
		if last == nil {
			run++
		}
		s, c := math.Sincos(p.HeadingRad)
		at[0] += middleM * c
		at[1] -= middleM * s
		w.points = append(w.points, point{at: at, timeNs: p.TimeNs, run: run})
		last = p
	}
	for i := 1; i < len(w.points); i++ {
		a, b := &w.points[i-1], &w.points[i]
		b.alongM = a.alongM
		if a.run == b.run {
			b.alongM += lines.Between(a.at, b.at)
		}
	}
	w.findStrokes()
	return w
}

// findStrokes gives each point its direction, and cuts the way at turns.
func (w *way) findStrokes() {
	p := w.points
	bends := make([]bool, len(p))
	lo, hi := 0, 0
	for i := range p {
		for p[lo].run != p[i].run || p[i].alongM-p[lo].alongM > chordM {
			lo++
		}
		hi = max(hi, i)
		for hi+1 < len(p) && p[hi+1].run == p[i].run && p[hi+1].alongM-p[i].alongM <= chordM {
			hi++
		}
		switch back, on := p[i].alongM-p[lo].alongM, p[hi].alongM-p[i].alongM; {
		case lo == hi:
		case back < chordM/3 || on < chordM/3:
			p[i].dir = lines.Bearing(p[lo].at, p[hi].at)
		default:
			p[i].dir = lines.Bearing(p[lo].at, p[hi].at)
			bend := math.Abs(lines.Turned(lines.Bearing(p[lo].at, p[i].at), lines.Bearing(p[i].at, p[hi].at)))
			// Where points lie far apart the chords are shorter than chordM.
			bends[i] = bend > turnAt*radPerDeg*min(1, (back+on)/(2*chordM))
		}
	}
	for i := 0; i < len(p); {
		j := i + 1
		for j < len(p) && p[j].run == p[i].run && bends[j] == bends[i] {
			j++
		}
		if length := p[j-1].alongM - p[i].alongM; !bends[i] && length >= least {
			w.strokes = append(w.strokes, stroke{i, j, length})
		}
		i = j
	}
}

// line returns the points of the way from one to another.
func (w *way) line(from, to int) orb.LineString {
	out := make(orb.LineString, 0, to-from)
	for _, p := range w.points[from:to] {
		out = append(out, p.at)
	}
	return out
}

// near is an index of the points of strokes, to find what was driven beside a
// place.
type near struct {
	w     *way
	cellM float64
	cells map[[2]int][]int32 // numbers of points, in order
	of    []int32            // the stroke of each point, -1 = in a turn
}

func (w *way) index(cellM float64) *near {
	n := &near{w: w, cellM: cellM, cells: map[[2]int][]int32{}, of: make([]int32, len(w.points))}
	for i := range n.of {
		n.of[i] = -1
	}
	for k, s := range w.strokes {
		for i := s.from; i < s.to; i++ {
			n.of[i] = int32(k)
			c := n.cell(w.points[i].at)
			n.cells[c] = append(n.cells[c], int32(i))
		}
	}
	return n
}

func (n *near) cell(p orb.Point) [2]int {
	return [2]int{int(math.Floor(p[0] / n.cellM)), int(math.Floor(p[1] / n.cellM))}
}

// beside finds, for each stroke that runs within slantRad of the direction of
// point i, how far to the side it passes, at most reachM: positive to the right.
// It calls found once a stroke and side, in order of the strokes' numbers. Its
// own stroke is left out within ownM along the way.
func (n *near) beside(i int, reachM, slantRad, ownM float64, found func(stroke int, asideM float64, point int)) {
	at := &n.w.points[i]
	s, c := math.Sincos(at.dir)
	reach := int(math.Ceil(reachM / n.cellM))
	home := n.cell(at.at)
	type hit struct {
		abs, aside float64
		point      int
	}
	best := map[[2]int32]hit{}
	var order [][2]int32
	for x := home[0] - reach; x <= home[0]+reach; x++ {
		for y := home[1] - reach; y <= home[1]+reach; y++ {
			for _, j := range n.cells[[2]int{x, y}] {
				p := &n.w.points[j]
				k := n.of[j]
				if k == n.of[i] && math.Abs(p.alongM-at.alongM) < ownM {
					continue
				}
				dx, dy := p.at[0]-at.at[0], p.at[1]-at.at[1]
				ahead, aside := dx*s+dy*c, dx*c-dy*s
				if math.Abs(ahead) > 3 || math.Abs(aside) > reachM || math.Abs(lines.Tilted(at.dir, p.dir)) > slantRad {
					continue
				}
				// Straight across: the point is carried along its own direction.
				aside -= ahead * math.Tan(lines.Tilted(at.dir, p.dir))
				key := [2]int32{k, 1}
				if aside < 0 {
					key[1] = -1
				}
				h, ok := best[key]
				if !ok {
					order = append(order, key)
				}
				if !ok || math.Abs(ahead) < h.abs {
					best[key] = hit{math.Abs(ahead), aside, int(j)}
				}
			}
		}
	}
	for _, key := range order {
		h := best[key]
		found(int(key[0]), h.aside, h.point)
	}
}
