// The lowest cost is found, and how often the interval contains the true optimum.

package tune

import (
	"errors"
	"math"
	"math/rand/v2"
	"sort"
	"testing"
)

// bench simulates drives whose transitions are early or late at random. A lead
// that is one second longer makes each transition one second earlier. An early
// transition costs early·|e|, a late one late·|e|. The mean cost is lowest where
// early·P(early) = late·P(late), which is the late/(early + late) quantile of
// the leads needed (the newsvendor's rule, Arrow, Harris and Marschak 1951,
// Econometrica 19:250-272; from memory).
type bench struct {
	needed      [][]float64 // lead that each transition of each drive needs, ms
	early, late float64
}

func draw(rng *rand.Rand, drives, transitions int, sdMs, driveSDMs, early, late float64) *bench {
	b := &bench{early: early, late: late}
	for range drives {
		shift := driveSDMs * rng.NormFloat64()
		needed := make([]float64, transitions)
		for i := range needed {
			needed[i] = 300 + shift + sdMs*rng.NormFloat64()
		}
		b.needed = append(b.needed, needed)
	}
	return b
}

func (b *bench) costs(leads []float64, drives int) ([][]float64, error) {
	out := make([][]float64, len(leads))
	for k, lead := range leads {
		for _, needed := range b.needed[:drives] {
			sum := 0.0
			for _, n := range needed {
				if e := lead - n; e > 0 {
					sum += b.early * e
				} else {
					sum -= b.late * e
				}
			}
			out[k] = append(out[k], sum)
		}
	}
	return out, nil
}

func (b *bench) search(drives int) *Search {
	return &Search{Lo: 0, Hi: 3000, Step: 2, Drives: drives, Costs: b.costs}
}

// Without noise the minimum is found to a fraction of a step, from any range.
func TestNoiseFree(t *testing.T) {
	for _, hi := range []float64{310, 500, 1000, 3000, 10000} {
		for _, weights := range [][2]float64{{1, 1}, {3, 1}, {1, 5}} {
			b := draw(rand.New(rand.NewPCG(1, 1)), 3, 10, 0, 0, weights[0], weights[1])
			s := b.search(3)
			s.Hi = hi
			m, _, err := s.Run()
			if err != nil || math.Abs(m.At-300) > 1.5 || m.Lo > 300 || m.Hi < 300 || m.LoOpen || m.HiOpen || m.Hi-m.Lo > 4 {
				t.Errorf("up to %g ms, weights %v: %+v, %v; want 300 ms", hi, weights, m, err)
			}
		}
	}
}

// If the cost is lowest at an end of the range, the search finds that end.
func TestAtTheEnd(t *testing.T) {
	b := draw(rand.New(rand.NewPCG(1, 1)), 3, 10, 0, 0, 1, 1)
	for _, r := range [][2]float64{{400, 900}, {0, 200}} {
		s := b.search(3)
		s.Lo, s.Hi = r[0], r[1]
		want := min(max(300, r[0]), r[1])
		if m, _, err := s.Run(); err != nil || math.Abs(m.At-want) > 2 {
			t.Errorf("from %g to %g: %+v, %v; want %g", r[0], r[1], m, err, want)
		}
	}
}

// The interval holds the true optimum in 92 to 98 % of searches.
func TestCoverage(t *testing.T) {
	const searches = 1000
	for _, c := range []struct {
		name           string
		drives         int
		sdMs, driveSD  float64
		early, late    float64
		transitions    int
		quantileOfNorm float64 // late/(early + late) of the normal distribution
	}{
		{"even", 10, 40, 0, 1, 1, 60, 0},
		{"drives differ", 10, 20, 15, 1, 1, 60, 0},
		{"few drives", 5, 40, 5, 1, 1, 60, 0},
		{"crop dear", 12, 40, 10, 1, 3, 60, 0.6744898},
		{"many drives", 40, 40, 20, 1, 1, 60, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, uint64(c.drives)))
			truth := 300 + math.Hypot(c.sdMs, c.driveSD)*c.quantileOfNorm
			held, sum := 0, 0.0
			for range searches {
				b := draw(rng, c.drives, c.transitions, c.sdMs, c.driveSD, c.early, c.late)
				m, _, err := b.search(c.drives).Run()
				if err != nil {
					t.Fatal(err)
				}
				if m.Lo <= truth && truth <= m.Hi {
					held++
				}
				sum += m.At - truth
			}
			share := 100 * float64(held) / searches
			t.Logf("the optimum in %.1f %% of intervals, bias %.2f ms", share, sum/searches)
			if share < 92 || share > 98 {
				t.Errorf("the optimum in %.1f %% of intervals; want 92 to 98 %%", share)
			}
		})
	}
}

// The search finds the same as trying every lead. If early and late cost the
// same, the best lead is the median of those needed.
func TestAgainstMedian(t *testing.T) {
	b := draw(rand.New(rand.NewPCG(3, 3)), 9, 51, 50, 10, 1, 1)
	var all []float64
	for _, n := range b.needed {
		all = append(all, n...)
	}
	sort.Float64s(all)
	m, c, err := b.search(9).Run()
	if err != nil || math.Abs(m.At-all[len(all)/2]) > 5 || m.WithinLo >= m.At || m.WithinHi <= m.At {
		t.Errorf("%+v, %v; want the median %g", m, err, all[len(all)/2])
	}
	if len(c.At) != len(c.Costs) || len(c.Costs[0]) != 9 {
		t.Errorf("the last curve has %d values, %d costs, of %d drives", len(c.At), len(c.Costs), len(c.Costs[0]))
	}
}

func TestError(t *testing.T) {
	full := errors.New("no drive")
	s := &Search{Lo: 0, Hi: 10, Step: 1, Drives: 2, Costs: func([]float64, int) ([][]float64, error) { return nil, full }}
	if _, _, err := s.Run(); !errors.Is(err, full) {
		t.Errorf("%v; want the bench's error", err)
	}
}
