package run

import (
	"io"
	"math"
	"testing"

	"liftbench/cmd/liftbench/settings"
)

// TestSectionLeads: sections of 2, 3 and 4 units behind one valve of 12 L/min each need 160.5, 210.8 and 261.1 ms, and
// are all on time with such leads; with one lead for all, the first is early and the last late by what is missing.
func TestSectionLeads(t *testing.T) {
	const area, flow = math.Pi / 4 * 0.032 * 0.032, 12e-3 / 60 // m², m³/s
	needMs := func(units float64) float64 { return 60 + units*0.015*0.15/0.18*area/flow*1e3 }
	for _, own := range []bool{true, false} {
		u, err := (&settings.Selection{Arg: "../../../testdata/section-leads.yaml"}).Load()
		if err != nil {
			t.Fatal(err)
		}
		c := &u.Machine.Controller
		if !own {
			c.SectionTrims, c.LiftLead = nil, settings.LeadTime{Ms: needMs(3)}
		}
		o, err := Drive(u, nil, io.Discard, false)
		if err != nil {
			t.Fatal(err)
		}
		lifts := 0
		for _, e := range o.Score.Events {
			if e.On {
				continue
			}
			lifts++
			wantMs := 0.0
			if !own {
				wantMs = needMs(float64(e.Section+2)) - needMs(3)
			}
			if got := e.TimeErrorS * 1e3; !(math.Abs(got-wantMs) <= 1) {
				t.Errorf("own leads %v: section %d lifts %.2f ms late; want %.2f", own, e.Section+1, got, wantMs)
			}
		}
		if lifts != 42 {
			t.Errorf("%d lifts; want 42", lifts)
		}
	}
}
