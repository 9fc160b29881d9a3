// Points, seeds, draws and shards of a plan.

package sweep

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

func speedsAndOil() Plan {
	return Plan{
		Axes: []Axis{
			{Key: "speed", Values: []float64{4, 8, 12}},
			{Key: "oil", Draw: &Distribution{Shape: Normal, Mean: 20, SD: 10, Lo: -30, Hi: 120}},
			{Key: "noise", Values: []float64{1, 2}},
		},
		Seeds: 5, FirstSeed: 100,
	}
}

func TestBenches(t *testing.T) {
	p := speedsAndOil()
	if p.Points() != 6 || p.Benches() != 30 {
		t.Fatalf("%d points, %d benches; want 6 and 30", p.Points(), p.Benches())
	}
	// The last axis changes fastest; seeds within a point.
	for n, want := range map[int]struct {
		seed         uint64
		speed, noise float64
	}{0: {100, 4, 1}, 4: {104, 4, 1}, 5: {100, 4, 2}, 12: {102, 8, 1}, 29: {104, 12, 2}} {
		b := p.Bench(n)
		if b.Seed != want.seed || b.Values[0] != want.speed || b.Values[2] != want.noise || b.Point != n/5 {
			t.Errorf("bench %d is %+v; want %+v", n, b, want)
		}
	}
}

// TestPlanInAJournal: shapes stand there by name, and a plan is read back as it was.
func TestPlanInAJournal(t *testing.T) {
	p := speedsAndOil()
	p.Axes = append(p.Axes, Axis{Key: "dead", Draw: &Distribution{Shape: Uniform, Lo: 30, Hi: 90}})
	text, err := json.Marshal(p)
	if err != nil || strings.Count(string(text), `"shape":"normal"`) != 1 || strings.Count(string(text), `"shape":"uniform"`) != 1 {
		t.Errorf("%s, %v", text, err)
	}
	var back Plan
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(back, p) {
		t.Errorf("%s is read as %+v, %v", text, back, err)
	}
	wrong := strings.Replace(string(text), `"uniform"`, `"even"`, 1)
	if err := json.Unmarshal([]byte(wrong), &back); err == nil || !strings.Contains(err.Error(), `"even"; expected normal or uniform`) {
		t.Errorf("%s: %v", wrong, err)
	}
}

// The same seed draws the same at every point, and another axis does not
// change it.
func TestCommonRandomNumbers(t *testing.T) {
	p := speedsAndOil()
	q := p
	q.Axes = append([]Axis{{Key: "dead", Draw: &Distribution{Shape: Uniform, Lo: 30, Hi: 90}}}, p.Axes...)
	seen := map[float64]bool{}
	for s := range p.Seeds {
		oil := p.Bench(s).Values[1]
		seen[oil] = true
		for point := range p.Points() {
			if b := p.Bench(point*p.Seeds + s); b.Values[1] != oil {
				t.Errorf("seed %d draws %g at point %d, %g at the first", b.Seed, b.Values[1], point, oil)
			}
		}
		if b := q.Bench(s); b.Values[2] != oil {
			t.Errorf("with one more axis seed %d draws %g, not %g", b.Seed, b.Values[2], oil)
		}
	}
	if len(seen) != p.Seeds {
		t.Errorf("%d seeds draw %d values", p.Seeds, len(seen))
	}
}

func TestDistributions(t *testing.T) {
	const n = 20000
	for _, c := range []struct {
		name         string
		d            Distribution
		mean, sd     float64
		least, most  float64
		toleranceSDs float64
	}{
		{"normal", Distribution{Mean: 20, SD: 10, Lo: -1e9, Hi: 1e9}, 20, 10, -40, 80, 0.03},
		// Cut off at the mean: mean σ·√(2/π), sd σ·√(1 - 2/π), the half-normal
		// distribution (Johnson, Kotz and Balakrishnan 1994, Continuous Univariate
		// Distributions 1, ch. 13; from memory).
		{"half-normal", Distribution{Mean: 0, SD: 1, Lo: 0, Hi: 1e9}, math.Sqrt(2 / math.Pi), math.Sqrt(1 - 2/math.Pi), 0, 6, 0.03},
		{"uniform", Distribution{Shape: Uniform, Lo: 80, Hi: 120}, 100, 40 / math.Sqrt(12), 80, 120, 0.03},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Plan{Axes: []Axis{{Key: c.name, Draw: &c.d}}, Seeds: n}
			if err := p.Check(); err != nil {
				t.Fatal(err)
			}
			v := make([]float64, n)
			for i := range v {
				v[i] = p.Bench(i).Values[0]
			}
			mean, sd := stat.MeanStdDev(v, nil)
			if math.Abs(mean-c.mean) > c.toleranceSDs*c.sd || math.Abs(sd-c.sd) > c.toleranceSDs*c.sd || slices.Min(v) < c.least || slices.Max(v) > c.most {
				t.Errorf("mean %g, sd %g, %g to %g; want mean %g, sd %g", mean, sd, slices.Min(v), slices.Max(v), c.mean, c.sd)
			}
		})
	}
}

func TestPlanErrors(t *testing.T) {
	grid := func(n int) []float64 { return make([]float64, n) }
	for want, p := range map[string]Plan{
		"0 seeds":                  {},
		"speed has no values":      {Seeds: 1, Axes: []Axis{{Key: "speed"}}},
		"speed varies twice":       {Seeds: 1, Axes: []Axis{{Key: "speed", Values: grid(1)}, {Key: "speed", Values: grid(1)}}},
		"more than 16777216":       {Seeds: 1000, Axes: []Axis{{Key: "a", Values: grid(5000)}, {Key: "b", Values: grid(5000)}}},
		"below the upper one":      {Seeds: 1, Axes: []Axis{{Key: "a", Draw: &Distribution{Shape: Uniform, Lo: 2, Hi: 1}}}},
		"standard deviation 0":     {Seeds: 1, Axes: []Axis{{Key: "a", Draw: &Distribution{Lo: 0, Hi: 1}}}},
		"leave less than 1 %":      {Seeds: 1, Axes: []Axis{{Key: "a", Draw: &Distribution{Mean: 50, SD: 1, Lo: 0, Hi: 1}}}},
		"draws from -Inf to +Inf;": {Seeds: 1, Axes: []Axis{{Key: "a", Draw: &Distribution{SD: 1, Lo: math.Inf(-1), Hi: math.Inf(1)}}}},
	} {
		if err := p.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("found %v; want %q", err, want)
		}
	}
}

func TestSpaced(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		n      int
		want   []float64
	}{
		{0.1, 0.3, 3, []float64{0.1, 0.2, 0.3}},
		{4, 12, 5, []float64{4, 6, 8, 10, 12}},
		{0, 1, 4, []float64{0, 0.333333333333, 0.666666666667, 1}},
		{7, 9, 1, []float64{7}},
		{-3e9, 3e9, 2, []float64{-3e9, 3e9}},
	} {
		if got := Spaced(c.lo, c.hi, c.n); !slices.Equal(got, c.want) {
			t.Errorf("Spaced(%g, %g, %d) is %v; want %v", c.lo, c.hi, c.n, got, c.want)
		}
	}
}

// Every bench belongs to exactly one shard.
func TestShards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(1, 20).Draw(t, "of")
		for n := range 50 {
			holders := 0
			for part := 1; part <= of; part++ {
				if (Shard{part, of}).Holds(n) {
					holders++
				}
			}
			if holders != 1 {
				t.Fatalf("bench %d is in %d shards of %d", n, holders, of)
			}
		}
	})
}

func TestGroups(t *testing.T) {
	p := speedsAndOil()
	var rows []Row
	for n := range p.Benches() {
		rows = append(rows, Row{n, p.Bench(n).Values})
	}
	for _, axes := range [][]int{p.Grid(), {2}, {2, 0}, nil} {
		seen := 0
		for _, g := range p.Groups(rows, axes) {
			seen += len(g.Rows)
			for i, a := range axes {
				for _, v := range g.Column(a) {
					if v != g.Values[i] {
						t.Errorf("axes %v: a bench with %s = %g among those with %g", axes, p.Axes[a].Key, v, g.Values[i])
					}
				}
			}
		}
		if seen != len(rows) {
			t.Errorf("axes %v: %d of %d benches", axes, seen, len(rows))
		}
	}
}
