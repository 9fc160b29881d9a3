// What a tractor at rest leaves undecided must decide nothing.

package motion

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A tractor that stands does not go backward by a nanometre: where its first fixes after
// starting are lost, the estimate is the same whatever the last digits of its positions
// at rest.
func TestRestHasNoDirection(t *testing.T) {
	const (
		nudgeM  = 1e-8
		withinM = 1e-5 // m, rad and m/s
		stopS   = 20.0
		startS  = 40.0
	)
	for _, gapS := range []float64{0, 0.6, 1, 1.7, 2.5, 4} {
		for _, startMps2 := range []float64{-0.5, 0.3, 0.5, 1} {
			drive := func(seed uint64) (states [][6]float64) {
				k := Estimator{Antenna: Antenna{XM: 1.2}}
				rng := rand.New(rand.NewPCG(seed, 1))
				for ms := int64(0); ms <= 50_000; ms += 100 {
					s := float64(ms) / 1e3
					if s > startS-0.05 && s < startS+gapS {
						continue
					}
					north, mps := 2*s, 2.0
					switch b := s - stopS; {
					case s >= startS:
						north, mps = 2*stopS+2+startMps2/2*(s-startS)*(s-startS), startMps2*(s-startS)
					case b >= 2:
						north, mps = 2*stopS+2, 0
					case b > 0:
						north, mps = 2*stopS+2*b-b*b/2, 2-b
					}
					f, e, n := driveFix(Pose{TimeNs: t0 + ms*1e6, NorthM: north, SpeedMps: mps}, k.Antenna, rng, nudgeM)
					k.Update(&f, e, n)
					states = append(states, k.X)
				}
				return states
			}
			want := drive(1)
			for seed := uint64(2); seed < 12; seed++ {
				for n, got := range drive(seed) {
					for i := range got {
						if off := math.Abs(got[i] - want[n][i]); !(off <= withinM) {
							t.Fatalf("%.1f s without a fix, started with %.1f m/s²: of two drives %g m apart the estimates after fix %d are %.4g and %.4g", gapS, startMps2, nudgeM, n, got, want[n])
						}
					}
				}
			}
		}
	}
}
