// How long a day's score takes.

package score

import (
	"testing"

	"liftbench/sections"
)

// A drive of ten hours at 10 Hz with 24 sections of 0.25 m; the budget is
// 250 ms and 40 MB beyond the track on one core.
func BenchmarkDay(b *testing.B) {
	b.Run("scores", func(b *testing.B) { benchmarkDay(b, Options{}) })
	b.Run("strips too", func(b *testing.B) { benchmarkDay(b, Options{Strips: true}) })
}

func benchmarkDay(b *testing.B, opt Options) {
	track := day()
	g := newGate(dayField(b), rearBar(24, 0.25, -2), sections.CropFirst)
	changes := late(b, track, g, scattered(1))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(track, g, changes, nil, opt); err != nil {
			b.Fatal(err)
		}
	}
}
