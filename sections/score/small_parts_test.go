// Small parts of the score that whole drives seldom show.

package score

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// A strip goes across the lines upwards or downwards where both of its sides do.
func TestAcross(t *testing.T) {
	for _, tc := range []struct {
		left, right float64
		want        int
	}{{1, 2, 1}, {-1, -2, -1}, {1, -1, 0}, {-1, 1, 0}, {0, 1, 0}, {1, 0, 0}, {0, -1, 0}, {-1, 0, 0}, {0, 0, 0}} {
		left, right := []orb.Point{{9, 9}, {0, 5}, {3, 5 + tc.left}}, []orb.Point{{9, 9}, {1, 7}, {4, 7 + tc.right}}
		if got := across(left, right, 1); got != tc.want {
			t.Errorf("left by %g, right by %g: %d; want %d", tc.left, tc.right, got, tc.want)
		}
	}
}

// The ends of a bar that heads north-east: half its width to the left and to the right, and as far
// behind as it hangs.
func TestEnds(t *testing.T) {
	left, right := ends(rearBar(3, 2, -4), &motion.Pose{EastM: 10, NorthM: 20, HeadingRad: math.Pi / 4, ToolHeadingRad: math.Pi / 4})
	for i, want := range [4]float64{10 + (-4-3)*math.Sqrt2/2, 20 + (-4+3)*math.Sqrt2/2, 10 + (-4+3)*math.Sqrt2/2, 20 + (-4-3)*math.Sqrt2/2} {
		near(t, "end", [4]float64{left[0], left[1], right[0], right[1]}[i], want, 1e-9)
	}
}

// After a jump into the field every section should have been in work from the pose of arrival on.
func TestJumpIntoTheField(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(0, 0, 12, 60)))
	m := rearBar(2, 1, -2)
	track := newDrive(6, -40, 0).along(10, 2, 0).track
	there := newDrive(6, 20, 0).along(20, 2, 0).track
	for i := range there {
		there[i].TimeNs += 10e9
	}
	res := mustRun(t, append(track, there...), newGate(f, m, sections.CropFirst), nil, nil, Options{})
	if len(res.Events) != 2 {
		t.Fatalf("%+v; want two drops", res.Events)
	}
	for _, e := range res.Events {
		if e.Kind != Missed || !e.On || e.IdealNs != there[0].TimeNs {
			t.Errorf("%+v; want a drop missed at %d", e, there[0].TimeNs)
		}
	}
}
