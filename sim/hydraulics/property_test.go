// Properties that hold for any bank and any setpoints.

package hydraulics

import (
	"cmp"
	"slices"
	"testing"

	"liftbench/sections"

	"pgregory.net/rapid"
)

// drive is a drawn bank with its setpoints, in order of due time.
type drive struct {
	p      Params
	faults []Fault
	unlike []Deviation
	oil    Warming
	inWork bool
	points []sections.Setpoint
}

func drawDrive(t *rapid.T) drive {
	p := hoe()
	p.PumpFlowM3PerS = rapid.Float64Range(1, 100).Draw(t, "pump L/min") * litrePerMin
	p.OilTempDegC = rapid.Float64Range(-30, 120).Draw(t, "oil °C")
	p.EffectiveDepthM = rapid.Float64Range(0, p.WorkingDepthM).Draw(t, "effective depth")
	p.LiftDeadNs = rapid.Int64Range(0, 200e6).Draw(t, "lift dead")
	p.DropDeadNs = rapid.Int64Range(0, 200e6).Draw(t, "drop dead")
	n := rapid.IntRange(1, 12).Draw(t, "sections")
	d := drive{p: p, inWork: rapid.Bool().Draw(t, "in work")}
	for range n {
		d.faults = append(d.faults, Fault{
			ExtraDeadNs: rapid.Int64Range(0, 50e6).Draw(t, "extra dead"),
			FlowLoss:    rapid.SampledFrom([]float64{0, 0, 0, 0.5, 1}).Draw(t, "flow loss"),
		})
	}
	if rapid.Bool().Draw(t, "spread") {
		s := Spread{LiftDeadNs: 20e6, DropDeadNs: 20e6, Flow: 0.2, Seed: rapid.Uint64().Draw(t, "seed")}
		d.unlike = s.Draw(n)
	}
	if rapid.Bool().Draw(t, "warming") {
		d.oil = Warming{FromDegC: rapid.Float64Range(-30, 120).Draw(t, "first °C"), TimeConstantS: rapid.Float64Range(0.1, 100).Draw(t, "time constant")}
	}
	due := int64(0)
	for range rapid.IntRange(0, 60).Draw(t, "setpoints") {
		due += rapid.SampledFrom([]int64{0, 1, 1e6, 17e6, 60e6, 333e6, 2e9}).Draw(t, "pause")
		d.points = append(d.points, sections.Setpoint{
			DueNs: due, Section: int16(rapid.IntRange(0, n-1).Draw(t, "section")), On: rapid.Bool().Draw(t, "on"),
		})
	}
	return d
}

func (d *drive) bank(t *rapid.T) *Bank {
	b, err := New(d.p, len(d.faults))
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Warm(d.oil); err != nil {
		t.Fatal(err)
	}
	b.Start(0, d.inWork)
	for i, u := range d.unlike {
		if err := b.SetDeviation(i, u); err != nil {
			t.Fatal(err)
		}
	}
	for i, f := range d.faults {
		if err := b.SetFault(i, f); err != nil {
			t.Fatal(err)
		}
	}
	b.Record()
	return b
}

// endNs is restNs after the last setpoint.
func (d *drive) endNs(restNs int64) int64 {
	if len(d.points) == 0 {
		return restNs
	}
	return d.points[len(d.points)-1].DueNs + restNs
}

func TestAnySplitGivesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDrive(t)
		end := d.endNs(30e9)
		whole := d.bank(t)
		for _, sp := range d.points {
			whole.Command(sp)
		}
		want := whole.Advance(end, nil)

		split := d.bank(t)
		var got []sections.WorkChange
		points := d.points
		for split.NowNs() < end {
			to := split.NowNs() + rapid.Int64Range(1, 1500e6).Draw(t, "tick")
			ahead := rapid.SampledFrom([]int64{0, 1, 50e6, 1e9}).Draw(t, "ahead")
			to = min(to, end)
			if len(points) > 0 {
				to = min(to, points[0].DueNs) // never late
			}
			had := len(got)
			from := split.NowNs()
			got = split.Advance(to, got)
			for _, c := range got[had:] {
				if c.TimeNs < from || c.TimeNs >= to {
					t.Fatalf("%+v while advancing from %d to %d", c, from, to)
				}
			}
			for len(points) > 0 && points[0].DueNs <= to+ahead {
				split.Command(points[0])
				points = points[1:]
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("split:\n%v\nwhole:\n%v", got, want)
		}
		for i := range d.faults {
			if !slices.Equal(split.Profile(i), whole.Profile(i)) || split.HeightM(i) != whole.HeightM(i) {
				t.Fatalf("section %d moved otherwise:\n%v\n%v", i+1, split.Profile(i), whole.Profile(i))
			}
		}
	})
}

func TestWhatAlwaysHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDrive(t)
		b := d.bank(t)
		for _, sp := range d.points {
			b.Command(sp)
		}
		out := b.Advance(d.endNs(2000e9), nil) // at rest, however cold

		if !slices.IsSortedFunc(out, func(x, y sections.WorkChange) int { return cmp.Compare(x.TimeNs, y.TimeNs) }) {
			t.Fatalf("not in order of time: %v", out)
		}
		edge := d.p.WorkingDepthM - d.p.EffectiveDepthM
		for i := range d.faults {
			state := d.inWork
			for _, c := range only(out, i) {
				if c.On == state {
					t.Fatalf("section %d changes to what it is: %v", i+1, only(out, i))
				}
				state = c.On
				// A change happens at the effective depth: to the speed times 1 ns.
				if h := b.Profile(i).AtM(c.TimeNs); h < edge-1e-8 || h > edge+1e-8 {
					t.Fatalf("section %d: %+v at height %.12g, effective depth is at %.12g", i+1, c, h, edge)
				}
			}
			if b.InWork(i) != state {
				t.Fatalf("section %d: in work %v after %v", i+1, b.InWork(i), only(out, i))
			}
			if h := b.HeightM(i); state != (h <= edge) && d.faults[i].FlowLoss == 0 {
				t.Fatalf("section %d: in work %v at rest at %g, effective depth is at %g", i+1, state, h, edge)
			}
			for _, k := range b.Profile(i) {
				if !(k.HeightM >= 0 && k.HeightM <= d.p.RaisedM+d.p.WorkingDepthM) {
					t.Fatalf("section %d: knot %+v outside the stroke", i+1, k)
				}
			}
		}
		pumpHolds(t, &d, b)
	})
}

// pumpHolds checks that between any two knots the volume lifted is at most
// what the pump gave.
func pumpHolds(t *rapid.T, d *drive, b *Bank) {
	var times []int64
	for i := range d.faults {
		for _, k := range b.Profile(i) {
			times = append(times, k.TimeNs)
		}
	}
	slices.Sort(times)
	times = slices.Compact(times)
	litres := d.p.pistonM2() * d.p.StrokeM / d.p.TravelM() // m³ per metre of tool travel
	for j := 1; j < len(times); j++ {
		volume := 0.0
		for i := range d.faults {
			if up := b.Profile(i).AtM(times[j]) - b.Profile(i).AtM(times[j-1]); up > 0 {
				volume += up * litres
			}
		}
		// Events are to the nearest ns, which a tool may gain at either end.
		seconds := float64(times[j]-times[j-1]+2) * 1e-9
		if given := d.p.PumpFlowM3PerS * seconds; volume > given*(1+1e-9)+1e-15 {
			t.Fatalf("%g m³ lifted from %d to %d, the pump gives %g", volume, times[j-1], times[j], given)
		}
	}
}
