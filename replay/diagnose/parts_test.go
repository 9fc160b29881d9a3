// The parts of a diagnosis one by one, beside textbook values and sums by hand.

package diagnose

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/response"
	"liftbench/replay/diagnose/suspect"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Student's two-sample t on the logarithms, 1 ms added, with the table's
// t = 2.446912 of 6 degrees of freedom.
func TestWorse(t *testing.T) {
	bad, good := []float64{0.4, 0.5, 0.6}, []float64{0.02, 0.03, 0.025, 0.03, 0.02}
	logMean := func(list []float64) (mean, squares float64) {
		for _, x := range list {
			mean += math.Log(x+0.001) / float64(len(list))
		}
		for _, x := range list {
			squares += math.Pow(math.Log(x+0.001)-mean, 2)
		}
		return mean, squares
	}
	b, sb := logMean(bad)
	g, sg := logMean(good)
	half := 2.446912 * math.Sqrt((sb+sg)/6*(1.0/3+1.0/5))
	more := func(d float64) float64 { return math.Exp(g+d) - math.Exp(g) }
	f := suspect.WorseReception(bad, good)
	if f == nil || !(math.Abs(f.Size-more(b-g)) <= 1e-9) || !(math.Abs(f.CI95[0]-more(b-g-half)) <= 1e-6) || !(math.Abs(f.CI95[1]-more(b-g+half)) <= 1e-6) || f.Crossings != 3 || f.Cause != PoorReception {
		t.Errorf("%+v; want %g, %g to %g", f, more(b-g), more(b-g-half), more(b-g+half))
	}
	for name, two := range map[string][2][]float64{
		"few bad":        {bad[:2], good},
		"few good":       {bad, good[:4]},
		"better":         {good[:3], []float64{0.4, 0.5, 0.6, 0.5, 0.4}},
		"alike":          {{0.03, 0.02, 0.025}, good},
		"chance":         {{0.001, 0.05, 0.6}, {0.01, 0.2, 0.03, 0.001, 0.1}},
		"small":          {{0.0052, 0.0053, 0.0054}, {0.001, 0.0011, 0.001, 0.0012, 0.001}},
		"less than half": {{0.13, 0.131, 0.132}, {0.1, 0.101, 0.1, 0.102, 0.1}},
	} {
		if f := suspect.WorseReception(two[0], two[1]); f != nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
	if f := suspect.WorseReception([]float64{0.17, 0.171, 0.172}, []float64{0.1, 0.101, 0.1, 0.102, 0.1}); f == nil {
		t.Error("70 % more, surely: not found")
	}
}

// Least squares of two columns by Cramer's rule, and the variance of the second
// coefficient when a drop and the lift after it err together.
func TestGramByCramer(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 72))
	const n = 30
	ts := peers.Tilts{}
	y := make([]float64, n)
	for k := range n {
		ts.Straight = append(ts.Straight, 1+rng.Float64())
		ts.Yaw = append(ts.Yaw, rng.NormFloat64())
		ts.Drop = append(ts.Drop, k%2 == 0)
		y[k] = 0.3*ts.Straight[k] - 0.2*ts.Yaw[k] + 0.1*float64(1+k/2%3)*rng.NormFloat64()
	}
	a, b, d, p, q := 0.0, 0.0, 0.0, 0.0, 0.0
	for k := range n {
		a += ts.Straight[k] * ts.Straight[k]
		b += ts.Straight[k] * ts.Yaw[k]
		d += ts.Yaw[k] * ts.Yaw[k]
		p += ts.Straight[k] * y[k]
		q += ts.Yaw[k] * y[k]
	}
	det := a*d - b*b
	beta := [2]float64{(p*d - q*b) / det, (a*q - b*p) / det}
	f, ok := regress.NewGram([][]float64{ts.Straight, ts.Yaw}, y, 0).Fit(0, 1)
	fit, rss := make([]float64, n), 0.0
	for k := range n {
		fit[k] = beta[0]*ts.Straight[k] + beta[1]*ts.Yaw[k]
		rss += (y[k] - fit[k]) * (y[k] - fit[k])
	}
	se := math.Sqrt(rss / (n - 2) * a / det)
	if !ok || !(math.Abs(f.Beta[0]-beta[0]) <= 1e-9) || !(math.Abs(f.Beta[1]-beta[1]) <= 1e-9) || !(math.Abs(f.RSS-rss) <= 1e-9) || f.DF != n-2 || !(math.Abs(f.SE(1)-se) <= 1e-9) {
		t.Fatalf("%+v, se %g; want %v, rss %g, se %g", f, f.SE(1), beta, rss, se)
	}
	sum := 0.0
	for k := 0; k < n; k += 2 {
		pair := 0.0
		for i := k; i < k+2; i++ {
			x, z := ts.Straight[i], ts.Yaw[i]
			h := (d*x*x - 2*b*x*z + a*z*z) / det
			pair += (a*z - b*x) / det * (y[i] - fit[i]) / math.Sqrt(1-h)
		}
		sum += pair * pair
	}
	if got := ts.Variance(&f, y, fit); !(math.Abs(got-max(sum, se*se)) <= 1e-9*got) {
		t.Errorf("variance %g; want the larger of %g and %g", got, sum, se*se)
	}
	// Lifts and drops that err alike: more than even scatter.
	for k := range y {
		y[k] = 0.3*ts.Straight[k] - 0.2*ts.Yaw[k] + 0.2*math.Sin(float64(k/2))*ts.Yaw[k]
	}
	f, _ = regress.NewGram([][]float64{ts.Straight, ts.Yaw}, y, 0).Fit(0, 1)
	sum, fit = 0, regress.Predict(&f, [][]float64{ts.Straight, ts.Yaw}, n)
	for k := 0; k < n; k += 2 {
		pair := 0.0
		for i := k; i < k+2; i++ {
			x, z := ts.Straight[i], ts.Yaw[i]
			pair += (a*z - b*x) / det * (y[i] - fit[i]) / math.Sqrt(1-(d*x*x-2*b*x*z+a*z*z)/det)
		}
		sum += pair * pair
	}
	if got := ts.Variance(&f, y, fit); sum <= f.SE(1)*f.SE(1) || !(math.Abs(got-sum) <= 1e-9*sum) {
		t.Errorf("variance %g; want %g, which is more than %g", got, sum, f.SE(1)*f.SE(1))
	}
	for _, set := range [][]int{{0, 1, 2}, {0, 2}} {
		if _, ok := regress.NewGram([][]float64{ts.Straight, ts.Yaw, ts.Straight}, y, 0).Fit(set...); ok {
			t.Errorf("columns %v can be told apart, though two are one", set)
		}
	}
	if _, ok := regress.NewGram([][]float64{{1, 2}, {0, 1}}, []float64{1, 2}, 0).Fit(0, 1); ok {
		t.Error("two rows decide two columns")
	}
	if _, ok := regress.NewGram([][]float64{{0, 0, 0}}, []float64{1, 2, 3}, 0).Fit(0); ok {
		t.Error("a column of zeros is fitted")
	}
}

// Sentences say sizes in the trade's units, the way by a word, and errors at
// the slowest and the fastest crossing.
func TestEvidence(t *testing.T) {
	a := &analysis{lastS: 5400, moves: []evidence.Move{{SpeedMps: 1, Others: 3, Beside: 3}, {SpeedMps: 2, On: true}, {SpeedMps: 2.5}}}
	day := &evidence.Day{Machine: &sections.Machine{Sections: make([]sections.Section, 6)}, Settings: sections.DefaultSettings(), LiftStrokeNs: 500e6}
	w := &wording{day: day}
	ci := func(lo, hi float64) Interval { return Interval{lo, hi} }
	for _, tc := range []struct {
		f    found
		says []string
	}{
		{found{Term: terms.Term{Cause: LiftTiming, Moves: evidence.Lifts}, Size: 0.12, CI95: ci(0.1, 0.14), Crossings: 7},
			[]string{"Lifts come 120 ms late", "interval 100 to 140 ms", "7 crossings", "12 cm at 3.6 km/h", "30 cm at 9.0 km/h"}},
		{found{Term: terms.Term{Cause: DropTiming, Moves: evidence.Drops}, Size: -0.12, CI95: ci(-0.14, -0.1), Crossings: 7},
			[]string{"Drops come 120 ms early", "interval 100 to 140 ms", "24 cm at 7.2 km/h"}},
		{found{Term: terms.Term{Cause: Latency, Moves: evidence.Both}, Size: 0.05, CI95: ci(0.04, 0.06), Crossings: 9}, []string{"Lifts and drops come 50 ms late alike", "5 cm at 3.6 km/h", "12 cm at 9.0 km/h"}},
		{found{Term: terms.Term{Cause: CommandTiming, Moves: evidence.Lifts}, Size: 0.05, CI95: ci(0.04, 0.06), Crossings: 9}, []string{"Lifts are commanded 50 ms late", "3.6 to 9.0 km/h"}},
		{found{Term: terms.Term{Cause: MachineSlow, Moves: evidence.Drops}, Size: -0.05, CI95: ci(-0.06, -0.04), Crossings: 9}, []string{"drops take 50 ms less than the lead", "40 to 60 ms"}},
		{found{Term: terms.Term{Cause: LiftGeometry, Moves: evidence.Lifts}, Size: 0.31, CI95: ci(0.28, 0.34), Crossings: 9}, []string{"Lifts come 31 cm late at every speed from 3.6 to 9.0 km/h", "28 to 34 cm"}},
		{found{Term: terms.Term{Cause: WrongBorder}, Size: 0.31, CI95: ci(0.28, 0.34)}, []string{"At every border lifts come 31 cm late and drops as much early"}},
		{found{Term: terms.Term{Cause: WrongBorder, Piece: &regress.Piece{Point: regress.Point{EastM: 12, NorthM: -7}, RadiusM: 30, Rows: 4}}, Size: -0.31, CI95: ci(-0.34, -0.28)},
			[]string{"At 4 crossings within 30 m of the place 12 m east, -7 m north", "lifts come 31 cm early and drops as much late"}},
		{found{Term: terms.Term{Cause: SlowSection, Moves: evidence.Lifts}, Section: 4, Size: 0.2, CI95: ci(0.17, 0.23), Crossings: 8}, []string{"Section 4 comes 200 ms later", "on lifts", "170 to 230 ms"}},
		{found{Term: terms.Term{Cause: SlowSection, Moves: evidence.Lifts}, Section: 4, Size: -0.2, CI95: ci(-0.23, -0.17), Crossings: 8}, []string{"Section 4 comes 200 ms earlier"}},
		{found{Term: terms.Term{Cause: FlowShortage, Moves: evidence.Lifts}, Size: 0.08, CI95: ci(0.07, 0.09), Crossings: 8, Feeds: 2.5, FeedsCI95: ci(2.2, 3)},
			[]string{"makes lifts 80 ms later", "up to 4 at once", "feeds about 2.5 sections at full speed (95 % interval 2.2 to 3.0)"}},
		{found{Term: terms.Term{Cause: ColdOil, TauS: 1200}, Size: 0.3, CI95: ci(0.2, 0.4), Crossings: 8}, []string{"300 ms late", "within 20 minutes", "over 90 minutes"}},
		{found{Term: terms.Term{Cause: HeadingError}, Size: -0.15, CI95: ci(-0.2, -0.1), Crossings: 8}, []string{"150 ms", "100 to 200 ms", "the heading is old"}},
		{found{Term: terms.Term{Cause: HeadingError}, Size: 0.15, CI95: ci(0.1, 0.2), Crossings: 8}, []string{"ahead of the tractor's"}},
		{found{Term: terms.Term{Cause: PoorReception}, Size: 0.4, CI95: ci(0.3, 0.5), Crossings: 5, Note: "a gap at 5"}, []string{"The 5 crossings", "(a gap at 5)", "400 ms more"}},
	} {
		got := w.fact(&tc.f, a).Evidence()
		for _, s := range tc.says {
			if !strings.Contains(got, s) {
				t.Errorf("%q does not say %q", got, s)
			}
		}
	}
	for _, tc := range []struct {
		f    found
		says []string
	}{
		{found{Term: terms.Term{Cause: WrongBorder}, Size: -0.31}, []string{"31 cm too far in"}},
		{found{Term: terms.Term{Cause: SlowSection}, Section: 2, Size: 0.3}, []string{"Section 2: clean"}},
		{found{Term: terms.Term{Cause: SlowSection}, Section: 2, Size: -0.3}, []string{"Section 2: check its flow valve"}},
		{found{Term: terms.Term{Cause: FlowShortage}, Size: 0.1, Feeds: 3}, []string{"controller.flow_aware", "feeds about 3.0 sections"}},
		{found{Term: terms.Term{Cause: ColdOil, TauS: 1200}, Size: 0.3}, []string{"after 40 minutes"}},
		{found{Term: terms.Term{Cause: HeadingError}, Size: -0.12}, []string{"120 ms old"}},
		{found{Term: terms.Term{Cause: HeadingError}, Size: 0.12}, []string{"120 ms ahead"}},
	} {
		got := w.fact(&tc.f, a).Change(day)
		for _, s := range tc.says {
			if !strings.Contains(got, s) {
				t.Errorf("%q does not say %q", got, s)
			}
		}
	}
	// After the command, a length belongs to the tool; a lead makes up for it at one speed.
	after := &analysis{leg: evidence.Machine, moves: a.moves}
	bites := found{Term: terms.Term{Cause: LiftGeometry, Moves: evidence.Lifts}, Size: 0.6, CI95: ci(0.5, 0.7), Crossings: 7}
	if got := w.fact(&bites, after).Evidence(); !strings.Contains(got, "From setpoint to work state lifts take 60 cm of the way longer than the lead") || !strings.Contains(got, "bites") {
		t.Error(got)
	}
	if got := w.fact(&bites, after).Change(day); !strings.Contains(got, "raise the lead of lifts by 600 ms at 3.6 km/h, by 240 ms at 9.0 km/h") {
		t.Error(got)
	}
	// What the recorded changes show is put into words with both counts and what to look at.
	unmet := func(section int, commanded bool, lift, drop response.Count) found {
		return suspect.OfUnmet(&response.Unmet{Section: section, Commanded: commanded, Lift: lift, Drop: drop})
	}
	for _, tc := range []struct {
		f     found
		move  string
		size  float64
		unit  string
		words []string
	}{
		{suspect.OfHand(&response.Hand{Share: 0.2, CI95: [2]float64{0.12, 0.31}, Count: 12}), "", 0.2, "share", []string{"12 lifts and drops, 20 % of all", "12 to 31 %", "Nothing to set"}},
		{unmet(3, true, response.Count{Failed: 9, Asked: 30, Places: 30}, response.Count{Asked: 21, Places: 21}), "lift", 0.3, "share",
			[]string{"Section 4 did nothing at 9 of 30 setpoints to lift (30 %; 95 % interval 17 to 48 %).", "Section 4: look at the plug"}},
		{unmet(-1, false, response.Count{Asked: 30, Places: 5}, response.Count{Failed: 10, Asked: 40, Places: 5}), "drop", 0.25, "share",
			[]string{"The machine did nothing at 10 of 40 borders where it should drop (25 %", "may not have been told", "oil supply"}},
		{unmet(-1, true, response.Count{Failed: 5, Asked: 30, Places: 5}, response.Count{Failed: 10, Asked: 70, Places: 7}), "", 0.15, "share", []string{"15 of 100 setpoints to lift or drop"}},
		{suspect.OfOrder(&response.Order{Kind: response.Reversed, Wrong: []int{0, 1, 2, 3}, BeforeM: 0.84, AfterM: 0.02, Crossings: 40}), "", 4, "sections",
			[]string{"in reverse order", "scatter by 84 cm, by the right ones by 2 cm (standard deviations, 40 crossings", "from the left"}},
		{suspect.OfOrder(&response.Order{Kind: response.Shifted, By: 2, Wrong: []int{0, 1, 2}}), "", 3, "sections", []string{"too high by 2"}},
		{suspect.OfOrder(&response.Order{Kind: response.Shifted, By: -1, Wrong: []int{0, 1, 2}}), "", 3, "sections", []string{"too low by 1"}},
		{suspect.OfOrder(&response.Order{Kind: response.Exchanged, Wrong: []int{2, 6}}), "", 2, "sections", []string{"Sections 3 and 7 are recorded under each other's number"}},
		{suspect.OfSensor(&response.Sensor{Section: 1, Chatters: 6, Changes: 24}), "", 0.25, "share", []string{"section 2 flickers at 6 changes", "(24 changes in all)", "work-state sensor"}},
		{suspect.OfSensor(&response.Sensor{Section: 1, Chatters: 6, Alone: 12, Changes: 24}), "", 0.5, "share", []string{"flickers at 6 changes, faster than the tool can move, and changes 12 times"}},
	} {
		f := (&wording{day: day}).finding(&tc.f, []*analysis{a})
		if f.Move != tc.move || !(math.Abs(f.Size-tc.size) <= 1e-12) || f.Unit != tc.unit || !(f.CI95[0] <= f.Size && f.CI95[1] >= f.Size) {
			t.Errorf("%+v; want %s %g %s", f, tc.move, tc.size, tc.unit)
		}
		for _, s := range tc.words {
			if !strings.Contains(f.Evidence+" "+f.Change, s) {
				t.Errorf("%q does not say %q", f.Evidence+" "+f.Change, s)
			}
		}
	}
	for _, x := range []struct{ got, want string }{{cause.MS(-0.0126), "13 ms"}, {cause.Length(-0.126), "13 cm"}, {cause.Length(2.994), "299 cm"}, {cause.Length(-19.077), "19.08 m"}} {
		if x.got != x.want {
			t.Errorf("%s, want %s", x.got, x.want)
		}
	}
}

// Two passes of a fit with one degree of freedom have a band, those with none
// have not.
func TestBandNeedsFreedom(t *testing.T) {
	x, y := 0.1, 0.3
	f := Fit{TimeErrorS: &x, PlaceErrorM: &y, varTime: 0.01, varPlace: 0.04, cov: -0.005, df: 1}
	place, ci, ok := f.Band(2)
	half := 12.7062 * math.Sqrt(0.04-2*2*0.005+4*0.01)
	if !ok || !(math.Abs(place-0.5) <= 1e-12) || !(math.Abs(ci[1]-0.5-half) <= 1e-3) || !(math.Abs(ci[0]-0.5+half) <= 1e-3) {
		t.Errorf("%g, %v, %v; want 0.5 ± %g", place, ci, ok, half)
	}
	for _, f := range []Fit{{TimeErrorS: &x, PlaceErrorM: &y}, {TimeErrorS: &x, df: 5}, {PlaceErrorM: &y, df: 5}} {
		if _, _, ok := f.Band(2); ok {
			t.Errorf("%+v has a band", f)
		}
	}
}

// Crossings that scatter by more than 25 cm around no cause are a doubt of their
// own; those that scatter less are none.
func TestScattered(t *testing.T) {
	m := &sections.Machine{Sections: make([]sections.Section, 6)}
	for i := range m.Sections {
		m.Sections[i] = sections.Section{XM: -2, YM: float64(i) - 2.5, WidthM: 1}
	}
	for sigmaM, doubted := range map[float64]bool{0.18: false, 0.36: true} {
		rng := rand.New(rand.NewPCG(3, 9))
		var day []score.Event
		for i := range 120 {
			day = addCrossing(day, i%2 == 1, 60*float64(i), 1+2.5*rng.Float64(), 0, 0, sigmaM*rng.NormFloat64())
		}
		d, err := Run(evidence.Day{Machine: m, Actual: day})
		if err != nil {
			t.Fatal(err)
		}
		if len(d.Causes) != 0 {
			t.Fatalf("scatter of %g m: found %+v; the test shows nothing", sigmaM, d.Causes)
		}
		if got := len(d.CannotTell) == 1 && strings.Contains(d.CannotTell[0].Why, "scatter by"); got != doubted {
			t.Errorf("scatter of %g m: %+v", sigmaM, d.CannotTell)
		}
	}
}

// A doubt names both causes, why they look alike, and the drive that would tell.
func TestDoubt(t *testing.T) {
	for _, tc := range []struct {
		first, rival Cause
		fastestMps   float64
		why, drive   string
	}{
		{LiftTiming, LiftGeometry, 1.5, "the speeds lie between 3.6 and 5.4 km/h", "two speeds"},
		{LiftGeometry, LiftTiming, 1.5, "the speeds lie between 3.6 and 5.4 km/h", "two speeds"},
		{LiftTiming, LiftGeometry, 2.5, "although the speeds go from 3.6 to 9.0 km/h", "what scatters"},
		{LiftTiming, FlowShortage, 2.5, "the number of sections that lift at once changes too little", "one section at a time"},
		{LiftTiming, ColdOil, 2.5, "the day is 90 minutes long", "cold oil"},
		{LiftTiming, Latency, 2.5, "0 crossings scatter by 0 cm, too much for a verdict: look on the map", "more crossings"},
	} {
		a := &analysis{lastS: 5400, moves: []evidence.Move{{SpeedMps: 1}, {SpeedMps: 1.2, On: true}, {SpeedMps: tc.fastestMps}}, terms: []terms.Term{{Cause: HeadingError}, {Cause: tc.rival}}}
		d := a.doubt(&found{Term: terms.Term{Cause: tc.first, Moves: evidence.Lifts}}, []int{1, 1})
		if len(d.Between) != 2 || d.Between[0] != tc.first || d.Between[1] != tc.rival || !strings.Contains(d.Why, tc.why) || !strings.Contains(d.Drive, tc.drive) {
			t.Errorf("%s or %s: %+v", tc.first, tc.rival, d)
		}
	}
}

// A day tells from which size on it would have shown each cause.
func TestFloorsOfADay(t *testing.T) {
	m := &sections.Machine{Sections: make([]sections.Section, 6)}
	for i := range m.Sections {
		m.Sections[i] = sections.Section{XM: -2, YM: float64(i) - 2.5, WidthM: 1}
	}
	rng := rand.New(rand.NewPCG(3, 9))
	var day []score.Event
	for i := range 120 {
		day = addCrossing(day, i%2 == 1, 60*float64(i), 1+2.5*rng.Float64(), 0, 0, 0.02*rng.NormFloat64())
	}
	d, err := Run(evidence.Day{Machine: m, Actual: day})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []Cause{LiftTiming, DropTiming, LiftGeometry, DropGeometry, Latency, Geometry, WrongBorder} {
		found := false
		for _, f := range d.Floors {
			// 2 cm of scatter over 60 crossings: above what is worth a setting, and far below half a second or metre.
			found = found || f.Cause == c && f.Size != nil && *f.Size >= 0.0099 && *f.Size < 0.5
		}
		if !found {
			for _, f := range d.Floors {
				if f.Cause == c {
					t.Errorf("%s: floor %v", c, *f.Size)
				}
			}
		}
	}
}
