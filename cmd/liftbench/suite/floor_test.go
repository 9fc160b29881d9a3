// The noise floor beside the receiver that makes the noise, and beside the formula
// for many fixes.

package suite

import (
	"math"
	"testing"

	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sim/campaign"
	"liftbench/sim/receiver"

	"bytes"
)

func TestFloorOfManyFixes(t *testing.T) {
	for _, timeS := range []float64{1, 20, 60, 600} {
		p := receiver.Params{RateHz: 100, SigmaM: 0.014, CorrelationS: 60}
		got, want := Floor(&p, timeS), 0.014*math.Sqrt(120/(timeS+120))
		if math.Abs(got/want-1) > 0.001 {
			t.Errorf("%g s: %.6f m; the formula says %.6f", timeS, got, want)
		}
	}
	p := receiver.Params{RateHz: 10, SigmaM: 0.02, WhiteShare: 1, CorrelationS: 60}
	if got, want := Floor(&p, 10), 0.02/10; math.Abs(got/want-1) > 1e-9 {
		t.Errorf("white noise: %g; want σ/√n = %g", got, want)
	}
	if got := Floor(&receiver.Params{}, 10); got != 0 {
		t.Errorf("no noise: %g", got)
	}
}

// The receiver drives straight, many times; its sentences are decoded; the best
// estimate of the true place, by the whole covariance and not by the filter of Floor,
// errs as Floor says, and no less.
func TestFloorBesideTheReceiver(t *testing.T) {
	plane := geodesy.NewPlane(52.2, 11.4)
	machine := &sections.Machine{Sections: []sections.Section{{WidthM: 1}}}
	const start, n = int64(1_936_000_000e9), 100
	track := motion.Track{}
	for k := range n + 1 {
		track = append(track, motion.Pose{TimeNs: start + int64(k)*100e6, NorthM: float64(k) * 0.2, SpeedMps: 2})
	}
	for _, p := range []receiver.Params{
		{RateHz: 10, SigmaM: 0.014, CorrelationS: 60, WhiteShare: 0.1, MinuteDigits: 9},
		{RateHz: 10, SigmaM: 0.014, CorrelationS: 3, WhiteShare: 0.3, MinuteDigits: 9},
		{RateHz: 5, SigmaM: 0.3, CorrelationS: 20, WhiteShare: 0.05, MinuteDigits: 9},
	} {
		var weights []float64
		sum, count := 0.0, 0
		for seed := range campaign.Times(1500, 3000, 20000) {
			p.Seed = uint64(seed + 1)
			r, err := receiver.New(track, &plane, machine, p)
			if err != nil {
				t.Fatal(err)
			}
			var text bytes.Buffer
			for r.Scan() {
				text.Write(r.Append(nil))
			}
			var east, north []float64
			rd := epoch.NewReader(&text)
			for rd.Next() {
				f := rd.Fix()
				e, nth := plane.ToPlane(f.LatDeg, f.LonDeg)
				east, north = append(east, e), append(north, nth-2*float64(f.TimeNs-start)*1e-9)
			}
			if weights == nil {
				weights = bestWeights(&p, len(north))
			}
			if len(north) != len(weights) {
				t.Fatalf("%d fixes; the first time %d", len(north), len(weights))
			}
			for _, list := range [][]float64{east, north} {
				x := 0.0
				for k, w := range weights {
					x += w * list[k]
				}
				sum, count = sum+x*x, count+1
			}
		}
		got, want := math.Sqrt(sum/float64(count)), Floor(&p, float64(len(weights))/p.RateHz)
		t.Logf("σ %g m, τ %g s, white %g, %d fixes: simulated %.5f m, floor %.5f m, %+.1f %%", p.SigmaM, p.CorrelationS, p.WhiteShare, len(weights), got, want, 100*(got/want-1))
		if math.Abs(got/want-1) > 0.05 {
			t.Errorf("%.5f m; the floor is %.5f", got, want)
		}
	}
}

// bestWeights solves C·w = 1 by Cholesky, and makes the sum of w 1.
func bestWeights(p *receiver.Params, n int) []float64 {
	c := make([][]float64, n)
	for i := range c {
		c[i] = make([]float64, n)
		for j := range i + 1 {
			c[i][j] = (1 - p.WhiteShare) * p.SigmaM * p.SigmaM * math.Exp(-float64(i-j)/p.RateHz/p.CorrelationS)
			if i == j {
				c[i][j] += p.WhiteShare * p.SigmaM * p.SigmaM
			}
		}
	}
	for i := range n {
		for j := range i + 1 {
			s := c[i][j]
			for k := range j {
				s -= c[i][k] * c[j][k]
			}
			if i == j {
				c[i][i] = math.Sqrt(s)
			} else {
				c[i][j] = s / c[j][j]
			}
		}
	}
	w := make([]float64, n)
	for i := range n {
		s := 1.0
		for k := range i {
			s -= c[i][k] * w[k]
		}
		w[i] = s / c[i][i]
	}
	sum := 0.0
	for i := n - 1; i >= 0; i-- {
		s := w[i]
		for k := i + 1; k < n; k++ {
			s -= c[k][i] * w[k]
		}
		w[i] = s / c[i][i]
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}
