package rowline_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field/rowline"
)

var box = orb.Bound{Min: orb.Point{-320, -320}, Max: orb.Point{320, 320}}

// circle is points of a circle of that radius around the origin, clockwise from north.
func circle(radiusM float64, n int, upToRad float64) orb.LineString {
	var l orb.LineString
	for i := range n + 1 {
		sin, cos := math.Sincos(upToRad * float64(i) / float64(n))
		l = append(l, orb.Point{radiusM * sin, radiusM * cos})
	}
	return l
}

func lineOf(t testing.TB, points orb.LineString) *rowline.Line {
	l, err := rowline.New(points)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func off(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 2*math.Pi)) }

// At every place the row runs square to the radius, is R - r to the right of a circle
// driven clockwise, and its own radius is r.
func TestCircle(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, c := range []struct {
		radiusM float64
		points  int
		upTo    float64
	}{{252, 40, 2 * math.Pi}, {252, 300, 2 * math.Pi}, {60, 24, 2 * math.Pi}, {50, 12, 2.5}, {12, 18, 2 * math.Pi}} {
		l := lineOf(t, circle(c.radiusM, c.points, c.upTo)).Over(box)
		if got, want := l.LengthM(), c.radiusM*c.upTo; math.Abs(got-want) > 1e-4*want {
			t.Errorf("R %g: %g m long, want %g", c.radiusM, got, want)
		}
		if l.Closed() != (c.upTo == 2*math.Pi) {
			t.Errorf("R %g: closed %v", c.radiusM, l.Closed())
		}
		for range 4000 {
			phi, r := c.upTo*rng.Float64(), 4+rng.Float64()*300
			if c.upTo < 2*math.Pi { // where the nearest is not an end
				r = c.radiusM * (0.3 + rng.Float64())
			}
			sin, cos := math.Sincos(phi)
			f := l.Near(r*sin, r*cos)
			if o := off(math.Atan2(f.Sin, f.Cos), phi+math.Pi/2); !(o < 2e-3) {
				t.Fatalf("R %g: at %g m, %g rad the row is %g rad off", c.radiusM, r, phi, o)
			}
			if d := f.RightM - (c.radiusM - r); !(math.Abs(d) < 2e-3) {
				t.Fatalf("R %g: at %g m, %g rad: %g m beside, want %g", c.radiusM, r, phi, f.RightM, c.radiusM-r)
			}
			if d := math.Abs(math.Remainder(f.StationM-c.radiusM*phi, c.radiusM*2*math.Pi)); !(d < 0.01) {
				t.Fatalf("R %g: at %g rad the station is %g m off", c.radiusM, phi, d)
			}
			if k := f.CurvaturePerM * r; !(math.Abs(k-1) < 0.02) {
				t.Fatalf("R %g: at %g m the row's radius is %g", c.radiusM, r, 1/f.CurvaturePerM)
			}
		}
		for range 1000 {
			s, right := l.LengthM()*rng.Float64(), c.radiusM*(rng.Float64()-0.5)
			e, n, sin, cos, perM := l.At(s, right)
			phi := s / l.LengthM() * c.upTo
			if d := math.Hypot(e-(c.radiusM-right)*math.Sin(phi), n-(c.radiusM-right)*math.Cos(phi)); !(d < 2e-3) {
				t.Fatalf("R %g: the place at %g m, %g m beside is %g m off", c.radiusM, s, right, d)
			}
			if !(off(math.Atan2(sin, cos), phi+math.Pi/2) < 1e-3) || !(math.Abs(perM*c.radiusM-1) < 0.02) {
				t.Fatalf("R %g: direction %g, curvature %g", c.radiusM, math.Atan2(sin, cos)-phi, perM)
			}
		}
	}
}

// clothoid integrates θ' = k0 + c·s, (e, n)' = (sin θ, cos θ) by Runge and Kutta's
// fourth order in steps of 5 cm, and returns a point each stepM.
func clothoid(k0, perM2, lengthM, stepM float64) (points orb.LineString, headings []float64) {
	const h = 0.05
	theta := func(s float64) float64 { return k0*s + perM2*s*s/2 }
	e, n := 0.0, 0.0
	each := int(math.Round(stepM / h))
	for i := 0; float64(i)*h <= lengthM+h/2; i++ {
		s := float64(i) * h
		if i%each == 0 {
			points, headings = append(points, orb.Point{e, n}), append(headings, theta(s))
		}
		a, b, c := theta(s), theta(s+h/2), theta(s+h)
		e += h / 6 * (math.Sin(a) + 4*math.Sin(b) + math.Sin(c))
		n += h / 6 * (math.Cos(a) + 4*math.Cos(b) + math.Cos(c))
	}
	return points, headings
}

// A clothoid from 200 m radius to the left to 40 m to the right, drawn with a point each
// 5 m: between the points and beside them the rows run as it does.
func TestClothoid(t *testing.T) {
	k0, k1, length := -1/200.0, 1/40.0, 180.0
	c := (k1 - k0) / length
	drawn, _ := clothoid(k0, c, length, 5)
	true1, headings := clothoid(k0, c, length, 0.25)
	l := lineOf(t, drawn).Over(box)
	for i := 40; i < len(true1)-40; i++ { // the end pieces have a neighbour on one side only
		for _, right := range []float64{-30, -3, 0, 3, 20} {
			sin, cos := math.Sincos(headings[i])
			e, n := true1[i][0]+right*cos, true1[i][1]-right*sin
			f := l.Near(e, n)
			if o := off(math.Atan2(f.Sin, f.Cos), headings[i]); !(o < 3e-3) || !(math.Abs(f.RightM-right) < 0.01) || !(math.Abs(f.StationM-0.25*float64(i)) < 0.1) {
				t.Fatalf("at %g m, %g m beside: %g rad off, %g m beside, at %g m", 0.25*float64(i), right, o, f.RightM, f.StationM)
			}
		}
	}
}

// contour is a row along a hill: two sines.
func contour(e float64) (n, slope float64) {
	return 18*math.Sin(e/55) + 5*math.Sin(e/23+1), 18/55.0*math.Cos(e/55) + 5/23.0*math.Cos(e/23+1)
}

// What is nearest is found by trying all: points of the curve 2 cm apart. Where two
// places are nearest within 10 cm, either will do.
func TestNearestBesideAll(t *testing.T) {
	var drawn, all orb.LineString
	for e := -200.0; e <= 200; e += 4 {
		n, _ := contour(e)
		drawn = append(drawn, orb.Point{e, n})
	}
	for e := -200.0; e <= 200; e += 0.02 {
		n, _ := contour(e)
		all = append(all, orb.Point{e, n})
	}
	l := lineOf(t, drawn)
	indexed := l.Over(box)
	rng := rand.New(rand.NewPCG(2, 2))
	judged := 0
	for range 600 {
		e, n := -180+360*rng.Float64(), -120+240*rng.Float64()
		best, at := math.Inf(1), 0
		for i, p := range all {
			if d := math.Hypot(p[0]-e, p[1]-n); d < best {
				best, at = d, i
			}
		}
		second := math.Inf(1) // the nearest of those 5 m and more along
		for i, p := range all {
			if d := math.Hypot(p[0]-e, p[1]-n); math.Abs(p[0]-all[at][0]) > 5 {
				second = min(second, d)
			} else if i > 0 {
				continue
			}
		}
		f := indexed.Near(e, n)
		if d := math.Abs(f.RightM); !(math.Abs(d-best) < 0.005) && at > 0 && at < len(all)-1 {
			t.Fatalf("(%g, %g): %g m beside, the nearest is %g m away", e, n, f.RightM, best)
		}
		if g := l.Near(e, n); math.Abs(math.Abs(g.RightM)-math.Abs(f.RightM)) > 1e-6 {
			t.Fatalf("(%g, %g): %g m beside with the index, %g m without", e, n, f.RightM, g.RightM)
		}
		_, slope := contour(all[at][0])
		if curved := math.Abs(f.CurvaturePerM); at == 0 || at == len(all)-1 || second-best < 0.1 || curved > 1/15.0 {
			continue
		}
		judged++
		if o := off(math.Atan2(f.Sin, f.Cos), math.Atan2(1, slope)); !(o < 0.01) {
			t.Fatalf("(%g, %g): the row is %g rad off", e, n, o)
		}
	}
	if judged < 400 {
		t.Errorf("%d places judged of 600", judged)
	}
}

func TestBeyondTheEnds(t *testing.T) {
	l := lineOf(t, orb.LineString{{0, 0}, {0, 40}, {0, 100}}).Over(box)
	for _, c := range []struct{ e, n, station, right float64 }{{3, -20, -20, 3}, {-2, 130, 130, -2}, {5, 50, 50, 5}} {
		f := l.Near(c.e, c.n)
		if math.Abs(f.StationM-c.station) > 1e-9 || math.Abs(f.RightM-c.right) > 1e-9 || f.Sin != 0 || f.CurvaturePerM != 0 {
			t.Errorf("(%g, %g): %+v", c.e, c.n, f)
		}
		if e, n, _, _, _ := l.At(c.station, c.right); math.Hypot(e-c.e, n-c.n) > 1e-9 {
			t.Errorf("at %g m: (%g, %g), want (%g, %g)", c.station, e, n, c.e, c.n)
		}
	}
}

// A recorded line: points 0.4 m apart, 1.4 cm off. Its rows must not bend as the
// positions do.
func TestRecordedLine(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var drawn orb.LineString
	for s := 0.0; s < 200; s += 0.4 {
		sin, cos := math.Sincos(s / 150)
		drawn = append(drawn, orb.Point{150*sin + 0.014*rng.NormFloat64(), 150*cos + 0.014*rng.NormFloat64()})
	}
	l := lineOf(t, drawn).Over(box)
	for s := 5.0; s < 195; s++ {
		sin, cos := math.Sincos(s / 150)
		f := l.Near(140*sin, 140*cos)
		if o := off(math.Atan2(f.Sin, f.Cos), s/150+math.Pi/2); !(o < 0.03) || !(math.Abs(f.CurvaturePerM) < 1/40.0) {
			t.Fatalf("at %g m: %g rad off, radius %g", s, o, 1/f.CurvaturePerM)
		}
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		points orb.LineString
		want   string
	}{
		{nil, "shorter than 4 m"},
		{orb.LineString{{0, 0}, {0, 2}}, "shorter than 4 m"},
		{orb.LineString{{0, 0}, {0, 6}}, "of 6.00 m"},
		{orb.LineString{{0, 0}, {0, 50}, {50, 50}}, "turns by 90° at one point, (0.00, 50.00) m"},
		{orb.LineString{{0, 0}, {0, 50}, {0, 0}}, "turns by 180°"},
	} {
		if _, err := rowline.New(c.points); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: %v; want %q", c.points, err, c.want)
		}
	}
}

func TestNearAllocatesNothing(t *testing.T) {
	l := lineOf(t, circle(252, 300, 2*math.Pi)).Over(box)
	x := 0.0
	if n := testing.AllocsPerRun(100, func() { x += l.Near(100, 30).RightM }); n != 0 {
		t.Errorf("%g allocations", n)
	}
}

func BenchmarkNear(b *testing.B) {
	for _, c := range []struct {
		name string
		l    *rowline.Line
	}{{"circle", lineOf(b, circle(252, 300, 2*math.Pi))}, {"arc", lineOf(b, circle(252, 60, 1))}} {
		b.Run(c.name, func(b *testing.B) {
			l := c.l.Over(box)
			b.ReportAllocs()
			x, phi := 0.0, 0.0
			for b.Loop() {
				phi += 0.01
				x += l.Near(200*math.Abs(math.Sin(phi)), 120).RightM
			}
			_ = x
		})
	}
	l := lineOf(b, circle(252, 300, 2*math.Pi))
	b.Run("Over", func(b *testing.B) {
		for b.Loop() {
			l.Over(box)
		}
	})
}
