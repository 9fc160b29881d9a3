// Days whose changes are known within intervals: true changes, drawn by arithmetic of their
// own, are looked at from time to time, or told when they happen and at least every few
// seconds. Nothing but a sheet of reports goes to the diagnosis, and the truth judges it.

package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/states"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
)

// looks is how the states of a day were reported.
type looks struct {
	name string
	// leastS and mostS bound the time from one look to the next, drawn anew each time by
	// up to unevenShare, around a time that is drawn for the day.
	leastS, mostS, unevenShare float64
	each                       bool // the sections are looked at one by one
	onChange                   bool // told at each change, and again after a time without one
}

var looksOfDays = []looks{
	{name: "all at once, evenly", leastS: 0.1, mostS: 2},
	{name: "all at once, unevenly", leastS: 0.1, mostS: 2, unevenShare: 0.4},
	{name: "each section by itself", leastS: 0.1, mostS: 2, unevenShare: 0.2, each: true},
	{name: "on change, and every few seconds", leastS: 1, mostS: 10, onChange: true},
}

// polledDay is the truth of one day, and how it was reported.
type polledDay struct {
	lateS, placeM [2]float64 // of lifts and of drops
	by            looks
	n             int
	cross         []trueCrossing // in order of time
	sheet         string         // CSV
}

// trueCrossing is one section at one border.
type trueCrossing struct {
	section        int
	on             bool
	idealS, trueS  float64
	mps            float64
	eastM, northM  float64
	headingDegrees float64
}

// from1970S is when these days begin.
const from1970S = 1_900_000_000

// drawPolled draws a day. The same seed with other faults gives the same drive.
func drawPolled(seed uint64, by looks, lateS, placeM [2]float64) *polledDay {
	r := rand.New(rand.NewPCG(seed, 17))
	d := &polledDay{lateS: lateS, placeM: placeM, by: by, n: 1 + r.IntN(8)}
	widthM := 0.45 + 2*r.Float64()
	slant := r.Float64()
	passes := 30 + r.IntN(50)
	slowest := 1.5 + r.Float64()
	spread := 0.5 + 1.5*r.Float64()
	at := 20.0
	for p := range passes {
		v := slowest + spread*r.Float64()
		for _, on := range []bool{true, false} {
			way := 0
			if on {
				way = 1
			}
			positionM := 0.0143 * r.NormFloat64()
			for s := range d.n {
				sideM := (float64(s) - float64(d.n-1)/2) * widthM
				c := trueCrossing{section: s, on: on, mps: v, idealS: at + slant*(sideM+5)/v, eastM: float64(p) * 6, headingDegrees: float64(180 * (p % 2))}
				if on != (p%2 == 0) {
					c.northM = 180
				}
				c.trueS = c.idealS + lateS[way] + (placeM[way]+positionM)/v + 0.012*r.NormFloat64()
				d.cross = append(d.cross, c)
			}
			at += 25 + 20*r.Float64()
		}
	}
	sort.Slice(d.cross, func(i, j int) bool { return d.cross[i].trueS < d.cross[j].trueS })
	// Looks are drawn from a stream of their own, so that a fault does not change the drive.
	d.report(rand.New(rand.NewPCG(seed, 18)), at+20)
	return d
}

// report writes the sheet.
func (d *polledDay) report(r *rand.Rand, untilS float64) {
	usualS := d.by.leastS * math.Pow(d.by.mostS/d.by.leastS, r.Float64())
	nextS := func() float64 { return usualS * (1 + d.by.unevenShare*(2*r.Float64()-1)) }
	own := make([][]*trueCrossing, d.n)
	for i := range d.cross {
		own[d.cross[i].section] = append(own[d.cross[i].section], &d.cross[i])
	}
	type report struct {
		atS     float64
		section int
		on      bool
	}
	var list []report
	if d.by.onChange {
		for s := range d.n {
			on, last := false, r.Float64()*usualS
			list = append(list, report{last, s, false})
			for _, c := range append(own[s], &trueCrossing{trueS: untilS}) {
				for last += usualS; last < c.trueS; last += usualS {
					list = append(list, report{last, s, on})
				}
				on, last = c.on, c.trueS
				list = append(list, report{last, s, on})
			}
		}
	} else {
		together := r.Float64() * usualS
		var common []float64
		for at := together; at < untilS; at += nextS() {
			common = append(common, at)
		}
		for s := range d.n {
			looked := common
			if d.by.each {
				looked = nil
				for at := r.Float64() * usualS; at < untilS; at += nextS() {
					looked = append(looked, at)
				}
			}
			k, on := 0, false
			for _, at := range looked {
				for k < len(own[s]) && own[s][k].trueS <= at {
					on = own[s][k].on
					k++
				}
				list = append(list, report{at, s, on})
			}
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].atS < list[j].atS })
	var b strings.Builder
	b.WriteString("time,section,actual\n")
	for _, x := range list {
		state := 0
		if x.on {
			state = 1
		}
		ms := int64(math.Round(x.atS * 1e3))
		fmt.Fprintf(&b, "%s,%d,%d\n", time.UnixMilli(from1970S*1e3+ms).UTC().Format("2006-01-02T15:04:05.000Z"), x.section+1, state)
	}
	d.sheet = b.String()
}

// day reads the sheet and pairs each of its changes with the crossing that it is of: each
// section's k-th change is its k-th crossing.
func (d *polledDay) day(t testing.TB) evidence.Day {
	t.Helper()
	work, err := states.Read(strings.NewReader(d.sheet), "sheet", d.n, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := &sections.Machine{Mount: sections.RearRigid, AntennaXM: 1}
	for s := range d.n {
		m.Sections = append(m.Sections, sections.Section{XM: -2, YM: float64(s) - float64(d.n-1)/2, WidthM: 1})
	}
	day := evidence.Day{Machine: m, Settings: sections.DefaultSettings(), ActualPolls: work.ActualPolls}
	byTime := slices.Clone(d.cross)
	sort.SliceStable(byTime, func(i, j int) bool { return byTime[i].trueS < byTime[j].trueS })
	of := make([][]trueCrossing, d.n)
	for _, c := range byTime {
		of[c.section] = append(of[c.section], c)
	}
	seen := make([]int, d.n)
	for _, w := range work.Actuals {
		k := seen[w.Section] - 1
		seen[w.Section]++
		if k < 0 { // the first report is no change
			continue
		}
		c := of[w.Section][k]
		if c.on != w.On {
			t.Fatalf("change %d of section %d is %v; the sheet lost one", k, w.Section+1, w.On)
		}
		idealNs := int64(from1970S*1e9) + int64(math.Round(c.idealS*1e9))
		e := score.Event{Section: w.Section, On: w.On, Kind: score.Paired, IdealNs: idealNs, ActualNs: w.TimeNs, SpeedMps: c.mps,
			EastM: c.eastM, NorthM: c.northM, HeadingRad: c.headingDegrees * math.Pi / 180}
		e.TimeErrorS = float64(w.TimeNs-idealNs) * 1e-9
		e.PlaceErrorM = e.TimeErrorS * c.mps
		day.Actual = append(day.Actual, e)
	}
	for s, n := range seen {
		if n != len(of[s])+1 {
			t.Fatalf("section %d: %d reports of change for %d crossings", s+1, n-1, len(of[s]))
		}
	}
	return day
}

// TestPolledDays judges what a diagnosis says of lifts and drops that are late by a drawn time
// and place: unbiased, within its intervals as often as 95 % say, whichever way the
// states were reported.
func TestPolledDays(t *testing.T) {
	each := campaign.Times(6, 40, 500)
	for _, by := range looksOfDays {
		t.Run(by.name, func(t *testing.T) {
			var in [2]int
			var told [2]int
			var off [2][]float64 // errors in half intervals
			var errS, errM []float64
			blamed := 0
			for k := range each {
				seed := uint64(1000*k + 7)
				r := rand.New(rand.NewPCG(seed, 19))
				var lateS, placeM [2]float64
				for way := range lateS {
					lateS[way] = 0.3 * (2*r.Float64() - 1) * float64(r.IntN(2))
				}
				if r.IntN(2) == 0 {
					placeM[0] = 0.3 * (2*r.Float64() - 1)
					placeM[1] = placeM[0]
				}
				d := drawPolled(seed, by, lateS, placeM)
				got, err := Run(d.day(t))
				if err != nil {
					t.Fatal(err)
				}
				for way, f := range []Fit{got.Lift, got.Drop} {
					if f.TimeErrorS != nil {
						told[0]++
						ci := *f.TimeErrorCI
						if ci[0] <= lateS[way] && lateS[way] <= ci[1] {
							in[0]++
						}
						off[0] = append(off[0], (*f.TimeErrorS-lateS[way])/((ci[1]-ci[0])/2))
						errS = append(errS, *f.TimeErrorS-lateS[way])
					}
					if f.PlaceErrorM != nil {
						told[1]++
						ci := *f.PlaceErrorCI
						if ci[0] <= placeM[way] && placeM[way] <= ci[1] {
							in[1]++
						}
						off[1] = append(off[1], (*f.PlaceErrorM-placeM[way])/((ci[1]-ci[0])/2))
						errM = append(errM, *f.PlaceErrorM-placeM[way])
					}
				}
				for _, f := range got.Causes {
					if f.Cause == SlowSection || f.Cause == FlowShortage || f.Cause == ColdOil || f.Cause == HeadingError || f.Cause == Erratic || f.Cause == ClockOffset {
						blamed++
						break
					}
				}
			}
			for q, what := range []string{"time", "place"} {
				if told[q] < each/2 {
					t.Errorf("%s: told on %d of %d", what, told[q], 2*each)
					continue
				}
				mean, sd := meanSD(off[q])
				share := float64(in[q]) / float64(told[q])
				t.Logf("%s: in its interval %.1f %% of %d; error %+.3f ± %.3f half intervals", what, 100*share, told[q], mean, sd)
				// 95 % ± 3 % of 500 days, and what chance adds on fewer.
				if slack := 0.03 + 3*math.Sqrt(0.05*0.95/float64(told[q])) - 3*math.Sqrt(0.05*0.95/1000); share < 0.95-slack || share > min(0.95+slack, 0.999) && each >= 500 {
					t.Errorf("%s: in its interval %.1f %% of %d, expected 92 to 98", what, 100*share, told[q])
				}
				if math.Abs(mean) > 4*sd/math.Sqrt(float64(told[q])) {
					t.Errorf("%s: biased by %+.3f half intervals, scatter %.3f of %d", what, mean, sd, told[q])
				}
			}
			ms, ss := meanSD(errS)
			mm, sm := meanSD(errM)
			t.Logf("time error %+.1f ± %.1f ms, place error %+.1f ± %.1f cm; other causes blamed on %d of %d days", 1e3*ms, 1e3*ss, 100*mm, 100*sm, blamed, each)
			if blamed > max(2, each/50+1) { // of 500 in all two were, both among the first forty
				t.Errorf("causes that are not there on %d of %d days", blamed, each)
			}
		})
	}
}

// Ten thousand transitions of which intervals of all widths are known, beside the same with
// exact times; the budget is 2 s.
func BenchmarkPolledRun(b *testing.B) {
	s := clearDay(1)
	s.transitions = 10_000
	for _, polled := range []bool{false, true} {
		b.Run(map[bool]string{false: "exact", true: "polled"}[polled], func(b *testing.B) {
			day := closedForm(s, fault{liftS: 0.2, borderM: 0.2})
			r := rand.New(rand.NewPCG(1, 20))
			for i := range day.Actual {
				e := &day.Actual[i]
				if !polled || e.Kind != score.Paired {
					continue
				}
				widthNs := int64(0.1e9 + 1.9e9*r.Float64())
				e.ActualNs += int64(r.Float64() * float64(widthNs))
				e.TimeErrorS = float64(e.ActualNs-e.IdealNs) * 1e-9
				e.PlaceErrorM = e.TimeErrorS * e.SpeedMps
				day.ActualPolls = append(day.ActualPolls, states.Poll{Section: e.Section, AfterNs: e.ActualNs - widthNs, AtNs: e.ActualNs})
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(day); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd / float64(len(x)-1))
}

// TestPolledFloors asks of days on which nothing is wrong what they would have shown, and then
// gives them that fault: it must be named as often as a floor says, and half of it must not.
func TestPolledFloors(t *testing.T) {
	each := campaign.Times(4, 20, 100)
	faults := map[Cause]func(size float64) (lateS, placeM [2]float64){
		LiftTiming: func(size float64) (lateS, placeM [2]float64) { return [2]float64{size, 0}, placeM },
		Latency:    func(size float64) (lateS, placeM [2]float64) { return [2]float64{size, size}, placeM },
		Geometry:   func(size float64) (lateS, placeM [2]float64) { return lateS, [2]float64{size, size} },
	}
	onChange := looksOfDays[len(looksOfDays)-1]
	for _, by := range looksOfDays {
		t.Run(by.name, func(t *testing.T) {
			given, shown, half, grown := map[Cause]int{}, map[Cause]int{}, map[Cause]int{}, map[Cause][]float64{}
			for k := range each {
				seed := uint64(1000*k + 13)
				run := func(by looks, lateS, placeM [2]float64) *Diagnosis {
					d, err := Run(drawPolled(seed, by, lateS, placeM).day(t))
					if err != nil {
						t.Fatal(err)
					}
					return d
				}
				sound, exact := run(by, [2]float64{}, [2]float64{}), run(onChange, [2]float64{}, [2]float64{})
				for cause, fault := range faults {
					size, was := floorFor(sound, cause), floorFor(exact, cause)
					if size > 0 && was > 0 {
						grown[cause] = append(grown[cause], size/was)
					}
					// Beyond these a time is a clock's, and a place is driven over at two speeds.
					if size <= 0 || cause != Geometry && size > 0.9 || size > 1.5 {
						continue
					}
					given[cause]++
					for _, of := range []struct {
						share float64
						count map[Cause]int
					}{{1, shown}, {0.5, half}} {
						if lateS, placeM := fault(of.share * size); names(run(by, lateS, placeM), cause) {
							of.count[cause]++
						}
					}
				}
			}
			for _, cause := range []Cause{LiftTiming, Latency, Geometry} {
				if given[cause] < each/3 {
					t.Errorf("%s: only %d of %d days have a floor", cause, given[cause], each)
					continue
				}
				n, list := float64(given[cause]), grown[cause]
				sort.Float64s(list)
				share, halfShare := float64(shown[cause])/n, float64(half[cause])/n
				t.Logf("%s as large as its floor is named on %.1f %% of %.0f days, half as large on %.1f %%; floors are %.2f times those of the same days told on change (median)",
					cause, 100*share, n, 100*halfShare, list[len(list)/2])
				if share < 0.9-3*math.Sqrt(0.1*0.9/n) {
					t.Errorf("%s as large as its floor is named on %.1f %% of %.0f days, expected 95", cause, 100*share, n)
				}
				if halfShare > 0.7+3*0.5/math.Sqrt(n) {
					t.Errorf("%s half as large as its floor is named on %.1f %% of %.0f days: the floor is too large", cause, 100*halfShare, n)
				}
				if !by.onChange && list[len(list)/10] < 0.9 {
					t.Errorf("%s: a tenth of the floors are below %.2f of those of exact times", cause, list[len(list)/10])
				}
			}
		})
	}
}

// floorFor is the stated floor of a cause; 0 where none is stated.
func floorFor(d *Diagnosis, c Cause) float64 {
	for _, f := range d.Floors {
		if f.Cause == c && f.Size != nil {
			return *f.Size
		}
	}
	return 0
}

// names reports whether a cause is named, and no doubt.
func names(d *Diagnosis, c Cause) bool {
	return slices.ContainsFunc(d.Causes, func(f Finding) bool { return f.Cause == c })
}
