// Drives, fields and machines that the tests score.

package score

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

const (
	kmh = 1 / 3.6
	deg = math.Pi / 180
	// startNs is 2024-05-02T08:00:00Z.
	startNs = 1714636800e9
)

var anyHeading = math.NaN()

// drive makes a track of straights and arcs, with a pose every stepNs.
type drive struct {
	track  motion.Track
	stepNs int64
}

// newDrive starts at a place, with a bearing, at 10 Hz.
func newDrive(eastM, northM, bearingRad float64) *drive {
	p := motion.Pose{TimeNs: startNs, EastM: eastM, NorthM: northM, HeadingRad: bearingRad, ToolHeadingRad: bearingRad}
	return &drive{track: motion.Track{p}, stepNs: 100e6}
}

// along goes on for a length at a constant speed (negative: backwards) on a
// path that turns right by curvature rad/m. The pose before takes on that
// speed and yaw rate, so that both are steps at the joint.
func (d *drive) along(lengthM, speedMps, curvature float64) *drive {
	start := &d.track[len(d.track)-1]
	start.SpeedMps, start.YawRateRadPerS = speedMps, speedMps*curvature
	from := *start
	totalNs := int64(math.Round(lengthM / math.Abs(speedMps) * 1e9))
	for at := int64(0); at < totalNs; {
		at = min(at+d.stepNs, totalNs)
		s := speedMps * float64(at) * 1e-9
		p := from
		p.TimeNs += at
		p.HeadingRad += s * curvature
		if curvature == 0 {
			p.EastM += s * math.Sin(from.HeadingRad)
			p.NorthM += s * math.Cos(from.HeadingRad)
		} else {
			p.EastM += (math.Cos(from.HeadingRad) - math.Cos(p.HeadingRad)) / curvature
			p.NorthM += (math.Sin(p.HeadingRad) - math.Sin(from.HeadingRad)) / curvature
		}
		p.ToolHeadingRad = p.HeadingRad
		d.track = append(d.track, p)
	}
	return d
}

// box is a rectangle from (w, s) to (e, n).
func box(w, s, e, n float64) orb.Polygon {
	return orb.Polygon{{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}}}
}

func zone(kind field.Kind, bearingRad float64, polygons ...orb.Polygon) field.Zone {
	return field.Zone{Kind: kind, RowBearingRad: bearingRad, Polygons: polygons}
}

func newField(tb testing.TB, zones ...field.Zone) *field.Field {
	tb.Helper()
	f, err := field.New(geodesy.NewPlane(52, 10), nil, zones)
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

// rearBar is a rear-mounted machine of n sections of a width, xM ahead (negative: behind).
func rearBar(n int, widthM, xM float64) *sections.Machine {
	m := &sections.Machine{}
	for i := range n {
		m.Sections = append(m.Sections, sections.Section{
			XM: xM, YM: (float64(i) - float64(n-1)/2) * widthM, WidthM: widthM})
	}
	return m
}

func newGate(f *field.Field, m *sections.Machine, rule sections.EdgeRule) *sections.Gate {
	return &sections.Gate{Field: f, Machine: m, Rule: rule, CosRowTolerance: math.Cos(25 * deg), MinWorkRadiusM: 20}
}

func mustRun(tb testing.TB, track motion.Track, g *sections.Gate, changes []sections.WorkChange, initial []bool, opt Options) *Result {
	tb.Helper()
	res, err := Run(track, g, changes, initial, opt)
	if err != nil {
		tb.Fatal(err)
	}
	return res
}

// late returns the work changes of a machine that follows each ideal crossing
// after a delay.
func late(tb testing.TB, track motion.Track, g *sections.Gate, delayNs func(e *Event) int64) []sections.WorkChange {
	tb.Helper()
	var changes []sections.WorkChange
	for _, e := range mustRun(tb, track, g, nil, nil, Options{}).Events {
		changes = append(changes, sections.WorkChange{TimeNs: e.IdealNs + delayNs(&e), Section: e.Section, On: e.On})
	}
	slices.SortStableFunc(changes, func(a, b sections.WorkChange) int {
		return int(max(-1, min(1, a.TimeNs-b.TimeNs)))
	})
	return changes
}

func always(ns int64) func(*Event) int64 { return func(*Event) int64 { return ns } }

// scattered delays by a normal spread of 0.1 s that depends on the seed alone.
func scattered(seed uint64) func(*Event) int64 {
	r := rand.New(rand.NewPCG(seed, 1))
	return func(*Event) int64 { return int64(r.NormFloat64() * 0.1e9) }
}

// dayField is 900 m by 500 m with headlands of 18 m at the north and south
// end, whose rows run across those of the body.
func dayField(tb testing.TB) *field.Field {
	return newField(tb,
		zone(field.Body, 0, box(0, 0, 900, 500)),
		zone(field.Headland, 90*deg, box(0, -18, 900, 0), box(0, 500, 900, 518)))
}

// day is ten hours' work on dayField at 8 km/h with a bar of 6 m: three passes
// along each headland, then 150 passes, every other one and then the rest,
// joined by U turns of 6 m radius.
func day() motion.Track {
	const v, length = 8 * kmh, 520.0
	d := newDrive(0, -15, 90*deg)
	turn := func(angleRad, radiusM float64) {
		d.along(math.Abs(angleRad)*radiusM, v, math.Copysign(1/radiusM, angleRad))
	}
	straight := func(lengthM float64) { d.along(lengthM, v, 0) }
	straight(900)
	turn(-math.Pi, 3)
	straight(900)
	turn(math.Pi, 3)
	straight(900)
	turn(-math.Pi/2, 6)
	straight(503 + 3 - 12)
	turn(-math.Pi/2, 6)
	straight(900)
	turn(math.Pi, 3)
	straight(900)
	turn(-math.Pi, 3)
	straight(900)
	turn(-math.Pi/2, 6)
	straight(515 + 10 - 6)
	turn(-math.Pi, 4.5)
	right := 1.0
	for k := 1; k <= 150; k++ {
		straight(length)
		switch {
		case k == 75:
			turn(right*math.Pi, 3)
		case k < 75:
			turn(right*math.Pi, 6)
		case k < 150:
			turn(-right*math.Pi, 6)
		}
		right = -right
	}
	return d.track
}
