// The times in closed form, compared with those of the bank.

package hydraulics

import (
	"testing"

	"liftbench/sections"
)

// An undisturbed lift or drop of the bank takes the time of the closed form.
func TestTimesMatchTheBank(t *testing.T) {
	cold := with(func(p *Params) { p.OilTempDegC, p.ValveFlowM3PerS = -10, 0 })
	full := with(func(p *Params) { p.EffectiveDepthM = p.WorkingDepthM })
	touch := with(func(p *Params) { p.EffectiveDepthM = 0 })
	timed := with(func(p *Params) { p.LiftMps, p.DropMps, p.MeasuredDegC = 0.21, 0.33, 20 })
	for name, p := range map[string]Params{"hoe": hoe(), "cold": cold, "full depth": full, "first touch": touch, "timed": timed} {
		for _, n := range []int{1, 2, 7, 8, 12, 24, sections.MaxSections} {
			b, err := New(p, n)
			if err != nil {
				t.Fatal(err)
			}
			const start = 1_750_000_000_000_000_000
			b.Start(start, true)
			b.Record()
			all := func(on bool) []sections.WorkChange {
				due := b.NowNs()
				for i := range n {
					b.Command(sections.Setpoint{DueNs: due, Section: int16(i), On: on})
				}
				return b.Advance(due+1000e9, nil)
			}
			check := func(what string, out []sections.WorkChange, due, lead, whole int64) {
				t.Helper()
				if len(out) != n {
					t.Fatalf("%s, %s, %d sections: %d changes", name, what, n, len(out))
				}
				for i, c := range out {
					if c.TimeNs != due+lead || int(c.Section) != i {
						t.Errorf("%s, %s, %d sections: %+v after %d, closed form %d", name, what, n, c, c.TimeNs-due, lead)
					}
				}
				last := b.Profile(n - 1)
				if got := last[len(last)-1].TimeNs - due; got != whole {
					t.Errorf("%s, %s, %d sections: whole way %d, closed form %d", name, what, n, got, whole)
				}
			}
			check("lift", all(false), start, p.LiftTimeNs(n), p.FullLiftTimeNs(n))
			check("drop", all(true), start+1000e9, p.DropTimeNs(), p.FullDropTimeNs())
		}
	}
}

// N sections rising together on a saturated pump take N times as long.
func TestSaturatedPump(t *testing.T) {
	p := with(func(p *Params) { p.LiftDeadNs, p.PumpFlowM3PerS = 0, 3*litrePerMin })
	one, whole := p.LiftTimeNs(1), p.FullLiftTimeNs(1)
	for n := 1; n <= sections.MaxSections; n++ {
		// Times are to the nearest ns, so n times one is within n/2 of it.
		near(t, "to effective depth", float64(p.LiftTimeNs(n)), float64(int64(n)*one), float64(n+1)/2)
		near(t, "to raised", float64(p.FullLiftTimeNs(n)), float64(int64(n)*whole), float64(n+1)/2)
	}
}

// Common practice, no source: a section is out of the soil in a few tenths of
// a second and drops in about half to one.
func TestUsualTimes(t *testing.T) {
	p := hoe()
	for _, c := range []struct {
		what        string
		ns          int64
		least, most float64
	}{
		{"lift, alone", p.LiftTimeNs(1), 0.1, 0.5},
		{"lift, 12 together", p.LiftTimeNs(12), 0.1, 0.5},
		{"full lift, alone", p.FullLiftTimeNs(1), 0.5, 2},
		{"full lift, 12 together", p.FullLiftTimeNs(12), 0.5, 3},
		{"drop", p.DropTimeNs(), 0.4, 1.2},
		{"full drop", p.FullDropTimeNs(), 0.4, 1.2},
	} {
		s := float64(c.ns) / 1e9
		t.Logf("%-22s %.3f s", c.what, s)
		if s < c.least || s > c.most {
			t.Errorf("%s takes %.3f s; usual: %g to %g", c.what, s, c.least, c.most)
		}
	}
	if re := p.Reynolds(p.DropFlowM3PerS()); re > LaminarReynolds {
		t.Errorf("turbulent: Re %.0f", re)
	}
}

// A tool that was timed moves as fast as that in the oil of that day, whatever bore, orifice and forces
// say, and in other oil as much slower as it is computed to be.
func TestTimedSpeeds(t *testing.T) {
	for _, p := range []Params{hoe(), with(func(p *Params) { p.BoreM, p.OrificeM, p.DropForceN = 0.05, 0.004, 800 })} {
		computed := p
		p.LiftMps, p.DropMps, p.MeasuredDegC, p.OilTempDegC = 0.1, 0.2, 20, 20
		if err := p.Validate(); err != nil {
			t.Fatal(err)
		}
		near(t, "rise, ns", float64(p.FullLiftTimeNs(1)-p.LiftDeadNs), p.TravelM()/0.1*1e9, 1)
		near(t, "fall, ns", float64(p.FullDropTimeNs()-p.DropDeadNs), p.TravelM()/0.2*1e9, 1)
		fall := func(p Params, degC float64) float64 {
			p.OilTempDegC = degC
			return float64(p.FullDropTimeNs() - p.DropDeadNs)
		}
		near(t, "slower in cold oil", fall(p, -5)/fall(p, 20), fall(computed, -5)/fall(computed, 20), 1e-6)
	}
}

// A lift with effects takes the time of the closed form, to 1 ns for each piece of its way; its whole way
// ends when the tool is down, whatever the rod still goes through its slot.
func TestTimesOfEffects(t *testing.T) {
	for name, p := range map[string]Params{
		"sprung": with(func(p *Params) { p.SlotM, p.WorkingForceN, p.BackPressurePa, p.SoilForceN = 0.03, 1000, 4e5, 200 }),
		"pressed": with(func(p *Params) {
			p.RodM, p.PumpWakeNs, p.Throttle, p.Sequence = 0.016, 200e6, WhenLowering, LiftingInTurn
		}),
		"free":  with(func(p *Params) { p.Throttle, p.At40Mm2PerS, p.At100Mm2PerS, p.OilTempDegC = WhenLifting, 60, 9.4, 5 }),
		"timed": with(func(p *Params) { p.WorkingForceN, p.LiftMps, p.DropMps, p.MeasuredDegC = 900, 0.21, 0.33, 20 }),
	} {
		const n = 3
		b, err := New(p, n)
		if err != nil {
			t.Fatal(err)
		}
		b.Start(0, true)
		b.Record()
		for i := range n {
			b.Command(sections.Setpoint{Section: int16(i)})
		}
		out := b.Advance(100e9, nil)
		near(t, name+": last of three out of work", float64(out[n-1].TimeNs), float64(p.LiftTimeNs(n)), 100)
		last := b.Profile(n - 1)
		near(t, name+": raised", float64(last[len(last)-1].TimeNs), float64(p.FullLiftTimeNs(n)), 100)

		b.Command(sections.Setpoint{DueNs: 100e9, On: true})
		out = b.Advance(200e9, out[:0])
		near(t, name+": in work", float64(out[0].TimeNs-100e9), float64(p.DropTimeNs()), 100)
		for _, k := range b.Profile(0) {
			if k.TimeNs > 100e9 && k.HeightM == 0 {
				near(t, name+": down", float64(k.TimeNs-100e9), float64(p.FullDropTimeNs()), 100)
				break
			}
		}
	}
	timed := with(func(p *Params) {
		p.WorkingForceN, p.DropMps, p.MeasuredDegC, p.EffectiveDepthM = 900, 0.33, 50, 0
	})
	near(t, "to the ground, as it was timed", float64(timed.DropTimeNs()-timed.DropDeadNs)*1e-9, timed.RaisedM/0.33, 1e-6)
}
