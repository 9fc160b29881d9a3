// What settings and machines are refused, at each bound and beside it.

package sections

import (
	"math"
	"strings"
	"testing"

	"liftbench/nmea"
)

func TestSettingsBounds(t *testing.T) {
	const second = int64(1e9)
	for _, tc := range []struct {
		name   string
		set    func(s *Settings, v float64)
		lo, hi float64 // allowed, both
		step   float64 // the next value beyond
	}{
		{"dead time to lift", func(s *Settings, v float64) { s.LiftLead = Lead{DeadNs: int64(v)} }, 0, 10e9, 1},
		{"stroke to lift", func(s *Settings, v float64) { s.LiftLead = Lead{MoveNs: int64(v)} }, 0, 10e9, 1},
		{"dead time to drop", func(s *Settings, v float64) { s.DropLead = Lead{DeadNs: int64(v)} }, 0, 10e9, 1},
		{"both parts of a lead", func(s *Settings, v float64) { s.DropLead = Lead{DeadNs: 4 * second, MoveNs: int64(v)} }, 0, 6e9, 1},
		{"tick", func(s *Settings, v float64) { s.TickNs = int64(v) }, 1e6, 1e9, 1},
		{"shortest up time", func(s *Settings, v float64) { s.ShortestUpNs = int64(v) }, 0, 60e9, 1},
		{"shortest down time", func(s *Settings, v float64) { s.ShortestDownNs = int64(v) }, 0, 60e9, 1},
		{"latency", func(s *Settings, v float64) { s.LatencyNs = int64(v) }, 0, 5e9, 1},
		{"greatest fix age", func(s *Settings, v float64) { s.MaxAgeNs = int64(v) }, 1e6, 60e9, 1},
		{"hold time", func(s *Settings, v float64) { s.HoldNs = int64(v) }, 0, 60e9, 1},
		{"row tolerance", func(s *Settings, v float64) { s.RowToleranceRad = v }, 0, math.Pi / 2, 1e-9},
		{"least work radius", func(s *Settings, v float64) { s.MinWorkRadiusM = v }, 0, 1000, 1e-9},
		{"slack", func(s *Settings, v float64) { s.SlackM = v }, 0, 1, 1e-9},
		{"hysteresis", func(s *Settings, v float64) { s.HysteresisM = v }, 0, 10, 1e-9},
		{"least speed", func(s *Settings, v float64) { s.MinSpeedMps = v }, 0, 10, 1e-9},
		{"top speed", func(s *Settings, v float64) { s.MaxSpeedMps = v }, 0.1, 100, 1e-9},
		{"jump", func(s *Settings, v float64) { s.JumpM = v }, 0, 1000, 1e-9},
		{"fixes to accept a jump", func(s *Settings, v float64) { s.JumpFixes = int(v) }, 1, 1e6, 1},
		{"edge rule", func(s *Settings, v float64) { s.Rule = EdgeRule(v) }, 0, 2, 1},
		{"worked ground", func(s *Settings, v float64) { s.WorkedGround = WorkedGround(v) }, 0, 1, 1},
		{"fail-safe", func(s *Settings, v float64) { s.FailSafe = FailSafe(v) }, 0, 1, 1},
		{"least quality", func(s *Settings, v float64) { s.MinQuality = nmea.Quality(v) }, 1, 8, 1},
		{"sections fed at once", func(s *Settings, v float64) {
			s.LiftLead = Lead{MoveNs: second, TravelNs: second, FedAtOnce: v}
		}, 0, 1e6, 1e-9},
		{"whole stroke", func(s *Settings, v float64) {
			s.LiftLead = Lead{MoveNs: second, TravelNs: int64(v), FedAtOnce: 2}
		}, 1e9, 1e12, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			for _, v := range []float64{tc.lo, tc.hi, tc.lo + tc.step, tc.hi - tc.step} {
				s := DefaultSettings()
				if tc.set(&s, v); s.Validate() != nil {
					t.Errorf("%.12g: %v; want it accepted", v, s.Validate())
				}
			}
			type bad struct {
				v    float64
				skip bool
			}
			for _, b := range []bad{{tc.lo - tc.step, false}, {tc.hi + tc.step, tc.hi == 1e6 || tc.hi == 1e12}} {
				// An unsigned number below 0 wraps round and is refused as large.
				s := DefaultSettings()
				if tc.set(&s, b.v); !b.skip && s.Validate() == nil {
					t.Errorf("%.12g is accepted", b.v)
				}
			}
		})
	}
	nan := math.NaN()
	for name, set := range map[string]func(s *Settings){
		"row tolerance": func(s *Settings) { s.RowToleranceRad = nan },
		"fed at once":   func(s *Settings) { s.DropLead.FedAtOnce = nan },
		"no stroke":     func(s *Settings) { s.DropLead = Lead{DeadNs: second, FedAtOnce: 2} },
	} {
		s := DefaultSettings()
		if set(&s); s.Validate() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// Errors say what was found and what is expected, in the unit they name.
func TestSettingsErrors(t *testing.T) {
	for _, tc := range []struct {
		set   func(s *Settings)
		words []string
	}{
		{func(s *Settings) { s.LiftLead.MoveNs = 12e9 }, []string{"lift lead 12 s", "0 to 10 s"}},
		{func(s *Settings) { s.DropLead = Lead{DeadNs: 3e9, MoveNs: 9e9} }, []string{"drop lead 12 s", "0 to 10 s"}},
		{func(s *Settings) { s.LiftLead = Lead{MoveNs: 500e6, TravelNs: 250e6, FedAtOnce: 3} }, []string{"3 sections", "stroke 0.25 s"}},
		{func(s *Settings) { s.TickNs = 2e9 }, []string{"tick 2000 ms", "1 to 1000 ms"}},
		{func(s *Settings) { s.HoldNs = -5e6 }, []string{"hold time -5 ms", "0 to 60000 ms"}},
		{func(s *Settings) { s.SlackM = 2 }, []string{"slack 2 m", "0 to 1"}},
	} {
		s := DefaultSettings()
		tc.set(&s)
		err := s.Validate()
		for _, w := range tc.words {
			if err == nil || !strings.Contains(err.Error(), w) {
				t.Errorf("%v; want it to say %q", err, w)
			}
		}
	}
}

func TestMachineBounds(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, tc := range []struct {
		name   string
		change func(m *Machine)
		says   string // "" = accepted
	}{
		{"as it is", func(*Machine) {}, ""},
		{"none", func(m *Machine) { m.Sections = nil }, "0 sections"},
		{"256", func(m *Machine) { *m = *bar(RearRigid, -2, 256, 0.1) }, ""},
		{"257", func(m *Machine) { *m = *bar(RearRigid, -2, 257, 0.1) }, "257 sections"},
		{"no width", func(m *Machine) { m.Sections[1].WidthM = 0 }, "section 2"},
		{"infinite width", func(m *Machine) { m.Sections[1].WidthM = inf }, "section 2"},
		{"width not a number", func(m *Machine) { m.Sections[1].WidthM = nan }, "section 2"},
		{"x not a number", func(m *Machine) { m.Sections[2].XM = nan }, "section 3"},
		{"x infinite", func(m *Machine) { m.Sections[2].XM = inf }, "section 3"},
		{"both infinite", func(m *Machine) { m.Sections[2].XM, m.Sections[2].YM = inf, inf }, "section 3"},
		{"infinite both ways", func(m *Machine) { m.Sections[2].XM, m.Sections[2].YM = -inf, inf }, "section 3"},
		{"y infinite", func(m *Machine) { m.Sections[2].YM = inf }, "section 3"},
		{"from the right", func(m *Machine) {
			m.Sections[0].YM, m.Sections[1].YM = m.Sections[1].YM, m.Sections[0].YM
		}, "section 2"},
		{"one on the other", func(m *Machine) { m.Sections[2].YM = m.Sections[1].YM }, "section 3"},
		{"trailed without drawbar", func(m *Machine) { m.Mount = Trailed }, "drawbar 0 m"},
		{"trailed, drawbar not a number", func(m *Machine) { m.Mount, m.DrawbarM = Trailed, nan }, "drawbar"},
		{"trailed", func(m *Machine) { m.Mount, m.DrawbarM = Trailed, 3 }, ""},
	} {
		m := bar(RearRigid, -2, 3, 2)
		tc.change(m)
		err := m.Validate()
		if (err == nil) != (tc.says == "") || err != nil && !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: %v; want %q", tc.name, err, tc.says)
		}
	}
}
