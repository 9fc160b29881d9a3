// Sections that differ from each other.

package hydraulics

import (
	"math"
	"slices"
	"strings"
	"testing"

	"liftbench/sections"
	"liftbench/sim/chance"
)

// A section with a deviation takes dead time + way / (speed·(1 + flow)), plus
// the effect of its fault; the section beside it takes what Params say.
func TestDeviations(t *testing.T) {
	p := hoe()
	rise := float64(p.LiftTimeNs(1) - p.LiftDeadNs)
	fall := float64(p.DropTimeNs() - p.DropDeadNs)
	for _, c := range []struct {
		name           string
		d              Deviation
		f              Fault
		liftNs, dropNs float64
	}{
		{"none", Deviation{}, Fault{}, 60e6 + rise, 50e6 + fall},
		{"slow valve", Deviation{LiftDeadNs: 12e6}, Fault{}, 72e6 + rise, 50e6 + fall},
		{"quick valve", Deviation{LiftDeadNs: -20e6, DropDeadNs: -5e6}, Fault{}, 40e6 + rise, 45e6 + fall},
		{"no quicker than at once", Deviation{LiftDeadNs: -200e6, DropDeadNs: -51e6}, Fault{}, rise, fall},
		{"more flow", Deviation{Flow: 0.25}, Fault{}, 60e6 + rise/1.25, 50e6 + fall/1.25},
		{"less flow", Deviation{Flow: -0.2}, Fault{}, 60e6 + rise/0.8, 50e6 + fall/0.8},
		{"and a fault", Deviation{LiftDeadNs: -100e6, Flow: 0.25}, Fault{ExtraDeadNs: 30e6, FlowLoss: 0.5}, 30e6 + rise/0.625, 80e6 + fall/0.625},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, faultFirst := range []bool{false, true} {
				b := bank(t, 2)
				if faultFirst {
					b.SetFault(0, c.f)
				}
				if err := b.SetDeviation(0, c.d); err != nil {
					t.Fatal(err)
				}
				if err := b.SetFault(0, c.f); err != nil {
					t.Fatal(err)
				}
				for i := range int16(2) {
					b.Command(sections.Setpoint{DueNs: 1e9, Section: i, On: true})
					b.Command(sections.Setpoint{DueNs: 9e9, Section: i, On: false})
				}
				got := b.Advance(20e9, nil)
				one, two := only(got, 0), only(got, 1)
				near(t, "drop, ns", float64(one[0].TimeNs-1e9), c.dropNs, 2)
				near(t, "lift, ns", float64(one[1].TimeNs-9e9), c.liftNs, 2)
				near(t, "the neighbour's drop, ns", float64(two[0].TimeNs-1e9), 50e6+fall, 2)
				near(t, "the neighbour's lift, ns", float64(two[1].TimeNs-9e9), 60e6+rise, 2)
			}
		})
	}
}

func TestDeviationErrors(t *testing.T) {
	for _, c := range []struct {
		i    int
		d    Deviation
		want string
	}{
		{2, Deviation{}, "deviation of section 3; expected 1 to 2"},
		{0, Deviation{LiftDeadNs: -11e9}, "lift dead time of section 1 off by -11000 ms; expected -10000 to 10000"},
		{1, Deviation{DropDeadNs: 11e9}, "drop dead time of section 2 off by 11000 ms"},
		{0, Deviation{Flow: -1}, "flow of section 1 off by a share of -1; expected -0.9 to 9"},
		{0, Deviation{Flow: math.NaN()}, "flow of section 1 off by a share of NaN"},
	} {
		if err := bank(t, 2).SetDeviation(c.i, c.d); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%+v: error %v; want %q", c.d, err, c.want)
		}
	}
}

// Deviations have the standard deviation asked for, less what is cut off; each
// is drawn by itself.
func TestSpread(t *testing.T) {
	const n = 20000
	s := Spread{LiftDeadNs: 10e6, DropDeadNs: 4e6, Flow: 0.05, Seed: 3}
	all := s.Draw(n)
	var lift, drop, flow, both float64
	for _, d := range all {
		x, y, z := float64(d.LiftDeadNs)/10e6, float64(d.DropDeadNs)/4e6, d.Flow/0.05
		lift, drop, flow, both = lift+x*x, drop+y*y, flow+z*z, both+x*y
		if most := max(math.Abs(x), math.Abs(y), math.Abs(z)); most > chance.Limit {
			t.Fatalf("%+v is %g standard deviations off", d, most)
		}
	}
	for _, v := range []float64{lift, drop, flow} {
		near(t, "variance", v/n, 0.973, 4*math.Sqrt(2.0/n))
	}
	near(t, "lift and drop together", both/n, 0, 4/math.Sqrt(n))

	if few := s.Draw(5); !slices.Equal(few, all[:5]) {
		t.Error("fewer sections are others")
	}
	if again := s.Draw(n); !slices.Equal(again, all) {
		t.Error("the same seed gives others")
	}
	wide := s
	wide.Flow, wide.DropDeadNs = 0.1, 0
	for i, d := range wide.Draw(n) {
		if d.LiftDeadNs != all[i].LiftDeadNs || d.DropDeadNs != 0 || math.Abs(d.Flow-2*all[i].Flow) > 1e-12 {
			t.Fatalf("section %d: %+v beside %+v", i+1, d, all[i])
		}
	}
	other := s
	other.Seed++
	if slices.Equal(other.Draw(5), all[:5]) {
		t.Error("another seed gives the same")
	}
	if none := (&Spread{Seed: 1}).Draw(2); none[0] != (Deviation{}) {
		t.Errorf("no spread gives %+v", none)
	}
}
