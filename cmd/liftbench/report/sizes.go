// Sizes in the units that people say them in: centimetres and milliseconds, but metres
// and seconds from three on.

package report

import "math"

// fromM and fromS are the length and the time from which they are said in whole units.
const fromM, fromS = 3, 3

// lengths are said with one unit: a sign each if signed, centimetres with one decimal if
// all are below 3 m, otherwise metres with two.
func (r *dayPage) lengths(signed bool, m ...float64) []string {
	return r.sized(signed, fromM, "cm", 1e2, 1, "m", m)
}

// times are the same: whole milliseconds, or seconds with two decimals.
func (r *dayPage) times(signed bool, s ...float64) []string {
	return r.sized(signed, fromS, "ms", 1e3, 0, "s", s)
}

func (r *dayPage) sized(signed bool, from float64, small string, per float64, decimals int, large string, sizes []float64) []string {
	for _, x := range sizes {
		if math.Abs(x) >= from {
			small, per, decimals = large, 1, 2
		}
	}
	var said []string
	for _, x := range sizes {
		number := r.t.Number(x*per, decimals)
		if signed {
			number = r.t.Signed(x*per, decimals)
		}
		said = append(said, r.t.Unit(number, small))
	}
	return said
}
