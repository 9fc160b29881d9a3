// Lifts that share a pump, beside closed forms and a pump that is simulated
// forwards.

package sections

import (
	"fmt"
	"math"
	"testing"
)

// shared is a controller of n sections that lift in 600 ms of stroke to the
// effective depth and 900 ms in all after 100 ms of dead time, from a pump that
// feeds so many at once.
func shared(t *testing.T, n int, fedAtOnce float64) *Controller {
	return newController(t, bar(RearRigid, -2, n, 1), newField(t, body(0, rectangle(-1, -1, 1, 1))), func(s *Settings) {
		s.LiftLead = Lead{DeadNs: 100e6, MoveNs: 600e6, TravelNs: 900e6, FedAtOnce: fedAtOnce}
	})
}

// Sections that cross together each take n/FedAtOnce times as long, and one
// alone as long as alone, within a slice of a twelfth of the stroke.
func TestStrokesTogether(t *testing.T) {
	for _, tc := range []struct {
		n    int
		fed  float64
		want float64 // ms
	}{
		{1, 1, 600}, {2, 1, 1200}, {3, 1, 1800}, {4, 2, 1200}, {3, 2, 900}, {2, 2, 600}, {2, 5, 600}, {6, 0, 600},
	} {
		c := shared(t, tc.n, tc.fed)
		for i := range c.section {
			c.section[i].On, c.section[i].PendingNs = true, startNs
		}
		c.timeStrokes()
		for i := range c.section {
			if got := float64(c.section[i].StrokeNs) * 1e-6; !(math.Abs(got-tc.want) <= 1) {
				t.Errorf("%d sections, %g fed: section %d moves %.1f ms; want %g", tc.n, tc.fed, i+1, got, tc.want)
			}
		}
	}
}

// Beside one that is already on its way up, at half speed while both move:
// the stroke is longer by half of the time that they share.
func TestStrokeBesideOneOnItsWay(t *testing.T) {
	const tolMs = 26 // half a slice of 50 ms, at half speed
	for _, crossMs := range []float64{300, 700, 900, 1000, 1200, 1500, 1700, 2500} {
		t.Run(fmt.Sprint(crossMs), func(t *testing.T) {
			c := shared(t, 2, 1)
			// Commanded at 0: it moves from 100 to 1000 ms, and is to drop again later.
			c.section[0] = sectionState{DueNs: startNs, StrokeNs: 600e6, PendingNs: startNs + 9e9}
			c.section[1] = sectionState{On: true, PendingNs: startNs + int64(crossMs*1e6)}
			c.timeStrokes()
			// Backwards from the crossing: alone after 1000 ms, shared down to 100 ms.
			left, at, want := 600.0, crossMs, 0.0
			if alone := crossMs - 1000; alone > 0 {
				d := min(alone, left)
				left, at, want = left-d, at-d, want+d
			}
			if both := at - 100; both > 0 && left > 0 {
				d := min(both, 2*left)
				left, want = left-d/2, want+d
			}
			want += left
			if got := float64(c.section[1].StrokeNs) * 1e-6; !(math.Abs(got-want) <= tolMs) {
				t.Errorf("moves %.1f ms; want %.1f", got, want)
			}
			if c.section[0].StrokeNs != 600e6 {
				t.Errorf("the stroke of the one on its way became %d ns", c.section[0].StrokeNs)
			}
		})
	}
	// One that was commanded up long ago, one in work without a crossing and
	// one that never moved take nothing.
	c := shared(t, 4, 1)
	c.section[0] = sectionState{DueNs: startNs - 5e9, StrokeNs: 600e6}
	c.section[1] = sectionState{On: true, DueNs: startNs, StrokeNs: 600e6}
	c.section[3] = sectionState{On: true, PendingNs: startNs + 800e6}
	c.timeStrokes()
	if got := c.section[3].StrokeNs; got != 600e6 {
		t.Errorf("beside three at rest: %d ns; want 600 ms", got)
	}
	// One that moved with two more took three times as long all the way up.
	c.section[0] = sectionState{DueNs: startNs - 2e9, StrokeNs: 1800e6} // 2700 ms from -1900 ms on
	c.timeStrokes()
	if got := c.section[3].StrokeNs; !(math.Abs(float64(got)-1200e6) <= 26e6) {
		t.Errorf("beside one that is still on its way: %d ns; want 1200 ms", got)
	}
}

// Sections that cross one after another: started as early as the strokes say,
// and fed forwards by the pump, each is at its effective depth at its crossing.
// The rounds are an estimate, here to a tenth of the stroke; a pump that feeds one
// of two sections is worst at crossings 700 ms apart, where it is off by 120 ms.
func TestStaggeredStrokesBesideAPump(t *testing.T) {
	for _, tc := range []struct {
		n       int
		fed     float64
		apartMs float64
	}{{2, 1, 300}, {2, 1, 1000}, {2, 1.5, 200}, {3, 2, 150}, {4, 3, 200}, {3, 1, 2000}} {
		t.Run(fmt.Sprint(tc), func(t *testing.T) {
			c := shared(t, tc.n, tc.fed)
			for i := range c.section {
				c.section[i].On, c.section[i].PendingNs = true, startNs+int64(float64(i)*tc.apartMs*1e6)
			}
			c.timeStrokes()
			done, reached := make([]float64, tc.n), make([]float64, tc.n) // ms of stroke alone; when at 600
			for ms := -5000.0; ms < 9000; ms++ {
				moving := 0.0
				for i := range done {
					if ms >= float64(c.section[i].PendingNs-startNs-c.section[i].StrokeNs)*1e-6 && done[i] < 900 {
						moving++
					}
				}
				for i := range done {
					if ms >= float64(c.section[i].PendingNs-startNs-c.section[i].StrokeNs)*1e-6 && done[i] < 900 {
						before := done[i]
						done[i] += min(1, tc.fed/moving)
						if before < 600 && done[i] >= 600 {
							reached[i] = ms
						}
					}
				}
			}
			for i, at := range reached {
				if want := float64(i) * tc.apartMs; !(math.Abs(at-want) <= 60) {
					t.Errorf("section %d is up at %.0f ms; want %.0f", i+1, at, want)
				}
			}
		})
	}
}

func TestLead(t *testing.T) {
	for _, tc := range []struct {
		fed    float64
		n      int
		wantMs float64
	}{{0, 8, 700}, {1, 1, 700}, {1, 2, 1300}, {2, 1, 700}, {2, 2, 700}, {2, 3, 1000}, {0.5, 1, 1300}} {
		l := Lead{DeadNs: 100e6, MoveNs: 600e6, FedAtOnce: tc.fed}
		if got := float64(l.LongestNs(tc.n)) * 1e-6; !(math.Abs(got-tc.wantMs) <= 1e-5) {
			t.Errorf("%d at once, %g fed: lead %g ms; want %g", tc.n, tc.fed, got, tc.wantMs)
		}
		if got := l.AloneNs(); got != 700e6 {
			t.Errorf("alone %d ns; want 700 ms", got)
		}
	}
}

// A slice counts by its middle: over crossings of every phase to a millisecond
// its rounding averages out.
func TestSlicesAverageOut(t *testing.T) {
	sum, n := 0.0, 0
	for crossMs := 1050.0; crossMs < 1550; crossMs++ {
		c := shared(t, 2, 1)
		c.section[0] = sectionState{DueNs: startNs, StrokeNs: 600e6} // moves from 100 to 1000 ms
		c.section[1] = sectionState{On: true, PendingNs: startNs + int64(crossMs*1e6)}
		c.timeStrokes()
		alone := crossMs - 1000
		want := alone + 2*(600-alone)
		if 2*(600-alone) > 900 { // alone again before the other began
			want = alone + 900 + (600 - alone - 450)
		}
		sum += float64(c.section[1].StrokeNs)*1e-6 - want
		n++
	}
	if mean := sum / float64(n); !(math.Abs(mean) <= 2) {
		t.Errorf("strokes are %.2f ms too long on average", mean)
	}
}
