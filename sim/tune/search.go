// This file searches a wide range for the minimum: first with few drives, at the
// end with all of them.

package tune

import "math"

// Search describes the search for a minimum.
type Search struct {
	Lo, Hi float64 // the setting's range
	// Step is the spacing of the last curve's values, the smallest difference in
	// the setting that matters.
	Step   float64
	Drives int // in the last curve
	// Costs returns Curve.Costs for the given values and the drives 1 to drives.
	Costs func(values []float64, drives int) ([][]float64, error)
}

const (
	firstValues  = 13 // of the first curve, which spans the whole range
	middleValues = 9  // of each finer curve
	lastValues   = 17 // of the last curve
	firstDrives  = 2
	middleDrives = 3
	// maxLastCurves is how often the last curve is computed, each time twice as
	// wide, if its interval reaches beyond it.
	maxLastCurves = 5
)

// Run returns the minimum and the last curve, on which it was found. It computes
// finer and finer curves, each around the lowest value of the one before.
// Therefore the cost must have a single minimum, apart from noise.
func (s *Search) Run() (Minimum, *Curve, error) {
	c, err := s.curve(s.Lo, s.Hi, firstValues, min(firstDrives, s.Drives))
	if err != nil {
		return Minimum{}, nil, err
	}
	for c.spacing() > 4*s.Step {
		k := c.Least()
		h := c.spacing()
		if c, err = s.curve(c.At[k]-h, c.At[k]+h, middleValues, min(middleDrives, s.Drives)); err != nil {
			return Minimum{}, nil, err
		}
	}
	middle, half := c.At[c.Least()], s.Step*(lastValues-1)/2
	for range maxLastCurves {
		if c, err = s.curve(middle-half, middle+half, lastValues, s.Drives); err != nil {
			return Minimum{}, nil, err
		}
		m := c.Find()
		wide := (m.LoOpen && c.At[0] > s.Lo) || (m.HiOpen && c.At[len(c.At)-1] < s.Hi)
		if !wide && m.At > c.At[1] && m.At < c.At[len(c.At)-2] || half > s.Hi-s.Lo {
			return m, c, nil
		}
		middle, half = m.At, half*2
	}
	return c.Find(), c, nil
}

// curve computes the costs at n values from lo to hi, after limiting lo and hi to
// the setting's range.
func (s *Search) curve(lo, hi float64, n, drives int) (*Curve, error) {
	lo, hi = max(lo, s.Lo), min(hi, s.Hi)
	c := &Curve{At: make([]float64, n)}
	for i := range c.At {
		// Rounded to a thousandth of a step, so that the values print with few
		// digits.
		v := lo + (hi-lo)*float64(i)/float64(n-1)
		unit := s.Step / 1000
		c.At[i] = math.Round(v/unit) * unit
	}
	var err error
	c.Costs, err = s.Costs(c.At, drives)
	return c, err
}

func (c *Curve) spacing() float64 { return c.At[1] - c.At[0] }
