package sample

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// TestDistributions compares with gonum's, and with tables: 2.228 is the two-sided
// 95 % of Student's t with 10 degrees of freedom, 3.94 and 18.307 are 5 and 95 % of
// chi-squared with 10, 4.96 is 95 % of F with 1 and 10.
func TestDistributions(t *testing.T) {
	near := func(what string, got, want, tolerance float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tolerance*(1+math.Abs(want))) {
			t.Errorf("%s: %.12g; want %.12g", what, got, want)
		}
	}
	near("t table", StudentQuantile(0.975, 10), 2.228, 3e-4)
	near("chi-squared table", ChiSquaredQuantile(0.05, 10), 3.940, 3e-4)
	near("chi-squared table", ChiSquaredQuantile(0.95, 10), 18.307, 3e-5)
	near("F table", FSurvival(4.965, 1, 10), 0.05, 1e-4)
	for _, df := range []float64{1, 2, 3.5, 7, 30, 400} {
		student, chi, f := distuv.StudentsT{Sigma: 1, Nu: df}, distuv.ChiSquared{K: df}, distuv.F{D1: 2, D2: df}
		for _, x := range []float64{-40, -3, -0.7, 0, 0.2, 1.96, 12} {
			near("Student", StudentCDF(x, df), student.CDF(x), 1e-12)
			near("two-sided", StudentTwoSided(x, df), 2*student.Survival(math.Abs(x)), 1e-12)
			near("F", FSurvival(x*x, 2, df), f.Survival(x*x), 1e-12)
		}
		for _, p := range []float64{1e-6, 0.025, 0.3, 0.5, 0.8, 0.975, 0.9999} {
			near("Student's quantile", StudentQuantile(p, df), student.Quantile(p), 1e-12)
			near("chi-squared quantile", ChiSquaredQuantile(p, df), chi.Quantile(p), 1e-12)
			near("normal quantile", NormalQuantile(p), distuv.UnitNormal.Quantile(p), 1e-12)
		}
	}
	for _, list := range [][]float64{{3}, {1, 2}, {1e9, 1e9 + 1, 1e9 + 2.5}, {-4, 0.1, 7, 7, 7.25}} {
		mean, sd := MeanSD(list)
		wantMean, wantSD := stat.MeanStdDev(list, nil)
		near("mean", mean, wantMean, 1e-15)
		if !(math.IsNaN(sd) && math.IsNaN(wantSD)) {
			near("deviation", sd, wantSD, 1e-12)
		}
	}
}
