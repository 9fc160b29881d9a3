// Strips of few corners where the way is straight.

package score

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections"
	"liftbench/sections/field"
)

// Between two corners both ends of the bar stay within 5 mm of a straight line,
// on noisy straights, turns, reversals and jumps; straights have no corners.
func TestCorners(t *testing.T) {
	m := rearBar(4, 1.5, -2)
	r := rand.New(rand.NewPCG(5, 6))
	d := newDrive(0, 0, 0.3).along(200, 2, 0).along(20, 2, 0.1).along(30, -1.5, -0.12).along(100, 3, 0)
	smooth := len(d.track)
	straight := 0
	for _, k := range findCorners(d.track, m) {
		if k > 5 && k < 995 {
			straight++
		}
	}
	if straight != 0 {
		t.Errorf("%d corners on a straight", straight)
	}
	d.along(60, 2, -0.08)
	for i := range d.track[:smooth] {
		d.track[i].EastM += r.NormFloat64() * 0.001
		d.track[i].HeadingRad += r.NormFloat64() * 0.0003
	}
	for i := range d.track[700:] { // a break in the log, straight ahead
		d.track[700+i].EastM += 50 * math.Sin(0.3)
		d.track[700+i].NorthM += 50 * math.Cos(0.3)
	}
	list := findCorners(d.track, m)
	if list[0] != 0 || list[len(list)-1] != len(d.track)-1 || len(list) > len(d.track)/2 {
		t.Fatalf("%d corners from %d to %d of %d poses", len(list), list[0], list[len(list)-1], len(d.track))
	}
	broken := false
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		if b <= a {
			t.Fatalf("corner %d after %d", b, a)
		}
		broken = broken || a == 699 && b == 700
		al, ar := ends(m, &d.track[a])
		bl, br := ends(m, &d.track[b])
		for k := a + 1; k < b; k++ {
			l, r := ends(m, &d.track[k])
			off := max(planar.DistanceFromSegment(al, bl, l), planar.DistanceFromSegment(ar, br, r))
			if off > 1.1*straightM {
				t.Errorf("pose %d is %g m off the line from %d to %d", k, off, a, b)
			}
		}
	}
	if !broken {
		t.Error("the break lies within a straight")
	}
}

// A strip on a slalom covers what its section swept.
func TestStripsOnASlalom(t *testing.T) {
	d := newDrive(0, 0, 0)
	for k := range 12 {
		d.along(8, 2, 0.05*float64(1-2*(k%2)))
	}
	g := newGate(newField(t, zone(field.Body, anyHeading, orb.Polygon{{{-80, -80}, {80, -80}, {80, 120}, {-80, 120}, {-80, -80}}})), rearBar(3, 1, -2), sections.Even)
	changes := []sections.WorkChange{{TimeNs: startNs + 7.77e9, Section: 1, On: false}}
	res := mustRun(t, d.track, g, changes, []bool{true, true, true}, Options{Strips: true})
	var area [3]float64
	for _, s := range res.Strips {
		area[s.Section] += math.Abs(planar.Area(s.Ring))
	}
	for i, got := range area {
		near(t, "strips of a section", got, res.Sections[i].Area.PassedM2, 0.005*res.Sections[i].Area.PassedM2)
	}
	if len(res.Strips) != 4 {
		t.Errorf("%d strips, want 4", len(res.Strips))
	}
}
