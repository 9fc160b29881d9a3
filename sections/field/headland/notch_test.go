// Notches of a boundary: too shallow to be sides of their own, and deep enough.

package headland

import (
	"testing"

	"github.com/paulmach/orb"
)

// A notch of a metre in a straight side is part of the side if it is up to 30 cm deep; deeper, it has
// sides of its own.
func TestSidesWithANotch(t *testing.T) {
	for deepM, want := range map[float64]int{0: 4, 0.29: 4, 0.31: 7} {
		ring := orb.Ring{{0, 0}, {50, 0}, {50.5, deepM}, {51, 0}, {100, 0}, {100, 60}, {0, 60}, {0, 0}}
		if got := sidesOf(ring); len(got) != want {
			t.Errorf("%g m deep: %d sides; want %d", deepM, len(got), want)
		}
	}
}
