// From a path and its speeds to the poses of a track.

package drive

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
	"liftbench/sim/drive/hand"
)

// The longest time between two knots of a track, in seconds. motion.Interp is
// exact along a straight under constant acceleration; on a curve its error is
// of the fourth order, below 1e-6 m at these steps. A trailed tool's heading
// is interpolated linearly, so it needs short steps while it settles.
const (
	straightStepS = 1.0
	wanderStepS   = 0.25
	curveStepS    = 0.1
)

// follow drives p with speeds and returns the poses. steering may be nil: exact.
func follow(p path, speeds []stretch, startNs int64, m *sections.Machine, steering *hand.Wander) motion.Track {
	steps := func(st *stretch) int {
		step := straightStepS
		switch {
		case !p[st.leg].straight() || m.Mount == sections.Trailed:
			step = curveStepS
		case steering != nil:
			step = wanderStepS
		}
		return int(math.Ceil(st.durationS() / step))
	}
	knots := 1
	for i := range speeds {
		knots += steps(&speeds[i]) + 1 // and one for a pause
	}
	track := make(motion.Track, 0, knots)
	driven := 0.0 // forward minus reverse, to the start of the current leg
	leg := -1
	emit := func(timeNs int64, i int, s, v float64) {
		l := &p[i]
		at, k := l.at(s)
		pose := motion.Pose{
			TimeNs: timeNs, EastM: at.eastM, NorthM: at.northM,
			HeadingRad: at.headingRad, SpeedMps: v, YawRateRadPerS: v * k,
		}
		d := driven + s
		if l.reverse {
			pose.SpeedMps = 0 - v
			d = driven - s
		}
		if steering != nil {
			offset(steering, &pose, d, k, l.sharpness())
		}
		pose.ToolHeadingRad = pose.HeadingRad
		if n := len(track); n > 0 && track[n-1].TimeNs >= timeNs {
			return
		}
		track = append(track, pose)
	}

	timeS := 0.0
	ns := func(s float64) int64 { return startNs + int64(math.Round(s*1e9)) }
	for _, st := range speeds {
		for leg < st.leg {
			if leg >= 0 {
				driven += signedLength(&p[leg])
			}
			leg++
		}
		duration, n := st.durationS(), steps(&st)
		accel := (st.v1 - st.v0) / duration
		for i := range n {
			t := duration * float64(i) / float64(n)
			emit(ns(timeS+t), st.leg, st.fromM+float64(t*(st.v0+float64(accel*t/2))), st.v0+float64(accel*t))
		}
		timeS += duration
		if st.pauseS > 0 {
			emit(ns(timeS), st.leg, st.fromM+st.lengthM, 0)
			timeS += st.pauseS
		}
	}
	if len(speeds) > 0 {
		last := speeds[len(speeds)-1]
		emit(ns(timeS), last.leg, last.fromM+last.lengthM, last.v1)
	}
	if m.Mount == sections.Trailed {
		motion.Trail(track, m.HitchBehindM, m.DrawbarM)
	}
	return track
}

func signedLength(l *leg) float64 {
	if l.reverse {
		return -l.lengthM
	}
	return l.lengthM
}

// offset moves a pose that is exact on a line of curvature k and sharpness c
// (1/m²) aside by the driver's error after d metres.
//
// With y the distance to the right, the moved point travels forward
// f = 1 - κ·y and sideways y' for each metre of the line, so
// v → v·√(f² + y'²) and θ → θ + atan(y'/f).
func offset(w *hand.Wander, p *motion.Pose, d, k, c float64) {
	y, dy, ddy := w.At(d)
	moved := place{p.EastM, p.NorthM, p.HeadingRad}.ahead(0, y)
	f := 1 - float64(k*y)
	speed := exact.Hypot(f, dy)
	alongMps := p.SpeedMps
	p.EastM, p.NorthM = moved.eastM, moved.northM
	p.HeadingRad += exact.Atan2(dy, f)
	p.SpeedMps *= speed
	// d/ds of θ + atan(y'/f), with f' = -(c·y + κ·y').
	p.YawRateRadPerS = alongMps * (k + (float64(ddy*f)+float64(dy*(float64(c*y)+float64(k*dy))))/(speed*speed))
}
