package measured

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Speeds, made times of, are found again.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		working, raised := rapid.Float64Range(0.01, 0.2).Draw(t, "working"), rapid.Float64Range(0.05, 1).Draw(t, "raised")
		s := Speeds{LiftDeadS: rapid.Float64Range(0, 1).Draw(t, "dead"), LiftMps: rapid.Float64Range(0.02, 1).Draw(t, "lift"), DropMps: rapid.Float64Range(0.02, 1).Draw(t, "drop")}
		s.AllMps = s.LiftMps * rapid.Float64Range(0.1, 1).Draw(t, "share")
		times := s.Times(working, raised, 0.06)
		times.LiftS += 1e-12 // a dead time of 0, rounded
		got, key, err := times.Speeds(working, raised, 0.06)
		if err != nil {
			t.Fatalf("%s: %v", key, err)
		}
		for _, d := range []float64{got.LiftDeadS - s.LiftDeadS, got.LiftMps/s.LiftMps - 1, got.AllMps/s.AllMps - 1, got.DropMps/s.DropMps - 1} {
			if math.Abs(d) > 1e-6 {
				t.Fatalf("%+v; want %+v", got, s)
			}
		}
	})
}
