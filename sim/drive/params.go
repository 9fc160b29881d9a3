// The driver's habits: speeds, steering, turns, order of the passes.

package drive

import (
	"fmt"
	"math"

	"liftbench/sections"
	"liftbench/sections/enum"
)

// Turn is how the driver reaches a pass that is nearer than a U turn at the
// smallest radius. A pass far enough away is always reached by a U turn.
type Turn uint8

const (
	Bulb     Turn = iota // swing away first, then round: forward all the way
	Fishtail             // quarter turn, reverse, quarter turn
)

var turnNames = []string{Bulb: "bulb", Fishtail: "fishtail"}

// String returns the name that files and messages use: bulb or fishtail.
func (t Turn) String() string { return enum.Name(turnNames, t) }

// MarshalText returns the same name, or an error for a value that has none.
func (t Turn) MarshalText() ([]byte, error) { return enum.Text(turnNames, t) }

// UnmarshalText sets t to the value of that name.
func (t *Turn) UnmarshalText(text []byte) error { return enum.Set(t, turnNames, text) }

// HeadlandPasses says when the headland is worked.
type HeadlandPasses uint8

const (
	NoHeadland    HeadlandPasses = iota // the body alone
	HeadlandFirst                       // before the body
	HeadlandLast                        // after the body
)

var headlandNames = []string{NoHeadland: "none", HeadlandFirst: "first", HeadlandLast: "last"}

// String returns the name that files and messages use: none, first or last.
func (p HeadlandPasses) String() string { return enum.Name(headlandNames, p) }

// MarshalText returns the same name, or an error for a value that has none.
func (p HeadlandPasses) MarshalText() ([]byte, error) { return enum.Text(headlandNames, p) }

// UnmarshalText sets p to the value of that name.
func (p *HeadlandPasses) UnmarshalText(text []byte) error { return enum.Set(p, headlandNames, text) }

// Params are the driver's settings. Where a field says "0: ...", the zero
// value means that default; everything else is taken as it stands.
type Params struct {
	StartNs int64 // UTC of the first pose, ns since 1970
	// Stop is asked before each pass whether to go on; what it returns ends Plan. nil =
	// nobody asks.
	Stop func() error

	// Zones names the body zones to work, in this order; empty: all of them.
	Zones    []string
	Headland HeadlandPasses
	// Rounds is how many times the driver goes around the field in headland
	// zones without a row bearing; 0: as many as fit beside the body. Headland
	// zones with a bearing are worked along it instead.
	Rounds int

	OverlapM float64 // pass spacing = width of the bar - OverlapM; negative leaves a gap
	// RowSpacingM is from one crop row to the next: passes lie on the rows, where
	// the zone's drill laid them, or from half a row inside its left side on, and
	// overlap by whole rows. 0: passes lie anywhere.
	RowSpacingM float64
	SkipPasses  int // passes left out on the way across the field, worked on the way back

	Turn       Turn
	MinRadiusM float64 // of the turning point's path; 0: 6 m
	SteerTimeS float64 // from straight ahead to MinRadiusM at TurnMps; 0: 2 s
	PauseS     float64 // standstill at each change of direction

	WorkMps     float64 // in the zone; must be given
	BorderMps   float64 // while the bar crosses a border; 0: WorkMps
	HeadlandMps float64 // straight ahead outside the zone; 0: WorkMps
	TurnMps     float64 // in turns and in reverse; 0: WorkMps, but at most 6 km/h
	// PassSpeedSigma is the standard deviation, as a share, by which WorkMps,
	// BorderMps and HeadlandMps together vary from pass to pass;
	// DriveSpeedSigma is that from drive to drive, of one Seed to another.
	// 0 to 0.2; a turn is driven as it was to be.
	PassSpeedSigma, DriveSpeedSigma float64
	AccelMps2                       float64 // 0: 0.4 m/s²
	DecelMps2                       float64 // 0: 0.4 m/s²

	// StopsPerH is how often the driver stops for no reason of the path, per
	// hour of driving, anywhere, for StopS. He brakes at BrakeMps2 and starts at
	// StartMps2; 0: DecelMps2 and AccelMps2. Where, hangs on Seed.
	StopsPerH, StopS, BrakeMps2, StartMps2 float64

	// StraightBeforeM is how far before the first section enters the zone the
	// tractor is back on the pass line; 0: 3 m, and three drawbar lengths more
	// for a trailed tool, which by then has lost 95 % of its angle.
	StraightBeforeM float64
	// SteadyBeforeM is how far before the first section enters the zone the
	// tractor is at the speed of the border too: on its first pass, and where the
	// border has a speed of its own.
	SteadyBeforeM float64

	// SteerSigmaM is the standard deviation of the tractor's lateral distance
	// from its line. Gerhards et al. 2020 (Gesunde Pflanzen, doi
	// 10.1007/s10343-020-00523-5) found hoes steered within ±4 cm at up to
	// 10 km/h; read as two standard deviations that is 0.02. 0: exact.
	SteerSigmaM float64
	Seed        uint64 // of steering error and speeds
}

// straightAfterM is how far the driver goes straight on once the last section
// has left the zone.
const straightAfterM = 0.5

// Below these a drive takes for ever.
const (
	minSpeedMps  = 0.1
	minAccelMps2 = 0.01
)

// steadyRampLimit is the largest angle, in radians, that may pass while the
// wheels go from straight to full lock and back: half a turn.
const steadyRampLimit = math.Pi

// Complete returns p with its defaults filled in, or an error that says what
// cannot be driven.
func (p Params) Complete(m *sections.Machine) (Params, error) {
	or := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	or(&p.BorderMps, p.WorkMps)
	or(&p.HeadlandMps, p.WorkMps)
	or(&p.TurnMps, min(p.WorkMps, 6/3.6))
	or(&p.AccelMps2, 0.4)
	or(&p.DecelMps2, 0.4)
	or(&p.BrakeMps2, p.DecelMps2)
	or(&p.StartMps2, p.AccelMps2)
	or(&p.MinRadiusM, 6)
	or(&p.SteerTimeS, 2)
	straight := 3.0
	if m.Mount == sections.Trailed {
		straight += float64(3 * m.DrawbarM)
	}
	or(&p.StraightBeforeM, straight)

	for _, c := range []struct {
		name, unit string
		v, least   float64
	}{
		{"working speed", "m/s", p.WorkMps, minSpeedMps},
		{"border speed", "m/s", p.BorderMps, minSpeedMps},
		{"headland speed", "m/s", p.HeadlandMps, minSpeedMps},
		{"turn speed", "m/s", p.TurnMps, minSpeedMps},
		{"acceleration", "m/s²", p.AccelMps2, minAccelMps2},
		{"deceleration", "m/s²", p.DecelMps2, minAccelMps2},
		{"braking for a stop", "m/s²", p.BrakeMps2, minAccelMps2},
		{"starting after a stop", "m/s²", p.StartMps2, minAccelMps2},
		{"stops", "an hour", p.StopsPerH, 0},
		{"stop", "s", p.StopS, 0},
		{"turning radius", "m", p.MinRadiusM, 0.1},
		{"steering time", "s", p.SteerTimeS, 0.01},
		{"straight before the border", "m", p.StraightBeforeM, 0},
		{"steady before the border", "m", p.SteadyBeforeM, 0},
		{"pause", "s", p.PauseS, 0},
		{"steering error", "m", p.SteerSigmaM, 0},
		{"row spacing", "m", p.RowSpacingM, 0},
	} {
		if math.IsNaN(c.v) || math.IsInf(c.v, 0) || c.v < c.least {
			return p, fmt.Errorf("%s %g %s; expected %g or more", c.name, c.v, c.unit, c.least)
		}
	}
	for _, c := range []struct {
		name string
		v    float64
	}{{"from pass to pass", p.PassSpeedSigma}, {"from drive to drive", p.DriveSpeedSigma}} {
		if !(c.v >= 0 && c.v <= 0.2) {
			return p, fmt.Errorf("speed varies by a share of %g %s; expected 0 to 0.2", c.v, c.name)
		}
	}
	if p.SkipPasses < 0 {
		return p, fmt.Errorf("%d passes skipped; expected 0 or more", p.SkipPasses)
	}
	if p.Rounds < 0 {
		return p, fmt.Errorf("%d headland rounds; expected 0 or more", p.Rounds)
	}
	if most := 0.95 * barOf(m).widthM(); !(p.OverlapM <= most) || math.IsInf(p.OverlapM, 0) {
		return p, fmt.Errorf("overlap %g m; expected at most 95 %% of the bar's width, %.4g m", p.OverlapM, most)
	}
	if a := p.TurnMps * p.SteerTimeS / p.MinRadiusM; a > steadyRampLimit {
		return p, fmt.Errorf("steering takes %g s from straight to a radius of %g m at %g m/s: the tractor would have turned %.0f° before it is there and back; steer faster, turn slower or wider",
			p.SteerTimeS, p.MinRadiusM, p.TurnMps, a*180/math.Pi)
	}
	if p.Turn == Fishtail && m.Mount == sections.Trailed {
		return p, fmt.Errorf("a trailed tool jackknifes in reverse; turn by bulb, or skip passes so that a U turn fits")
	}
	return p, nil
}

// bar is the reach of the sections across and along the tractor.
type bar struct{ leftM, rightM, frontM, backM float64 }

func barOf(m *sections.Machine) bar {
	b := bar{leftM: math.Inf(1), rightM: math.Inf(-1), frontM: math.Inf(-1), backM: math.Inf(1)}
	for _, s := range m.Sections {
		b.leftM = min(b.leftM, s.YM-float64(s.WidthM/2))
		b.rightM = max(b.rightM, s.YM+float64(s.WidthM/2))
		b.frontM = max(b.frontM, s.XM)
		b.backM = min(b.backM, s.XM)
	}
	return b
}

func (b bar) widthM() float64  { return b.rightM - b.leftM }
func (b bar) middleM() float64 { return float64((b.leftM + b.rightM) / 2) }
