// What the bar and the tractor sweep over on a turn.

package drive

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

// sweepStepM is how densely a turn is looked at.
const sweepStepM = 0.5

// sweep calls f with each pose along p, about sweepStepM apart, with the tool
// in line at the start. The pose is f's until it returns.
func sweep(p path, m *sections.Machine, f func(*motion.Pose)) {
	var before, pose motion.Pose
	for i := range p {
		l := &p[i]
		n := max(1, int(math.Ceil(l.lengthM/sweepStepM)))
		for j := 0; j <= n; j++ {
			at, k := l.at(l.lengthM * float64(j) / float64(n))
			pose = motion.Pose{
				EastM: at.eastM, NorthM: at.northM, HeadingRad: at.headingRad, ToolHeadingRad: at.headingRad,
				SpeedMps: 1, YawRateRadPerS: k,
			}
			if l.reverse {
				pose.SpeedMps = -1
			}
			if m.Mount == sections.Trailed && (i > 0 || j > 0) {
				// A metre a second; the joint of two legs is one pose twice.
				pose.TimeNs = before.TimeNs
				if j > 0 {
					pose.TimeNs += int64(l.lengthM / float64(n) * 1e9)
				}
				pose.ToolHeadingRad = motion.TrailStep(&before, &pose, m.HitchBehindM, m.DrawbarM)
			}
			f(&pose)
			before = pose
		}
	}
}

// outline calls f with points of the bar about a metre apart and with the
// tractor's turning point, for a machine at p.
func outline(p *motion.Pose, m *sections.Machine, b bar, f func(eastM, northM float64)) {
	f(p.EastM, p.NorthM)
	at := m.Frame(p)
	frame := place{at.EastM, at.NorthM, exact.Atan2(at.Sin, at.Cos)}
	n := int(math.Ceil(b.widthM()))
	for i := 0; i <= n; i++ {
		y := b.leftM + b.widthM()*float64(i)/float64(n)
		front := frame.ahead(b.frontM, y)
		f(front.eastM, front.northM)
		if b.backM < b.frontM {
			back := frame.ahead(b.backM, y)
			f(back.eastM, back.northM)
		}
	}
}
