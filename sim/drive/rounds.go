// Headland passes: along the rows of a headland zone, or around the field.

package drive

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/paulmach/orb/simplify"

	"liftbench/sections/exact"
	"liftbench/sections/field"
)

// workHeadland drives every headland zone: those with a row bearing along it,
// those without by going around the field.
func (pl *planner) workHeadland() error {
	var around []int
	any := false
	for i := range pl.f.Zones {
		z := &pl.f.Zones[i]
		if z.Kind != field.Headland || z.Unworked {
			continue
		}
		any = true
		if math.IsNaN(z.RowBearingRad) {
			around = append(around, i)
			continue
		}
		pl.workZone(i)
	}
	if !any {
		return fmt.Errorf("the field has no headland zone that is worked; expected one, or no headland passes")
	}
	if len(around) > 0 {
		return pl.workRounds(around)
	}
	return nil
}

// workRounds goes around the field, from the outside in, in the headland zones
// of those indices.
func (pl *planner) workRounds(zones []int) error {
	outer := pl.f.Boundary
	var areaM2 float64
	for _, i := range zones {
		areaM2 += pl.f.Zones[i].AreaM2()
		if pl.f.Boundary == nil {
			outer = append(outer, pl.f.Zones[i].Polygons...)
		}
	}
	ring := longestRing(outer)
	n := pl.s.Rounds
	if n == 0 {
		// The strip is about as wide as its area over its outer border.
		n = max(1, int(math.Round(areaM2/planar.Length(ring)/pl.spacing)))
	}
	sides, err := pl.roundsAlong(ring, n)
	if err != nil {
		return err
	}
	for i := range sides {
		pl.round(zones[0], &sides[i])
	}
	return nil
}

func longestRing(polygons orb.MultiPolygon) orb.Ring {
	var longest orb.Ring
	var length float64
	for _, p := range polygons {
		if l := planar.Length(p[0]); l > length {
			longest, length = p[0], l
		}
	}
	return longest
}

// side is one straight of a round, and the corner after it.
type side struct {
	start   place
	lengthM float64
	turnTo  float64 // side of the turn after it; 0: none
	turnRad float64
}

// roundsAlong returns the sides of n rounds inside the ring, clockwise, one
// after the other: a spiral whose corners are turns at the smallest radius.
// Small bends of the border are straightened until every corner fits.
func (pl *planner) roundsAlong(ring orb.Ring, n int) ([]side, error) {
	if ring.Orientation() == orb.CCW {
		ring = ring.Clone()
		ring.Reverse()
	}
	var err error
	for tol := 0.1; tol < 20; tol *= 1.5 {
		s := simplify.DouglasPeucker(tol).Ring(ring.Clone())
		corners := s[:len(s)-1]
		var sides []side
		if sides, err = pl.spiral(corners, n); err == nil {
			return pl.nearestStart(corners, n, sides), nil
		}
	}
	return nil, fmt.Errorf("headland rounds: %w", err)
}

// nearestStart is the spiral begun at that corner, of the few nearest to the
// lane before, to which it is cheapest to drive.
func (pl *planner) nearestStart(corners []orb.Point, n int, sides []side) []side {
	if pl.on == nil {
		return sides
	}
	from := pl.on.at(pl.on.lastM + straightAfterM)
	byDistance := make([]int, len(corners))
	for i := range byDistance {
		byDistance[i] = i
	}
	awayM := func(c orb.Point) float64 { return exact.Hypot(c[0]-from.eastM, c[1]-from.northM) }
	slices.SortStableFunc(byDistance, func(a, b int) int {
		return cmp.Compare(awayM(corners[a]), awayM(corners[b]))
	})
	best := math.Inf(1)
	for _, k := range byDistance[:min(4, len(corners))] {
		turned, err := pl.spiral(slices.Concat(corners[k:], corners[:k]), n)
		if err != nil {
			continue
		}
		start := turned[0].start.ahead(-pl.s.StraightBeforeM, 0)
		if _, _, cost := pl.join(from, straightAfterM, start, pl.s.StraightBeforeM); cost < best {
			best, sides = cost, turned
		}
	}
	return sides
}

func (pl *planner) spiral(corners []orb.Point, n int) ([]side, error) {
	m := len(corners)
	// Line j of the spiral runs along edge j mod m, moved in by its round.
	line := func(j int) place {
		a, b := corners[(j+m)%m], corners[(j+1)%m]
		inset := float64(pl.bar.widthM()/2) + float64(float64(max(j, 0)/m)*pl.spacing) - pl.bar.middleM()
		if j == m*n { // the last corner closes the last round
			inset -= pl.spacing
		}
		return place{a[0], a[1], exact.Atan2(b[0]-a[0], b[1]-a[1])}.ahead(0, inset)
	}
	sides := make([]side, 0, m*n)
	for j := range m * n {
		before, on, after := line(j-1), line(j), line(j+1)
		start, end := meet(before, on), meet(on, after)
		t0, t1 := pl.tangentM(before, on), pl.tangentM(on, after)
		s := side{start: place{start.eastM, start.northM, on.headingRad}.ahead(t0, 0)}
		sin, cos := exact.Sincos(on.headingRad)
		s.lengthM = float64((end.eastM-start.eastM)*sin) + float64((end.northM-start.northM)*cos) - t0 - t1
		if !(s.lengthM >= 0) {
			return nil, fmt.Errorf("at (%.0f, %.0f) m the border bends more tightly than a radius of %g m allows; expected a smaller radius or fewer rounds",
				corners[j%m][0], corners[j%m][1], pl.s.MinRadiusM)
		}
		if j+1 < m*n {
			bend := math.Remainder(after.headingRad-on.headingRad, 2*math.Pi)
			s.turnTo, s.turnRad = math.Copysign(1, bend), math.Abs(bend)
		}
		sides = append(sides, s)
	}
	return sides, nil
}

// meet is where two lines cross.
func meet(a, b place) place {
	e, n := b.eastM-a.eastM, b.northM-a.northM
	sb, cb := exact.Sincos(b.headingRad)
	sin := exact.Sin(b.headingRad - a.headingRad)
	if math.Abs(sin) < 1e-9 {
		return b
	}
	// a + t·(sin a, cos a) on the line b: the cross product with b vanishes.
	return a.ahead((float64(n*sb)-float64(e*cb))/sin, 0)
}

// tangentM is how far before the corner of two lines the turn between them
// begins.
func (pl *planner) tangentM(a, b place) float64 {
	bend := math.Abs(math.Remainder(b.headingRad-a.headingRad, 2*math.Pi))
	return float64(pl.wheel.sideM*exact.Tan(bend/2)) + pl.wheel.alongM
}

// round drives one side and the corner after it.
func (pl *planner) round(zone int, s *side) {
	z := &pl.f.Zones[zone]
	r := newRows(nil, s.start.headingRad)
	station, v := r.uv(s.start.eastM, s.start.northM)
	end := station + s.lengthM
	l := &lane{
		zone: z, rows: r, v: v, dir: 1, pace: pl.pace.next(),
		enterM: station, insideM: station, leaveM: end, leftM: end, firstM: station, lastM: end,
	}
	pl.out.Passes = append(pl.out.Passes, Pass{Zone: zone, From: point(l.at(station)), To: point(l.at(end))})
	if pl.cornered {
		pl.on, pl.onFromM = l, station
	} else {
		pl.drive(l)
	}
	pl.cornered = s.turnTo != 0
	if pl.cornered {
		pl.path = l.append(pl.path, pl.onFromM, end, &pl.s)
		pl.path = pl.wheel.turn(pl.path, l.at(end), s.turnTo, s.turnRad, pl.s.TurnMps)
	}
}
