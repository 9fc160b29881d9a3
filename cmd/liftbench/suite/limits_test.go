// The limits of the drives are those that the README's rules give.

package suite

import (
	"context"
	"math"
	"slices"
	"sort"
	"testing"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/score"
	"liftbench/sim/receiver"
)

// limits are those of a drive: places in cm, and how many moves may be missed or extra.
type limits struct{ lift, drop, missed, extra float64 }

// ruled returns the limits by rule. Nothing in it comes from how any controller did.
func ruled(t *testing.T, d *Drive, u *settings.Setup) limits {
	across := map[string]float64{
		// Two standard deviations between rows of RTK, 1.43 cm: Carballido et al. 2014
		// (Appl. Eng. Agric. 30(3):361-366). Less shows in no field.
		"closed-form": 3,
		// A driver sees 20 cm, and half of it is good work (common practice, no source).
		"everyday": 10, "faults": 10, "long": 10, "hard": 20,
	}[d.Class]
	slant, tips := borders(u.Field)
	across *= slant
	// What the drive withholds from every controller comes on top. First, braking and
	// starting while a position is on its way: as with 10 Hz and 100 ms it is ordinary.
	r, driver := u.Scenario.Receiver.Params(1), u.Scenario.Drive.Params()
	ageS := float64(r.LatencyNs)*1e-9 + 1/10.0
	if r.RateHz > 0 {
		ageS = float64(r.LatencyNs)*1e-9 + 1/r.RateHz
	}
	if ageS > 0.21 {
		brake := driver.BrakeMps2
		if brake == 0 {
			brake = 0.4 // as package drive has it
		}
		across += 100 * brake * ageS * ageS / 2
	}
	// A receiver without a fixed solution: two standard deviations of the noise floor.
	if r.SigmaM > 0.1 {
		across += 200 * Floor(&r, passS)
	}
	// Sections that differ: two standard deviations. Cold oil: what it costs at the lift
	// or drop that ought to be after a twentieth of them, as from then on it is warmer.
	job := run.Job(u)
	spread, oil := u.Scenario.Spread.Spread(1), &u.Scenario.Spread
	var ideal [2][]int64 // of lifts and of drops, by instant
	var firstNs int64
	if oil.OilStartC != nil {
		o, _, _, err := (&Runner{}).drive(context.Background(), d, "")
		if err != nil {
			t.Fatal(err)
		}
		firstNs = o.Reception.FirstNs
		for i := range o.Score.Events {
			if e := &o.Score.Events[i]; e.Kind != score.Spurious {
				kind := map[bool]int{false: 0, true: 1}[e.On]
				ideal[kind] = append(ideal[kind], e.IdealNs)
			}
		}
	}
	onTop := func(kind int, deadNs int64, lead func(*sections.Settings) *sections.Lead) float64 {
		warm := lead(&job.Settings)
		sdS, slowerS := math.Hypot(float64(deadNs), spread.Flow*float64(warm.MoveNs))*1e-9, 0.0
		if oil.OilStartC != nil {
			slices.Sort(ideal[kind])
			afterMin := float64(ideal[kind][len(ideal[kind])/20]-firstNs) * 1e-9 / 60
			cold := u.Copy()
			cold.Machine.Hydraulics.OilC += (*oil.OilStartC - u.Machine.Hydraulics.OilC) * math.Exp(-afterMin/oil.OilWarmingMin)
			slowerS = float64(lead(&run.Job(cold).Settings).AloneNs()-warm.AloneNs()) * 1e-9
		}
		return 100 * driver.WorkMps * (2*sdS + slowerS)
	}
	// Up to a whole cm; what is half a millimetre above is of the corners' last digit.
	l := limits{
		lift: math.Ceil(-0.05 + across + onTop(0, spread.LiftDeadNs, func(s *sections.Settings) *sections.Lead { return &s.LiftLead })),
		drop: math.Ceil(-0.05 + across + onTop(1, spread.DropDeadNs, func(s *sections.Settings) *sections.Lead { return &s.DropLead })),
	}
	if d.Class == "closed-form" {
		return l
	}
	// Whether the outermost section lifts in a tip is a matter of centimetres; and what
	// cannot be foreseen, a loss of position for longer than the settings hold or stops,
	// may cost each section one lift and one drop.
	l.missed = float64(2 * tips)
	if unforeseen(d, u, &r) {
		l.missed += float64(2 * len(job.Machine.Sections))
	}
	l.extra = l.missed
	if d.Name == "hard/narrow-gap" {
		// Each section may lift and drop in the gap on each of ten passes.
		l.extra += float64(2 * 10 * len(job.Machine.Sections))
	}
	return l
}

func unforeseen(d *Drive, u *settings.Setup, r *receiver.Params) bool {
	c := &u.Machine.Controller
	for _, f := range r.Faults {
		if f.Kind != receiver.Float && f.ToS-f.FromS > (c.MaxAgeMs+c.HoldMs)/1000 {
			return true
		}
	}
	return d.Name == "faults/frozen" || u.Scenario.Drive.StopsPerH > 0
}

// borders returns how many cm along the rows 1 cm across a border is, at the border that
// is steepest after the twentieth of the ways over borders that is steepest of all; and how many corners
// of the field are tips, in which rows end from both sides. Nobody measures along a
// border at less than 24 degrees to the rows (common practice, no source): 2.5 at most.
func borders(f *field.Field) (slant float64, tips int) {
	type side struct{ acrossM, slant float64 }
	var sides []side
	var all float64
	for i := range f.Zones {
		z := &f.Zones[i]
		bearing := z.RowBearingRad
		if z.Kind == field.KeepOut {
			bearing = f.Zones[0].RowBearingRad
		}
		sin, cos := math.Sincos(bearing)
		for _, polygon := range z.Polygons {
			for number, ring := range polygon {
				ring = ring[:len(ring)-1]
				n := len(ring)
				// Right of the rows, from corner k to the next.
				right := func(k int) float64 {
					a, b := ring[k%n], ring[(k+1)%n]
					return (b[0]-a[0])*cos - (b[1]-a[1])*sin
				}
				for k := range ring {
					a, b := ring[k], ring[(k+1)%n]
					if x := math.Abs(right(k)); x > 0.05 {
						sides = append(sides, side{x, math.Hypot(b[0]-a[0], b[1]-a[1]) / x})
						all += x
						before := right(k + n - 1)
						if number == 0 && z.Kind != field.KeepOut && math.Abs(before) > 0.05 && before > 0 != (right(k) > 0) {
							tips++
						}
					}
				}
			}
		}
	}
	sort.Slice(sides, func(i, j int) bool { return sides[i].slant > sides[j].slant })
	passed := 0.0
	for _, s := range sides {
		slant = s.slant
		if passed += s.acrossM; passed > all/20 {
			break
		}
	}
	return min(slant, 2.5), tips
}

func TestLimitsAreRuled(t *testing.T) {
	drives, err := Drives("")
	if err != nil {
		t.Fatal(err)
	}
	for i := range drives {
		d := &drives[i]
		u, err := d.Load(0)
		if err != nil {
			t.Fatal(err)
		}
		want, x := ruled(t, d, u), &u.Scenario.Limits
		if x.LiftPlaceP95Cm == nil || x.DropPlaceP95Cm == nil || x.Missed == nil || x.Spurious == nil {
			t.Errorf("%s: a limit is missing; want %+v", d.Name, want)
			continue
		}
		if got := (limits{*x.LiftPlaceP95Cm, *x.DropPlaceP95Cm, float64(*x.Missed), float64(*x.Spurious)}); got != want {
			t.Errorf("%s: limits %+v; want %+v", d.Name, got, want)
		}
	}
}
