// A clock that stamps arrivals and runs ahead.

package sim_test

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// A controller that measures the age of a fix by a clock that is ahead of the
// receiver's takes it for so much older, and is early by as much: place error =
// -v·ahead. An age that cannot be is not believed; the latency that it was told
// of is taken instead, and that is right here.
func TestClockAheadOfTheReceiver(t *testing.T) {
	h := lift()
	const v = 8 / 3.6
	m := bar(sections.RearRigid, -2.2, 6, 1)
	f := between(t, -40, 40, 0)
	track := drive.Straight(startNs, 0, -90, 0, v, 180)
	set := sections.DefaultSettings()
	set.LiftLead, set.DropLead = sim.Leads(&h, len(m.Sections), true)
	set.LatencyNs = 100e6
	for _, c := range []struct{ aheadNs, earlyNs int64 }{
		{0, 0}, {80e6, 80e6}, {250e6, 250e6}, {-60e6, -60e6}, // ages of 100, 180, 350, 40 ms
		{-150e6, 0}, {3e9, 0}, // -50 ms, 3.1 s
	} {
		t.Run(fmt.Sprintf("%d ms", c.aheadNs/1e6), func(t *testing.T) {
			var log bytes.Buffer
			p := receiver.Params{LatencyNs: 100e6, ClockAheadNs: c.aheadNs, Stamp: receiver.UnixStamp}
			if err := receiver.Write(&log, track, &plane, m, p); err != nil {
				t.Fatal(err)
			}
			job := sim.Job{Machine: m, Field: f, Settings: set, Hydraulics: h, Truth: track, ClockAheadNs: c.aheadNs}
			out, err := job.Run(epoch.NewReader(&log))
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range paired(t, out.Score, 6) {
				if want := -v * float64(c.earlyNs) * 1e-9; math.Abs(e.PlaceErrorM-want) > 0.002 {
					t.Errorf("section %d on=%v: place error %.4f m; want %.4f", e.Section+1, e.On, e.PlaceErrorM, want)
				}
			}
		})
	}
}
