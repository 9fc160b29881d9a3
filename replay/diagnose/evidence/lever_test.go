// Levers beside places before and after a turn of the bar.

package evidence

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A bar turned about its antenna, borders at all angles: what each section is
// late by for each radian, from the places before and after.
func TestLevers(t *testing.T) {
	const aheadM, speedMps, yawRateRadPerS, turnedRad = -3.1, 2.0, 0.1, 1e-4
	rapid.Check(t, func(t *rapid.T) {
		headingRad := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "heading")
		normalRad := headingRad + rapid.Float64Range(-1, 1).Draw(t, "normal")
		var moves []Move
		c := Crossing{}
		for i := range 4 {
			y := 2 * (float64(i) - 1.5)
			// Along the border, as the sections cross it with one heading.
			along := y / math.Cos(normalRad-headingRad)
			moves = append(moves, Move{
				SideM: y, AntennaM: aheadM, AxleM: aheadM + 0.9, SpeedMps: speedMps, PerPlace: 1, YawRateRadPerS: yawRateRadPerS, HeadingRad: headingRad,
				EastM: 400 + along*math.Cos(normalRad), NorthM: -300 - along*math.Sin(normalRad),
			})
			c.Changes = append(c.Changes, int32(i))
		}
		SetLevers(moves, &c)
		sin, cos := math.Sincos(headingRad)
		turn, keep := math.Sincos(turnedRad)
		for _, m := range moves {
			// Forward and right of the antenna, believed less true.
			ahead := aheadM*keep - m.SideM*turn - aheadM
			right := m.SideM*keep + aheadM*turn - m.SideM
			nearer := func(ahead, right float64) float64 {
				east, north := ahead*sin+right*cos, ahead*cos-right*sin
				return east*math.Sin(normalRad) + north*math.Cos(normalRad)
			}
			perM := nearer(1, m.AxleM*yawRateRadPerS/speedMps)
			if want := -nearer(ahead, right) / perM / turnedRad; math.Abs(m.LeverM-want) > 1e-2 {
				t.Fatalf("section at %g m: %g m/rad; want %g", m.SideM, m.LeverM, want)
			}
		}
	})
}
