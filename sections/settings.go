// How the controller is set: leads, guards against chatter, and what it does
// when the position is lost.

package sections

import (
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/sections/enum"
)

// Lead is how long before the crossing a command is given: DeadNs + MoveNs for
// a section that moves alone. The trade's turn-off and turn-on times are
// ISO 11783-11 DDI 206 (lift) and 205 (drop).
//
// A flow-aware lead also counts the sections about to move at once: where the
// pump feeds only FedAtOnce sections at full speed, n sections moving together
// each take max(1, n/FedAtOnce) times as long.
type Lead struct {
	DeadNs int64 // from the command until the tool starts to move
	MoveNs int64 // from then until it passes the effective depth, alone
	// TravelNs is the whole stroke, alone, between working depth and raised. With it
	// a lead is shorter for a tool that has not gone all the way, and a flow-aware
	// one counts a section until it is all the way up. 0 = not known: a tool is
	// taken to be all the way up or down.
	TravelNs int64
	// FedAtOnce is pump flow over the flow of one section at full speed;
	// 0 = the lead is fixed.
	FedAtOnce float64
}

// AloneNs returns the lead of a section that moves alone.
func (l *Lead) AloneNs() int64 { return l.DeadNs + l.MoveNs }

// longestNs returns the lead when all of n sections move at once.
func (l *Lead) longestNs(n int) int64 {
	return l.DeadNs + int64(float64(l.MoveNs)*l.stretch(float64(n)))
}

// stretch returns how many times as long a stroke takes with n sections
// moving at once.
func (l *Lead) stretch(n float64) float64 {
	if l.FedAtOnce <= 0 {
		return 1
	}
	return max(1, n/l.FedAtOnce)
}

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
		if l.lead.DeadNs < 0 || l.lead.MoveNs < 0 || l.lead.AloneNs() > MaxLeadNs {
			return fmt.Errorf("%s %.3g s; expected 0 to %d s", l.name, float64(l.lead.AloneNs())*1e-9, int64(MaxLeadNs)/1e9)
		}
		if !(l.lead.FedAtOnce >= 0) || l.lead.FedAtOnce > 0 && (l.lead.MoveNs == 0 || l.lead.TravelNs < l.lead.MoveNs) {
			return fmt.Errorf("%s: %g sections fed at once, whole stroke %.3g s; expected 0 or more sections, and a stroke no shorter than the part up to the effective depth, which is more than 0", l.name, l.lead.FedAtOnce, float64(l.lead.TravelNs)*1e-9)
		}
		if t := l.lead.TravelNs; t != 0 && t < l.lead.MoveNs {
			return fmt.Errorf("%s: whole stroke %.3g s; expected 0, not known, or no less than the part up to the effective depth, %.3g s", l.name, float64(t)*1e-9, float64(l.lead.MoveNs)*1e-9)
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

// MaxLeadNs is the longest lead that is allowed: it bounds how far ahead the
// controller looks.
const MaxLeadNs = 10e9
