// Sections that are recorded under wrong numbers.

package response

import (
	"math"
	"slices"
	"sort"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Order is an order of sections that explains a day better than their numbers do.
type Order struct {
	Kind            OrderKind
	By              int     // Shifted: how much too high the recorded numbers are
	Wrong           []int   // recorded numbers that stand for another section, from 0
	BeforeM, AfterM float64 // scatter of the sections it is about, with the recorded numbers and with the right ones
	Crossings       int
}

// OrderKind says how the recorded numbers differ from the sections.
type OrderKind uint8

const (
	Reversed  OrderKind = iota // the first is the last
	Shifted                    // all by the same number, those that fall off at one end may reappear at the other
	Exchanged                  // two are exchanged
)

const (
	// leastStagger is how far apart in time the sections of a crossing must cross for their
	// order to show.
	leastStaggerNs = 150e6
	leastStaggered = 5 // such crossings
	// A wrong order must make its sections scatter by wrongOrderM, and the right one leave
	// less than this share of that.
	wrongOrderM = 0.08
	betterOrder = 0.5
	surelySameM = 0.02
	// Where all else scatters as much, an order is taken that takes so many times the mean
	// square off that it leaves: the square of 6 standard errors.
	sureOrder = 36
)

// A view of residuals takes more or less out of them before orders are compared.
type view struct {
	steady bool // what a recorded number is late by on average: it may be a slow section
	within bool // what all sections of a crossing are late by; a shift of all numbers does not show then
}

// column is one crossing, by section.
type column struct {
	ideal, actual []*score.Event // nil = none; an ideal event may be missed
	on            bool
}

// orderOf returns the order of sections that explains the day better, nil if their own
// does, and puts the events of the day into it.
func orderOf(day *evidence.Day) *Order {
	n := len(day.Machine.Sections)
	events := &day.Actual
	if len(day.Actual) == 0 {
		events = &day.Setpoint
	}
	list := columns(*events, n)
	var out *Order
	var to []int
	gained := 0.0
	// Beside a slow section, or a bar that is late as a whole, the wrong two may seem exchanged.
	for _, v := range [...]view{{}, {steady: true}, {steady: true, within: true}} {
		if o, p, gain := bestOrder(list, n, v); o != nil && gain > gained {
			out, to, gained = o, p, gain
		}
	}
	if out == nil {
		return nil
	}
	for s, t := range to {
		if s != t {
			out.Wrong = append(out.Wrong, s)
		}
	}
	if len(day.Actual) > 0 && len(day.Setpoint) > 0 {
		setpoints := columns(day.Setpoint, n)
		any := func(int) bool { return true }
		own, other := scatter(setpoints, identity(n), view{steady: true}), scatter(setpoints, to, view{steady: true})
		was, _ := own.over(any)
		if is, count := other.over(any); count > 0 && is < was {
			day.Setpoint = relabelled(day.Setpoint, to)
		}
	}
	*events = relabelled(*events, to)
	return out
}

// bestOrder returns the likeliest order, the section that each recorded number stands for, and
// by how much it is likelier than the recorded one; nil if none halves the scatter of the
// sections it changes, or is sure beside all other scatter.
func bestOrder(list []column, n int, v view) (out *Order, to []int, gained float64) {
	before := scatter(list, identity(n), v)
	sum, count := before.over(func(int) bool { return true })
	if before.crossings < leastStaggered || sum < wrongOrderM*wrongOrderM*2*float64(count)/float64(n) {
		return nil, nil, 0 // not even two sections scatter enough
	}
	// try compares an order with the recorded one, by the sections that it changes.
	try := func(perm []int, o Order) {
		changed := func(s int) bool { return perm[s] != s }
		was, count := before.over(changed)
		after := scatter(list, perm, v)
		is, left := after.over(changed)
		if count == 0 || left == 0 || after.crossings < leastStaggered {
			return
		}
		o.BeforeM, o.AfterM, o.Crossings = math.Sqrt(was/float64(count)), math.Sqrt(is/float64(left)), before.crossings
		gain := before.likelier(&after, changed)
		perCrossing := float64(count) / float64(before.crossings) // its sections may be off alike
		better := o.AfterM < betterOrder*o.BeforeM || v.steady && (was-is > sureOrder*o.AfterM*o.AfterM || gain > sureOrder*perCrossing)
		if o.BeforeM > wrongOrderM && better && was > is && gain > gained {
			out, to, gained = &o, perm, gain
		}
	}
	try(permutation(n, func(s int) int { return n - 1 - s }), Order{Kind: Reversed})
	for by := 1; by <= n/2 && !v.within; by++ {
		for _, k := range [2]int{by, -by} {
			try(permutation(n, func(s int) int { return ((s-k)%n + n) % n }), Order{Kind: Shifted, By: k})
		}
	}
	for a := range n {
		for b := range a {
			try(permutation(n, func(s int) int {
				switch s {
				case a:
					return b
				case b:
					return a
				}
				return s
			}), Order{Kind: Exchanged})
		}
	}
	return out, to, gained
}

// lost reports whether a section of n has no number left when all are shifted.
func (o *Order) lost(section, n int) bool {
	return o.Kind == Shifted && (o.By > 0 && section >= n-o.By || o.By < 0 && section < -o.By)
}

func identity(n int) []int { return permutation(n, func(s int) int { return s }) }

// permutation is the section that each recorded number stands for.
func permutation(n int, of func(s int) int) []int {
	p := make([]int, n)
	for s := range p {
		p[s] = of(s)
	}
	return p
}

// columns gathers events to crossings by their ideal instants.
func columns(events []score.Event, n int) []column {
	sorted := byTime(slices.DeleteFunc(slices.Clone(events), func(e score.Event) bool {
		return e.Kind != score.Paired && e.Kind != score.Missed
	}))
	sort.SliceStable(sorted, func(i, j int) bool { return sorted[i].IdealNs < sorted[j].IdealNs })
	var list []column
	changes := make([]sections.WorkChange, len(sorted))
	for i := range sorted {
		changes[i] = sections.WorkChange{TimeNs: sorted[i].IdealNs, Section: sorted[i].Section, On: sorted[i].On}
	}
	for _, c := range score.Crossings(changes) {
		k := column{ideal: make([]*score.Event, n), actual: make([]*score.Event, n), on: c.On}
		for _, i := range c.Changes {
			e := &sorted[i]
			k.ideal[e.Section] = e
			if e.Kind == score.Paired {
				k.actual[e.Section] = e
			}
		}
		list = append(list, k)
	}
	return list
}

// residuals are the squared place errors of the changes at staggered crossings, in m²,
// around the line of each kind over speed: what is left of a lead and of a length.
type residuals struct {
	bySection []float64 // by recorded number, sum
	count     []int     // changes of each
	crossings int
}

// over adds up the residuals of some recorded numbers.
func (r *residuals) over(pick func(s int) bool) (sum float64, count int) {
	for s := range r.bySection {
		if pick(s) {
			sum += r.bySection[s]
			count += r.count[s]
		}
	}
	return sum, count
}

// likelier is twice by how much the log-likelihood of other residuals exceeds that of r, for
// normal errors of which each recorded number has its own variance: one section that comes at
// random does not drown what the others tell. Less than surelySameM of scatter is not told from
// none.
func (r *residuals) likelier(other *residuals, pick func(s int) bool) (gain float64) {
	variance := func(r *residuals, s int) float64 {
		return r.bySection[s]/float64(r.count[s]) + surelySameM*surelySameM
	}
	for s := range r.bySection {
		if n := min(r.count[s], other.count[s]); pick(s) && n > 0 {
			gain += float64(n) * math.Log(variance(r, s)/variance(other, s))
		}
	}
	return gain
}

// scatter returns the residuals if recorded number s stands for section to[s].
func scatter(list []column, to []int, v view) residuals {
	r := residuals{bySection: make([]float64, len(to)), count: make([]int, len(to))}
	type sample struct {
		section, crossing int
		speedMps, late    float64
	}
	var samples [2][]sample // of lifts, of drops
	var here []sample
	for k := range list {
		here = here[:0]
		first, last := int64(math.MaxInt64), int64(math.MinInt64)
		for s, e := range list[k].actual {
			if e == nil || list[k].ideal[to[s]] == nil {
				continue
			}
			ideal := list[k].ideal[to[s]]
			first, last = min(first, ideal.IdealNs), max(last, ideal.IdealNs)
			here = append(here, sample{s, k, ideal.SpeedMps, float64(e.ActualNs-ideal.IdealNs) * 1e-9 * ideal.SpeedMps})
		}
		if len(here) >= 2 && last-first >= leastStaggerNs {
			way := evidence.Way(list[k].on)
			samples[way] = append(samples[way], here...)
			r.crossings++
		}
	}
	for _, own := range samples {
		ones, speeds, late := make([]float64, len(own)), make([]float64, len(own)), make([]float64, len(own))
		for i, x := range own {
			ones[i], speeds[i], late[i] = 1, x.speedMps, x.late
		}
		columns := [][]float64{ones, speeds}
		g := regress.NewGram(columns, late, 0)
		f, ok := g.Fit(0, 1)
		if !ok { // one speed
			f, _ = g.Fit(0)
		}
		fit := regress.Predict(&f, columns, len(own))
		if v.within {
			for from := 0; from < len(own); {
				until, sum := from, 0.0
				for until < len(own) && own[until].crossing == own[from].crossing {
					sum += late[until] - fit[until]
					until++
				}
				for i := from; i < until; i++ {
					fit[i] += sum / float64(until-from)
				}
				from = until
			}
		}
		meanS, count := make([]float64, len(to)), make([]float64, len(to))
		for i, x := range own {
			late[i] -= fit[i]
			meanS[x.section] += late[i] / x.speedMps
			count[x.section]++
		}
		for i, x := range own {
			if v.steady {
				late[i] -= x.speedMps * meanS[x.section] / count[x.section]
			}
			r.bySection[x.section] += late[i] * late[i]
			r.count[x.section]++
		}
	}
	return r
}

// relabelled gives each recorded change to the section that its number stands for, and
// pairs the changes of each crossing anew.
func relabelled(events []score.Event, to []int) []score.Event {
	var out []score.Event
	for i := range events {
		if e := events[i]; e.Kind == score.Spurious || e.Kind == score.Start {
			e.Section = int16(to[e.Section])
			out = append(out, e)
		}
	}
	for _, c := range columns(events, len(to)) {
		from := make([]*score.Event, len(to)) // by section
		for s, e := range c.actual {
			if e != nil {
				from[to[s]] = e
			}
		}
		for s, ideal := range c.ideal {
			was := from[s]
			switch {
			case ideal != nil && was != nil:
				e := *ideal
				mps := e.SpeedMps
				if e.Kind == score.Paired && e.TimeErrorS != 0 && e.PlaceErrorM != 0 {
					mps = e.PlaceErrorM / e.TimeErrorS // the mean speed about here
				}
				e.Kind, e.ActualNs = score.Paired, was.ActualNs
				e.TimeErrorS = float64(e.ActualNs-e.IdealNs) * 1e-9
				e.PlaceErrorM = e.TimeErrorS * mps
				out = append(out, e)
			case ideal != nil:
				out = append(out, missed(*ideal))
			case was != nil:
				e := *was
				e.Section = int16(s)
				out = append(out, spurious(e))
			}
		}
	}
	return byTime(out)
}

// missed is a crossing without a change.
func missed(e score.Event) score.Event {
	e.Kind, e.ActualNs, e.TimeErrorS, e.PlaceErrorM = score.Missed, 0, math.NaN(), math.NaN()
	return e
}

// spurious is a change without a crossing.
func spurious(e score.Event) score.Event {
	e.Kind, e.IdealNs, e.TimeErrorS, e.PlaceErrorM = score.Spurious, 0, math.NaN(), math.NaN()
	return e
}
