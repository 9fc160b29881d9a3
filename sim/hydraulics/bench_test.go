// Speed and allocations.

package hydraulics

import (
	"fmt"
	"testing"

	"liftbench/sections"
)

func bank(t testing.TB, n int) *Bank {
	t.Helper()
	b, err := New(hoe(), n)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// everyone lifts and drops all sections once, 10 ms after each other, and
// advances the bank in steps of 50 ms.
func everyone(b *Bank, n int, out []sections.WorkChange) []sections.WorkChange {
	for _, on := range []bool{true, false} {
		start := b.NowNs()
		for i := range n {
			b.Command(sections.Setpoint{DueNs: start + int64(i)*10e6, Section: int16(i), On: on})
		}
		for t := start; t < start+20e9; t += 50e6 {
			out = b.Advance(t, out)
		}
	}
	return out
}

func TestAllocations(t *testing.T) {
	for _, n := range []int{1, 24, sections.MaxSections} {
		b := bank(t, n)
		b.SetDeviation(0, Deviation{Flow: 0.1})
		if err := b.Warm(Warming{FromDegC: 5, TimeConstantS: 60}); err != nil {
			t.Fatal(err)
		}
		out := make([]sections.WorkChange, 0, 2*n)
		if got := testing.AllocsPerRun(5, func() { out = everyone(b, n, out[:0]) }); got != 0 {
			t.Errorf("%d sections: %g allocations", n, got)
		}
		if len(out) != 2*n {
			t.Errorf("%d sections: %d changes", n, len(out))
		}
	}
}

func BenchmarkAdvanceIdle(b *testing.B) {
	bk := bank(b, 24)
	var out []sections.WorkChange
	now := int64(0)
	b.ReportAllocs()
	for b.Loop() {
		now += 50e6
		out = bk.Advance(now, out)
	}
}

// One lift and drop of every section, with its 800 ticks of 50 ms.
func BenchmarkLiftAndDrop(b *testing.B) {
	for _, n := range []int{1, 24, sections.MaxSections} {
		b.Run(fmt.Sprint(n, " sections"), func(b *testing.B) {
			bk := bank(b, n)
			out := make([]sections.WorkChange, 0, 2*n)
			b.ReportAllocs()
			for b.Loop() {
				out = everyone(bk, n, out[:0])
			}
		})
	}
}
