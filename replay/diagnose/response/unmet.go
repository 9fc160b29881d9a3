// Setpoints, or crossings, after which nothing changed.

package response

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// Unmet is a section, or the machine, that does not follow.
type Unmet struct {
	Section    int  // from 0; -1 = the machine
	Commanded  bool // setpoints were not followed; otherwise nothing changed at crossings
	Lift, Drop Count
	AtOnce     bool // all failures follow one another: a section that stands still, or a sensor that sticks
}

// Count is how often something was asked for and did not happen.
type Count struct {
	Failed, Asked int
	Places        int // crossings at which it was asked for
}

const (
	leastUnmet      = 3     // of a section or of the machine
	leastUnmetShare = 0.03  // of what it was asked for
	leastAtOnce     = 4     // failures in a row that look like a sensor that sticks
	chance          = 0.005 // with which one of the sections seems worse than the others
	// afterNs is how long after a setpoint a change is waited for, beforeNs how much
	// earlier it may be recorded.
	afterNs, beforeNs = 10e9, 500e6
	// elsewhereNs is how near a change without a border must be to have been made by hand
	// in place of one at a border.
	elsewhereNs = 30e9
	// receptionNs is how long before a crossing poor reception may keep tools up.
	receptionNs = 5e9
)

// asked is one thing a section was asked for.
type asked struct {
	section int
	on      bool
	ns      int64
	failed  bool
}

// unmet returns who does not follow, and how much more was not followed.
func unmet(day *evidence.Day, r *evidence.Reception) (found []Unmet, missed int) {
	if len(day.Actual) == 0 {
		return nil, 0
	}
	list := atCrossings(day.Actual, r)
	commanded := len(day.Setpoint) > 0
	if commanded {
		list = atSetpoints(day)
	}
	n := len(day.Machine.Sections)
	of := make([]Unmet, n)
	for s := range of {
		of[s] = Unmet{Section: s, Commanded: commanded}
	}
	for i := range list {
		of[list[i].section].add(&list[i])
	}
	left := make([]bool, n) // not found by itself
	for s := range left {
		left[s] = true
	}
	ofRun := make([]float64, n)
	for s := range of {
		ofRun[s] = chanceOfRun(list, s, left)
	}
	for range of { // the worst first, so that it does not hide the next
		worst, least := -1, chance/float64(2*n)
		for s := range of {
			if p := min(of[s].chanceBeside(of, left), ofRun[s]); left[s] && p < least {
				worst, least = s, p
			}
		}
		if worst < 0 {
			break
		}
		left[worst] = false
		of[worst].Lift.Places, of[worst].Drop.Places = of[worst].Lift.Asked, of[worst].Drop.Asked
		of[worst].AtOnce = atOnce(list, worst)
		found = append(found, of[worst])
	}
	sort.Slice(found, func(i, j int) bool { return found[i].Section < found[j].Section })
	all := Unmet{Section: -1, Commanded: commanded}
	for i := range list {
		if left[list[i].section] {
			all.add(&list[i])
		}
	}
	asks := slices.DeleteFunc(slices.Clone(list), func(a asked) bool { return !left[a.section] })
	sort.SliceStable(asks, func(i, j int) bool { return asks[i].ns < asks[j].ns })
	changes := make([]sections.WorkChange, len(asks))
	for i, a := range asks {
		changes[i] = sections.WorkChange{TimeNs: a.ns, Section: int16(a.section), On: a.on}
	}
	for _, c := range score.Crossings(changes) {
		all.of(c.On).Places++
	}
	if failed := all.failed(); failed >= leastUnmet && max(all.Lift.Share(), all.Drop.Share()) >= leastUnmetShare {
		if s := onlyFailing(list, left); s >= 0 && n > 1 { // too few to exclude chance, but nobody else failed
			all = of[s]
			all.Lift.Places, all.Drop.Places = all.Lift.Asked, all.Drop.Asked
		}
		return append(found, all), 0
	}
	return found, all.failed()
}

// onlyFailing returns the section that alone failed, of those that are left; -1 if several did
// or none.
func onlyFailing(list []asked, left []bool) int {
	only := -1
	for i := range list {
		switch a := &list[i]; {
		case !a.failed || !left[a.section]:
		case only >= 0 && only != a.section:
			return -1
		default:
			only = a.section
		}
	}
	return only
}

// Share is how much failed of what was asked for.
func (c Count) Share() float64 { return float64(c.Failed) / math.Max(1, float64(c.Asked)) }

func (u *Unmet) failed() int { return u.Lift.Failed + u.Drop.Failed }
func (u *Unmet) asked() int  { return u.Lift.Asked + u.Drop.Asked }

// Never reports whether nothing that was asked for happened.
func (u *Unmet) Never() bool { return u.failed() == u.asked() }

// of is the count of drops, with on, or of lifts.
func (u *Unmet) of(on bool) *Count {
	if on {
		return &u.Drop
	}
	return &u.Lift
}

// atOnce reports whether a section's failures are those of one stretch, in which it did nothing
// that it was asked for: at least leastAtOnce of them, and beside them no more than chance
// leaves in such a row.
func atOnce(list []asked, section int) bool {
	run, own, failed := longestRun(list, section)
	outside := float64(failed-run+1) / float64(own-run+2)
	return run >= leastAtOnce && (failed == run || float64(own)*math.Pow(outside, float64(run)) < chance)
}

// longestRun is how many times in a row a section failed, at most, where others did not fail
// with it; and how often it was asked, and failed, in all.
func longestRun(list []asked, section int) (run, own, failed int) {
	var of []asked
	for _, a := range list {
		if a.section == section {
			of = append(of, a)
		}
	}
	sort.SliceStable(of, func(i, j int) bool { return of[i].ns < of[j].ns })
	now := 0
	for _, a := range of {
		own++
		switch {
		case !a.failed:
			now = 0
		case mostFailed(list, a):
			failed++ // with the machine: neither for a stretch of its own nor against it
		default:
			failed++
			now++
			run = max(run, now)
		}
	}
	return run, own, failed
}

// mostFailed reports whether most of the other sections failed at the crossing of a.
func mostFailed(list []asked, a asked) bool {
	failed, n := 0, 0
	for _, b := range list {
		if b.section != a.section && b.on == a.on && b.ns > a.ns-afterNs && b.ns < a.ns+afterNs {
			n++
			if b.failed {
				failed++
			}
		}
	}
	return 2*failed > n
}

// chanceOfRun is the probability that chance has a section fail so often in a row, where each
// fails as often as the others do.
func chanceOfRun(list []asked, section int, left []bool) float64 {
	run, own, _ := longestRun(list, section)
	failed, n := 0, 0
	for _, a := range list {
		if a.section != section && left[a.section] {
			n++
			if a.failed {
				failed++
			}
		}
	}
	if run < leastAtOnce {
		return 1
	}
	return float64(own) * math.Pow(float64(failed+1)/float64(n+2), float64(run))
}

func (u *Unmet) add(a *asked) {
	c := u.of(a.on)
	c.Asked++
	if a.failed {
		c.Failed++
	}
}

// chanceBeside is the probability that chance gives a section so many of the failures of
// all that are left, itself among them; 1 if it fails too rarely to matter.
func (u *Unmet) chanceBeside(of []Unmet, left []bool) float64 {
	failed, asked := 0, 0
	for s := range of {
		if left[s] {
			failed += of[s].failed()
			asked += of[s].asked()
		}
	}
	if u.failed() < leastUnmet || float64(u.failed()) < leastUnmetShare*float64(u.asked()) {
		return 1
	}
	return atLeast(u.failed(), u.asked(), failed, asked)
}

// atLeast is the probability that of n drawn from a total of which some are marked, k or
// more are marked: Fisher's exact test, one side.
func atLeast(k, n, marked, total int) float64 {
	choose := func(n, k int) float64 {
		a, _ := math.Lgamma(float64(n) + 1)
		b, _ := math.Lgamma(float64(k) + 1)
		c, _ := math.Lgamma(float64(n-k) + 1)
		return a - b - c
	}
	p := 0.0
	for x := max(k, n-(total-marked)); x <= min(n, marked); x++ {
		p += math.Exp(choose(marked, x) + choose(total-marked, n-x) - choose(total, n))
	}
	return p
}

// atSetpoints returns what the setpoints asked for. One that asks for the state a section
// is in already asks for nothing.
func atSetpoints(day *evidence.Day) []asked {
	n := len(day.Machine.Sections)
	states, setpoints := changesOf(day.Actual, n), changesOf(day.Setpoint, n)
	first, last := int64(math.MaxInt64), int64(math.MinInt64) // of all recorded states
	for _, l := range states {
		if len(l) > 0 {
			first, last = min(first, l[0].ns), max(last, l[len(l)-1].ns)
		}
	}
	var list []asked
	for s := range setpoints {
		k := 0 // the first state that may answer
		for i, c := range setpoints[s] {
			if c.ns < first-afterNs || c.ns > last {
				continue // before states were recorded, or after
			}
			for k < len(states[s]) && states[s][k].ns < c.ns-beforeNs {
				k++
			}
			known := len(states[s]) > 0
			inState := known && k > 0 && states[s][k-1].on == c.on || known && k == 0 && states[s][0].on != c.on
			until := c.ns + int64(afterNs)
			if i+1 < len(setpoints[s]) {
				until = min(until, setpoints[s][i+1].ns+beforeNs)
			}
			answered := false
			for q := k; q < len(states[s]) && states[s][q].ns <= until; q++ {
				answered = answered || states[s][q].on == c.on
			}
			if inState && !answered {
				continue
			}
			list = append(list, asked{s, c.on, c.ns, !answered})
		}
	}
	return list
}

// atCrossings returns what crossings asked for, where setpoints are not recorded.
func atCrossings(events []score.Event, r *evidence.Reception) []asked {
	var list []asked
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired {
			list = append(list, asked{int(e.Section), e.On, e.IdealNs, false})
		}
	}
	return append(list, missedCrossings(events, r)...)
}

// missedCrossings returns the crossings at which nothing changed although the state was
// the other one, reception was good and no hand made the change elsewhere.
func missedCrossings(events []score.Event, r *evidence.Reception) []asked {
	sections := 0
	for i := range events {
		sections = max(sections, int(events[i].Section)+1)
	}
	states := changesOf(events, sections)
	elsewhere := make([][2][]int64, sections)
	for i := range events {
		if e := &events[i]; e.Kind == score.Spurious {
			way := evidence.Way(e.On)
			elsewhere[e.Section][way] = append(elsewhere[e.Section][way], e.ActualNs)
		}
	}
	for s := range elsewhere {
		slices.Sort(elsewhere[s][0])
		slices.Sort(elsewhere[s][1])
	}
	shiftNs := usualShiftNs(events)
	ideal := make([][2][]int64, sections) // crossings by section and way
	for i := range events {
		if e := &events[i]; e.IdealNs != 0 {
			way := evidence.Way(e.On)
			ideal[e.Section][way] = append(ideal[e.Section][way], e.IdealNs)
		}
	}
	for s := range ideal {
		slices.Sort(ideal[s][0])
		slices.Sort(ideal[s][1])
	}
	var list []asked
	for i := range events {
		e := &events[i]
		if e.Kind != score.Missed || near(elsewhere[e.Section][evidence.Way(e.On)], e.IdealNs-elsewhereNs, e.IdealNs+elsewhereNs) ||
			r.Between(e.IdealNs-receptionNs, e.IdealNs).Any() {
			continue
		}
		own := states[e.Section]
		k, _ := slices.BinarySearchFunc(own, e.IdealNs, func(c change, ns int64) int { return cmp.Compare(c.ns, ns) })
		if k > 0 && own[k-1].on == e.On || k == 0 && len(own) > 0 && own[0].on != e.On {
			continue // in that state already
		}
		// A change as early, or as late, as the others falls beyond the opposite one,
		// where it changes nothing.
		way := evidence.Way(e.On)
		if from, until := e.IdealNs+min(shiftNs[way], 0), e.IdealNs+max(shiftNs[way], 0); near(ideal[e.Section][1-way], from-shiftSlackNs, until+shiftSlackNs) && until-from > shiftSlackNs {
			continue
		}
		list = append(list, asked{int(e.Section), e.On, e.IdealNs, true})
	}
	return list
}

// shiftSlackNs is how far single lifts, or drops, are from the usual error of all.
const shiftSlackNs = 500e6

// usualShiftNs is the median time error of lifts and of drops, ns, positive = late.
func usualShiftNs(events []score.Event) (shiftNs [2]int64) {
	var errorsS [2][]float64
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired {
			way := evidence.Way(e.On)
			errorsS[way] = append(errorsS[way], e.TimeErrorS)
		}
	}
	for way, list := range errorsS {
		if len(list) > 0 {
			shiftNs[way] = int64(sample.Median(list) * 1e9)
		}
	}
	return shiftNs
}
