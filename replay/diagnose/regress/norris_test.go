// A published worked example, and intervals by another library.

package regress_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"liftbench/replay/diagnose/regress"
)

// Norris, NIST Statistical Reference Datasets, linear least squares of low difficulty:
// the certified values have 15 digits. Each is asked for within 1e-12 of itself or better, and the
// relative error is printed.
func TestNorris(t *testing.T) {
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") != "" {
			t.Fatal("LIFTBENCH_DATA is not set; expected the folder that holds nist/norris.csv")
		}
		t.Skip("LIFTBENCH_DATA is not set; expected the folder that holds nist/norris.csv")
	}
	f, err := os.Open(filepath.Join(dir, "nist", "norris.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 37 || rows[0][0] != "y" {
		t.Fatalf("%d rows, %v; want a heading y,x and 36 rows", len(rows), err)
	}
	var ones, x, y []float64
	for _, r := range rows[1:] {
		a, errY := strconv.ParseFloat(r[0], 64)
		b, errX := strconv.ParseFloat(r[1], 64)
		if errY != nil || errX != nil {
			t.Fatalf("row %v: expected two numbers", r)
		}
		ones, y, x = append(ones, 1), append(y, a), append(x, b)
	}
	fit, ok := regress.NewGram([][]float64{ones, x}, y, 0).Fit(0, 1)
	if !ok {
		t.Fatal("not fitted")
	}
	fit.Refine([][]float64{ones, x}, y, 0)
	total := 0.0
	mean := stat.Mean(y, nil)
	for _, v := range y {
		total += (v - mean) * (v - mean)
	}
	for _, c := range []struct {
		what      string
		got, want float64
		within    float64 // relative
	}{
		{"B0", fit.Beta[0], -0.262323073774029, 1e-13},
		{"B1", fit.Beta[1], 1.00211681802045, 1e-13},
		{"standard deviation of B0", fit.SE(0), 0.232818234301152, 1e-12},
		{"standard deviation of B1", fit.SE(1), 0.429796848199937e-3, 1e-12},
		{"residual standard deviation", fit.Sigma, 0.884796396144373, 1e-13},
		{"R squared", 1 - fit.RSS/total, 0.999993745883712, 1e-13},
	} {
		off := math.Abs(c.got/c.want - 1)
		t.Logf("%s: %.15g, certified %.15g, off by %.1g of it", c.what, c.got, c.want, off)
		if !(off <= c.within) {
			t.Errorf("%s: %.15g; want %.15g within %g", c.what, c.got, c.want, c.within)
		}
	}
}

// Slope, intercept and their 95 % intervals of drawn lines beside gonum's line and its
// Student's t, with standard errors by hand: σ/√Σ(x-x̄)² and σ·√(1/n + x̄²/Σ(x-x̄)²).
func TestIntervalsBesideGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 1))
	for range 200 {
		n := 3 + rng.IntN(20)
		ones, x, y := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			ones[i], x[i] = 1, 1+2*rng.Float64()
			y[i] = 0.1 + 0.3*x[i] + 0.05*rng.NormFloat64()
		}
		f, ok := regress.NewGram([][]float64{ones, x}, y, 0).Fit(0, 1)
		if !ok {
			continue // speeds too close
		}
		a, b := stat.LinearRegression(x, y, nil, false)
		mean, sxx, rss := stat.Mean(x, nil), 0.0, 0.0
		for i := range x {
			sxx += (x[i] - mean) * (x[i] - mean)
			r := y[i] - a - b*x[i]
			rss += r * r
		}
		sigma := math.Sqrt(rss / float64(n-2))
		half := distuv.StudentsT{Sigma: 1, Nu: float64(n - 2)}.Quantile(0.975)
		seA, seB := sigma*math.Sqrt(1/float64(n)+mean*mean/sxx), sigma/math.Sqrt(sxx)
		for i, want := range [][2]float64{{a - half*seA, a + half*seA}, {b - half*seB, b + half*seB}} {
			if ci := f.Interval(i); math.Abs(ci[0]-want[0]) > 1e-8*(1+half) || math.Abs(ci[1]-want[1]) > 1e-8*(1+half) {
				t.Errorf("%d rows, coefficient %d: %v; want %v", n, i, ci, want)
			}
		}
	}
}

// TestSlipped: the row that was made wrong is found, none is found where none was, and of two rows
// alone at their place nobody knows which.
func TestSlipped(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 2))
	found, wrongly := 0, 0
	const draws = 1000
	for d := range draws {
		ones, x, y := make([]float64, 10), make([]float64, 10), make([]float64, 10)
		for i := range 10 {
			ones[i], x[i] = 1, 1.1+1.7*float64(i%2)
			y[i] = 0.2*x[i] + 0.03*rng.NormFloat64()
		}
		cols := [][]float64{ones, x}
		f, _ := regress.NewGram(cols, y, 0).Fit(0, 1)
		if _, p, _ := f.Slipped(cols, y, 0, nil); p < regress.Alpha {
			wrongly++
		}
		y[d%10] += 0.3 * float64(1-2*(d/10%2))
		f, _ = regress.NewGram(cols, y, 0).Fit(0, 1)
		if row, p, alike := f.Slipped(cols, y, 0, nil); p < regress.Alpha && row == d%10 && alike == nil {
			found++
		}
	}
	t.Logf("ten rows, scatter 3 cm: of %d slips of 30 cm %d found; where there was none, %d found", draws, found, wrongly)
	if found < draws*95/100 || wrongly > draws*3/100 {
		t.Errorf("%d of %d slips found, %d where there was none; want 95 %% and at most 3 %%", found, draws, wrongly)
	}
	x := []float64{1, 1, 3, 3, 3, 3, 3, 3}
	y := []float64{0.2, 0.5, 0.601, 0.6, 0.599, 0.602, 0.6, 0.598}
	cols := [][]float64{{1, 1, 1, 1, 1, 1, 1, 1}, x}
	f, _ := regress.NewGram(cols, y, 0.003).Fit(0, 1)
	row, p, alike := f.Slipped(cols, y, 0.003, nil)
	if p >= regress.Alpha || len(alike) != 1 || row+alike[0] != 1 {
		t.Errorf("two rows that contradict each other alone at their speed: row %d, p %g, alike %v; want both", row, p, alike)
	}
}
