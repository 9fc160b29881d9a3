// Second parties to the filters: the same equations with whole matrices,
// numerical derivatives and least squares over all samples at once.

package motion

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// solve returns x of a·x = b by elimination with pivots. a and b are spent.
func solve(a [][]float64, b []float64) []float64 {
	n := len(b)
	for c := range n {
		best := c
		for r := c; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[best][c]) {
				best = r
			}
		}
		a[c], a[best], b[c], b[best] = a[best], a[c], b[best], b[c]
		for r := c + 1; r < n; r++ {
			q := a[r][c] / a[c][c]
			for k := c; k < n; k++ {
				a[r][k] -= q * a[c][k]
			}
			b[r] -= q * b[c]
		}
	}
	for c := n - 1; c >= 0; c-- {
		for k := c + 1; k < n; k++ {
			b[c] -= a[c][k] * b[k]
		}
		b[c] /= a[c][c]
	}
	return b
}

// leastSquares collects equations row·x = value, each divided by its standard
// deviation, and solves their normal equations.
type leastSquares struct {
	a [][]float64
	b []float64
}

func newLeastSquares(n int) *leastSquares {
	q := &leastSquares{b: make([]float64, n)}
	for range n {
		q.a = append(q.a, make([]float64, n))
	}
	return q
}

func (q *leastSquares) add(row map[int]float64, value, sigma float64) {
	w := 1 / (sigma * sigma)
	for i, x := range row {
		for j, y := range row {
			q.a[i][j] += w * x * y
		}
		q.b[i] += w * x * value
	}
}

// denseFilter is the extended Kalman filter of the doc comments.
type denseFilter struct {
	x [6]float64
	p [6][6]float64
}

// jacobian is the derivative of f at x by central differences, n rows.
func jacobian(n int, x [6]float64, f func(x [6]float64) []float64) [][6]float64 {
	rows := make([][6]float64, n)
	const h = 1e-5
	for j := range x {
		up, down := x, x
		up[j] += h
		down[j] -= h
		a, b := f(up), f(down)
		for i := range rows {
			rows[i][j] = (a[i] - b[i]) / (2 * h)
		}
	}
	return rows
}

// drift integrates e' = v·sin θ, n' = v·cos θ, θ' = ω, v' = a, a' = -a/τ in
// steps of dt/1000.
func drift(x [6]float64, dt float64) []float64 {
	const n, tau = 1000, 1.0
	h := dt / n
	for range n {
		mid := x[theta] + x[yaw]*h/2
		v := x[speed] + x[accel]*h/2
		x[east] += v * math.Sin(mid) * h
		x[north] += v * math.Cos(mid) * h
		x[theta] += x[yaw] * h
		x[speed] += x[accel] * (1 - h/2/tau) * h
		x[accel] *= math.Exp(-h / tau)
	}
	return x[:]
}

func (d *denseFilter) advance(dt float64) {
	f := jacobian(6, d.x, func(x [6]float64) []float64 { return drift(x, dt) })
	d.x = [6]float64(drift(d.x, dt))
	var p [6][6]float64
	for i := range 6 {
		for j := range 6 {
			for k := range 6 {
				for l := range 6 {
					p[i][j] += f[i][k] * d.p[k][l] * f[j][l]
				}
			}
		}
	}
	d.p = p
	// A random walk of ω of 0.08 rad/s in a second, and what it does to θ; and
	// an acceleration of 0.2 m/s² that is forgotten with 1 s.
	q := math.Pow(0.08*min(1, math.Abs(d.x[speed])), 2)
	d.p[yaw][yaw] += q * dt
	d.p[theta][yaw] += q * dt * dt / 2
	d.p[yaw][theta] += q * dt * dt / 2
	d.p[theta][theta] += q * dt * dt * dt / 3
	d.p[accel][accel] += 0.04 * (1 - math.Exp(-2*dt))
}

// take is one update by two measurements at once.
func (d *denseFilter) take(z [2]float64, sigma float64, f func(x [6]float64) []float64) {
	h := jacobian(2, d.x, f)
	at := f(d.x)
	var ph [6][2]float64
	for i := range 6 {
		for j := range 2 {
			for k := range 6 {
				ph[i][j] += d.p[i][k] * h[j][k]
			}
		}
	}
	var s [2][2]float64
	for i := range 2 {
		for j := range 2 {
			for k := range 6 {
				s[i][j] += h[i][k] * ph[k][j]
			}
		}
		s[i][i] += sigma * sigma
	}
	det := s[0][0]*s[1][1] - s[0][1]*s[1][0]
	inverse := [2][2]float64{{s[1][1] / det, -s[0][1] / det}, {-s[1][0] / det, s[0][0] / det}}
	var gain [6][2]float64
	for i := range 6 {
		for j := range 2 {
			gain[i][j] = ph[i][0]*inverse[0][j] + ph[i][1]*inverse[1][j]
		}
	}
	for i := range 6 {
		d.x[i] += gain[i][0]*(z[0]-at[0]) + gain[i][1]*(z[1]-at[1])
		for j := range 6 {
			d.p[i][j] -= gain[i][0]*ph[j][0] + gain[i][1]*ph[j][1]
		}
	}
	// This form of the update doubles what rounding makes unsymmetric.
	for i := range 6 {
		for j := range i {
			mean := (d.p[i][j] + d.p[j][i]) / 2
			d.p[i][j], d.p[j][i] = mean, mean
		}
	}
}

// The estimator keeps the mean and covariance of a filter with whole matrices,
// numerical derivatives and measurements taken two at a time, to 0.5 % of a
// standard deviation and 1 % of a variance.
func TestEstimatorBesideDenseFilter(t *testing.T) {
	for _, tc := range []struct {
		name    string
		antenna Antenna
		yaw, a  float64
		v       float64
		stepNs  int64
	}{
		{"straight", Antenna{1.5, 0.2}, 0, 0, 2, 100e6},
		{"right turn", Antenna{1.5, 0.8}, 0.08, 0, 2, 100e6},
		{"left turn, antenna behind on the left", Antenna{-1, -0.6}, -0.08, 0, 2, 200e6},
		{"speeding up, slow", Antenna{0.5, 0.3}, 0.05, 0.15, 0.6, 100e6},
		{"braking", Antenna{2, -0.5}, -0.05, -0.1, 2.5, 200e6},
	} {
		t.Run(tc.name, func(t *testing.T) {
			k := Estimator{Antenna: tc.antenna}
			rng := rand.New(rand.NewPCG(5, 6))
			var d denseFilter
			antenna := func(x [6]float64) []float64 {
				s, c := math.Sincos(x[theta])
				return []float64{x[east] + tc.antenna.XM*s + tc.antenna.YM*c, x[north] + tc.antenna.XM*c - tc.antenna.YM*s}
			}
			velocity := func(x [6]float64) []float64 {
				s, c := math.Sincos(x[theta])
				fwd, right := x[speed]-x[yaw]*tc.antenna.YM, x[yaw]*tc.antenna.XM
				return []float64{fwd*s + right*c, fwd*c - right*s}
			}
			pose := Pose{TimeNs: t0, EastM: 3, NorthM: -2, HeadingRad: 0.6, SpeedMps: tc.v, YawRateRadPerS: tc.yaw}
			dt := float64(tc.stepNs) * 1e-9
			for i := range 40 {
				f, e, n := driveFix(pose, tc.antenna, rng, 0.002)
				if i == 0 {
					// A heading near the true one, as of a receiver with two antennas.
					f.HeadingDeg = (pose.HeadingRad + 0.01) * 180 / math.Pi
				}
				k.Update(&f, e, n)
				if i == 0 {
					d.x, d.p = k.X, k.P
				} else {
					d.advance(dt)
					d.take([2]float64{e, n}, 0.014, antenna)
					s, c := math.Sincos(f.CourseDeg * math.Pi / 180)
					d.take([2]float64{f.SpeedMps * s, f.SpeedMps * c}, 0.04, velocity)
				}
				if k.State.Spread > 1.001 {
					t.Fatalf("fix %d: spread %g; the drive is too wild to compare", i, k.State.Spread)
				}
				for r := range 6 {
					if off := math.Abs(k.X[r]-d.x[r]) / math.Sqrt(d.p[r][r]); !(off <= 0.005) {
						t.Errorf("fix %d: state %d is %.9g; want %.9g", i, r, k.X[r], d.x[r])
					}
					for c := range 6 {
						if off := math.Abs(k.P[r][c]-d.p[r][c]) / math.Sqrt(d.p[r][r]*d.p[c][c]); !(off <= 0.01) {
							t.Errorf("fix %d: covariance of %d and %d is %.6g; want %.6g", i, r, c, k.P[r][c], d.p[r][c])
						}
					}
				}
				if t.Failed() {
					return
				}
				for range 1000 {
					h := dt / 1000
					pose.EastM += pose.SpeedMps * math.Sin(pose.HeadingRad) * h
					pose.NorthM += pose.SpeedMps * math.Cos(pose.HeadingRad) * h
					pose.HeadingRad += tc.yaw * h
					pose.SpeedMps += tc.a * h
				}
				pose.TimeNs += tc.stepNs
			}
		})
	}
}

// The smoothed headings are those of least squares over the whole drive at
// once: a prior, a random walk of ω between samples, and every direction of
// motion. The smoother knows no more and no less.
func TestSmoothHeadingBesideLeastSquares(t *testing.T) {
	for _, tc := range []struct {
		name    string
		antenna Antenna
		v       float64 // negative = reversing
		hdt     bool
	}{
		{"forward", Antenna{XM: 1.5}, 2, false},
		{"antenna behind", Antenna{XM: -2}, 1.3, false},
		{"receiver's heading", Antenna{XM: 1}, 2, true},
		{"reversing", Antenna{XM: 1.5}, -1.2, true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			const n, dt = 40, 0.1
			rng := rand.New(rand.NewPCG(7, 8))
			track, samples := make(Track, n), make([]Sample, n)
			q := newLeastSquares(2 * n) // θ and ω of each sample
			heading := func(i int) float64 { return 0.4 + 0.15*math.Sin(float64(i)*0.15) }
			for i := range n {
				course := heading(i) + 0.01*rng.NormFloat64()
				if tc.v < 0 {
					course += math.Pi
				}
				v := math.Abs(tc.v)
				s, c := math.Sincos(course)
				track[i] = Pose{TimeNs: t0 + int64(i)*100e6, SpeedMps: v * s, YawRateRadPerS: v * c}
				samples[i].HeadingRad = float32(math.NaN())
				if tc.hdt {
					samples[i].HeadingRad = float32(heading(i) + 0.002*rng.NormFloat64())
				}
				th, om := 2*i, 2*i+1
				if i == 0 {
					first := course
					if tc.hdt {
						first = float64(samples[i].HeadingRad)
					}
					q.add(map[int]float64{th: 1}, first, math.Sqrt(0.3))
					q.add(map[int]float64{om: 1}, 0, math.Sqrt(0.04))
				} else {
					// ω⁺ - ω is white with q·dt; θ⁺ - θ - dt·(ω + ω⁺)/2 is what is left
					// of the walk within the step, independent, with q·dt³/12.
					w := 0.08 * math.Sqrt(dt)
					q.add(map[int]float64{om: 1, om - 2: -1}, 0, w)
					q.add(map[int]float64{th: 1, th - 2: -1, om: -dt / 2, om - 2: -dt / 2}, 0, w*dt/math.Sqrt(12))
				}
				arm := tc.antenna.XM / tc.v
				direction := course
				if tc.v < 0 {
					direction -= math.Pi
				}
				q.add(map[int]float64{th: 1, om: arm}, direction, 0.035/v)
				if tc.hdt {
					q.add(map[int]float64{th: 1}, float64(samples[i].HeadingRad), 0.005)
				}
			}
			want := solve(q.a, q.b)
			smoothHeading(track, samples, tc.antenna)
			for i, p := range track {
				if !(math.Abs(p.HeadingRad-want[2*i]) <= 2e-6) || !(math.Abs(p.YawRateRadPerS-want[2*i+1]) <= 2e-5) {
					t.Errorf("sample %d: heading %.7f rad, yaw rate %.6f rad/s; want %.7f, %.6f", i, p.HeadingRad, p.YawRateRadPerS, want[2*i], want[2*i+1])
				}
				if p.SpeedMps*tc.v < 0.9*tc.v*tc.v {
					t.Errorf("sample %d: speed %.3f m/s; want about %.3f", i, p.SpeedMps, tc.v)
				}
			}
		})
	}
}

// A drive of many blocks is smoothed as one: cut anywhere else it comes out
// the same.
func TestSmoothHeadingOfLongDrives(t *testing.T) {
	const n, skip = 9000, 1500
	rng := rand.New(rand.NewPCG(9, 10))
	whole, samples := make(Track, n), make([]Sample, n)
	for i := range n {
		s, c := math.Sincos(0.5 + 0.4*math.Sin(float64(i)*0.01) + 0.01*rng.NormFloat64())
		whole[i] = Pose{TimeNs: t0 + int64(i)*100e6, SpeedMps: 2 * s, YawRateRadPerS: 2 * c}
		samples[i].HeadingRad = float32(math.NaN())
	}
	part := slices.Clone(whole[skip:])
	smoothHeading(whole, samples, Antenna{XM: 1.5, YM: 0.3})
	smoothHeading(part, samples[skip:], Antenna{XM: 1.5, YM: 0.3})
	for i := skip + 300; i < n; i++ {
		a, b := whole[i], part[i-skip]
		if !(math.Abs(a.HeadingRad-b.HeadingRad) <= 1e-7) || !(math.Abs(a.YawRateRadPerS-b.YawRateRadPerS) <= 1e-7) || !(math.Abs(a.SpeedMps-b.SpeedMps) <= 1e-7) {
			t.Fatalf("sample %d: %+v in one drive, %+v in the other", i, a, b)
		}
	}
}

// The parabola is that of least squares on its three coefficients.
func TestFitParabolaBesideLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, tc := range []struct {
		name     string
		n        int
		velocity func(i int) bool
	}{
		{"with velocities", 9, func(int) bool { return true }},
		{"without", 9, func(int) bool { return false }},
		{"some", 7, func(i int) bool { return i%2 == 0 }},
		{"two samples", 2, func(int) bool { return false }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			nan := float32(math.NaN())
			samples := make([]Sample, tc.n)
			e, n := newLeastSquares(3), newLeastSquares(3)
			at := t0 + 130e6
			for i := range samples {
				s := &samples[i]
				s.TimeNs = t0 + int64(i)*100e6 - 300e6 + rng.Int64N(50e6)
				s.EastM, s.NorthM = 500+float64(i)*0.2+0.02*rng.NormFloat64(), -800+0.1*float64(i*i)+0.02*rng.NormFloat64()
				s.SigmaM = 0.01 + 0.05*rng.Float32()
				s.VelocityE, s.VelocityN = nan, nan
				tau := float64(s.TimeNs-at) * 1e-9
				e.add(map[int]float64{0: 1, 1: tau, 2: tau * tau}, s.EastM, float64(s.SigmaM))
				n.add(map[int]float64{0: 1, 1: tau, 2: tau * tau}, s.NorthM, float64(s.SigmaM))
				if tc.velocity(i) {
					s.VelocityE, s.VelocityN = 2+0.1*rng.Float32(), float32(i)*0.9
					e.add(map[int]float64{1: 1, 2: 2 * tau}, float64(s.VelocityE), 0.04)
					n.add(map[int]float64{1: 1, 2: 2 * tau}, float64(s.VelocityN), 0.04)
				}
			}
			e.add(map[int]float64{2: 2}, 0, 1) // acceleration about 0, to 1 m/s²
			n.add(map[int]float64{2: 2}, 0, 1)
			we, wn := solve(e.a, e.b), solve(n.a, n.b)
			l := normalOf(samples, at)
			got := fitParabola(samples, at, &l)
			for _, v := range [][2]float64{{got.e, we[0]}, {got.n, wn[0]}, {got.ve, we[1]}, {got.vn, wn[1]}} {
				if !(math.Abs(v[0]-v[1]) <= 1e-5) {
					t.Errorf("got %+v; want %v east, %v north", got, we, wn)
					break
				}
			}
		})
	}
}
