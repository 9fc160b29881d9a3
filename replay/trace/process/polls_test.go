package process_test

import (
	"math/rand/v2"
	"testing"

	"liftbench/replay/trace/process"
)

// A state on the bus is polled, by drawn periods, or told when it changes and after a while
// besides; setpoints are said again and again. Only of the first is the time of a change an interval.
func TestPolls(t *testing.T) {
	for _, polled := range []bool{true, false} {
		wrong := 0
		for seed := range uint64(60) {
			r := rand.New(rand.NewPCG(seed, 3))
			var rec process.Recorder
			periodMs := int64(100 + r.IntN(1900))
			if !polled {
				periodMs = int64(1000 + r.IntN(4000))
			}
			var changes []int64
			for at := int64(20_000); len(changes) < 12; at += int64(15_000 + r.IntN(30_000)) {
				changes = append(changes, at)
			}
			state := func(ms int64) (on uint32) {
				for _, c := range changes {
					if c <= ms {
						on ^= 1
					}
				}
				return on
			}
			say := func(ms int64, destination uint8, ddi uint16, on uint32) {
				f := process.Frame(0x80, destination, 2, ddi, on)
				if destination == 0x80 {
					f = process.Frame(0xF7, destination, 2, ddi, on)
				}
				rec.Add(ms*1e6, 0, &f)
			}
			next := int64(r.IntN(int(periodMs)))
			var at []int64
			for k := 0; next < changes[11]+30_000; {
				if !polled && k < len(changes) && changes[k] <= next {
					next = changes[k]
					k++
				}
				at = append(at, next)
				gap := periodMs
				if polled {
					gap += int64(float64(periodMs) * 0.3 * (2*r.Float64() - 1))
				}
				next += gap
			}
			for _, ms := range at {
				say(ms, 0xF7, process.ActualWord, state(ms))
				say(ms+1, 0x80, process.SetpointWord, state(ms))
			}
			devices := rec.Devices()
			if len(devices) != 1 || len(devices[0].Actuals) != 12 {
				t.Fatalf("seed %d: %d devices, %d changes", seed, len(devices), len(devices[0].Actuals))
			}
			d := devices[0]
			if d.Polls() != polled {
				wrong++
				continue
			}
			for i, c := range d.Actuals {
				if truth := changes[i] * 1e6; polled && (c.BeforeNs >= truth || c.TimeNs < truth) || !polled && c.TimeNs != truth {
					t.Fatalf("seed %d: change %d at %d ms lies in (%d, %d]", seed, i, changes[i], c.BeforeNs/1e6, c.TimeNs/1e6)
				}
			}
		}
		if wrong > 1 {
			t.Errorf("polled %v: told wrongly on %d of 60 buses", polled, wrong)
		}
	}
}
