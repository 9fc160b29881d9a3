// Whatever the field and the driver: the drive can be driven.

package drive

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/sections"
)

// Any four-cornered field, machine and manner gives a drive that a tractor can
// drive, with a pass for every strip.
func TestAnyDriveIsDrivable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		corner := func(name string, e, n float64) orb.Point {
			return orb.Point{
				e + rapid.Float64Range(-20, 20).Draw(t, name+".east"),
				n + rapid.Float64Range(-20, 20).Draw(t, name+".north"),
			}
		}
		size := rapid.Float64Range(45, 80).Draw(t, "size")
		body := orb.Ring{corner("sw", 0, 0), corner("se", size, 0), corner("ne", size, size), corner("nw", 0, size)}
		around := orb.Ring{{-80, -80}, {size + 80, -80}, {size + 80, size + 80}, {-80, size + 80}}
		bearing := rapid.Float64Range(-7, 7).Draw(t, "bearing")
		m := machineOf(
			sections.Mount(rapid.IntRange(0, 2).Draw(t, "mount")), rapid.IntRange(4, 14).Draw(t, "sections"),
			rapid.Float64Range(-6, 5).Draw(t, "x"), rapid.Float64Range(-2, 2).Draw(t, "y"),
		)
		p := Params{
			WorkMps:     rapid.Float64Range(1, 5).Draw(t, "work"),
			BorderMps:   rapid.Float64Range(0.5, 3).Draw(t, "border"),
			HeadlandMps: rapid.Float64Range(0.5, 3).Draw(t, "headland"),
			AccelMps2:   rapid.Float64Range(0.1, 1).Draw(t, "accel"),
			DecelMps2:   rapid.Float64Range(0.1, 1).Draw(t, "decel"),
			MinRadiusM:  rapid.Float64Range(2.5, 9).Draw(t, "radius"),
			SteerTimeS:  rapid.Float64Range(0.3, 3).Draw(t, "steer"),
			SkipPasses:  rapid.IntRange(0, 4).Draw(t, "skip"),
			PauseS:      rapid.Float64Range(0, 3).Draw(t, "pause"),
			OverlapM:    rapid.Float64Range(-0.5, 0.5).Draw(t, "overlap"),
		}
		if m.Mount != sections.Trailed {
			p.Turn = Turn(rapid.IntRange(0, 1).Draw(t, "turn"))
		}
		d, err := Plan(box(bearing, body, around), m, p)
		if err != nil {
			t.Fatal(err)
		}
		full, _ := p.Complete(m)
		checkMotion(t, d.Track, full, 1e-9)
		for _, q := range d.Track {
			if math.IsNaN(q.EastM + q.NorthM + q.HeadingRad + q.ToolHeadingRad + q.SpeedMps + q.YawRateRadPerS) {
				t.Fatalf("NaN in %+v", q)
			}
		}
		r := newRows(orb.MultiPolygon{{append(body, body[0])}}, bearing)
		if n := int((r.vMax - r.vMin) / (barOf(m).widthM() - p.OverlapM)); len(d.Passes) < n {
			t.Fatalf("%d passes; want %d or more", len(d.Passes), n)
		}
	})
}
