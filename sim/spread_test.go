// The tools' spread, as the score sees it.

package sim_test

import (
	"bytes"
	"math"
	"testing"

	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// The controller knows the machine as it was measured: a section that differs
// is late by what it takes longer, place error = v·(what it takes - lead), and
// so are all of them in cold oil.
func TestSpreadOfTheTools(t *testing.T) {
	const v = 8 / 3.6
	h := lift()
	m := bar(sections.RearRigid, -2.2, 6, 1)
	track := drive.Straight(startNs, 0, -90, 0, v, 180)
	var log bytes.Buffer
	if err := receiver.Write(&log, track, &plane, m, receiver.Params{LatencyNs: 100e6}); err != nil {
		t.Fatal(err)
	}
	set := sections.DefaultSettings()
	set.LiftLead, set.DropLead = sim.Leads(&h, len(m.Sections), true)
	move := func(p *hydraulics.Params, on bool) float64 {
		if on {
			return float64(p.DropTimeNs() - p.DropDeadNs)
		}
		return float64(p.LiftTimeNs(1) - p.LiftDeadNs)
	}
	cold := h
	cold.OilTempDegC = 10
	for _, c := range []struct {
		name    string
		spread  hydraulics.Spread
		warming hydraulics.Warming
		p       *hydraulics.Params // of the oil
		share   float64            // of a stroke that the oil's steps may be off by
	}{
		{"alike", hydraulics.Spread{Seed: 1}, hydraulics.Warming{}, &h, 0},
		{"unlike", hydraulics.Spread{LiftDeadNs: 15e6, DropDeadNs: 10e6, Flow: 0.08, Seed: 1}, hydraulics.Warming{}, &h, 0},
		{"another seed", hydraulics.Spread{LiftDeadNs: 15e6, DropDeadNs: 10e6, Flow: 0.08, Seed: 2}, hydraulics.Warming{}, &h, 0},
		// Within the 81 s of the drive such oil stays cold.
		{"cold", hydraulics.Spread{}, hydraulics.Warming{FromDegC: 10, TimeConstantS: 1e6}, &cold, 0.004},
		{"both", hydraulics.Spread{LiftDeadNs: 15e6, Flow: 0.08, Seed: 3}, hydraulics.Warming{FromDegC: 10, TimeConstantS: 1e6}, &cold, 0.004},
	} {
		t.Run(c.name, func(t *testing.T) {
			job := sim.Job{
				Machine: m, Field: between(t, -40, 40, 0), Settings: set, Hydraulics: h, Truth: track,
				Spread: c.spread, Warming: c.warming,
			}
			out, err := job.Run(epoch.NewReader(bytes.NewReader(log.Bytes())))
			if err != nil {
				t.Fatal(err)
			}
			off := c.spread.Draw(6)
			for _, e := range paired(t, out.Score, 6) {
				d := off[e.Section]
				longerNs := move(c.p, e.On)/(1+d.Flow) - move(&h, e.On)
				if e.On {
					longerNs += float64(d.DropDeadNs)
				} else {
					longerNs += float64(d.LiftDeadNs)
				}
				tolM := 0.001 + c.share*v*move(c.p, e.On)*1e-9
				if want := v * longerNs * 1e-9; math.Abs(e.PlaceErrorM-want) > tolM {
					t.Errorf("section %d on=%v: place error %.4f m; want %.4f", e.Section+1, e.On, e.PlaceErrorM, want)
				}
			}
		})
	}
}
