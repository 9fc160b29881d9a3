// Ways between passes on which the tools would be told to work, because a turn runs
// along the rows of a zone that is worked as a pass does.

package drive

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

const (
	// alongRad is how far from the rows a way still runs along them, and
	// straightRadiusM is the tightest path that does: a little more than controllers
	// are set to, as the way is looked at in steps.
	alongRad        = 12 * math.Pi / 180
	straightRadiusM = 10.0
	// behindM of the pass before tells which rows were followed last.
	behindM = 20.0
	// strayedM is less than any section works for.
	strayedM = 0.4
)

// strayM is how many metres of the way from one pass to the next a section would
// be in work on, by the rule of sections.Follow. The last section was out of the
// pass before outM ahead of from, and the first is in the next one aheadM after to.
func (pl *planner) strayM(from place, outM float64, way path, to place, aheadM float64) float64 {
	whole := path{arc(from, pl.bent(from), -outM-behindM)}
	whole = append(whole, way...)
	if ahead := aheadM - sweepStepM; ahead > lengthTolM {
		whole = append(whole, arc(to, pl.bent(to), ahead))
	}
	total, stray := 0.0, 0.0
	var w sections.Follow
	var last motion.Pose
	var on [sections.MaxSections]bool
	sweep(whole, pl.m, func(pose *motion.Pose) {
		step := 0.0
		if w.Started {
			step = exact.Hypot(pose.EastM-last.EastM, pose.NorthM-last.NorthM)
		}
		pl.gate.Follow(&w, pose)
		last = *pose
		if total += step; total <= behindM+sweepStepM {
			return
		}
		if w.Zones&^pl.f.Unbound() == 0 {
			on = [sections.MaxSections]bool{}
			return
		}
		f := pl.m.Frame(pose)
		any := false
		for i := range pl.m.Sections {
			le, ln, re, rn := pl.m.Line(i, &f)
			on[i] = pl.f.At((le+re)/2, (ln+rn)/2)&pl.gate.May(&w, on[i])&^pl.f.Unbound() != 0
			any = any || on[i]
		}
		if any {
			stray += step
		}
	})
	return stray
}
