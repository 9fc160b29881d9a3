// Several sections measured on each pass, drawn from the words alone: what a pass has for all of them, as
// the driver's speed and place, and what each reading has for itself.

package tape

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/sim/campaign"
)

// drawnPasses are passes at 4 and 10 km/h in turns of a lift that needs needS, on which up to sections
// are measured: all of them, or from two on as many as chance says. Each section is late by a time of
// its own, which is 0 on average.
func drawnPasses(rng *rand.Rand, passes, sections int, all bool, placeM, needS, leadS, passSDM, sdM float64) []Reading {
	var list []Reading
	for p := range passes {
		v := 4 / 3.6
		if p%2 == 1 {
			v = 10 / 3.6
		}
		shared := passSDM * rng.NormFloat64()
		measured := rng.Perm(sections)
		if !all {
			measured = measured[:2+rng.IntN(sections-1)]
		}
		for _, k := range measured {
			own := 0.02 * (float64(k) - float64(sections-1)/2)
			lead := leadS
			list = append(list, Reading{Row: len(list) + 2, Pass: fmt.Sprint(p + 1), Move: Lift, Section: k + 1, SpeedMps: v,
				LateM: placeM + v*(needS+own-leadS) + shared + sdM*rng.NormFloat64(), LeadS: &lead})
		}
	}
	return list
}

// A pass's error that all of its readings have: the lead lies inside its interval in 93 to 97 % of the
// sheets, whatever part of the scatter is the pass's, and whether or not all sections were measured on
// each; so does how late a section is beside the others. Taken as readings that know nothing of each other they
// would lie inside in half of the sheets.
func TestPassesShareTheirError(t *testing.T) {
	n := campaign.Times(1000, 2000, 20000)
	for _, c := range []struct {
		passes, sections int
		all              bool
		passSDM, sdM     float64
	}{
		{10, 6, true, 0.04, 0.02}, {10, 6, false, 0.04, 0.02}, {12, 3, true, 0.02, 0.03}, {10, 6, true, 0, 0.03}, {8, 4, false, 0.05, 0.01},
	} {
		rng := rand.New(rand.NewPCG(18, uint64(c.passes)))
		inside, within, effect, blind := 0, 0, 0, 0
		for range n {
			list := drawnPasses(rng, c.passes, c.sections, c.all, 0.02, 0.45, 0.31, c.passSDM, c.sdM)
			a := Find(list, DefaultWish())
			if ci := *a.Lift.LeadCI95Ms; ci[0] <= 450 && 450 <= ci[1] {
				inside++
			}
			// A reading of another day, at the mean of the sections.
			next := 0.02 + c.passSDM*rng.NormFloat64() + c.sdM*rng.NormFloat64() + 8/3.6*(0.45-*a.Lift.LeadMs/1000)
			if a.Distance.Change {
				next -= a.Distance.ErrorM
			}
			if w, ok := a.WithinM(Lift, 8/3.6); ok && math.Abs(next) <= w {
				within++
			}
			if e := a.Lift.Effects; len(e) == c.sections && math.Abs(e[0].TimeS+0.02*float64(c.sections-1)/2) <= e[0].Half {
				effect++
			}
			for i := range list {
				list[i].Pass = ""
			}
			if ci := *Find(list, DefaultWish()).Lift.LeadCI95Ms; ci[0] <= 450 && 450 <= ci[1] {
				blind++
			}
		}
		percent := func(k int) float64 { return 100 * float64(k) / float64(n) }
		t.Logf("%d sheets, %+v: lead inside %.1f %%, next reading within %.1f %%, section's time inside %.1f %%; without names of passes %.1f %%", n, c, percent(inside), percent(within), percent(effect), percent(blind))
		for what, k := range map[string]int{"the lead": inside, "section 1": effect} {
			if percent(k) < 93 || percent(k) > 97 {
				t.Errorf("%+v: %s lies inside in %.1f %%; want 93 to 97 %%", c, what, percent(k))
			}
		}
		if percent(within) < 92 {
			t.Errorf("%+v: the next reading lies within in %.1f %%; want 92 %% or more", c, percent(within))
		}
		if c.passSDM > c.sdM && percent(blind) > 85 {
			t.Errorf("%+v: without names %.1f %% inside; the sheets try too little", c, percent(blind))
		}
	}
}

// One number of a pass that slipped by 30 cm is named, and no other; so is a pass that is off as a whole,
// as when its speed was misread, with all of its readings.
func TestSlipOnAPass(t *testing.T) {
	n := campaign.Times(300, 1000, 5000)
	rng := rand.New(rand.NewPCG(18, 12))
	one, whole := 0, 0
	for i := range n {
		list := drawnPasses(rng, 10, 5, true, 0.02, 0.45, 0.31, 0.03, 0.02)
		k := i % len(list)
		list[k].LateM += 0.3
		if a := Find(list, DefaultWish()); len(a.Lift.LeftOut) == 1 && a.Lift.LeftOut[0].Row == list[k].Row {
			one++
		}
		list[k].LateM -= 0.3
		for j := range list {
			if list[j].Pass == list[k].Pass {
				list[j].LateM += 0.5
			}
		}
		out := Find(list, DefaultWish()).Lift.LeftOut
		fine := len(out) == 5
		for _, l := range out {
			fine = fine && list[l.Row-2].Pass == list[k].Pass
		}
		if fine {
			whole++
		}
	}
	t.Logf("%d sheets: one number named alone in %.1f %%, a whole pass in %.1f %%", n, 100*float64(one)/float64(n), 100*float64(whole)/float64(n))
	if one < n*90/100 || whole < n*90/100 {
		t.Errorf("one number named in %d, a pass in %d of %d; want 90 %% of both", one, whole, n)
	}
}

// A season's sheet, which a file may hold, is answered at once: no matrix has a row for each pass.
func TestManyPasses(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 13))
	list := drawnPasses(rng, 800, 6, true, 0.02, 0.45, 0.31, 0.04, 0.02)
	a := Find(list, DefaultWish())
	if half := (a.Lift.LeadCI95Ms[1] - a.Lift.LeadCI95Ms[0]) / 2; !(half > 2 && half < 5) || a.Lift.Passes != 800 {
		t.Errorf("± %.1f ms of %d passes; want 1.96·4.1 cm/(√800·0.833 m/s) = 3.4 ms of 800", half, a.Lift.Passes)
	}
}
