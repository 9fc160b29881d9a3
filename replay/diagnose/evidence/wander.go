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
