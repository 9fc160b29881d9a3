// How the controller is set: leads, guards against chatter, and what it does
// when the position is lost.

package sections

import (
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/sections/enum"
	"liftbench/sections/lead"
)

// Lead is how long before a crossing a command is given; Trim is how much longer that is for one
// section.
type (
	Lead = lead.Lead
	Trim = lead.Trim
)

// MaxLeadNs is the longest lead that is allowed.
const MaxLeadNs = lead.MaxNs

// FailSafe is what the controller does once position has been lost for longer
// than the hold time.
type FailSafe uint8

const (
	FailSafeLift FailSafe = iota // lift every section
	FailSafeHold                 // leave every section as it is
)

var failSafeNames = []string{FailSafeLift: "lift", FailSafeHold: "hold"}

// String returns the name that files and messages use: lift or hold.
func (f FailSafe) String() string { return enum.Name(failSafeNames, f) }

// MarshalText returns the same name, or an error for a value that has none.
func (f FailSafe) MarshalText() ([]byte, error) { return enum.Text(failSafeNames, f) }

// UnmarshalText sets f to the value of that name.
func (f *FailSafe) UnmarshalText(text []byte) error { return enum.Set(f, failSafeNames, text) }

// Settings are the controller's settings. DefaultSettings gives usable ones.
type Settings struct {
	Rule     EdgeRule
	LiftLead Lead
	DropLead Lead

	// TickNs is Δ, the time between two calls of Tick. Due times lie inside
	// the tick, so a long tick costs no precision, only freshness of the fix.
	TickNs int64

	// RowToleranceRad is the largest angle between heading and crop rows at
	// which a zone with a row bearing takes part, 0 to π/2.
	RowToleranceRad float64
	// MinWorkRadiusM and SlackM: see Gate.
	MinWorkRadiusM, SlackM float64

	// WorkedGround and RowSpacingM: see Gate.
	WorkedGround WorkedGround
	RowSpacingM  float64

	// HysteresisM is how far a section must travel after a command at a
	// border before the opposite one may be given.
	HysteresisM float64
	// A gap that is crossed in less than ShortestUpNs causes no lift, and a strip
	// between two gaps that is crossed in less than ShortestDownNs causes no drop. A
	// command with another reason than a border holds for as long too. A fail-safe
	// lift does not wait.
	ShortestUpNs, ShortestDownNs int64
	// BridgeGaps: a section does not lift for a gap it would cross in less than
	// its lift lead plus its drop lead.
	BridgeGaps bool

	// MinSpeedMps: below it nothing drops; tools in work stay.
	MinSpeedMps float64

	// LatencyNs is the age of a fix on arrival, used where the stream has no
	// arrival times, or the host's clock disagrees with the receiver's.
	LatencyNs int64
	// MaxAgeNs is the oldest fix that still counts as a position.
	MaxAgeNs int64
	// HoldNs is how long sections keep their state after position is lost,
	// before the fail-safe.
	HoldNs   int64
	FailSafe FailSafe
	// MinQuality is the least accurate solution that counts as a position.
	MinQuality nmea.Quality

	// MaxSpeedMps bounds how far the position may move between two fixes;
	// JumpM is added for noise. A fix beyond is rejected until JumpFixes in
	// a row agree with each other.
	MaxSpeedMps float64
	JumpM       float64
	JumpFixes   int
}

// DefaultSettings returns settings that suit an RTK receiver at 10 Hz; the
// leads, 300 ms to lift and 600 ms to drop, are to be replaced by those of
// the machine.
func DefaultSettings() Settings {
	return Settings{
		Rule:            Even,
		LiftLead:        Lead{MoveNs: 300e6},
		DropLead:        Lead{MoveNs: 600e6},
		TickNs:          50e6,
		RowToleranceRad: 20 * math.Pi / 180,
		MinWorkRadiusM:  20,
		SlackM:          0.05,
		HysteresisM:     0.10,
		ShortestUpNs:    500e6,
		ShortestDownNs:  500e6,
		MinSpeedMps:     0.5 / 3.6,
		LatencyNs:       100e6,
		MaxAgeNs:        1500e6,
		HoldNs:          1000e6,
		MinQuality:      nmea.Autonomous,
		MaxSpeedMps:     40 / 3.6,
		JumpM:           1,
		JumpFixes:       5,
	}
}

// Validate reports the first setting that cannot work, as a sentence that
// says what was found and what is expected.
func (s *Settings) Validate() error {
	for _, l := range []struct {
		name string
		lead Lead
	}{{"lift lead", s.LiftLead}, {"drop lead", s.DropLead}} {
		if err := l.lead.Validate(l.name); err != nil {
			return err
		}
	}
	for _, v := range []struct {
		name       string
		ns         int64
		minNs, max int64
	}{
		{"tick", s.TickNs, 1e6, 1e9},
		{"shortest up time", s.ShortestUpNs, 0, 60e9},
		{"shortest down time", s.ShortestDownNs, 0, 60e9},
		{"latency", s.LatencyNs, 0, 5e9},
		{"greatest fix age", s.MaxAgeNs, 1e6, 60e9},
		{"hold time", s.HoldNs, 0, 60e9},
	} {
		if v.ns < v.minNs || v.ns > v.max {
			return fmt.Errorf("%s %g ms; expected %g to %g ms", v.name, float64(v.ns)*1e-6, float64(v.minNs)*1e-6, float64(v.max)*1e-6)
		}
	}
	for _, v := range []struct {
		name, unit    string
		value, lo, hi float64
	}{
		{"row tolerance", "rad", s.RowToleranceRad, 0, math.Pi / 2},
		{"least work radius", "m", s.MinWorkRadiusM, 0, 1000},
		{"slack", "m", s.SlackM, 0, 1},
		{"hysteresis", "m", s.HysteresisM, 0, 10},
		{"least speed", "m/s", s.MinSpeedMps, 0, 10},
		{"top speed", "m/s", s.MaxSpeedMps, 0.1, 100},
		{"jump", "m", s.JumpM, 0, 1000},
	} {
		if !(v.value >= v.lo && v.value <= v.hi) {
			return fmt.Errorf("%s %g %s; expected %g to %g", v.name, v.value, v.unit, v.lo, v.hi)
		}
	}
	if s.Rule > Even {
		return fmt.Errorf("edge rule %d; expected crop-first, weed-first or even", s.Rule)
	}
	if s.WorkedGround > LeaveWorked {
		return fmt.Errorf("worked ground %d; expected again or leave", s.WorkedGround)
	}
	if s.FailSafe > FailSafeHold {
		return fmt.Errorf("fail-safe %d; expected lift or hold", s.FailSafe)
	}
	if s.MinQuality < nmea.Autonomous || s.MinQuality > nmea.Simulator {
		return fmt.Errorf("least quality %d; expected 1 to 8", s.MinQuality)
	}
	if s.JumpFixes < 1 {
		return fmt.Errorf("%d fixes to accept a jump; expected at least 1", s.JumpFixes)
	}
	return nil
}
