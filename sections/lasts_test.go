// Which gaps and strips are worth a change, and which a section only grazes.

package sections

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// A gap is worth a lift if it takes the shortest time up to cross, or both leads where gaps are bridged; a
// strip is worth a drop if it takes the shortest time down. Looks are four to that length.
func TestLasts(t *testing.T) {
	const mps = 2.0
	for _, tc := range []struct {
		name    string
		on      bool
		lengthM float64
		set     func(*Settings)
		want    bool
	}{
		{"a gap of 1.1 m, 0.5 s", true, 1.1, nil, true},
		{"a gap of 0.9 m", true, 0.9, nil, false},
		{"a gap of 0.1 m", true, 0.1, nil, false},
		{"a gap of 1.1 m, bridged for 0.9 s", true, 1.1, func(s *Settings) { s.BridgeGaps = true }, false},
		{"a gap of 1.9 m, bridged for 0.9 s", true, 1.9, func(s *Settings) { s.BridgeGaps = true }, true},
		{"a gap of 1.9 m, 1 s up, bridged for 0.9 s", true, 1.9, func(s *Settings) { s.BridgeGaps, s.ShortestUpNs = true, 1e9 }, false},
		{"a strip of 1.1 m, 0.5 s", false, 1.1, nil, true},
		{"a strip of 0.9 m", false, 0.9, nil, false},
		{"a strip of 1.1 m, bridged or not", false, 1.1, func(s *Settings) { s.BridgeGaps = true }, true},
		{"a strip of 1.1 m, 0.7 s down", false, 1.1, func(s *Settings) { s.ShortestDownNs = 700e6 }, false},
		{"a gap of 1.1 m, 0.7 s down", true, 1.1, func(s *Settings) { s.ShortestDownNs = 700e6 }, true},
		{"a gap of 5 cm, no time", true, 0.05, func(s *Settings) { s.ShortestUpNs = 0 }, false},
		{"a gap of 19 cm, no time", true, 0.19, func(s *Settings) { s.ShortestUpNs = 0 }, false},
		{"a gap of 21 cm, no time", true, 0.21, func(s *Settings) { s.ShortestUpNs = 0 }, true},
		{"a strip of 19 cm, no time", false, 0.19, func(s *Settings) { s.ShortestDownNs = 0 }, false},
		{"a strip of 21 cm, no time", false, 0.21, func(s *Settings) { s.ShortestDownNs = 0 }, true},
	} {
		var polygons orb.MultiPolygon
		if tc.on {
			polygons = append(rectangle(-20, -20, 20, 0), rectangle(-20, tc.lengthM, 20, 20)...)
		} else {
			polygons = rectangle(-20, 0, 20, tc.lengthM)
		}
		c := newController(t, bar(RearRigid, -2, 1, 1), newField(t, body(math.NaN(), polygons)), tc.set)
		c.section[0].On = tc.on
		m := motion.Motion{Pose: motion.Pose{NorthM: 2 - 1, SpeedMps: mps}} // the border is 1 m ahead of the bar
		c.s.Follow = Follow{Started: true, Zones: 1, NorthM: 1}
		overM, got := c.lasts(&m, 0, 500e6)
		if got != tc.want {
			t.Errorf("%s: worth it %v", tc.name, got)
		}
		if !got && !(overM >= tc.lengthM && overM <= 4*tc.lengthM+0.3) {
			t.Errorf("%s: over %g m on", tc.name, overM)
		}
		// A tractor that comes to stand there sees nothing beyond.
		m.AccelMps2 = -9
		if _, got := c.lasts(&m, 0, 2e9); !got {
			t.Errorf("%s: it stands, and it is not worth it", tc.name)
		}
	}
}

// A section that a long tongue of a keep-out zone covers to half and 5 cm lifts for it; covered a little
// less, it grazes the tongue, and stays; so does one that is covered enough only 5 m on.
func TestLastsUntilSure(t *testing.T) {
	tongue := func(widthM float64) orb.MultiPolygon { return rectangle(-0.5, 0, -0.5+widthM, 30) }
	for _, tc := range []struct {
		name   string
		tongue orb.MultiPolygon
		want   bool
	}{
		{"56 cm of 1 m", tongue(0.56), true},
		{"54 cm of 1 m", tongue(0.54), false},
		{"56 cm from 3.9 m on", append(tongue(0.54), rectangle(0.04, 3.9, 0.06, 30)...), true},
		{"56 cm from 4.1 m on", append(tongue(0.54), rectangle(0.04, 4.1, 0.06, 30)...), false},
		{"56 cm for 21 cm, then nothing", rectangle(-0.5, 0, 0.06, 0.21), true},
		{"54 cm for 21 cm, then nothing", rectangle(-0.5, 0, 0.04, 0.21), false},
	} {
		f := newField(t, body(math.NaN(), rectangle(-20, -20, 20, 40)),
			field.Zone{Name: "tongue", Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: tc.tongue})
		c := newController(t, bar(RearRigid, -2, 1, 1), f, func(s *Settings) { s.ShortestUpNs, s.SlackM = 50e6, 0 })
		c.section[0].On = true
		m := motion.Motion{Pose: motion.Pose{NorthM: 1, SpeedMps: 2}}
		c.s.Follow = Follow{Started: true, Zones: 3, NorthM: 1}
		if _, got := c.lasts(&m, 0, 500e6); got != tc.want {
			t.Errorf("%s: lifts %v", tc.name, got)
		}
	}
}

// Where a section ought to be up at a place ahead, though not at the end of the look ahead, is remembered as
// long as that place is ahead, within the look, and wrong.
func TestStillWrong(t *testing.T) {
	// A gap from 3 m to 4 m ahead of the bar; the look ahead reaches 6 m.
	polygons := append(rectangle(-20, -20, 20, 3), rectangle(-20, 4, 20, 40)...)
	c := newController(t, bar(RearRigid, -2, 1, 1), newField(t, body(math.NaN(), polygons)), nil)
	c.s.Follow = Follow{Started: true, Zones: 1, NorthM: 2}
	c.section[0].On = true
	m := motion.Motion{Pose: motion.Pose{NorthM: 2, SpeedMps: 2}}
	for _, tc := range []struct {
		wrongM float64
		ahead  bool
		atNs   int64
	}{{3.5, true, 1750e6}, {5, false, 0}, {6.1, false, 0}, {-0.1, false, 0}, {math.Inf(-1), false, 0}} {
		c.section[0].WrongM = tc.wrongM
		at, ahead := c.stillWrong(&m, 0, 0, 3e9)
		if ahead != tc.ahead || max(at-tc.atNs, tc.atNs-at) > 12_000 || ahead && c.section[0].WrongM != tc.wrongM || !ahead && !math.IsInf(c.section[0].WrongM, -1) {
			t.Errorf("wrong at %g m: ahead %v at %d, then %g", tc.wrongM, ahead, at, c.section[0].WrongM)
		}
	}
}

// A section whose end comes over the border of its zone by 1 m in 300 lifts where it is
// 10 cm out, but for 4 m that it sees ahead of that: at the same place whenever fixes and ticks come.
func TestGrazeThatGoesOn(t *testing.T) {
	const slope, mps = 1 / 300.0, 1.5
	f := newField(t, body(math.NaN(), orb.MultiPolygon{{{{-20, 0}, {1, 0}, {1 - 300*slope, 300}, {-20, 300}, {-20, 0}}}}))
	// The end is over the border by north·slope - 0.5 m.
	wantM := (0.5+0.05+grazeM)/slope - sureM
	for offM := 0.0; offM < 0.15; offM += 0.013 {
		c := newController(t, bar(RearRigid, -2, 1, 1), f, func(s *Settings) { s.Rule = CropFirst })
		pose := straight(0, 130+offM, 0, mps)
		got := play(c, pose, 60, nil)
		if len(got) != 2 || !got[0].On || got[1].On {
			t.Fatalf("from %.3f m on: %+v; want a drop and a lift", offM, got)
		}
		at := float64(got[1].DueNs+c.set.LiftLead.AloneNs()-startNs) * 1e-9
		if p := pose(at); !(math.Abs(p.NorthM-2-wantM) <= 0.01) {
			t.Errorf("from %.3f m on: it lifts at %.3f m; want %.3f", offM, p.NorthM-2, wantM)
		}
	}
}
