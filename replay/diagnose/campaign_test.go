// The blind campaign: drives with a known fault, of many sizes, on days of many
// shapes; what the diagnosis says of them, counted.

package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
)

// truth is one fault of a drive, as it ought to be found.
type truth struct {
	cause   Cause
	move    string
	section int
	size    float64
	inject  func(*fault, float64)
	sizes   []float64
	// passes is how long a day must be for the fault to be of its kind.
	passes  int
	turning bool
	// blur: the size is of chance, or of no single number; no interval is checked.
	blur bool
}

// faults are the single faults of the campaign and the sizes of each.
var (
	timeSizes  = []float64{0.05, 0.1, 0.2, 0.4, 0.6, -0.1, -0.3}
	placeSizes = []float64{0.05, 0.1, 0.2, 0.35, 0.5, -0.1, -0.3}
	catalogue  = []truth{
		{cause: LiftTiming, inject: func(f *fault, x float64) { f.liftS = x }, sizes: timeSizes},
		{cause: DropTiming, inject: func(f *fault, x float64) { f.dropS = x }, sizes: timeSizes},
		{cause: Latency, inject: func(f *fault, x float64) { f.latencyS = x }, sizes: []float64{0.05, 0.1, 0.2, 0.4}},
		{cause: Geometry, inject: func(f *fault, x float64) { f.bothM = x }, sizes: placeSizes},
		{cause: LiftGeometry, inject: func(f *fault, x float64) { f.liftM = x }, sizes: placeSizes},
		{cause: DropGeometry, inject: func(f *fault, x float64) { f.dropM = x }, sizes: placeSizes},
		{cause: FlowShortage, inject: func(f *fault, x float64) { f.flowS = x }, sizes: []float64{0.01, 0.02, 0.035, 0.06}},
		{cause: ColdOil, inject: func(f *fault, x float64) { f.coldS, f.tauS = x, 400 }, sizes: []float64{0.1, 0.2, 0.4, 0.6}, passes: 20},
		{cause: SlowSection, section: 3, inject: func(f *fault, x float64) { f.slow, f.slowS = 3, x }, sizes: timeSizes[:5]},
		{cause: HeadingError, inject: func(f *fault, x float64) { f.headingS = x }, sizes: []float64{0.1, 0.2, -0.3, 0.5}, turning: true},
		{cause: WrongBorder, inject: func(f *fault, x float64) { f.borderM = x }, sizes: []float64{0.15, 0.3, -0.3, 0.5}},
		{cause: PoorReception, inject: func(f *fault, x float64) { f.floatM = x }, sizes: []float64{0.2, 0.4}, blur: true},
		{cause: ByHand, inject: func(f *fault, x float64) { f.byHand = x }, sizes: []float64{0.2, 0.4}, blur: true},
	}
	spreads = []float64{0.5, 1, 2, 4, 6}
	counts  = []int{30, 60, 120, 240, 400}
)

// generator makes a drive, and returns its fault as it came out.
type generator func(testing.TB, shape, fault) (evidence.Day, fault)

// tally is what became of the drives of one kind.
type tally struct {
	drives    int
	above     int // whose fault is above the floor that the diagnosis states
	first     int // of those: the right cause first
	open      int // of those: in doubt, the right cause among it
	wrong     int // of those: another cause first, or none
	extra     int // drives with a cause that is not there, beside it or alone
	intervals int // of sizes, where the right cause was found
	inside    int
	fits      int // intervals of Δt and Δx of lifts and drops
	within    int
}

func (t *tally) add(o tally) {
	t.drives += o.drives
	t.above += o.above
	t.first += o.first
	t.open += o.open
	t.wrong += o.wrong
	t.extra += o.extra
	t.intervals += o.intervals
	t.inside += o.inside
	t.fits += o.fits
	t.within += o.within
}

func inside(x float64, ci Interval) bool { return x >= ci[0] && x <= ci[1] }

// floorOf is the floor that the diagnosis states for a cause.
func floorOf(d *Diagnosis, tr *truth, s shape, events []score.Event) float64 {
	switch tr.cause {
	case WrongBorder:
		// A piece with k crossings, among all discs, at the receiver's scatter.
		k := float64(max(1, s.transitions/s.sections/6))
		if k < regress.SureStretch {
			return math.Inf(1)
		}
		return 8 * s.noiseM / math.Sqrt(k)
	case HeadingError:
		// The slope of a crossing scatters by lightM/√Σy², Σy² of six sections.
		k := float64(s.transitions / s.sections)
		if k < 8 {
			return math.Inf(1)
		}
		return 5*s.lightM/yawOf(events)/math.Sqrt(17.5*k) + 0.02
	case PoorReception, ByHand:
		if s.transitions < 120 {
			return math.Inf(1)
		}
		if tr.cause == ByHand { // so that by chance there are hardly fewer than three
			return 84 / float64(s.transitions)
		}
		return 0
	}
	for _, f := range d.Floors {
		if f.Cause == tr.cause && f.Move == tr.move {
			if f.Size == nil {
				return math.Inf(1)
			}
			return *f.Size
		}
	}
	return math.Inf(1)
}

// yawOf is the root mean square of the yaw rates of transitions.
func yawOf(events []score.Event) float64 {
	sum := 0.0
	for _, e := range events {
		sum += e.YawRateRadPerS * e.YawRateRadPerS
	}
	return math.Sqrt(sum / float64(len(events)))
}

// judge runs one drive and counts what was said.
func judgeDrive(t testing.TB, generate generator, s shape, f fault, want []truth) tally {
	in, f := generate(t, s, f)
	for k := range want {
		switch want[k].cause {
		case FlowShortage:
			want[k].size = f.flowS
		case HeadingError:
			want[k].size = f.headingS
		}
	}
	d, err := Run(in)
	if err != nil {
		t.Fatalf("%+v: %v", s, err)
	}
	c := tally{drives: 1}
	is := func(f *Finding, tr *truth) bool {
		return f.Cause == tr.cause && f.Section == tr.section
	}
	for i := range d.Causes {
		known := false
		for k := range want {
			known = known || is(&d.Causes[i], &want[k])
		}
		if !known {
			c.extra = 1
		}
	}
	all := true
	for k := range want {
		all = all && math.Abs(want[k].size) >= floorOf(d, &want[k], s, in.Actual)
	}
	c.lines(d, f)
	for i := range d.Causes {
		for k := range want {
			if is(&d.Causes[i], &want[k]) && !want[k].blur {
				c.intervals++
				if inside(want[k].size, d.Causes[i].CI95) {
					c.inside++
				}
			}
		}
	}
	if len(want) == 0 {
		return c
	}
	if !all {
		return c
	}
	c.above = 1
	right := len(d.Causes) >= len(want)
	for i := 0; right && i < len(want); i++ {
		known := false
		for k := range want {
			if is(&d.Causes[i], &want[k]) {
				known = true
			}
		}
		right = known
	}
	if right {
		c.first = 1
		return c
	}
	for _, q := range d.CannotTell {
		for _, b := range q.Between {
			for k := range want {
				if b == want[k].cause {
					c.open = 1
				}
			}
		}
	}
	if c.open == 0 {
		c.wrong = 1
	}
	return c
}

// lines counts the intervals of both fits. Faults that are neither a time nor a
// place error are to be found beside them.
func (c *tally) lines(d *Diagnosis, f fault) {
	if f.flowS != 0 || f.coldS != 0 || f.borderM != 0 {
		return // where they go unseen they are part of the line
	}
	for _, l := range []struct {
		fit          *Fit
		timeS, place float64
	}{{&d.Lift, f.liftS + f.latencyS, f.liftM + f.bothM}, {&d.Drop, f.dropS + f.latencyS, f.dropM + f.bothM}} {
		if l.fit.TimeErrorS == nil {
			continue
		}
		c.fits += 2
		if inside(l.timeS, *l.fit.TimeErrorCI) {
			c.within++
		}
		if inside(l.place, *l.fit.PlaceErrorCI) {
			c.within++
		}
	}
}

// rows are the tallies by kind of drive.
type rows struct {
	names []string
	of    map[string]*tally
}

func (r *rows) add(name string, c tally) {
	if r.of == nil {
		r.of = map[string]*tally{}
	}
	if r.of[name] == nil {
		r.of[name] = &tally{}
		r.names = append(r.names, name)
	}
	r.of[name].add(c)
}

func share(k, n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f %%", 100*float64(k)/float64(n))
}

// shareIn is a share with where its true value may lie, 95 % (Clopper and
// Pearson, Biometrika 26(4):404-413, 1934; from memory).
func shareIn(k, n int) string {
	if n == 0 {
		return "-"
	}
	lo, hi := 0.0, 1.0
	if k > 0 {
		lo = distuv.Beta{Alpha: float64(k), Beta: float64(n-k) + 1}.Quantile(0.025)
	}
	if k < n {
		hi = distuv.Beta{Alpha: float64(k) + 1, Beta: float64(n - k)}.Quantile(0.975)
	}
	return fmt.Sprintf("%s (%.0f to %.0f)", share(k, n), 100*lo, 100*hi)
}

// markdown is the table as it stands in the README of this package.
func (r *rows) markdown() string {
	var b strings.Builder
	b.WriteString("| drives with | drives | above the floor | right cause first | in doubt | wrong | with a false cause | size in its interval | Δt and Δx in theirs |\n")
	b.WriteString("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n")
	for _, name := range r.names {
		c := r.of[name]
		fmt.Fprintf(&b, "| %s | %d | %d | %s | %s | %s | %s | %s | %s |\n", name, c.drives, c.above,
			share(c.first, c.above), share(c.open, c.above), share(c.wrong, c.above), share(c.extra, c.drives), shareIn(c.inside, c.intervals), share(c.within, c.fits))
	}
	return b.String()
}

// overGrid drives the whole grid, each point so many times; of all these drives
// it takes one in thin.
// lightM is what sections scatter by within a crossing.
func overGrid(t *testing.T, generate generator, lightM float64, catalogue []truth, times, thin int) *rows {
	var r rows
	drive := func(name string, s shape, f fault, want []truth) {
		if s.seed%uint64(thin) == 0 {
			r.add(name, judgeDrive(t, generate, s, f, want))
		}
	}
	seed := uint64(0)
	rng := rand.New(rand.NewPCG(11, 3))
	next := func(n int, spread float64) shape {
		seed++
		return shape{
			seed: seed, transitions: n, sections: 6, kmh: 3 + 4*rng.Float64(), spreadKmh: spread,
			noiseM: 0.0143, lightM: lightM, braking: true,
		}
	}
	for range times {
		for _, n := range counts {
			for _, spread := range spreads {
				for range 4 {
					s := next(n, spread)
					drive("nothing wrong", s, fault{}, nil)
				}
			}
		}
	}
	for _, tr := range catalogue {
		for range times {
			for _, size := range tr.sizes {
				for _, n := range counts {
					for _, spread := range spreads {
						s := next(n, spread)
						s.turning = tr.turning
						if n/12 < tr.passes {
							continue
						}
						var f fault
						tr.inject(&f, size)
						tr.size = size
						drive(string(tr.cause), s, f, []truth{tr})
					}
				}
			}
		}
	}
	for i := range catalogue {
		for j := range i {
			one, two := catalogue[i], catalogue[j]
			if kin(one.cause, two.cause) || one.blur || two.blur {
				continue
			}
			for range times {
				for _, n := range counts[2:] {
					s := next(n, spreads[rng.IntN(3)+2])
					s.turning = one.turning || two.turning
					if n/12 < max(one.passes, two.passes) {
						continue
					}
					one.size, two.size = one.sizes[rng.IntN(len(one.sizes))], two.sizes[rng.IntN(len(two.sizes))]
					var f fault
					one.inject(&f, one.size)
					two.inject(&f, two.size)
					drive("two of these", s, f, []truth{one, two})
				}
			}
		}
	}
	return &r
}

// kin are causes whose sum is another cause: lifts and drops both off by a time
// or by a place.
func kin(a, b Cause) bool {
	family := func(c Cause) string { return (&terms.Term{Cause: c}).Family() }
	return family(a) == family(b)
}

// accept holds the table against what the diagnosis promises.
func accept(t *testing.T, r *rows) {
	t.Logf("\n%s", r.markdown())
	var single, every tally
	for _, name := range r.names {
		every.add(*r.of[name])
		if name != "nothing wrong" && name != "two of these" {
			single.add(*r.of[name])
		}
	}
	healthy := r.of["nothing wrong"]
	for _, c := range []struct {
		what          string
		k, n          int
		least, atMost float64
	}{
		{"right cause first in drives above the floor", single.first, single.above, 0.95, 1},
		{"a cause in healthy drives", healthy.extra, healthy.drives, 0, 0.05},
		{"the true size inside its intervals", every.inside, every.intervals, 0.92, 0.98},
		{"the true Δt or Δx inside its intervals", every.within, every.fits, 0.92, 0.98},
	} {
		if c.n == 0 {
			t.Errorf("%s: no such drive", c.what)
		}
		if below(c.k, c.n, c.least) || below(c.n-c.k, c.n, 1-c.atMost) {
			t.Errorf("%s: %d of %d; want %g to %g %%", c.what, c.k, c.n, 100*c.least, 100*c.atMost)
		}
	}
}

// below reports whether k of n are fewer than a share: in the whole campaign by
// count, in a part of it beyond chance, once in a hundred.
func below(k, n int, share float64) bool {
	if campaign.Full() || share == 0 {
		return float64(k) < share*float64(n)
	}
	return distuv.Binomial{N: float64(n), P: share}.CDF(float64(k)) < 0.01
}

// partOr says how often each point of the grid is driven, and one
// in how many of those drives is: all of them in the whole campaign. A part shares no
// factor with the grid, so that it meets all of it.
func partOr(times, part int) (often, thin int) {
	if campaign.Full() {
		return times, 1
	}
	return 1, part
}

// longTest skips a test that takes seconds where -short asks for quick ones.
func longTest(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("takes seconds, and -short is given")
	}
}

func TestCampaignClosedForm(t *testing.T) {
	longTest(t)
	t.Parallel()
	times, thin := partOr(3, 3)
	accept(t, overGrid(t, func(_ testing.TB, s shape, f fault) (evidence.Day, fault) { return closedForm(s, f), f }, 0.003, catalogue, times, thin))
}

// benchLightM is what the noise of a heading on the bench moves a section by, as
// the closed form's lightM: 0.0125 rad on healthy drives
// in bends, times √Σy² of six sections.
const benchLightM = 0.0125 * 4.18

// On the bench, against the true track.
func TestCampaignBench(t *testing.T) {
	longTest(t)
	t.Parallel()
	times, thin := partOr(2, 61)
	accept(t, overGrid(t, func(tb testing.TB, s shape, f fault) (evidence.Day, fault) { return onBench(tb, s, f, false) }, benchLightM, catalogue, times, thin))
}

// On the bench, scored as a log is: against the track of its own positions.
// These hide what of a float's error is in both, so poor reception is left out.
func TestCampaignLog(t *testing.T) {
	longTest(t)
	t.Parallel()
	times, thin := partOr(1, 89)
	faults := slices.DeleteFunc(slices.Clone(catalogue), func(t truth) bool { return t.cause == PoorReception })
	accept(t, overGrid(t, func(tb testing.TB, s shape, f fault) (evidence.Day, fault) { return onBench(tb, s, f, true) }, benchLightM, faults, times, thin))
}

// On the bench, in bends: the part of the campaign holds too few of these to fail
// by them.
func TestHeadingOnBench(t *testing.T) {
	longTest(t)
	t.Parallel()
	heading := truth{cause: HeadingError}
	for _, size := range []float64{-0.5, 0, 0.5} {
		for _, log := range []bool{false, true} {
			s := shape{seed: 5, transitions: 240, sections: 6, kmh: 5, spreadKmh: 2, noiseM: 0.0143, lightM: benchLightM, turning: true}
			heading.size = size
			var want []truth
			if size != 0 {
				want = []truth{heading}
			}
			c := judgeDrive(t, func(tb testing.TB, s shape, f fault) (evidence.Day, fault) { return onBench(tb, s, f, log) }, s, fault{headingS: size}, want)
			if c.extra > 0 || c.first < len(want) || c.inside < len(want) {
				t.Errorf("heading %g s, scored as a log %t: %+v", size, log, c)
			}
		}
	}
}
