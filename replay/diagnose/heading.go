// A wrong heading in turns: one end of the bar late, the other early, the more
// the faster it turns.

package diagnose

import "math"

const (
	// turningRadPS is a yaw rate that a tractor on a straight does not have: a
	// circle of 100 m at 2 m/s.
	turningRadPS = 0.02
	leastTurns   = 5 // crossings that turn
)

// headingError returns the heading error in turns, nil where there is none, and
// takes its part out of the moves.
//
// A section at y to the right has e = y·ω·size. In each crossing the slope of e
// over y is free of what all sections share; over crossings it is a + size·ω,
// with a the heading's error on the straight.
func headingError(moves []move, list []crossing) *found {
	var slope, yaw, one []float64
	widest, fastest, turns := 0.0, 0.0, 0
	for k := range list {
		c := &list[k]
		n, my, me, mw := float64(len(c.of)), 0.0, 0.0, 0.0
		for _, i := range c.of {
			my += moves[i].sideM / n
			me += moves[i].lateM / n
			mw += moves[i].yawRateRadPS / n
		}
		yy, ye := 0.0, 0.0
		for _, i := range c.of {
			dy := moves[i].sideM - my
			yy += dy * dy
			ye += dy * (moves[i].lateM - me)
			widest = max(widest, math.Abs(moves[i].sideM))
		}
		if yy == 0 {
			continue
		}
		slope, yaw, one = append(slope, ye/yy), append(yaw, mw), append(one, 1)
		fastest = max(fastest, math.Abs(mw))
		if math.Abs(mw) >= turningRadPS {
			turns++
		}
	}
	if turns < leastTurns || widest == 0 {
		return nil
	}
	cols := [][]float64{one, yaw}
	floor := noiseFloorM / widest
	fit := make([]float64, len(slope))
	var f fitted
	for range 3 {
		var ok bool
		g := newGram(cols, clipped(slope, fit, 2, floor), floor)
		if f, ok = g.fit(0, 1); !ok {
			return nil
		}
		fit = predict(&f, cols, len(slope))
	}
	out := &found{term: term{cause: HeadingError, least: leastM / (fastest * widest)}, size: f.beta[1], ci: f.interval(1), n: len(slope)}
	if f.df < 3 || math.Abs(out.size) < out.least || !(f.p(1) < alpha/2) {
		return nil
	}
	for i := range moves {
		m := &moves[i]
		part := m.sideM * m.yawRateRadPS * out.size
		m.lateM -= part
		out.explained += part * part
	}
	return out
}
