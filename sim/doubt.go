// What is wrong with the input of a drive in which next to nothing could be scored, as
// far as the drive itself shows it.

package sim

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/field"
)

// Hopeless reports whether the drive worked nothing, had nothing to work on its way, or
// had at least as many lifts and drops missed, or extra ones, as there were where one
// ought to be. Its figures are then of no use.
func (o *Outcome) Hopeless() bool {
	l, d := &o.Score.Lift, &o.Score.Drop
	wrong, paired := max(l.Missed+d.Missed, l.Spurious+d.Spurious), l.Paired+d.Paired
	return o.Score.Area.WorkedM2 == 0 || o.Score.Area.PassedM2 == 0 || wrong > 0 && wrong >= paired
}

// StepM is the distance between neighbouring positions that the log's digits can
// tell, along a meridian; 0 where they are fine enough.
func (r *Reception) StepM() float64 {
	if r.MinuteDecimals > coarseDecimals || r.Fixes == 0 {
		return 0
	}
	return minuteM * math.Pow10(-r.MinuteDecimals)
}

// minuteM is a minute of arc on a meridian: the nautical mile.
const minuteM = 1852.0

// coarseDecimals of a minute are 19 cm, more than lifts and drops can be judged by.
const coarseDecimals = 4

// addDigits notes how many decimals the minutes of a position have, as far as they
// are coarse.
func (r *Reception) addDigits(latDeg, lonDeg float64) {
	for r.MinuteDecimals <= coarseDecimals {
		units := 60 * math.Pow10(r.MinuteDecimals)
		lat, lon := float64(latDeg*units), float64(lonDeg*units)
		// A longitude has 53 bits: of 10⁸ units of four decimals each, it is
		// 1.5·10⁻⁸ units off.
		if math.Abs(lat-math.Round(lat)) < 1e-6 && math.Abs(lon-math.Round(lon)) < 1e-6 {
			return
		}
		r.MinuteDecimals++
	}
}

// Passes are how the straight parts of the drive in zones with one row bearing ran.
type Passes struct {
	Zone      string  // name or kind of the first of those zones
	RowRad    float64 // as the field says, clockwise from north
	WayM      float64 // length of the straight parts
	ModeRad   float64 // direction of most of them, within 90° of RowRad
	ModeShare float64 // share of WayM that lies within 5° of ModeRad
	AlongM    float64 // of WayM, what the row tolerance lets take part
}

// Contradicted returns, where next to nothing of the drive ran along the rows of its zones,
// the passes that contradict a row bearing over the longest way: most of them run one
// way, and that way is out of the row tolerance. False means that there are none. A
// headland that is only crossed contradicts nothing, nor do rows that bend.
func (o *Outcome) Contradicted(f *field.Field, toleranceRad float64) (Passes, bool) {
	var worst Passes
	found := false
	wayM, alongM := 0.0, 0.0
	var done field.Mask
	for i := range f.Zones {
		z := &f.Zones[i]
		if z.Kind == field.KeepOut || z.Unworked || z.Line != nil || math.IsNaN(z.RowBearingRad) {
			continue
		}
		sin, cos := exact.Sincos(z.RowBearingRad)
		class := f.Participating(sin, cos, 1-1e-12) &^ f.Unbound()
		if class&done != 0 {
			continue
		}
		done |= class
		p := o.passes(f, class, z.RowBearingRad, toleranceRad)
		wayM += p.WayM
		alongM += p.AlongM
		if p.WayM < leastPassesM || p.ModeShare < 0.6 || math.Abs(p.ModeRad-p.RowRad) <= toleranceRad {
			continue
		}
		if p.Zone = z.Name; p.Zone == "" {
			p.Zone = z.Kind.String()
		}
		if !found || p.WayM > worst.WayM {
			worst, found = p, true
		}
	}
	return worst, found && alongM < wayM/5
}

const (
	leastPassesM = 100.0         // of way in a zone, to judge its row bearing by
	straightPerM = 1 / 50.0      // rad/m, curvature of what is still a pass
	wayStepM     = 1.0           // between two looks at the way
	binRad       = math.Pi / 360 // half a degree
)

// passes measures the straight parts of the way in the zones of a class.
func (o *Outcome) passes(f *field.Field, class field.Mask, rowRad, toleranceRad float64) Passes {
	var bins [360]float64 // metres by direction, from RowRad - 90° on
	p := Passes{RowRad: rowRad}
	last := -1
	for k := range o.Track {
		q := &o.Track[k]
		if last < 0 {
			last = k
			continue
		}
		from := &o.Track[last]
		m := exact.Hypot(q.EastM-from.EastM, q.NorthM-from.NorthM)
		if m < wayStepM {
			continue
		}
		last = k
		if m > 50*wayStepM || math.Abs(q.HeadingRad-from.HeadingRad) > straightPerM*m || f.At(q.EastM, q.NorthM)&class == 0 {
			continue
		}
		off := halfTurn(q.HeadingRad - rowRad)
		p.WayM += m
		bins[min(int((off+math.Pi/2)/binRad), len(bins)-1)] += m
		if math.Abs(off) <= toleranceRad {
			p.AlongM += m
		}
	}
	if p.WayM == 0 {
		return p
	}
	const around = 10 // bins: 5°
	best, bestM := 0, -1.0
	for i := range bins {
		sum := 0.0
		for d := -around; d <= around; d++ {
			sum += bins[(i+d+len(bins))%len(bins)]
		}
		if sum > bestM {
			best, bestM = i, sum
		}
	}
	mean := 0.0 // of those bins, from the best one's middle
	for d := -around; d <= around; d++ {
		mean += float64(d) * bins[(best+d+len(bins))%len(bins)] / bestM
	}
	p.ModeShare = bestM / p.WayM
	p.ModeRad = rowRad + halfTurn(float64((float64(best)+0.5+mean)*binRad)-math.Pi/2)
	return p
}

// halfTurn returns a direction, of which the opposite is the same, within ±90°.
func halfTurn(rad float64) float64 { return rad - float64(math.Pi*math.Round(rad/math.Pi)) }
