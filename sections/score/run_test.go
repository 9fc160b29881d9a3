// Drives made up to hold one thing or another, and their score.

package score

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// squareField and two passes of a bar of 3 m over it, north and south.
func twoPasses(t testing.TB) (*sections.Gate, motion.Track) {
	f := newField(t, zone(field.Body, anyHeading, box(0, 0, 12, 60)))
	d := newDrive(1.5, -12, 0).along(84, 2.2, 0).along(math.Pi*4.5, 1.8, 1/4.5).along(84, 2.2, 0)
	return newGate(f, rearBar(4, 0.75, -2), sections.CropFirst), d.track
}

func TestDriveThatNeverEnters(t *testing.T) {
	g, _ := twoPasses(t)
	track := newDrive(100, 0, 45*deg).along(300, 3, 0.002).track
	res := mustRun(t, track, g, nil, nil, Options{Strips: true})
	if len(res.Events) != 0 || res.Lift != (Stats{}) || res.Drop != (Stats{}) || res.Area != (Areas{}) || len(res.Strips) != 0 {
		t.Errorf("%+v: want nothing", res)
	}
	near(t, "zone", res.ZoneM2, 720, 1e-9)
}

func TestNoChangesMissEverything(t *testing.T) {
	g, track := twoPasses(t)
	res := mustRun(t, track, g, nil, nil, Options{})
	for name, s := range map[string]Stats{"lift": res.Lift, "drop": res.Drop} {
		if s.Count != 8 || s.Missed != 8 || s.TimeErrorS != nil || s.PlaceErrorM != nil {
			t.Errorf("%s: %+v, want 8 missed and no errors", name, s)
		}
	}
	near(t, "miss", res.Area.MissM2, 2*3*60, 1e-3)
	near(t, "worked", res.Area.WorkedM2, 0, 0)
}

func TestSpuriousAndStart(t *testing.T) {
	g, track := twoPasses(t)
	at := func(s float64) int64 { return startNs + int64(s*1e9) }
	changes := []sections.WorkChange{
		{TimeNs: at(-5), Section: 0, On: true}, // before the track: only sets the state
		{TimeNs: at(1), Section: 0, On: false}, // starts down outside: into step
		{TimeNs: at(1), Section: 0, On: false}, // no change
		{TimeNs: at(2), Section: 1, On: true},  // 12 m before the border
		{TimeNs: at(20), Section: 1, On: false},
		{TimeNs: at(20.1), Section: 2, On: false}, // never was down: no change
		{TimeNs: at(500), Section: 3, On: true},   // long after the end
	}
	res := mustRun(t, track, g, changes, nil, Options{})
	var got []string
	for _, e := range res.Events {
		if e.Kind != Missed {
			got = append(got, e.Kind.String()+map[bool]string{true: " drop ", false: " lift "}[e.On]+string(rune('1'+e.Section)))
		}
	}
	if want := []string{"start lift 1", "paired drop 2", "spurious lift 2", "spurious drop 4"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if last := res.Events[len(res.Events)-1]; last.SpeedMps != 0 || last.ActualNs != at(500) || !math.IsNaN(last.TimeErrorS) {
		t.Errorf("event after the end: %+v; want at rest, without error", last)
	}
	if s := res.Sections[1].Drop; s.Count != 2 || s.Paired != 1 || s.Missed != 1 {
		t.Errorf("drop of section 2: %+v", s)
	}
	near(t, "worked by section 1", res.Sections[0].Area.WorkedM2, 0.75*2.2, 1e-6)
}

// A gap in the zone that the controller was told to bridge has no crossings.
func TestGapIsBridged(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-5, 0, 5, 30), box(-5, 31, 5, 60)))
	g := newGate(f, rearBar(2, 0.75, 0), sections.CropFirst)
	track := newDrive(0, -10, 0).along(80, 2, 0).track
	for gapNs, want := range map[int64]int{0: 4, 0.4e9: 4, 0.6e9: 2} {
		res := mustRun(t, track, g, nil, nil, Options{GapNs: gapNs})
		if res.Drop.Count != want || res.Lift.Count != want {
			t.Errorf("gap %d ns: %d drops, %d lifts, want %d each", gapNs, res.Drop.Count, res.Lift.Count, want)
		}
	}
}

// A spell of work shorter than the controller may be down has none either.
func TestShortSpellIsLeftOut(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(-5, 0, 5, 1), box(-5, 30, 5, 60)))
	g := newGate(f, rearBar(2, 0.75, 0), sections.CropFirst)
	track := newDrive(0, -10, 0).along(80, 2, 0).track
	for spellNs, want := range map[int64]int{0: 4, 0.4e9: 4, 0.6e9: 2} {
		res := mustRun(t, track, g, nil, nil, Options{SpellNs: spellNs})
		if res.Drop.Count != want || res.Lift.Count != want {
			t.Errorf("spell %d ns: %d drops, %d lifts, want %d each", spellNs, res.Drop.Count, res.Lift.Count, want)
		}
	}
}

// A log that breaks off and goes on elsewhere sweeps nothing in between, with
// tools in work or not.
func TestJump(t *testing.T) {
	f := newField(t, zone(field.Body, anyHeading, box(0, 0, 60, 40), box(0, 60, 60, 100)))
	g := newGate(f, rearBar(4, 0.75, 0), sections.CropFirst)
	d := newDrive(10, 0.2, 0).along(30, 2, 0)
	last := &d.track[len(d.track)-1]
	last.SpeedMps = 0
	away := *last
	away.TimeNs += 60e9
	there := newDrive(50, 65, 180*deg).along(45, 2, 0).track
	for i := range there {
		there[i].TimeNs += away.TimeNs + 1e6 - startNs
	}
	track := append(append(d.track, away), there...)
	on := []bool{true, true, true, true}
	changes := []sections.WorkChange{{TimeNs: away.TimeNs + 0.5e6, Section: 2, On: false}}
	res := mustRun(t, track, g, changes, on, Options{Strips: true})
	near(t, "worked", res.Area.WorkedM2, 3*30+2.25*45, 0.5)
	near(t, "worked once", res.WorkedOnceM2, 3*30+2.25*45, 0.01*190)
	near(t, "repeat", res.Area.RepeatM2, 0, 0)
	near(t, "miss", res.Area.MissM2, 0.75*(5+20), 0.05)
	if res.Lift.Count != 4 || res.Drop.Count != 4 { // out and in again on the second pass
		t.Errorf("lift %+v drop %+v, want 4 each", res.Lift, res.Drop)
	}
	for _, s := range res.Strips {
		if b := s.Ring.Bound(); b.Max[0]-b.Min[0] > 0.76 {
			t.Errorf("strip %+v reaches across the jump", s)
		}
	}
}

// A straight that begins and ends slowly, and is fast in between, is no jump.
func TestSlowCornersAreNoJump(t *testing.T) {
	g := newGate(newField(t, zone(field.Body, anyHeading, box(0, 0, 60, 60))), rearBar(4, 0.75, 0), sections.CropFirst)
	track := newDrive(30, 5, 0).along(2, 0.5, 0).along(40, 5, 0).along(2, 0.5, 0).track
	res := mustRun(t, track, g, nil, []bool{true, true, true, true}, Options{})
	near(t, "worked once", res.WorkedOnceM2, 3*44, 0.1)
}

// Zones take part by heading and by radius; both make crossings far from any border.
func TestCrossingsWithoutABorder(t *testing.T) {
	f := newField(t, zone(field.Body, 0, box(-200, -200, 200, 200)))
	g := newGate(f, rearBar(2, 0.75, 0), sections.CropFirst) // within 25°, radius 20 m or more
	const radius = 50.0
	track := newDrive(-100, 0, 0).along(2*math.Pi*radius, 2, 1/radius).track
	res := mustRun(t, track, g, nil, nil, Options{})
	var turned []float64
	for _, e := range res.Events {
		if e.Section == 0 {
			turned = append(turned, float64(e.IdealNs-startNs)*1e-9*2/radius/deg)
		}
	}
	// They stop 2° beyond the tolerance, and begin when the path has kept within
	// it for 3 m, to one step of the track.
	const closed = 3 / radius / deg
	want, within := []float64{25 + 2, 155 + closed, 205 + 2, 335 + closed}, []float64{1e-4, 0.25, 1e-4, 0.25}
	if len(turned) != len(want) {
		t.Fatalf("crossings at %g°, want %g°", turned, want)
	}
	for i := range want {
		near(t, "crossing at degrees", turned[i], want[i], within[i])
	}
	// Not in work while across the rows, whatever the place.
	near(t, "passed", res.Area.PassedM2, 1.5*2*math.Pi*radius*(turned[0]+turned[2]-turned[1]+360-turned[3])/360, 0.01)

	tight := newDrive(0, 0, 0).along(20, 2, 0).along(5, 2, 1/15.0).track
	if res := mustRun(t, tight, g, nil, nil, Options{}); res.Lift.Count != 2 || res.Drop.Count != 0 {
		t.Errorf("into a tight path: lift %+v, drop %+v, want 2 lifts", res.Lift, res.Drop)
	}
}

// Together counts the other sections that move the same way.
func TestTogether(t *testing.T) {
	g, track := twoPasses(t)
	var order []sections.WorkChange
	for i := range int16(3) {
		order = append(order, sections.WorkChange{TimeNs: startNs + 60e9 + int64(i)*100e6, Section: i, On: true})
	}
	for _, e := range mustRun(t, track, g, order, nil, Options{}).Events {
		want := 3 // all cross at once
		if e.Kind == Spurious {
			want = 2
		}
		if e.Together != want {
			t.Errorf("%+v: want %d others", e, want)
		}
	}
}

func TestSameInputSameResult(t *testing.T) {
	g, track := twoPasses(t)
	changes := late(t, track, g, scattered(11))
	first := mustRun(t, track, g, changes, nil, Options{Strips: true})
	for range 3 {
		if again := mustRun(t, track, g, changes, nil, Options{Strips: true}); !reflect.DeepEqual(first, again) {
			t.Fatal("a second run differs")
		}
	}
	plain := mustRun(t, track, g, changes, nil, Options{})
	if plain.Strips != nil || !reflect.DeepEqual(plain.Events, first.Events) || plain.Area != first.Area {
		t.Error("asking for strips changes the score")
	}
}

// The poses' spacing does not matter on a drive of straights and arcs.
func TestPoseRateDoesNotMatter(t *testing.T) {
	g, track := twoPasses(t)
	changes := late(t, track, g, scattered(12))
	want := mustRun(t, track, g, changes, nil, Options{})
	for _, stepNs := range []int64{20e6, 500e6, 1e9} {
		d := newDrive(1.5, -12, 0)
		d.stepNs = stepNs
		d.along(84, 2.2, 0).along(math.Pi*4.5, 1.8, 1/4.5).along(84, 2.2, 0)
		got := mustRun(t, d.track, g, changes, nil, Options{})
		if got.Drop.Paired != want.Drop.Paired || got.Lift.Paired != want.Lift.Paired {
			t.Fatalf("step %d ns: %+v %+v", stepNs, got.Lift, got.Drop)
		}
		near(t, "mean lift error", got.Lift.PlaceErrorM.Mean, want.Lift.PlaceErrorM.Mean, 1e-3)
		near(t, "overrun", got.Area.OverrunM2, want.Area.OverrunM2, 0.02)
		near(t, "miss", got.Area.MissM2, want.Area.MissM2, 0.02)
	}
}

// Strips hold the ground of the books: their areas add up to it, and where the
// bar meets the border square each lies on its own side.
func TestStrips(t *testing.T) {
	g, track := twoPasses(t)
	changes := late(t, track, g, scattered(13))
	res := mustRun(t, track, g, changes, nil, Options{Strips: true})
	var sum [4]float64
	for _, s := range res.Strips {
		if len(s.Ring) < 4 || s.Ring[0] != s.Ring[len(s.Ring)-1] {
			t.Fatalf("ring %v is not closed", s.Ring)
		}
		if s.UntilNs <= s.FromNs {
			t.Fatalf("strip from %d until %d", s.FromNs, s.UntilNs)
		}
		area := math.Abs(planar.Area(s.Ring))
		sum[s.Ground] += area
		if len(s.Ring) > 5 && s.Ground == Worked {
			t.Errorf("a straight strip has %d points", len(s.Ring))
		}
	}
	near(t, "worked", sum[Worked], res.Area.WorkedM2-res.Area.OverrunM2, 0.01)
	near(t, "overrun", sum[Overrun], res.Area.OverrunM2, 0.01)
	near(t, "miss", sum[Miss], res.Area.MissM2, 0.01)
	near(t, "across", sum[AcrossRows], 0, 0)
}

// Strips of a turn follow it within 1 cm.
func TestStripsFollowATurn(t *testing.T) {
	f := newField(t, zone(field.Body, 90*deg, box(-50, -50, 50, 50)))
	g := newGate(f, rearBar(1, 2, 0), sections.CropFirst)
	track := newDrive(0, 0, 0).along(math.Pi*10/2, 2, 1.0/10).track
	res := mustRun(t, track, g, nil, []bool{true}, Options{Strips: true})
	if len(res.Strips) != 1 || res.Strips[0].Ground != AcrossRows {
		t.Fatalf("%+v: want one strip across the rows", res.Strips)
	}
	ring := res.Strips[0].Ring
	near(t, "area", math.Abs(planar.Area(ring)), math.Pi/2*10*2, 0.05*math.Pi*10)
	off := func(p orb.Point) float64 {
		r := math.Hypot(p[0]-10, p[1])
		return min(math.Abs(r-9), math.Abs(r-11))
	}
	for i, p := range ring {
		near(t, "a point's distance from the arc", off(p), 0, 1e-6)
		if i > 0 && i != len(ring)/2 && i != len(ring)-1 { // along the left or the right end
			q := ring[i-1]
			near(t, "a side's distance from the arc", off(orb.Point{(p[0] + q[0]) / 2, (p[1] + q[1]) / 2}), 0, 0.01)
		}
	}
	if len(ring) > 60 {
		t.Errorf("%d points", len(ring))
	}
}

func TestBadInput(t *testing.T) {
	g, track := twoPasses(t)
	broken := func(change func(tr motion.Track)) motion.Track {
		tr := slices.Clone(track)
		change(tr)
		return tr
	}
	for _, c := range []struct {
		name    string
		track   motion.Track
		changes []sections.WorkChange
		initial []bool
		opt     Options
		want    string
	}{
		{"no pose", nil, nil, nil, Options{}, "no pose"},
		{"NaN", broken(func(tr motion.Track) { tr[7].NorthM = math.NaN() }), nil, nil, Options{}, "pose 8 "},
		{"infinite", broken(func(tr motion.Track) { tr[0].SpeedMps = math.Inf(-1) }), nil, nil, Options{}, "pose 1 "},
		{"time stands", broken(func(tr motion.Track) { tr[3].TimeNs = tr[2].TimeNs }), nil, nil, Options{}, "pose 4 "},
		{"time runs back", broken(func(tr motion.Track) { tr[3].TimeNs -= 1e9 }), nil, nil, Options{}, "pose 4 "},
		{"too few states", track, nil, []bool{true}, Options{}, "1 initial work states for 4 sections"},
		{"section unknown", track, []sections.WorkChange{{Section: 4}}, nil, Options{}, "section 5; the machine has 1 to 4"},
		{"negative section", track, []sections.WorkChange{{Section: -1}}, nil, Options{}, "section 0; the machine has 1 to 4"},
		{"changes out of order", track, []sections.WorkChange{{TimeNs: 5}, {TimeNs: 3}}, nil, Options{}, "work change 2"},
		{"negative window", track, nil, nil, Options{WindowNs: -1}, "window -1 ns"},
		{"off the Earth", broken(func(tr motion.Track) { tr[9].EastM = 1e12 }), nil, []bool{true, true, true, true}, Options{}, "spans"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Run(c.track, g, c.changes, c.initial, c.opt)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want one with %q", err, c.want)
			}
		})
	}
}

// One pose is a drive without a way.
func TestOnePose(t *testing.T) {
	g, track := twoPasses(t)
	res := mustRun(t, track[:1], g, []sections.WorkChange{{TimeNs: startNs + 1, On: true}}, nil, Options{Strips: true})
	if res.Area != (Areas{}) || res.Drop.Spurious != 1 {
		t.Errorf("%+v", res)
	}
}
