// The functions beside those of package math, and their bits beside those of
// every other processor.

package exact

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// ulps is how many units in the last place a is from b.
func ulps(a, b float64) float64 {
	if a == b || math.IsNaN(a) && math.IsNaN(b) {
		return 0
	}
	e := math.Nextafter(math.Abs(b), math.Inf(1)) - math.Abs(b)
	return math.Abs(a-b) / e
}

// cases call each function at random arguments of its range.
var cases = []struct {
	name string
	draw func(*rand.Rand) (got, want float64)
	ulps float64
}{
	{"Atan2", func(r *rand.Rand) (float64, float64) {
		y, x := length(r), length(r)
		return Atan2(y, x), math.Atan2(y, x)
	}, 2},
	{"Acos", func(r *rand.Rand) (float64, float64) { x := 1.9*r.Float64() - 0.95; return Acos(x), math.Acos(x) }, 8}, // which is π/2 less another angle
	{"Hypot", func(r *rand.Rand) (float64, float64) {
		x, y := length(r), length(r)
		return Hypot(x, y), math.Hypot(x, y)
	}, 2},
	{"Exp", func(r *rand.Rand) (float64, float64) { x := 50 * r.NormFloat64(); return Exp(x), math.Exp(x) }, 2},
	{"Expm1", func(r *rand.Rand) (float64, float64) { x := 2 * r.NormFloat64(); return Expm1(x), math.Expm1(x) }, 3},
	{"Log", func(r *rand.Rand) (float64, float64) { x := math.Exp(20 * r.NormFloat64()); return Log(x), math.Log(x) }, 2},
	{"Log10", func(r *rand.Rand) (float64, float64) {
		x := math.Exp(20 * r.NormFloat64())
		return Log10(x), math.Log10(x)
	}, 3},
}

// angle draws an angle of a size from 10⁻⁵ to 10⁵, sometimes beside a multiple of π/4.
func angle(r *rand.Rand) float64 {
	x := math.Pow(10, 10*r.Float64()-5)
	if r.IntN(4) == 0 {
		x = float64(r.IntN(1000)) * math.Pi / 4
		for range r.IntN(4) {
			x = math.Nextafter(x, math.Inf(1))
		}
	}
	return math.Copysign(x, r.Float64()-0.5)
}

func length(r *rand.Rand) float64 {
	return math.Copysign(math.Pow(10, 8*r.Float64()-4), r.Float64()-0.5)
}

func TestBesideMath(t *testing.T) {
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(1, 2))
			worst := 0.0
			for range 200_000 {
				got, want := tc.draw(r)
				off := ulps(got, want)
				if worst = max(worst, off); !(off <= tc.ulps) {
					t.Fatalf("%v; package math says %v: %v units in the last place off", got, want, off)
				}
			}
			t.Logf("at worst %v units in the last place beside package math", worst)
		})
	}
}

// sincosBig is the power series of sine and cosine with 300 bits.
func sincosBig(x float64) (sin, cos float64) {
	const bits = 300
	b := func(v float64) *big.Float { return new(big.Float).SetPrec(bits).SetFloat64(v) }
	// π to 100 digits (Abramowitz and Stegun, table 1.1, and beyond it from memory;
	// the sines of its multiples confirm it).
	pi, _, err := big.ParseFloat("3.1415926535897932384626433832795028841971693993751058209749445923078164062862089986280348253421170679", 10, bits, big.ToNearestEven)
	if err != nil {
		panic(err)
	}
	r := b(x)
	k := math.Round(x / math.Pi)
	r.Sub(r, new(big.Float).SetPrec(bits).Mul(pi, b(k)))
	sum := [2]*big.Float{b(0), b(0)}
	term := b(1)
	for n := range 60 {
		of := sum[n%2]
		if n%4 < 2 {
			of.Add(of, term)
		} else {
			of.Sub(of, term)
		}
		term.Mul(term, r)
		term.Quo(term, b(float64(n+1)))
	}
	c, _ := sum[0].Float64()
	s, _ := sum[1].Float64()
	if int64(k)%2 != 0 {
		s, c = -s, -c
	}
	return s, c
}

func TestSincosBesideSeries(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	worst := 0.0
	for range 5000 {
		x := angle(r)
		s, c := Sincos(x)
		ws, wc := sincosBig(x)
		off := max(ulps(s, ws), ulps(c, wc))
		if worst = max(worst, off); !(off <= 1) {
			t.Fatalf("%v: %v, %v; want %v, %v", x, s, c, ws, wc)
		}
		if off := ulps(Tan(x), ws/wc); !(off <= 3) {
			t.Fatalf("tan %v: %v; want %v", x, Tan(x), ws/wc)
		}
	}
	t.Logf("at worst %v units in the last place", worst)
}

// Exact values, and the ends of the ranges.
func TestEnds(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, tc := range []struct {
		name      string
		got, want float64
	}{
		{"sin 0", Sin(0), 0}, {"cos 0", Cos(0), 1}, {"sin π/2", Sin(math.Pi / 2), 1}, {"cos π", Cos(math.Pi), -1},
		{"sin π", Sin(math.Pi), piLow}, {"cos π/2", Cos(math.Pi / 2), halfLow},
		{"sin NaN", Sin(nan), nan}, {"cos ∞", Cos(inf), nan}, {"sin 10⁹", Sin(1e9), Sin(math.Mod(1e9, 2*math.Pi))},
		{"atan 1", Atan2(1, 1), math.Pi / 4}, {"atan east", Atan2(1, 0), math.Pi / 2}, {"atan west", Atan2(-1, 0), -math.Pi / 2},
		{"atan south", Atan2(0, -1), math.Pi}, {"atan -0 south", Atan2(math.Copysign(0, -1), -1), -math.Pi}, {"atan 0", Atan2(0, 0), 0},
		{"atan NaN", Atan2(nan, 1), nan}, {"atan 1, NaN", Atan2(1, nan), nan}, {"atan ∞", Atan2(inf, 1), math.Pi / 2}, {"atan ∞, ∞", Atan2(inf, inf), nan},
		{"atan 1, -∞", Atan2(1, -inf), math.Pi},
		{"acos 1", Acos(1), 0}, {"acos -1", Acos(-1), math.Pi}, {"acos 2", Acos(2), nan},
		{"exp 0", Exp(0), 1}, {"exp 1", Exp(1), math.E}, {"expm1 0", Expm1(0), 0}, {"log 1", Log(1), 0}, {"log 0", Log(0), -inf}, {"log -1", Log(-1), nan}, {"log ∞", Log(inf), inf},
		{"log 2", Log(2), math.Ln2}, {"log10 10", Log10(10), 1}, {"hypot", Hypot(3, 4), 5},
	} {
		if tc.got != tc.want && !(math.IsNaN(tc.got) && math.IsNaN(tc.want)) || math.Signbit(tc.got) != math.Signbit(tc.want) && !math.IsNaN(tc.want) {
			t.Errorf("%s: %v; want %v", tc.name, tc.got, tc.want)
		}
	}
}

// The bits of a hundred thousand results of each function, on whatever processor
// this runs.
func TestSameBits(t *testing.T) {
	h := fnv.New64a()
	r := rand.New(rand.NewPCG(3, 4))
	for range 100_000 {
		// Arguments without any function of package math.
		x, y := (r.Float64()-0.5)*2000, (r.Float64()-0.5)*2000
		s, c := Sincos(x)
		for _, v := range []float64{s, c, Tan(y), Atan2(y, x), Acos(x / 1000), Hypot(x, y), Exp(x / 10), Expm1(y / 1000), Log(max(x, 1e-3)), Log10(max(y, 1e-3))} {
			binary.Write(h, binary.LittleEndian, v)
		}
	}
	const want = "f63755211de7ce00"
	if got := fmt.Sprintf("%016x", h.Sum64()); got != want {
		t.Errorf("bits %s; want %s", got, want)
	}
}

func BenchmarkSincos(b *testing.B) {
	x, sum := 0.1, 0.0
	for b.Loop() {
		s, c := Sincos(x)
		x, sum = x+0.37, sum+s+c
		if x > 6 {
			x -= 6
		}
	}
	_ = sum
}

func BenchmarkAtan2(b *testing.B) {
	x, sum := 0.1, 0.0
	for b.Loop() {
		sum += Atan2(x, 1.3)
		x += 0.37
	}
	_ = sum
}

func BenchmarkMathSincos(b *testing.B) {
	x, sum := 0.1, 0.0
	for b.Loop() {
		s, c := math.Sincos(x)
		x, sum = x+0.37, sum+s+c
		if x > 6 {
			x -= 6
		}
	}
	_ = sum
}

// Sin takes a short cut to the bits of Sincos.
func TestSinIsThatOfSincos(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 72))
	for _, scale := range []float64{1e-300, 1e-8, 1e-3, 0.1, 0.8, 10} {
		for range 20000 {
			x := (2*rng.Float64() - 1) * scale
			want, _ := Sincos(x)
			if got := Sin(x); math.Float64bits(got) != math.Float64bits(want) {
				t.Fatalf("sine of %g is %x; Sincos has %x", x, got, want)
			}
		}
	}
	for _, x := range []float64{0, 0.75, -0.75, math.Nextafter(0.75, 0), math.Pi / 4, math.Inf(1), math.NaN()} {
		want, _ := Sincos(x)
		if got := Sin(x); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("sine of %g is %g; Sincos has %g", x, got, want)
		}
	}
}
