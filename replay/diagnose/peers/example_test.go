package peers_test

import (
	"fmt"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
)

// Of four sections, the third lifts 0.2 s after the others at ten borders.
func ExampleFindSlow() {
	var moves []evidence.Move
	for k := range 10 {
		for s := range 4 {
			m := evidence.Move{Section: s, IdealNs: int64(k) * 60e9, SpeedMps: 2, LateM: 0.02 * float64(k%3)}
			if s == 2 {
				m.LateM += 0.2 * m.SpeedMps
			}
			moves = append(moves, m)
		}
	}
	slow, _ := peers.FindSlow(moves, evidence.Crossings(moves), 4, peers.Pumped{})
	for _, s := range slow {
		fmt.Printf("section %d: %.2f s late\n", s.Section+1, s.DelayS)
	}
	// Output: section 3: 0.20 s late
}
