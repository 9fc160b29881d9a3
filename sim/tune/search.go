// From a wide range to the minimum, with few drives first and all of them last.

package tune

import "math"

// Search is how a minimum is looked for.
type Search struct {
	Lo, Hi float64 // the setting's range
	// Step is the distance of values at the end: the finest difference that is
	// of use.
	Step   float64
	Drives int // of the last curve
	// Costs returns Curve.Costs at values, of drives 1 to n.
	Costs func(values []float64, drives int) ([][]float64, error)
}

const (
	firstValues = 13 // over the whole range
	someValues  = 9  // of each finer curve
	lastValues  = 17
	firstDrives = 2
	someDrives  = 3
	// mostSpans bounds how often the last curve is taken wider, where its
	// interval goes beyond it.
	mostSpans = 5
)

// Run returns the minimum and the last curve, on which it was found. It looks
// for the least of ever finer curves, each about the least of the one before,
// so it needs a cost that falls to one least and rises from there, apart from
// noise.
func (s *Search) Run() (Minimum, *Curve, error) {
	c, err := s.curve(s.Lo, s.Hi, firstValues, min(firstDrives, s.Drives))
	if err != nil {
		return Minimum{}, nil, err
	}
	for c.spacing() > 4*s.Step {
		k := c.Least()
		h := c.spacing()
		if c, err = s.curve(c.At[k]-h, c.At[k]+h, someValues, min(someDrives, s.Drives)); err != nil {
			return Minimum{}, nil, err
		}
	}
	middle, half := c.At[c.Least()], s.Step*(lastValues-1)/2
	for range mostSpans {
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

// curve takes n values from lo to hi, held within the range.
func (s *Search) curve(lo, hi float64, n, drives int) (*Curve, error) {
	lo, hi = max(lo, s.Lo), min(hi, s.Hi)
	c := &Curve{At: make([]float64, n)}
	for i := range c.At {
		// To a thousandth of a step, so that the values can be read.
		v := lo + (hi-lo)*float64(i)/float64(n-1)
		unit := s.Step / 1000
		c.At[i] = math.Round(v/unit) * unit
	}
	var err error
	c.Costs, err = s.Costs(c.At, drives)
	return c, err
}

func (c *Curve) spacing() float64 { return c.At[1] - c.At[0] }
