// Small parts that whole drives seldom show: what is sure at an edge, the odometer on an arc,
// zones that begin together, and no sleep while something is to be done.

package sections

import (
	"math"
	"testing"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// A share is sure by graze beyond the share that decides, or by half the room where that is less.
func TestSure(t *testing.T) {
	for _, tc := range []struct {
		rule          EdgeRule
		slack, graze  float64
		inFrom, outTo float64 // shares
	}{
		{Even, 0.1, 0.05, 0.55, 0.45}, {Even, 0, 2, 0.75, 0.25},
		{CropFirst, 0.1, 0.02, 0.92, 0.88}, {CropFirst, 0.1, 0.2, 0.95, 0.7}, {CropFirst, 0.1, 2, 0.95, 0.45}, {CropFirst, 0.9, 0.2, 0.7, 0.3},
		{WeedFirst, 0.1, 0.02, 0.12, 0.08}, {WeedFirst, 0.1, 0.2, 0.3, 0.05}, {WeedFirst, 0.1, 2, 0.55, 0.05},
	} {
		const by = 1e-6
		for share, want := range map[float64][2]bool{tc.inFrom + by: {true, false}, tc.inFrom - by: {false, false}, tc.outTo + by: {false, false}, tc.outTo - by: {false, true}} {
			if in, out := tc.rule.Sure(true, share, tc.slack, tc.graze), tc.rule.Sure(false, share, tc.slack, tc.graze); in != want[0] || out != want[1] {
				t.Errorf("%v, slack %g, graze %g, share %g: sure in %v, out %v; want %v", tc.rule, tc.slack, tc.graze, share, in, out, want)
			}
		}
	}
}

// On an arc the odometer goes on by the chord, and by its part along the mean heading where the
// motion is known to have gone elsewhere.
func TestOdometerOnAnArc(t *testing.T) {
	c := onField(t, nil)
	c.s.OdometerM = 100
	for _, yaw := range []float64{0.3, -0.4, 0} {
		for _, seconds := range []float64{0, 1, 2.5} {
			m := motion.Motion{Pose: motion.Pose{TimeNs: startNs, EastM: 7, NorthM: -3, HeadingRad: 1.1, SpeedMps: 2, YawRateRadPerS: yaw}}
			want := 2 * seconds
			if yaw != 0 {
				want = 2 * 2 / yaw * math.Sin(yaw*seconds/2)
			}
			if got := c.odometerM(&m, startNs+int64(seconds*1e9)); !(math.Abs(got-100-want) <= 1e-9) {
				t.Errorf("%g rad/s for %g s: %g m; want %g", yaw, seconds, got-100, want)
			}
		}
	}
}

// At rest the position goes on by its way forward, whatever the heading.
func TestForwardAtRest(t *testing.T) {
	g, _, _, _ := wideGate(t)
	for _, headingRad := range []float64{0, 0.8, 2.2, -1.3} {
		sin, cos := math.Sincos(headingRad)
		for forward, moves := range map[float64]bool{0.012: true, 0.008: false} {
			const aside = 0.3
			w := Follow{Started: true, Zones: 4, NorthM: 100, HeadingRad: headingRad, StraightM: 7}
			g.Follow(&w, &motion.Pose{EastM: forward*sin + aside*cos, NorthM: 100 + forward*cos - aside*sin, HeadingRad: headingRad, SpeedMps: 0.01})
			if want := 7 + forward; moves && !(math.Abs(w.StraightM-want) <= 1e-9) || !moves && w.StraightM != 7 {
				t.Errorf("heading %g, %g m forward: straight for %g m", headingRad, forward, w.StraightM)
			}
		}
	}
}

// After a turn from a pass in the body the body begins as soon as the turn is closed, and a headland that
// is driven along the same rows with it, at the same pose: work on the pass has ended the turn.
func TestHeadlandBeginsWithThePass(t *testing.T) {
	f := newField(t, body(0, rectangle(-20, 0, 20, 60)),
		field.Zone{Name: "headland", Kind: field.Headland, RowBearingRad: 0, Polygons: rectangle(20, 0, 60, 60)})
	g := &Gate{Field: f, Machine: bar(RearRigid, -2, 6, 1), Rule: Even, CosRowTolerance: math.Cos(20 * math.Pi / 180), MinWorkRadiusM: 20}
	for _, tc := range []struct {
		eastM float64
		want  field.Mask
	}{{0, 3}, {40, 1}} { // over the body; over the headland alone nothing is worked yet
		w := Follow{Started: true, Last: 1, StraightM: 4, TurnedM: 12, EastM: tc.eastM, NorthM: 30, Under: 0}
		g.Follow(&w, &motion.Pose{EastM: tc.eastM, NorthM: 30.2, SpeedMps: 2})
		if w.Zones != tc.want || (w.TurnedM == 0) != (tc.eastM == 0) {
			t.Errorf("at %g m east: zones %b; want %b; %+v", tc.eastM, w.Zones, tc.want, w)
		}
	}
}

// While a section is not as it ought to be, as one that is held up by too low a speed, the controller is awake, far
// from any border too; when all are, it sleeps.
func TestNoSleepWhileUnsettled(t *testing.T) {
	for mps, sleeps := range map[float64]bool{0.2: false, 0.5: true} {
		c := onField(t, func(s *Settings) { s.MinSpeedMps = 0.3 })
		play(c, straight(0, 0, 0, mps), 6, nil)
		if on := c.On(0); on != sleeps {
			t.Fatalf("at %g m/s: in work %v; the test shows nothing", mps, on)
		}
		now := startNs + int64(6e9)
		c.Tick(now, nil)
		if asleep := c.s.SleepNs > now; asleep != sleeps {
			t.Errorf("at %g m/s: asleep %v", mps, asleep)
		}
	}
}

// A gate that is asked of a wider machine knows its reach: its ends are over the border
// where those of the first machine are not.
func TestGateOfAnotherMachine(t *testing.T) {
	g, bodyMask, headland, _ := wideGate(t)
	c, err := New(bar(RearRigid, -2, 2, 1), g.Field, DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	wide := bar(RearRigid, -2, 12, 1)
	gate := c.Gate().Of(wide)
	f := wide.Frame(&motion.Pose{EastM: 10, NorthM: 4, HeadingRad: math.Pi / 2})
	if got := gate.Under(&f); got != bodyMask|headland {
		t.Errorf("a bar of 12 m across a border 4 m away is over zones %b; want %b", got, bodyMask|headland)
	}
}
