// Drives whose score can be written down: straight approaches, slanting
// borders, the same strip twice, reversing.

package score

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

// A machine that answers every crossing after the same delay is v·delay late
// in place, drop and lift alike, at any bearing and wherever its tools hang.
func TestStraightApproachPlaceError(t *testing.T) {
	for _, speed := range []float64{3, 8, 15} {
		for _, delayMs := range []int64{-200, 350, 800} {
			t.Run(fmt.Sprintf("%g km/h, %d ms", speed, delayMs), func(t *testing.T) {
				f := newField(t, zone(field.Body, anyHeading, box(-50, 0, 50, 60)))
				g := newGate(f, rearBar(8, 0.5, 1.7), sections.CropFirst)
				track := newDrive(0, -40.123, 0).along(140, speed*kmh, 0).track
				changes := late(t, track, g, always(delayMs*1e6))
				res := mustRun(t, track, g, changes, nil, Options{})
				want := speed * kmh * float64(delayMs) * 1e-3
				for name, s := range map[string]Stats{"lift": res.Lift, "drop": res.Drop} {
					if s.Count != 8 || s.Paired != 8 || s.Missed+s.Spurious != 0 {
						t.Fatalf("%s: %+v, want 8 pairs", name, s)
					}
					near(t, name+" mean place error", s.PlaceErrorM.Mean, want, 0.001)
					near(t, name+" worst place error", s.PlaceErrorM.MaxAbs, math.Abs(want), 0.001)
					near(t, name+" mean time error", s.TimeErrorS.Mean, float64(delayMs)*1e-3, 1e-5)
				}
				// Late: 4 m of width missed at the drop, overrun at the lift; early the other way round.
				near(t, "overrun", res.Area.OverrunM2, 4*math.Abs(want), 1e-3)
				near(t, "miss", res.Area.MissM2, 4*math.Abs(want), 1e-3)
				near(t, "passed", res.Area.PassedM2, 4*60, 1e-3)
			})
		}
	}
}

// Crossings on a straight are at border less offset, over speed.
func TestCrossingInstants(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, 0, 50, 60)))
	track := newDrive(0, -40, 0).along(140, 2.5, 0).track
	res := mustRun(t, track, newGate(f, rearBar(3, 1, -1.3), sections.Even), nil, nil, Options{})
	for _, e := range res.Events {
		northM := 0.0
		if !e.On {
			northM = 60
		}
		near(t, "crossing at", float64(e.IdealNs-startNs)*1e-9, (northM+40+1.3)/2.5, 10e-6)
		near(t, "north", e.NorthM, northM, 1e-4)
		near(t, "east", e.EastM, float64(e.Section)-1, 1e-9)
		near(t, "speed", e.SpeedMps, 2.5, 1e-9)
		if e.Together != 2 || e.Kind != Missed {
			t.Errorf("event %+v: want missed, with 2 others", e)
		}
	}
	if len(res.Events) != 6 {
		t.Errorf("%d events, want 6", len(res.Events))
	}
}

// slanting is the overrun plus miss, per section and crossing, of a perfectly
// timed bar over a border at alpha from square.
func slanting(t *testing.T, n int, widthM, alphaRad float64, rule sections.EdgeRule) float64 {
	t.Helper()
	// Northwards into a parallelogram whose south and north borders slant.
	const half, length = 20, 60
	rise := half * math.Tan(alphaRad)
	f := newField(t, zone(field.Body, anyHeading, orb.Polygon{{
		{-half, -rise}, {half, rise}, {half, length + rise}, {-half, length - rise}, {-half, -rise}}}))
	g := newGate(f, rearBar(n, widthM, -2), rule)
	track := newDrive(0.0137, -45.2, 0).along(160, 8*kmh, 0).track
	res := mustRun(t, track, g, late(t, track, g, always(0)), nil, Options{})
	if res.Drop.Paired != n || res.Lift.Paired != n {
		t.Fatalf("drop %+v, lift %+v: want %d pairs each", res.Drop, res.Lift, n)
	}
	return (res.Area.OverrunM2 + res.Area.MissM2) / float64(2*n)
}

// A section of width w meets a border at α from square over a length w·tan α,
// with its share inside growing evenly: waiting for all of it or going with
// the first of it leaves the triangle w²·tan α / 2, half way two triangles of
// a quarter of that each.
func TestSlantingBorder(t *testing.T) {
	rules := []struct {
		name string
		rule sections.EdgeRule
		part float64
	}{{"crop-first", sections.CropFirst, 2}, {"weed-first", sections.WeedFirst, 2}, {"even", sections.Even, 4}}
	for _, r := range rules {
		for _, w := range []float64{0.25, 0.75, 3} {
			for _, alpha := range []float64{5, 20, 40, 60} {
				t.Run(fmt.Sprintf("%s, %g m, %g°", r.name, w, alpha), func(t *testing.T) {
					want := w * w * math.Tan(alpha*deg) / r.part
					near(t, "overrun + miss", slanting(t, 1, w, alpha*deg, r.rule), want, 0.002*want)
				})
			}
		}
	}
}

// Halving the width of the sections halves what a bar of the same width leaves
// over or undone, the trend published by Zandonadi et al. 2011 (Trans. ASABE
// 54(1):41-49).
func TestHalvingWidthHalvesTheError(t *testing.T) {
	last := 0.0
	for n := 1; n <= 24; n *= 2 {
		total := float64(n) * slanting(t, n, 6/float64(n), 30*deg, sections.CropFirst)
		if n > 1 {
			near(t, fmt.Sprintf("total of %d sections", n), total, last/2, 0.002*last)
		}
		last = total
	}
}

// On a bar that meets a border square and in time nothing is left.
func TestSquareBorderInTime(t *testing.T) {
	near(t, "overrun + miss", slanting(t, 24, 0.25, 0, sections.CropFirst), 0, 1e-5)
}

// In work and missed ground inside the zones add up to the ground passed over,
// which is the zone's when each strip is passed once.
func TestGroundIsConserved(t *testing.T) {
	f := newField(t,
		zone(field.Body, anyHeading, orb.Polygon{{{0, 0}, {24, 7}, {24, 80}, {0, 95}, {0, 0}}}),
		zone(field.KeepOut, anyHeading, orb.Polygon{{{10, 40}, {15, 44}, {9, 52}, {10, 40}}}))
	m := rearBar(8, 0.75, -2)
	g := newGate(f, m, sections.Even)
	d := newDrive(3, -20, 0)
	for i := range 4 {
		d.along(140, 2.3, 0)
		if i < 3 {
			turn := 1.0 / 3
			if i%2 == 1 {
				turn = -turn
			}
			d.along(math.Pi*3, 1.5, turn)
		}
	}
	changes := late(t, d.track, g, scattered(5))
	res := mustRun(t, d.track, g, changes, nil, Options{})
	near(t, "zone", res.ZoneM2, f.AreaM2(), 1e-6)
	near(t, "passed", res.Area.PassedM2, f.AreaM2(), 1e-3)
	near(t, "worked - overrun + miss", res.Area.WorkedM2-res.Area.OverrunM2+res.Area.MissM2, res.Area.PassedM2, 1e-9)
	if res.Area.MissM2 < 1 || res.Area.OverrunM2 < 1 {
		t.Errorf("%+v: expected some of everything", res.Area)
	}
	near(t, "repeat", res.Area.RepeatM2, 0, 0.2)
}

// Working the same strip twice repeats all of it.
func TestSameStripTwice(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 150)))
	for _, bearing := range []float64{0, 90, 37} {
		m := rearBar(24, 0.25, -2)
		s, c := math.Sincos(bearing * deg)
		d := newDrive(1, 2, bearing*deg).along(80, 2, 0)
		again := newDrive(1+80*s, 2+80*c, bearing*deg)
		again.track[0].TimeNs = d.track[len(d.track)-1].TimeNs + 100e6
		d.track = append(d.track, again.along(80, -2, 0).track...)
		on := make([]bool, 24)
		for i := range on {
			on[i] = true
		}
		res := mustRun(t, d.track, newGate(f, m, sections.Even), nil, on, Options{})
		near(t, "worked", res.Area.WorkedM2, 2*80*6, 1)
		near(t, "repeat", res.Area.RepeatM2, 80*6, 0.01*80*6)
		near(t, "worked once", res.WorkedOnceM2, 80*6, 0.01*80*6)
		for i, s := range res.Sections {
			near(t, fmt.Sprintf("bearing %g: repeat of section %d", bearing, i+1), s.Area.RepeatM2, 80*0.25, 0.01*80*0.25)
		}
	}
}

// A machine that backs up ought to be up from a metre on, wherever it is, until it goes
// forward again; a late lift then lies at a negative place error, and the ground swept still
// counts, as overrun.
func TestReversing(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, 0, 50, 60)))
	g := newGate(f, rearBar(4, 0.5, -2), sections.CropFirst)
	const backM, lateM = 1.0, 0.6
	track := newDrive(0, 30, 0).along(60, -1.5, 0).track
	on := []bool{true, true, true, true}
	res := mustRun(t, track, g, late(t, track, g, always(400e6)), on, Options{})
	if res.Lift.Paired != 4 || res.Drop.Count != 0 {
		t.Fatalf("lift %+v drop %+v, want 4 lifts", res.Lift, res.Drop)
	}
	near(t, "place error", res.Lift.PlaceErrorM.Mean, -lateM, 0.001)
	near(t, "time error", res.Lift.TimeErrorS.Mean, 0.4, 1e-5)
	near(t, "overrun", res.Area.OverrunM2, 2*lateM, 1e-3)
	near(t, "worked", res.Area.WorkedM2, 2*(backM+lateM), 1e-3)
	near(t, "miss", res.Area.MissM2, 0, 1e-3)
}

// Who overshoots the border by 3 m and backs up lifts at the border, and drops where he goes
// forward again. Who rolls back by half a metre as he stands lifts for nothing.
func TestOutAndBack(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 0)))
	g := newGate(f, rearBar(4, 0.5, 0), sections.CropFirst)
	for _, tc := range []struct {
		name         string
		from, back   float64 // north; m
		lifts, drops int
	}{
		{"out and back over the border", 3, 4, 8, 4},
		{"out and far back", 3, 9, 8, 4},
		{"inside, back by 5 m", -10, 5, 8, 4},
		{"rolls back inside", -10, 0.5, 4, 0},
	} {
		d := newDrive(0, -30, 0).along(30+tc.from, 1.5, 0).along(tc.back, -1.5, 0)
		track := d.along(tc.back-tc.from+10, 1.5, 0).track
		res := mustRun(t, track, g, nil, nil, Options{})
		if res.Lift.Count != tc.lifts || res.Drop.Count != tc.drops {
			t.Errorf("%s: %d lifts and %d drops, want %d and %d", tc.name, res.Lift.Count, res.Drop.Count, tc.lifts, tc.drops)
		}
	}
}

// Ground under a headland turn: rows that run another way are worked across,
// in work or not as the tight path says.
func TestAcrossRows(t *testing.T) {
	f := newField(t,
		zone(field.Body, 0, box(-50, 0, 50, 60)),
		zone(field.Headland, 90*deg, box(-50, 60, 50, 78)),
		zone(field.KeepOut, anyHeading, box(-50, 70, 50, 72)))
	g := newGate(f, rearBar(4, 0.5, 0), sections.CropFirst)
	track := newDrive(0, -10, 0).along(100, 2, 0).track
	on := []bool{true, true, true, true}
	res := mustRun(t, track, g, nil, on, Options{})
	near(t, "worked", res.Area.WorkedM2, 200, 1e-6)
	near(t, "overrun", res.Area.OverrunM2, 2*(10+30), 1e-3)
	near(t, "across rows", res.Area.AcrossRowsM2, 2*16, 1e-3)
	near(t, "passed", res.Area.PassedM2, 2*60, 1e-3)
	if res.Drop.Missed != 4 || res.Lift.Missed != 4 {
		t.Errorf("drop %+v lift %+v: want 4 missed each", res.Drop, res.Lift)
	}
}

// On a turn about a point each section sweeps a ring sector of its own, and
// its middle travels on a circle about that point: r inwards or outwards of the
// tractor's, x ahead.
func TestTurnSweepsRings(t *testing.T) {
	const x, radius, v, delay = 3.0, 10.0, 2.0, 0.4
	for name, right := range map[string]float64{"right": 1, "left": -1} {
		t.Run(name, func(t *testing.T) {
			// The circle lies about the origin; half of it in the zone.
			f := newField(t, zone(field.Body, anyHeading, box(-50, 0, 50, 50)))
			g := newGate(f, rearBar(4, 1, x), sections.Even)
			track := newDrive(-right*radius, -1e-3, 0).along(1.25*math.Pi*radius, v, right/radius).track
			on := []bool{true, true, true, true}
			res := mustRun(t, track, g, late(t, track, g, always(delay*1e9)), on, Options{})
			for i, s := range res.Sections {
				r := radius - right*(float64(i)-1.5)
				near(t, fmt.Sprintf("place error of section %d", i+1), s.Lift.PlaceErrorM.Mean, delay*v/radius*math.Hypot(r, x), 1e-3)
			}
			all := newGate(newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 50))), g.Machine, sections.Even)
			res = mustRun(t, track, all, nil, on, Options{})
			for i, s := range res.Sections {
				near(t, fmt.Sprintf("section %d", i+1), s.Area.WorkedM2, 1.25*math.Pi*(radius-right*(float64(i)-1.5)), 1e-3)
			}
			near(t, "worked once", res.WorkedOnceM2, 1.25*math.Pi*4*radius, 0.005*1.25*math.Pi*4*radius)
			near(t, "repeat", res.Area.RepeatM2, 0, 0.05)
		})
	}
}

// Turning on the spot, the left half of the bar goes forward and the right half
// backward: both sweep ground.
func TestTurningOnTheSpot(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 50)))
	g := newGate(f, rearBar(4, 1, 0), sections.Even)
	const rate = 0.3
	var track motion.Track
	for k := range 60 {
		track = append(track, motion.Pose{TimeNs: startNs + int64(k)*100e6, HeadingRad: rate * float64(k) * 0.1, YawRateRadPerS: rate})
	}
	// The change of section 1 falls into the middle of a leg.
	changes := []sections.WorkChange{{TimeNs: startNs + 1.05e9, Section: 0, On: true}}
	res := mustRun(t, track, g, changes, []bool{false, true, true, true}, Options{})
	for i, s := range res.Sections {
		y, seconds := math.Abs(float64(i)-1.5), 5.9
		if i == 0 {
			seconds -= 1.05
		}
		near(t, fmt.Sprintf("section %d", i+1), s.Area.WorkedM2, y*rate*seconds, 1e-9)
	}
}

// Turning about one end of the bar paints a sector, whichever end it is.
func TestTurningAboutAnEnd(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 50)))
	for _, side := range []float64{-2, 2} {
		m := rearBar(4, 1, 0)
		for i := range m.Sections {
			m.Sections[i].YM += side
		}
		var track motion.Track
		for k := range 60 {
			track = append(track, motion.Pose{TimeNs: startNs + int64(k)*100e6, HeadingRad: 0.03 * float64(k), YawRateRadPerS: 0.3})
		}
		res := mustRun(t, track, newGate(f, m, sections.Even), nil, []bool{true, true, true, true}, Options{})
		want := 0.5 * 4 * 4 * 0.03 * 59
		near(t, "worked", res.Area.WorkedM2, want, 1e-9)
		near(t, "worked once", res.WorkedOnceM2, want, 0.005*want)
	}
}

// Half a second forward and half a second back, between two poses.
func TestTurnaroundWithinALeg(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-50, -50, 50, 50)))
	track := motion.Track{{TimeNs: startNs, SpeedMps: 1}, {TimeNs: startNs + 1e9, SpeedMps: -1}}
	res := mustRun(t, track, newGate(f, rearBar(2, 1, 0), sections.Even), nil, []bool{true, true}, Options{})
	near(t, "worked", res.Area.WorkedM2, 2*2*0.25, 1e-9)
}

// Poses far apart hide no border: a strip of 0.3 m is found in a leg of 100 m.
func TestLongLegs(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-5, 10, 5, 10.3), box(-5, 13.3, 5, 20), box(-5, 20.3, 5, 60), box(-5, 75, 5, 75.3)))
	track := motion.Track{{TimeNs: startNs, NorthM: -0.55, SpeedMps: 2}, {TimeNs: startNs + 50e9, NorthM: 99.45, SpeedMps: 2}}
	res := mustRun(t, track, newGate(f, rearBar(3, 0.5, 0), sections.CropFirst), nil, nil, Options{})
	if res.Drop.Count != 12 || res.Lift.Count != 12 {
		t.Errorf("%d drops, %d lifts, want 12 each", res.Drop.Count, res.Lift.Count)
	}
	near(t, "miss", res.Area.MissM2, 1.5*(0.3+6.7+39.7+0.3), 1e-3)
}

// A trailed tool on a steady circle runs inside the tractor's: its axle on a
// radius of √(R² + c² - L²), without moving sideways.
func TestTrailedToolOnACircle(t *testing.T) {
	const radius, hitch, drawbar = 12.0, 1.0, 4.0
	axle := math.Sqrt(radius*radius + hitch*hitch - drawbar*drawbar)
	behind := math.Atan(hitch/radius) + math.Atan(drawbar/axle)
	m := rearBar(4, 0.75, -hitch-drawbar)
	m.Mount, m.HitchBehindM, m.DrawbarM = sections.Trailed, hitch, drawbar
	d := newDrive(-radius, 0, 0).along(1.5*math.Pi*radius, 2, 1/radius)
	for i := range d.track {
		d.track[i].ToolHeadingRad = d.track[i].HeadingRad - behind
	}
	near(t, "tool's heading by its kinematics", motion.TrailStep(&d.track[10], &d.track[40], hitch, drawbar), d.track[40].ToolHeadingRad, 1e-6)

	// Zones that end on a ray from the circle's centre: no section slants.
	f := newField(t, zone(field.Body, anyHeading, box(-50, 0, 50, 50)))
	g := newGate(f, m, sections.Even)
	on := []bool{false, false, false, false}
	const delay = 0.3
	changes := late(t, d.track, g, always(delay*1e9))
	res := mustRun(t, d.track, g, changes, on, Options{})
	for i, s := range res.Sections {
		r := axle - m.Sections[i].YM
		near(t, "swept inside the zone", s.Area.PassedM2, 0.75*math.Pi*r, 2e-3)
		near(t, "place error", s.Lift.PlaceErrorM.Mean, delay*2/radius*r, 1e-3)
	}
}
