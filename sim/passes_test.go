// Turns are no work: on a field driven without error each section ought to
// drop and lift once a pass, and nothing else, whether the headland is left or
// worked in passes of its own.

package sim_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
	"liftbench/sim/drive"
)

// farm is a drawn field with a headland in strips, and a machine and a driver
// for it.
type farm struct {
	zones   []field.Zone
	machine *sections.Machine
	params  drive.Params
}

// drawFarm draws a convex field of four to seven corners about wideM across, and
// a headland as wide as some bars around it, in strips. The body's rows keep 15°
// or more from those of every strip: nearer, both are one job for a tolerance
// of 10°, and a pass of the body goes on in the strip.
func drawFarm(rng *rand.Rand, wideM float64) farm {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	n := 4 + rng.IntN(4)
	body := make(orb.Ring, n)
	for i := range body {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + between(-0.15, 0.15)) / float64(n))
		body[i] = orb.Point{wideM / 2 * between(1, 1.8) * c, wideM / 2 * s}
	}
	s, c := math.Sincos(between(0, math.Pi))
	for i, p := range body {
		body[i] = orb.Point{p[0]*c - p[1]*s, p[0]*s + p[1]*c}
	}
	sections6 := 4 + rng.IntN(5)
	mount := sections.Mount(rng.IntN(3))
	x := between(1.5, 5)
	if mount != sections.FrontRigid {
		x = -x
	}
	f := farm{machine: bar(mount, x, sections6, 1)}
	if mount == sections.Trailed {
		f.machine.HitchBehindM, f.machine.DrawbarM = 0.8, 3
	}
	bearing := between(0, math.Pi)
	for i := 0; i < n; i++ {
		a, b := body[i], body[(i+1)%n]
		if off := math.Remainder(bearing-math.Atan2(b[0]-a[0], b[1]-a[1]), math.Pi); math.Abs(off) < 15*math.Pi/180 {
			bearing, i = between(0, math.Pi), -1
		}
	}
	f.zones = []field.Zone{{Name: "body", RowBearingRad: bearing, Polygons: orb.MultiPolygon{{append(body, body[0])}}}}
	// An odd number of passes ends a strip where the next begins. After an
	// even one a driver goes back along the strip with the hoe switched off,
	// which the generated driver does not.
	// It is wide enough to turn on.
	passes := 3
	for passes*sections6 < 24 {
		passes += 2
	}
	widthM := float64(passes * sections6)
	out := outset(body[:n], widthM)
	for i := range n {
		k := (i + 1) % n
		a, b := body[i], body[k]
		f.zones = append(f.zones, field.Zone{
			Name: fmt.Sprintf("headland %d", i+1), Kind: field.Headland, RowBearingRad: math.Atan2(b[0]-a[0], b[1]-a[1]),
			Polygons: orb.MultiPolygon{{{a, out[i], out[k], b, a}}},
		})
	}
	f.params = drive.Params{
		StartNs: startNs, WorkMps: between(1.2, 3.5), SkipPasses: rng.IntN(3),
		MinRadiusM: between(4, 7), SteerTimeS: between(1, 2.5), Turn: drive.Turn(rng.IntN(2)), PauseS: 1,
	}
	if mount == sections.Trailed {
		f.params.Turn = drive.Bulb
	}
	return f
}

// outset is a convex ring, counter-clockwise, moved out by so much.
func outset(ring []orb.Point, byM float64) []orb.Point {
	n := len(ring)
	out := make([]orb.Point, n)
	for i, p := range ring {
		// Unit normals of the edges before and after; the corner moves along
		// their sum s by 2·s/|s|².
		normal := func(a, b orb.Point) orb.Point {
			d := math.Hypot(b[0]-a[0], b[1]-a[1])
			return orb.Point{(b[1] - a[1]) / d, (a[0] - b[0]) / d}
		}
		u, v := normal(ring[(i+n-1)%n], p), normal(p, ring[(i+1)%n])
		s := orb.Point{u[0] + v[0], u[1] + v[1]}
		k := 2 * byM / (s[0]*s[0] + s[1]*s[1])
		out[i] = orb.Point{p[0] + k*s[0], p[1] + k*s[1]}
	}
	return out
}

// lifts returns how many lifts there ought to be on the whole drive, and how
// many the passes call for: each driven by itself, dead straight, over its own
// zone alone. That is once a section, but for sections that a corner of the zone
// takes no half of.
func (f *farm) lifts(t *testing.T, seed uint64) (got, want int, d *drive.Drive) {
	t.Helper()
	all := fieldOf(t, f.zones)
	d, err := drive.Plan(all, f.machine, f.params)
	if err != nil {
		t.Fatalf("seed %d: %v", seed, err)
	}
	gate := sections.Gate{Machine: f.machine, Rule: sections.Even, CosRowTolerance: math.Cos(10 * math.Pi / 180), MinWorkRadiusM: 20}
	count := func(world *field.Field, track motion.Track) int {
		gate.Field = world
		res, err := score.Run(track, &gate, nil, nil, score.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return res.Lift.Count
	}
	got = count(all, d.Track)
	for _, p := range d.Passes {
		alone := fieldOf(t, []field.Zone{f.zones[p.Zone]})
		e, n := p.To[0]-p.From[0], p.To[1]-p.From[1]
		heading, length := math.Atan2(e, n), math.Hypot(e, n)
		s, c := math.Sincos(heading)
		want += count(alone, drive.Straight(startNs, p.From[0]-20*s, p.From[1]-20*c, heading, 2, length+40))
	}
	return got, want, d
}

// With LIFTBENCH_CAMPAIGN=full 200 fields are driven, with ci 30, otherwise 6. The count is
// exact on every one.
func TestTurnsAreNoWork(t *testing.T) {
	farms := campaign.Times(6, 30, 200)
	for _, headland := range []string{"left", "first", "last"} {
		t.Run(headland, func(t *testing.T) {
			bad, seen, seed := 0, 0, uint64(0)
			for ; seen < farms; seed++ {
				f := drawFarm(rand.New(rand.NewPCG(seed, 14)), 70)
				switch headland {
				case "left":
					for i := range f.zones {
						f.zones[i].Unworked = f.zones[i].Kind == field.Headland
					}
				case "first":
					f.params.Headland = drive.HeadlandFirst
				case "last":
					f.params.Headland = drive.HeadlandLast
				}
				got, want, d := f.lifts(t, seed)
				// Nothing tells a way along the rows from a pass, and the planner says so.
				if slices.ContainsFunc(d.Warnings, func(w string) bool { return strings.Contains(w, "along the rows") }) {
					continue
				}
				seen++
				if got != want {
					bad++
					t.Errorf("seed %d: %d lifts; %d passes of %d sections call for %d", seed, got, len(d.Passes), len(f.machine.Sections), want)
				}
			}
			t.Logf("%d of %d fields exact; %d more drawn are driven along rows", seen-bad, seen, seed-uint64(seen))
		})
	}
}
