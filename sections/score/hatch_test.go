// Ground on lines across it: strips that abut only touch, slivers between passes
// and rings of sparse poses come out as closed forms say.

package score

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// mustHatch covers a box whose ways lead along a bearing.
func mustHatch(t *testing.T, lo, hi orb.Point, bearingRad float64) *hatch {
	t.Helper()
	s := survey{lo: lo, hi: hi}
	s.drive(bearingRad, 50)
	f := newField(t, zone(field.Body, anyHeading, box(lo[0], lo[1], hi[0], hi[1])))
	g, err := newHatch(&s, f)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// aimed attributes to sections i to j of a bar of n.
func aimed(n int, widthM float64, i, j int) *repeats {
	r := &repeats{sections: rearBar(n, widthM, 0).Sections, lengthM: make([]float64, n)}
	r.aim(i, j)
	return r
}

func sum(list []float64) (total float64) {
	for _, v := range list {
		total += v
	}
	return total
}

// Strips side by side and one after another, at any bearing, only touch;
// together they hold the ground they cover; a second coat is all repeat, each
// part of it at the section that painted it.
func TestStripsAbut(t *testing.T) {
	const n, width, length = 6, 0.5, 20.0
	for bearing := 0.0; bearing < 360; bearing += 15 {
		t.Run(fmt.Sprintf("%g°", bearing), func(t *testing.T) {
			g := mustHatch(t, orb.Point{-30, -30}, orb.Point{30, 30}, bearing*deg)
			sin, cos := math.Sincos(bearing * deg)
			again := aimed(n, width, 0, 0)
			coat := func(i, j int) {
				again.aim(i, j)
				at := func(along, y float64) orb.Point {
					return g.point(along*sin+y*cos, along*cos-y*sin)
				}
				for along := -length / 2; along < length/2; along += 5 {
					var left, right []orb.Point
					for step := 0.0; step <= 5; step += 2.5 {
						left, right = append(left, at(along+step, again.leftM)), append(right, at(along+step, again.rightM))
					}
					g.fill(left, right, again)
				}
			}
			for i := range n {
				coat(i, i)
			}
			near(t, "again, of strips that touch", g.m2(sum(again.lengthM)), 0, 1e-6)
			near(t, "worked", g.m2(g.workedM), n*width*length, 0.0015*n*width*length) // up to a line at each end
			first := g.workedM
			coat(0, n-1)
			near(t, "worked after the second coat", g.workedM, first, 1e-6)
			near(t, "the second coat", sum(again.lengthM), first, 1e-3)
			for _, lengthM := range again.lengthM { // each side lies up to a line off
				near(t, "of each section", g.m2(lengthM), width*length, 0.005*width*length)
			}
			total := 0.0
			for _, line := range g.lines {
				for k, s := range line {
					total += s.toM - s.fromM
					if s.toM <= s.fromM || k > 0 && s.fromM <= line[k-1].toM {
						t.Fatalf("stretch %d of %v is out of order", k, line)
					}
				}
			}
			near(t, "all stretches", total, g.workedM, 1e-3)
		})
	}
}

// A side is the same from both polygons that share it, bit for bit.
func TestSideHasNoDirection(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	g := mustHatch(t, orb.Point{0, 0}, orb.Point{3, 3}, 0)
	for range 1000 {
		p, q := g.point(3*r.Float64(), 3*r.Float64()), g.point(3*r.Float64(), 3*r.Float64())
		g.low, g.marks = 0, make([]marks, len(g.lines))
		g.side(p, q, 1, 2)
		g.side(q, p, 2, 1)
		for line, m := range g.marks {
			if m.n != 0 && (m.n != 2 || m.at[0] != m.at[1]) {
				t.Fatalf("%v to %v and back, line %d: %+v", p, q, line, m)
			}
		}
	}
}

// A quadrilateral, which may cross itself and leave the lines, holds on each line
// what a search by angles puts inside.
func TestPolygonAgainstPointInPolygon(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for range 300 {
		g := mustHatch(t, orb.Point{0, 0}, orb.Point{3, 3}, 0)
		var quad [4]orb.Point
		for i := range quad {
			quad[i] = g.point(r.Float64()*4-0.5, r.Float64()*4-0.5)
		}
		again := aimed(1, 1, 0, 0)
		g.fill([]orb.Point{quad[0], quad[3]}, []orb.Point{quad[1], quad[2]}, again)
		if s := sum(again.lengthM); s != 0 {
			t.Fatalf("%g m of a first coat worked again", s)
		}
		ring := orb.Ring{quad[0], quad[1], quad[2], quad[3], quad[0]}
		for range 300 {
			line := r.IntN(len(g.lines))
			p := orb.Point{r.Float64()*8 - 4, float64(line)}
			got := false
			for _, s := range g.lines[line] {
				got = got || s.fromM <= p[0] && p[0] < s.toM
			}
			if got != planar.RingContains(ring, p) {
				t.Fatalf("%v of %v: %v", p, quad, got)
			}
		}
	}
}

// Lines are never nearer than 3 cm; their number and what they hold is bounded
// however large the ground and however long the way.
func TestHatchSize(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(0, 0, 1, 1)))
	for _, size := range [][3]float64{{0, 0, 0}, {100, 40, 700}, {900, 536, 8e4}, {900, 536, 8e5}, {30e3, 20e3, 1e5}, {9e5, 0, 9e5}, {0, 9e5, 9e5}} {
		s := survey{lo: orb.Point{5, 5}, hi: orb.Point{5 + size[0], 5 + size[1]}}
		s.drive(0.3, size[2])
		g, err := newHatch(&s, f)
		if err != nil {
			t.Fatal(err)
		}
		if g.gapM < finestHatchM || len(g.lines) > mostLines || size[2]/g.gapM > 1.2*mostCuts {
			t.Errorf("%v m: %d lines, %g m apart", size, len(g.lines), g.gapM)
		}
	}
	s := survey{hi: orb.Point{1e9, 1e9}}
	if _, err := newHatch(&s, f); err == nil {
		t.Error("no error for ground of thousands of kilometres")
	}
}

// Lines lie at an angle to all ways, wherever they lead: 60° to most and 30° to
// the rest where these run across.
func TestBearing(t *testing.T) {
	for _, c := range []struct {
		name         string
		ways         [][2]float64 // bearing in degrees, m
		best, others float64      // degrees between the lines and the first way, and the others
	}{
		{"one way and back", [][2]float64{{10, 100}, {190, 100}, {-170, 100}, {370, 50}}, 90, 90},
		{"headlands across", [][2]float64{{20, 900}, {110, 100}}, 60, 30},
		{"as much across", [][2]float64{{45, 100}, {135, 100}}, 45, 45},
	} {
		t.Run(c.name, func(t *testing.T) {
			var s survey
			for _, w := range c.ways {
				s.drive(w[0]*deg, w[1])
			}
			bearing, _ := s.bearing()
			angle := func(way float64) float64 { return math.Abs(math.Asin(math.Sin(bearing-way*deg))) / deg }
			near(t, "angle to the first way", angle(c.ways[0][0]), c.best, 3)
			near(t, "angle to the last way", angle(c.ways[len(c.ways)-1][0]), c.others, 3)
		})
	}
}

// Two passes that wander by 2 cm to both sides of where they would only touch
// overlap in slivers of a·L/π, wherever they lead.
func TestSliversBetweenPasses(t *testing.T) {
	const width, wander, wave, waves = 3.0, 0.02, 12.0, 20
	f := newField(t, zone(field.Body, anyHeading, box(-10, -250, 250, 250)))
	for bearing := 0.0; bearing < 180; bearing += 15 {
		t.Run(fmt.Sprintf("%g°", bearing), func(t *testing.T) {
			sin, cos := math.Sincos(bearing * deg)
			var track motion.Track
			for pass := range 2 {
				for k := range waves*60 + 1 {
					along, side := float64(k)*wave/60, 0.0
					if pass == 1 { // the bar stays square to the rows
						side = width + wander*math.Sin(2*math.Pi*along/wave)
					}
					track = append(track, motion.Pose{TimeNs: startNs + int64(len(track))*100e6, SpeedMps: 2,
						EastM: along*sin + side*cos, NorthM: along*cos - side*sin, HeadingRad: bearing * deg, ToolHeadingRad: bearing * deg})
				}
			}
			res := mustRun(t, track, newGate(f, rearBar(3, width/3, 0), sections.Even), nil, []bool{true, true, true}, Options{})
			near(t, "repeat", res.Area.RepeatM2, wander*wave*waves/math.Pi, 0.001*wander*wave*waves/math.Pi)
		})
	}
}

// Between poses a second apart the way is an arc, and so is the border of what
// is worked: two rings that overlap by 10 cm.
func TestRingsOfSparsePoses(t *testing.T) {
	const radius, width, lap = 10.0, 3.0, 0.1
	d := newDrive(-radius, 0, 0)
	d.stepNs = 1e9
	d.along(1.9*math.Pi*radius, 2, 1/radius)
	outer := newDrive(-radius-width+lap, 0, 0)
	outer.stepNs = 1e9
	outer.track[0].TimeNs = d.track[len(d.track)-1].TimeNs + 100e6
	d.track = append(d.track, outer.along(1.9*math.Pi*(radius+width-lap), 2, 1/(radius+width-lap)).track...)
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 50)))
	on := []bool{true, true, true, true}
	res := mustRun(t, d.track, newGate(f, rearBar(4, width/4, 0), sections.Even), nil, on, Options{})
	ring := func(from, to float64) float64 { return 0.95 * math.Pi * (to*to - from*from) }
	edge := radius + width/2
	near(t, "repeat", res.Area.RepeatM2, ring(edge-lap, edge), 0.001*ring(edge-lap, edge))
	near(t, "worked once", res.WorkedOnceM2, ring(edge-width, edge+width-lap), 0.001*ring(edge-width, edge+width-lap))
}

// On a turn the straight parts that are drawn for a leg stay within sagM of the way, all
// along the bar and wherever the leg lies.
func TestPartsFollowATurn(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	m := rearBar(4, 0.75, -2)
	for range 300 {
		radiusM, turn, heading := 6+60*r.Float64(), 0.3*r.Float64()-0.15, 2*math.Pi*r.Float64()
		pose := func(at float64) motion.Pose { // the leg's middle is near the origin
			h := heading + at*turn
			return motion.Pose{TimeNs: int64((at + 1) * 1e9), EastM: -radiusM * (math.Cos(h) - math.Cos(heading)), NorthM: radiusM * (math.Sin(h) - math.Sin(heading)),
				HeadingRad: h, SpeedMps: radiusM * turn, YawRateRadPerS: turn}
		}
		b := newBar(m)
		p := painter{bar: &b, count: 1, at: pose(-1)}
		from, to := pose(-1), pose(1)
		p.goTo(to)
		parts := len(p.way) - 1
		for k := range parts {
			middle := motion.Interp(&from, &to, int64((float64(k)+0.5)/float64(parts)*2e9))
			f := m.Frame(&middle)
			for section := range m.Sections {
				e, n, _, _ := m.Line(section, &f)
				e0, n0, _, _ := m.Line(section, &p.way[k])
				e1, n1, _, _ := m.Line(section, &p.way[k+1])
				if off := math.Hypot((e0+e1)/2-e, (n0+n1)/2-n); off > 1.2*sagM && parts < mostParts {
					t.Fatalf("radius %.1f m, turn of %.3f rad in %d parts: part %d is %.2g m off the way", radiusM, 2*turn, parts, k+1, off)
				}
			}
		}
	}
}

// Lines are as far apart on ground far from the origin as on ground around it.
func TestHatchFarAway(t *testing.T) {
	for _, at := range []float64{-13000, 0, 13000} {
		if g := mustHatch(t, orb.Point{at, at}, orb.Point{at + 100, at + 100}, 0.7); g.gapM != finestHatchM {
			t.Errorf("ground at %g m has lines %g m apart, want %g", at, g.gapM, finestHatchM)
		}
	}
}
