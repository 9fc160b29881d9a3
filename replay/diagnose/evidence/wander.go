// The position error wanders slowly: crossings soon after one another share part of it,
// with the same sign if they are driven in the same direction.

package evidence

import "math"

// wanderS is the time in which a position error falls to 1/e (the usual order for
// RTK; from memory).
const wanderS = 60.0

// Alikeness is the correlation of the place errors of two moves if all of their scatter
// were a wandering position error: cos(θᵢ - θⱼ)·exp(-|tᵢ - tⱼ|/τ).
func Alikeness(m, n *Move) float64 {
	return math.Cos(m.HeadingRad-n.HeadingRad) * math.Exp(-math.Abs(m.SinceS-n.SinceS)/wanderS)
}

// OneWay reports whether all moves were driven in about the same direction.
func OneWay(moves []Move) bool {
	var east, north float64
	for i := range moves {
		sin, cos := math.Sincos(moves[i].HeadingRad)
		east, north = east+sin, north+cos
	}
	return math.Hypot(east, north) > 0.8*float64(len(moves))
}
