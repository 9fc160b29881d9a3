// This file defines what a study runs: its axes, points and seeds, and how its
// benches are numbered.

package sweep

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"liftbench/sections/enum"
	"liftbench/sections/score/sample"
)

// Axis is one setting that varies. Either it takes each of Values, which makes it
// part of the grid, or it is drawn from Draw once for every seed.
type Axis struct {
	Key    string        `json:"key"`
	Values []float64     `json:"values,omitempty"`
	Draw   *Distribution `json:"draw,omitempty"` // nil where Values are given
}

// Shape is a kind of distribution.
type Shape uint8

const (
	Normal  Shape = iota
	Uniform       // from Lo to Hi
)

var shapeNames = []string{Normal: "normal", Uniform: "uniform"}

// String returns the name that files use: normal or uniform.
func (s Shape) String() string { return enum.Name(shapeNames, s) }

// MarshalText returns the same name, or an error for a value that has none.
func (s Shape) MarshalText() ([]byte, error) { return enum.Text(shapeNames, s) }

// UnmarshalText sets s to the value of that name.
func (s *Shape) UnmarshalText(text []byte) error { return enum.Set(s, shapeNames, text) }

// Distribution is a distribution between Lo and Hi. A normal one is cut off at
// both.
type Distribution struct {
	Shape Shape   `json:"shape"`
	Mean  float64 `json:"mean"` // of Normal, before it is cut off
	SD    float64 `json:"sd"`   // of Normal, before it is cut off
	Lo    float64 `json:"lo"`
	Hi    float64 `json:"hi"`
}

// Check returns an error if no values can be drawn from d.
func (d *Distribution) Check() error {
	switch {
	case !(d.Lo < d.Hi) || math.IsInf(d.Hi-d.Lo, 0):
		return fmt.Errorf("draws from %g to %g; expected a lower end below the upper one", d.Lo, d.Hi)
	case d.Shape == Normal && !(d.SD > 0):
		return fmt.Errorf("standard deviation %g; expected more than 0", d.SD)
	case d.Shape == Normal && d.within() < 0.01:
		return fmt.Errorf("mean %g and standard deviation %g leave less than 1 %% between %g and %g; expected most of it there", d.Mean, d.SD, d.Lo, d.Hi)
	}
	return nil
}

// below returns the share of the normal distribution that lies below x.
func (d *Distribution) below(x float64) float64 {
	return 0.5 * math.Erfc(-(x-d.Mean)/(d.SD*math.Sqrt2))
}

// within returns the share of a normal distribution that lies between Lo and Hi.
func (d *Distribution) within() float64 {
	return d.below(d.Hi) - d.below(d.Lo)
}

// At returns the value below which the share u (0 to 1) of the distribution
// lies. With a uniform random u it is a draw from the distribution.
func (d *Distribution) At(u float64) float64 {
	if d.Shape == Uniform {
		return d.Lo + u*(d.Hi-d.Lo)
	}
	lo, hi := d.below(d.Lo), d.below(d.Hi)
	return min(max(d.Mean+d.SD*sample.NormalQuantile(lo+u*(hi-lo)), d.Lo), d.Hi)
}

// Plan is what a study runs: each point of the grid with Seeds seeds, which are
// FirstSeed, FirstSeed + 1 and so on.
type Plan struct {
	Axes      []Axis `json:"axes"`
	Seeds     int    `json:"seeds"`
	FirstSeed uint64 `json:"first_seed"`
}

// maxBenches is the most benches of a study, roughly what one core runs in a
// year.
const maxBenches = 1 << 24

// Check returns the first error in the plan, nil if it can be run.
func (p *Plan) Check() error {
	if p.Seeds < 1 {
		return fmt.Errorf("%d seeds; expected at least 1", p.Seeds)
	}
	n := p.Seeds
	for i := range p.Axes {
		a := &p.Axes[i]
		for j := range i {
			if p.Axes[j].Key == a.Key {
				return fmt.Errorf("%s varies twice; expected each key once", a.Key)
			}
		}
		if a.Draw != nil {
			if err := a.Draw.Check(); err != nil {
				return fmt.Errorf("%s: %w", a.Key, err)
			}
			continue
		}
		if len(a.Values) == 0 {
			return fmt.Errorf("%s has no values", a.Key)
		}
		if n *= len(a.Values); n > maxBenches {
			return fmt.Errorf("more than %d benches; expected fewer values or seeds", maxBenches)
		}
	}
	return nil
}

// Points returns the number of points of the grid.
func (p *Plan) Points() int {
	n := 1
	for i := range p.Axes {
		if a := &p.Axes[i]; a.Draw == nil {
			n *= len(a.Values)
		}
	}
	return n
}

// Benches returns the number of benches, which is points times seeds.
func (p *Plan) Benches() int { return p.Points() * p.Seeds }

// Bench is one bench of a study.
type Bench struct {
	Number int // from 0, ordered by point, then by seed
	Point  int // from 0; the last axis changes fastest
	Seed   uint64
	Values []float64 // one for each axis
}

// Bench returns the bench with the given number. The values drawn for a seed are
// the same at every point, so that points are compared with common random
// numbers. The values drawn for one axis do not depend on the other axes.
func (p *Plan) Bench(number int) Bench {
	b := Bench{Number: number, Point: number / p.Seeds, Seed: p.FirstSeed + uint64(number%p.Seeds)}
	b.Values = make([]float64, len(p.Axes))
	rest := b.Point
	for i := len(p.Axes) - 1; i >= 0; i-- {
		a := &p.Axes[i]
		if a.Draw != nil {
			b.Values[i] = a.Draw.At(uniform(a.Key, b.Seed))
			continue
		}
		b.Values[i] = a.Values[rest%len(a.Values)]
		rest /= len(a.Values)
	}
	return b
}

// uniform returns a uniform random number in [0, 1) that depends only on key and
// seed.
func uniform(key string, seed uint64) float64 {
	h := fnv.New64a()
	_, _ = h.Write([]byte(key)) // never fails
	return rand.New(rand.NewPCG(seed, h.Sum64())).Float64()
}

// Spaced returns evenly spaced values from lo to hi, both included; steps is
// their number. They are rounded to twelve digits, so that 0.1 to 0.3 in 3 steps
// gives exactly 0.1, 0.2, 0.3.
func Spaced(lo, hi float64, steps int) []float64 {
	v := make([]float64, steps)
	for i := range v {
		x := lo
		if steps > 1 {
			x += (hi - lo) * float64(i) / float64(steps-1)
		}
		v[i] = rounded(x)
	}
	return v
}

func rounded(x float64) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	digits := 11 - int(math.Floor(math.Log10(math.Abs(x))))
	if digits > 300 || digits < -300 {
		return x
	}
	if digits < 0 {
		unit := math.Pow(10, float64(-digits))
		return math.Round(x/unit) * unit
	}
	unit := math.Pow(10, float64(digits))
	return math.Round(x*unit) / unit
}

// Shard is the part of a study that one computer runs. Of computers share the
// study and this one is number Part, from 1 to Of; it runs every Of-th bench. The
// zero value is the whole study.
type Shard struct{ Part, Of int }

// Holds reports whether the bench with the given number belongs to the shard.
func (s Shard) Holds(number int) bool { return s.Of == 0 || number%s.Of == s.Part-1 }

// String returns the part in the form "2/5", "1/1" for the whole study.
func (s Shard) String() string {
	if s.Of == 0 {
		return "1/1"
	}
	return fmt.Sprintf("%d/%d", s.Part, s.Of)
}
