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

// A change before the first pose only sets the state; one at it, or later, is a change of the drive.
func TestChangesFromTheFirstPose(t *testing.T) {
	m := rearBar(2, 1, -2)
	change := func(afterNs int64, section int16, on bool) sections.WorkChange {
		return sections.WorkChange{TimeNs: startNs + afterNs, Section: section, On: on}
	}
	lanes, moves, err := newLanes(m, []sections.WorkChange{change(-1, 0, true), change(0, 1, true), change(1, 0, true), change(2, 0, false)}, nil, startNs)
	if err != nil || len(moves) != 2 || len(lanes[0].changes) != 1 || len(lanes[1].changes) != 1 || !lanes[0].on || lanes[1].on || moves[0].Section != 1 || moves[1].On {
		t.Errorf("%+v, %+v, %v; want section 1 down from before, section 2 dropped at the first pose, section 1 lifted", lanes, moves, err)
	}
}

// The outline of a span has each corner of the way once, also one at its very start or end.
func TestRingAtCorners(t *testing.T) {
	track := newDrive(0, 0, 0).along(6, 2, 0).track
	d := drawing{track: track, corners: []int{0, 10, 20, 30}, machine: rearBar(1, 2, 0)}
	for _, tc := range []struct {
		fromS, untilS float64
		norths        []float64
	}{{0, 1, []float64{0, 2}}, {1, 2.5, []float64{2, 4, 5}}, {2.5, 3, []float64{5, 6}}} {
		ring := d.ring(startNs+int64(tc.fromS*1e9), startNs+int64(tc.untilS*1e9))
		var want orb.Ring
		for _, n := range tc.norths {
			want = append(want, orb.Point{-1, n})
		}
		for k := len(tc.norths) - 1; k >= 0; k-- {
			want = append(want, orb.Point{1, tc.norths[k]})
		}
		want = append(want, want[0])
		if len(ring) != len(want) {
			t.Fatalf("from %g to %g s: %v; want %v", tc.fromS, tc.untilS, ring, want)
		}
		for k := range want {
			if !(math.Hypot(ring[k][0]-want[k][0], ring[k][1]-want[k][1]) <= 1e-9) {
				t.Errorf("from %g to %g s: %v; want %v", tc.fromS, tc.untilS, ring, want)
				break
			}
		}
	}
}
