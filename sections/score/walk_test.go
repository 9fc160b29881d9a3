// What must not be overlooked on the way: changes at the very instant of a pose, a
// bar beside the tractor, a new start after a jump.

package score

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
)

// A change at the very instant of a pose counts from there, far from any border too.
func TestChangeAtAPose(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 300)))
	g := newGate(f, rearBar(2, 0.75, 0), sections.CropFirst)
	track := newDrive(0, 0, 0).along(200, 2, 0).track // a pose every 0.2 m
	at := func(pose int) int64 { return track[pose].TimeNs }
	res := mustRun(t, track, g, []sections.WorkChange{
		{TimeNs: at(200), Section: 0, On: true}, {TimeNs: at(200) + 50e6, Section: 1, On: true},
		{TimeNs: at(700) - 50e6, Section: 1}, {TimeNs: at(700), Section: 0},
	}, nil, Options{})
	near(t, "worked by section 1", res.Sections[0].Area.WorkedM2, 0.75*100, 1e-6)
	near(t, "worked by section 2", res.Sections[1].Area.WorkedM2, 0.75*99.8, 1e-6)
	near(t, "missed by section 1", res.Sections[0].Area.MissM2, 0.75*100, 1e-6)
}

// A bar that works beside the tractor meets the borders there, whichever side it
// is on and whichever way it drives.
func TestBarBesideTheTractor(t *testing.T) {
	for _, side := range []float64{-1, 1} {
		m := &sections.Machine{Sections: []sections.Section{{YM: 4.5*side - 0.75, WidthM: 1.5}, {YM: 4.5*side + 0.75, WidthM: 1.5}}}
		for bearing := 0.0; bearing < 360; bearing += 45 {
			sin, cos := math.Sincos(bearing * deg)
			at := func(ahead, right float64) orb.Point { return orb.Point{ahead*sin + right*cos, ahead*cos - right*sin} }
			beside := orb.Polygon{{at(0, 4.5*side-1.5), at(0, 4.5*side+1.5), at(40, 4.5*side+1.5), at(40, 4.5*side-1.5)}}
			f := newField(t, zone(field.Body, anyHeading, beside))
			start := at(-30, 0)
			track := newDrive(start[0], start[1], bearing*deg).along(100, 2, 0).track
			res := mustRun(t, track, newGate(f, m, sections.CropFirst), nil, nil, Options{})
			if res.Drop.Count != 2 || res.Lift.Count != 2 {
				t.Errorf("bearing %g°, side %g: %d drops and %d lifts, want 2 of each", bearing, side, res.Drop.Count, res.Lift.Count)
			}
			near(t, "passed", res.Area.PassedM2, 3*40, 1e-3)
		}
	}
}

// After a jump the machine begins anew: at 26° from the rows it would go on with a pass,
// but it does not begin one.
func TestRowsAfterAJump(t *testing.T) {
	f := newField(t, zone(field.Body, 0, box(-20, 0, 20, 100)), zone(field.Body, 0, box(180, 0, 300, 100)))
	g := newGate(f, rearBar(4, 0.75, 0), sections.CropFirst) // within 25°
	track := newDrive(0, 20, 0).along(40, 2, 0).track
	there := newDrive(200, 20, 26*deg).along(60, 2, 0).track
	shift := track[len(track)-1].TimeNs + 10e9 - startNs
	for i := range there {
		there[i].TimeNs += shift
	}
	res := mustRun(t, append(track, there...), g, nil, nil, Options{})
	near(t, "passed", res.Area.PassedM2, 3*40, 1e-3)
}
