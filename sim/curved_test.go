// Rows that bend: fields whose rows run along a circle, a clothoid or a hill, and a round field
// worked round after round, all noise free.

package sim_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/field/rowline"
	"liftbench/sections/score"
	"liftbench/sim/drive"
)

// bend is a line by its closed form: the place and the direction at s metres along it.
type bend func(s float64) (e, n, headingRad float64)

func circle(radiusM float64) bend {
	return func(s float64) (e, n, headingRad float64) {
		phi := s / radiusM
		return radiusM * math.Sin(phi), radiusM * math.Cos(phi), phi + math.Pi/2
	}
}

// clothoid begins with the curvature k0 and bends by perM2 more each metre: its place is
// integrated by Simpson's rule in steps of 0.1 m.
func clothoid(k0, perM2 float64) bend {
	heading := func(s float64) float64 { return s * (k0 + perM2*s/2) }
	return func(s float64) (e, n, headingRad float64) {
		const h = 0.1
		step := math.Copysign(h, s)
		for u := 0.0; math.Abs(u) < math.Abs(s)-1e-9; u += step {
			d := math.Copysign(math.Min(h, math.Abs(s-u)), s)
			a, b, c := heading(u), heading(u+d/2), heading(u+d)
			e += d / 6 * (math.Sin(a) + 4*math.Sin(b) + math.Sin(c))
			n += d / 6 * (math.Cos(a) + 4*math.Cos(b) + math.Cos(c))
		}
		return e, n, heading(s)
	}
}

// hill is a contour, east along two sines: s is east here.
func hill(s float64) (e, n, headingRad float64) {
	return s, 15*math.Sin(s/60) + 4*math.Sin(s/35+1), math.Atan2(1, 15/60.0*math.Cos(s/60)+4/35.0*math.Cos(s/35+1))
}

// along is a zone along a bend from one station to another, from leftM to the left to rightM to the
// right of it, whose row line goes on beyond both ends.
func (b bend) along(t testing.TB, fromM, toM, leftM, rightM float64) *field.Field {
	t.Helper()
	beside := func(s, right float64) orb.Point {
		e, n, heading := b(s)
		sin, cos := math.Sincos(heading)
		return orb.Point{e + right*cos, n - right*sin}
	}
	var line orb.LineString
	for s := fromM - 40; s <= toM+40; s += 5 {
		line = append(line, beside(s, 0))
	}
	var ring orb.Ring
	for s := fromM; s < toM; s += 1 {
		ring = append(ring, beside(s, rightM))
	}
	ring = append(ring, beside(toM, rightM))
	for s := toM; s > fromM; s -= 1 {
		ring = append(ring, beside(s, -leftM))
	}
	ring = append(ring, beside(fromM, -leftM), ring[0])
	l, err := rowline.New(line)
	if err != nil {
		t.Fatal(err)
	}
	return fieldOf(t, []field.Zone{{Name: "body", Line: l, Polygons: orb.MultiPolygon{{ring}}}})
}

// onTime fails where a lift or a drop is missed, or more than 10 ms early or late.
func onTime(t *testing.T, r *score.Result) (worstS float64) {
	t.Helper()
	for _, e := range r.Events {
		if e.Kind != score.Paired {
			t.Errorf("section %d, on %v: %v at %d", e.Section+1, e.On, e.Kind, e.TimeNs()-startNs)
			continue
		}
		worstS = max(worstS, math.Abs(e.TimeErrorS))
	}
	if !(worstS <= 0.010) {
		t.Errorf("up to %.1f ms early or late", worstS*1000)
	}
	return worstS
}

func TestRowsThatBend(t *testing.T) {
	for _, c := range []struct {
		name             string
		b                bend
		from, to         float64
		leftM, rightM    float64
		mount            sections.Mount
		x                float64
		passes, sections int
	}{
		{"constant radius", circle(110), 40, 170, 30, 30, sections.RearRigid, -2.2, 10, 6},
		{"clothoid", clothoid(1/200.0, 1/40.0/150), 0, 150, 18, 18, sections.FrontRigid, 3.5, 6, 6},
		{"contour", hill, -90, 90, 24, 24, sections.RearRigid, -2.2, 8, 6},
		{"contour, trailed", hill, -90, 90, 24, 24, sections.Trailed, -5, 8, 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := c.b.along(t, c.from, c.to, c.leftM, c.rightM)
			m := bar(c.mount, c.x, c.sections, 1)
			if c.mount == sections.Trailed {
				m.HitchBehindM, m.DrawbarM = 0.8, 3
			}
			d, err := drive.Plan(f, m, drive.Params{StartNs: startNs, WorkMps: 8 / 3.6, TurnMps: 8 / 3.6, StraightBeforeM: 15})
			if err != nil {
				t.Fatal(err)
			}
			if len(d.Passes) != c.passes {
				t.Errorf("%d passes, want %d", len(d.Passes), c.passes)
			}
			r := run(t, m, f, d.Track, lift(), nil)
			if want := c.passes * c.sections; r.Lift.Paired != want || r.Drop.Paired != want {
				t.Errorf("%d lifts and %d drops, want %d", r.Lift.Paired, r.Drop.Paired, want)
			}
			t.Logf("worst %.2f ms; missed %.1f of %.0f m²; %q", 1000*onTime(t, r), r.Area.MissM2, r.ZoneM2, d.Warnings)
		})
	}
}

// On a field of constant radius a section crosses a radial border where its middle does: with the
// tractor on a radius ρ about the centre, driving to the right, the middle at (x, y) is atan2(x, ρ - y) ahead of
// it, to the left atan2(x, ρ + y).
func TestConstantRadiusInClosedForm(t *testing.T) {
	const radius, from, to = 110.0, 40.0, 170.0
	f := circle(radius).along(t, from, to, 30, 30)
	m := bar(sections.RearRigid, -2.2, 6, 1)
	d, err := drive.Plan(f, m, drive.Params{StartNs: startNs, WorkMps: 8 / 3.6, TurnMps: 8 / 3.6, StraightBeforeM: 15})
	if err != nil {
		t.Fatal(err)
	}
	r := run(t, m, f, d.Track, lift(), nil)
	cursor, judged := 0, 0
	for _, e := range r.Events {
		p := d.Track.At(e.IdealNs, &cursor)
		rho, phi := math.Hypot(p.EastM, p.NorthM), math.Atan2(p.EastM, p.NorthM)
		right := math.Copysign(1, math.Cos(p.HeadingRad-phi-math.Pi/2))
		s := m.Sections[e.Section]
		ahead := right * math.Atan2(s.XM, rho-right*s.YM)
		border := from / radius
		if e.On != (right > 0) {
			border = to / radius
		}
		// The border's points lie exactly on the radius; the path lies on its circle.
		if off := (phi + ahead - border) * rho; !(math.Abs(off) < 1e-3*2.2) {
			t.Errorf("section %d, on %v, at %.2f m: ideal %.2f mm from the border", e.Section+1, e.On, rho, off*1000)
		}
		judged++
	}
	if judged != 2*10*6 {
		t.Errorf("%d crossings judged, want 120", judged)
	}
}

// A round field of 20 ha under a pivot: a lane of 42 m leads from the border to the pad in
// the middle. It is worked in rounds, one zone and no strips.
func TestPivotField(t *testing.T) {
	const radius, padM, laneM = 257.0, 41.0, 42.0
	edge := math.Asin(laneM / 2 / radius)
	var ring, line orb.LineString
	for k := range 721 {
		phi := edge + (2*math.Pi-2*edge)*float64(k)/720
		ring = append(ring, orb.Point{radius * math.Sin(phi), radius * math.Cos(phi)})
	}
	pad := math.Asin(laneM / 2 / padM)
	for k := range 181 {
		phi := 2*math.Pi - pad - (2*math.Pi-2*pad)*float64(k)/180
		ring = append(ring, orb.Point{padM * math.Sin(phi), padM * math.Cos(phi)})
	}
	ring = append(ring, ring[0])
	for k := range 361 {
		phi := 2 * math.Pi * float64(k) / 360
		line = append(line, orb.Point{radius * math.Sin(phi), radius * math.Cos(phi)})
	}
	l, err := rowline.New(line)
	if err != nil {
		t.Fatal(err)
	}
	f := fieldOf(t, []field.Zone{{Name: "pivot", Line: l, Polygons: orb.MultiPolygon{{orb.Ring(ring)}}}})
	if ha := f.AreaM2() / 1e4; !(math.Abs(ha-20) < 1) {
		t.Fatalf("%.1f ha", ha)
	}
	m := bar(sections.RearRigid, -2.2, 12, 1)
	d, err := drive.Plan(f, m, drive.Params{StartNs: startNs, WorkMps: 8 / 3.6, TurnMps: 8 / 3.6, StraightBeforeM: 8, SteadyBeforeM: 5})
	if err != nil {
		t.Fatal(err)
	}
	r := run(t, m, f, d.Track, lift(), nil)
	if n := len(d.Passes); n != 18 || r.Lift.Paired != 18*12 || r.Drop.Paired != 18*12 {
		t.Errorf("%d rounds, %d lifts, %d drops; want 18, and 12 of each a round", n, r.Lift.Paired, r.Drop.Paired)
	}
	t.Logf("worst %.2f ms; missed %.1f, overrun %.1f, repeat %.1f of %.0f m²; %q", 1000*onTime(t, r), r.Area.MissM2, r.Area.OverrunM2, r.Area.RepeatM2, r.ZoneM2, d.Warnings)
}
