// Whole drives: passes, turns, headland, speeds, steering.

package drive

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"pgregory.net/rapid"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sim/drive/hand"
)

// box is a field whose body is a ring, with a boundary around it.
func box(bearingRad float64, body, boundary orb.Ring) *field.Field {
	body, boundary = append(body, body[0]), append(boundary, boundary[0])
	return &field.Field{
		Boundary: orb.MultiPolygon{{boundary}},
		Zones: []field.Zone{{
			Name: "body", Kind: field.Body, RowBearingRad: bearingRad,
			Polygons: orb.MultiPolygon{{body}},
		}},
	}
}

var fields = map[string]func() *field.Field{
	"rectangle": func() *field.Field {
		return box(0, orb.Ring{{0, 0}, {61, 0}, {61, 150}, {0, 150}}, orb.Ring{{0, -40}, {61, -40}, {61, 190}, {0, 190}})
	},
	"slanting border": func() *field.Field {
		return box(0, orb.Ring{{0, 0}, {61, 20}, {61, 150}, {0, 120}}, orb.Ring{{0, -60}, {61, -60}, {61, 210}, {0, 210}})
	},
	"turned": func() *field.Field {
		return box(math.NaN(), orb.Ring{{0, 0}, {40, 20}, {-60, 220}, {-100, 200}}, orb.Ring{{20, -40}, {60, -20}, {-80, 260}, {-120, 240}})
	},
	"notch": func() *field.Field {
		return box(0, orb.Ring{{0, 0}, {60, 0}, {60, 60}, {30, 70}, {60, 80}, {60, 150}, {0, 150}}, orb.Ring{{0, -40}, {60, -40}, {60, 190}, {0, 190}})
	},
	"triangle": func() *field.Field {
		return box(0, orb.Ring{{0, 0}, {60, 0}, {60, 150}}, orb.Ring{{-40, -60}, {80, -60}, {80, 240}})
	},
}

// machineOf is a bar of n sections of 1 m at x, its middle at y.
func machineOf(mount sections.Mount, n int, x, y float64) *sections.Machine {
	m := &sections.Machine{Mount: mount}
	if mount == sections.Trailed {
		m.HitchBehindM, m.DrawbarM = 1, 3
	}
	for i := range n {
		m.Sections = append(m.Sections, sections.Section{XM: x, YM: y + float64(i) - float64(n-1)/2, WidthM: 1})
	}
	return m
}

var machines = map[string]*sections.Machine{
	"rear":    machineOf(sections.RearRigid, 6, -2.5, 0),
	"front":   machineOf(sections.FrontRigid, 6, 3.5, 0),
	"trailed": machineOf(sections.Trailed, 6, -4, 0),
	"offset":  machineOf(sections.RearRigid, 4, -2, 1.5),
	"staggered": {Mount: sections.RearRigid, Sections: []sections.Section{
		{XM: -2, YM: -2, WidthM: 2}, {XM: -3.5, YM: 0, WidthM: 2}, {XM: -2, YM: 2, WidthM: 2},
	}},
}

var manners = map[string]Params{
	"bulb":          {WorkMps: 8 / 3.6},
	"fishtail":      {WorkMps: 8 / 3.6, Turn: Fishtail, PauseS: 1.5},
	"U by skipping": {WorkMps: 8 / 3.6, SkipPasses: 2},
	"slow border":   {WorkMps: 12 / 3.6, BorderMps: 6 / 3.6, HeadlandMps: 7 / 3.6, OverlapM: 0.2},
	"wide":          {WorkMps: 5 / 3.6, MinRadiusM: 2.6, SteerTimeS: 0.6},
}

// each runs f for every field, machine and manner that go together.
func each(t *testing.T, f func(*testing.T, *field.Field, *sections.Machine, Params)) {
	for _, fn := range sortedKeys(fields) {
		for _, mn := range sortedKeys(machines) {
			for _, pn := range sortedKeys(manners) {
				m, p := machines[mn], manners[pn]
				if m.Mount == sections.Trailed && p.Turn == Fishtail {
					continue
				}
				if odd := mn == "offset" || mn == "staggered"; odd && pn != "bulb" && pn != "fishtail" {
					continue
				}
				t.Run(fmt.Sprintf("%s/%s/%s", fn, mn, pn), func(t *testing.T) { f(t, fields[fn](), m, p) })
			}
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func TestDrives(t *testing.T) {
	each(t, func(t *testing.T, f *field.Field, m *sections.Machine, p Params) {
		p.StartNs = 1_700_000_000e9
		d, err := Plan(f, m, p)
		if err != nil {
			t.Fatal(err)
		}
		full, _ := p.Complete(m)
		checkMotion(t, d.Track, full, 1e-9)
		checkCover(t, d, f, m)
		checkTurns(t, d, f, m, full)
		if d.Track[0].TimeNs != p.StartNs {
			t.Errorf("starts at %d; want %d", d.Track[0].TimeNs, p.StartNs)
		}
		for _, w := range d.Warnings {
			if !strings.Contains(w, "leave the field") {
				t.Errorf("unexpected warning: %s", w)
			}
		}
	})
}

// failer is *testing.T or *rapid.T.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// checkMotion asks that the poses agree with one another: that between knots
// the position is the integral of the velocity and the heading that of the
// yaw rate, and that no limit is passed. slack widens the limits for a driver
// whose hand moves.
func checkMotion(t failer, track motion.Track, p Params, slack float64) {
	t.Helper()
	if len(track) < 10 {
		t.Fatalf("only %d poses", len(track))
	}
	for i := 1; i < len(track); i++ {
		a, b := track[i-1], track[i]
		h := float64(b.TimeNs-a.TimeNs) * 1e-9
		if h <= 0 {
			t.Fatalf("pose %d: time goes from %d to %d", i, a.TimeNs, b.TimeNs)
		}
		var e, n, ds float64
		const steps = 4
		for j := range steps { // midpoint rule, error 1e-6 m at these steps
			q := motion.Interp(&a, &b, a.TimeNs+int64((float64(j)+0.5)/steps*h*1e9))
			e += q.SpeedMps * math.Sin(q.HeadingRad) * h / steps
			n += q.SpeedMps * math.Cos(q.HeadingRad) * h / steps
			ds += math.Abs(q.SpeedMps) * h / steps
		}
		if d := math.Hypot(b.EastM-a.EastM-e, b.NorthM-a.NorthM-n); d > 1e-4 {
			t.Fatalf("pose %d: %g m beside the integral of the velocity (%+v to %+v)", i, d, a, b)
		}
		// The trapezoid is off by h³·ω''/12.
		if turned := b.HeadingRad - a.HeadingRad - h*(a.YawRateRadPerS+b.YawRateRadPerS)/2; math.Abs(turned) > 4e-4 {
			t.Fatalf("pose %d: %g rad beside the integral of the yaw rate (%+v to %+v)", i, turned, a, b)
		}
		limit := max(p.AccelMps2, p.DecelMps2)
		// Times are whole nanoseconds.
		if dv := math.Abs(b.SpeedMps - a.SpeedMps); dv > (limit*(1+slack)+2*slack*slack)*(h+2e-9) {
			t.Fatalf("pose %d: acceleration %g m/s²; limit %g", i, dv/h, limit)
		}
		if r := math.Abs(b.YawRateRadPerS); r > math.Abs(b.SpeedMps)/p.MinRadiusM*(1+slack)+1e-9 {
			t.Fatalf("pose %d: yaw rate %g rad/s at %g m/s; smallest radius %g m", i, r, b.SpeedMps, p.MinRadiusM)
		}
		top := max(p.WorkMps, p.BorderMps, p.HeadlandMps)
		if math.Abs(b.SpeedMps) > top*(1+slack)+1e-9 {
			t.Fatalf("pose %d: %g m/s; top %g", i, b.SpeedMps, top)
		}
	}
}

// checkCover asks that every point of the body lies under the bar of some
// pass.
func checkCover(t *testing.T, d *Drive, f *field.Field, m *sections.Machine) {
	t.Helper()
	body := f.Zones[0].Polygons
	box := body.Bound()
	points, missed := 0, 0
	for e := box.Min[0] + 0.37; e < box.Max[0]; e += 1.9 {
		for n := box.Min[1] + 0.41; n < box.Max[1]; n += 2.3 {
			if !planar.MultiPolygonContains(body, orb.Point{e, n}) {
				continue
			}
			points++
			under := false
			for _, p := range d.Passes {
				de, dn := p.To[0]-p.From[0], p.To[1]-p.From[1]
				l := math.Hypot(de, dn)
				de, dn = de/l, dn/l
				x := (e-p.From[0])*de + (n-p.From[1])*dn
				y := (e-p.From[0])*dn - (n-p.From[1])*de
				for _, s := range m.Sections {
					if math.Abs(y-s.YM) <= s.WidthM/2+1e-6 && x >= s.XM-1e-6 && x <= l+s.XM+1e-6 {
						under = true
					}
				}
			}
			if !under {
				missed++
			}
		}
	}
	if points < 500 || missed > 0 {
		t.Errorf("%d of %d points of the body under no pass", missed, points)
	}
}

// checkTurns asks that the bar is clear of the body whenever the tractor
// turns, and that it runs straight for long enough before each pass.
func checkTurns(t *testing.T, d *Drive, f *field.Field, m *sections.Machine, p Params) {
	t.Helper()
	body := f.Zones[0].Polygons
	b := barOf(m)
	straightM, turns := 0.0, 0
	pass := 0
	for i := 1; i < len(d.Track); i++ {
		q := d.Track[i]
		straightM += math.Hypot(q.EastM-d.Track[i-1].EastM, q.NorthM-d.Track[i-1].NorthM)
		if q.YawRateRadPerS != 0 {
			if straightM > 20 {
				turns++
			}
			straightM = 0
			outline(&q, m, b, func(e, n float64) {
				if planar.MultiPolygonContains(body, orb.Point{e, n}) {
					t.Fatalf("turning at (%.2f, %.2f) with the bar over the body at (%.2f, %.2f)", q.EastM, q.NorthM, e, n)
				}
			})
		}
		for pass < len(d.Passes) && math.Hypot(q.EastM-d.Passes[pass].From[0], q.NorthM-d.Passes[pass].From[1]) < 1e-6 {
			if straightM < p.StraightBeforeM-1e-6 {
				t.Errorf("pass %d: only %g m straight before the zone; want %g", pass, straightM, p.StraightBeforeM)
			}
			want := math.Atan2(d.Passes[pass].To[0]-q.EastM, d.Passes[pass].To[1]-q.NorthM)
			if off := math.Abs(math.Remainder(q.HeadingRad-want, 2*math.Pi)); off > 1e-7 {
				t.Errorf("pass %d: enters %g rad off the rows", pass, off)
			}
			pass++
		}
	}
	if pass != len(d.Passes) {
		t.Errorf("the track meets the start of %d of %d passes", pass, len(d.Passes))
	}
}

func TestSteeringError(t *testing.T) {
	f, m := fields["slanting border"](), machines["rear"]
	exact, err := Plan(f, m, Params{WorkMps: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, manner := range []string{"bulb", "fishtail"} {
		p := manners[manner]
		p.SteerSigmaM, p.Seed = 0.02, 7
		d, err := Plan(f, m, p)
		if err != nil {
			t.Fatal(err)
		}
		full, _ := p.Complete(m)
		checkMotion(t, d.Track, full, 0.06)
	}
	d, err := Plan(f, m, Params{WorkMps: 2, SteerSigmaM: 0.02, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	again, _ := Plan(f, m, Params{WorkMps: 2, SteerSigmaM: 0.02, Seed: 7})
	if !slices.Equal(d.Track, again.Track) {
		t.Error("the same seed gives another drive")
	}
	if d.Track[100] == exact.Track[100] {
		t.Error("no error where one was asked")
	}
	// The distance from the lines, every 5 m, has the standard deviation set.
	var sum, n float64
	w := hand.New(0.02, 3)
	for s := 0.0; s < 50000; s += 5 {
		y, _, _ := w.At(s)
		sum, n = sum+y*y, n+1
	}
	if sd := math.Sqrt(sum / n); math.Abs(sd-0.02) > 0.001 {
		t.Errorf("standard deviation %g; want 0.02", sd)
	}
}

func TestOrderVisitsEachLaneOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, skip := rapid.IntRange(1, 60).Draw(t, "n"), rapid.IntRange(0, 70).Draw(t, "skip")
		got := order(n, skip)
		slices.Sort(got)
		for i := range n {
			if i >= len(got) || got[i] != i {
				t.Fatalf("%d lanes, %d skipped: %v", n, skip, got)
			}
		}
		if len(got) != n {
			t.Fatalf("%d lanes, %d skipped: %v", n, skip, got)
		}
	})
	if got := order(8, 1); !slices.Equal(got, []int{0, 2, 4, 6, 7, 5, 3, 1}) {
		t.Errorf("order(8, 1) = %v", got)
	}
}

func TestFishtailStandsAtReversals(t *testing.T) {
	d, err := Plan(fields["rectangle"](), machines["rear"], Params{WorkMps: 2, Turn: Fishtail, PauseS: 2})
	if err != nil {
		t.Fatal(err)
	}
	reversals := 0
	for i := 1; i < len(d.Track); i++ {
		a, b := d.Track[i-1], d.Track[i]
		if a.SpeedMps == 0 && b.SpeedMps == 0 && i > 1 && i < len(d.Track)-1 {
			reversals++
			if b.TimeNs-a.TimeNs != 2e9 {
				t.Errorf("stands for %d ns; want 2 s", b.TimeNs-a.TimeNs)
			}
		}
		if a.SpeedMps*b.SpeedMps < 0 {
			t.Fatal("changes direction without standing")
		}
	}
	if want := 2 * (len(d.Passes) - 1); reversals != want {
		t.Errorf("%d reversals; want %d", reversals, want)
	}
}

// A field without boundary and headland does not say where it ends: no turn leaves it.
func TestEndIsNotKnown(t *testing.T) {
	ring := orb.Ring{{0, 0}, {60, 0}, {60, 150}, {0, 150}}
	f := box(0, ring, ring)
	f.Boundary = nil
	d, err := Plan(f, machines["rear"], Params{WorkMps: 2})
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Warnings) != 0 || len(d.Passes) < 9 {
		t.Errorf("%d passes, warnings %q; want none", len(d.Passes), d.Warnings)
	}
}

func TestNarrowHeadlandIsReported(t *testing.T) {
	f := box(0, orb.Ring{{0, 0}, {60, 0}, {60, 150}, {0, 150}}, orb.Ring{{0, -8}, {60, -8}, {60, 158}, {0, 158}})
	d, err := Plan(f, machines["rear"], Params{WorkMps: 2})
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Warnings) != 1 || !strings.Contains(d.Warnings[0], "9 of 9 turns leave the field") {
		t.Errorf("warnings %q; want one of the turns that leave the field", d.Warnings)
	}
	if d.HeadlandNeededM < 12 || d.HeadlandNeededM > 30 {
		t.Errorf("headland needed %g m; want some 20 m", d.HeadlandNeededM)
	}
	wide := box(0, orb.Ring{{0, 0}, {60, 0}, {60, 150}, {0, 150}}, orb.Ring{
		{-20, -d.HeadlandNeededM - 0.01}, {80, -d.HeadlandNeededM - 0.01},
		{80, 150 + d.HeadlandNeededM + 0.01}, {-20, 150 + d.HeadlandNeededM + 0.01},
	})
	if d, err = Plan(wide, machines["rear"], Params{WorkMps: 2}); err != nil || len(d.Warnings) > 0 {
		t.Errorf("with the headland asked for: %v, warnings %q", err, d.Warnings)
	}
}

// ring is a body with a headland all around it, in one zone or in four.
// A turn leaves the field by as far as its outermost point lies from the
// boundary, whatever the boundary's sides are to the rows: flush with the zone's
// in any direction, or a metre off.
func TestTurnsLeaveTheField(t *testing.T) {
	for deg := 0.0; deg < 360; deg += 15 {
		bearing := deg * math.Pi / 180
		s, c := math.Sincos(bearing)
		turned := func(r orb.Ring) orb.Ring { // u along the rows, v right of them
			out := make(orb.Ring, len(r))
			for i, p := range r {
				out[i] = orb.Point{p[1]*s + p[0]*c, p[1]*c - p[0]*s}
			}
			return out
		}
		var flush, wider float64
		for _, besideM := range []float64{0, 1} {
			f := box(bearing, turned(orb.Ring{{0, 0}, {60, 0}, {60, 300}, {0, 300}}),
				turned(orb.Ring{{-besideM, -12}, {60 + besideM, -12}, {60 + besideM, 312}, {-besideM, 312}}))
			d, err := Plan(f, machines["rear"], Params{WorkMps: 2})
			if err != nil {
				t.Fatal(err)
			}
			byM := 0.0
			for _, w := range d.Warnings {
				var turns, of int
				var zone string
				fmt.Sscanf(w, "zone %q: %d of %d turns leave the field, by up to %f m", &zone, &turns, &of, &byM)
			}
			if besideM == 0 {
				flush = byM
			} else {
				wider = byM
			}
		}
		if !(wider > 1 && wider < 15) || flush < wider || flush > wider+1.01 {
			t.Errorf("rows %g°: turns leave the field by %.1f m; with a metre more on either side by %.1f m", deg, flush, wider)
		}
	}
}

func ring(four bool) *field.Field {
	f := box(0, orb.Ring{{18, 18}, {132, 18}, {132, 232}, {18, 232}}, orb.Ring{{0, 0}, {150, 0}, {150, 250}, {0, 250}})
	if !four {
		f.Zones = append(f.Zones, field.Zone{Name: "round", Kind: field.Headland, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{{
			f.Boundary[0][0], f.Zones[0].Polygons[0][0],
		}}})
		return f
	}
	for name, r := range map[string]orb.Ring{
		"south": {{0, 0}, {150, 0}, {150, 18}, {0, 18}, {0, 0}},
		"north": {{0, 232}, {150, 232}, {150, 250}, {0, 250}, {0, 232}},
	} {
		f.Zones = append(f.Zones, field.Zone{Name: name, Kind: field.Headland, RowBearingRad: math.Pi / 2, Polygons: orb.MultiPolygon{{r}}})
	}
	slices.SortFunc(f.Zones[1:], func(a, b field.Zone) int { return strings.Compare(a.Name, b.Name) })
	return f
}

func TestHeadlandPasses(t *testing.T) {
	for _, c := range []struct {
		name string
		four bool
		when HeadlandPasses
		want []int // zone of each pass
	}{
		{"around, last", false, HeadlandLast, append(slices.Repeat([]int{0}, 19), slices.Repeat([]int{1}, 12)...)},
		{"around, first", false, HeadlandFirst, append(slices.Repeat([]int{1}, 12), slices.Repeat([]int{0}, 19)...)},
		{"along rows, last", true, HeadlandLast, append(slices.Repeat([]int{0}, 19), 1, 1, 1, 2, 2, 2)},
		{"none", true, NoHeadland, slices.Repeat([]int{0}, 19)},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Params{WorkMps: 2, Headland: c.when}
			d, err := Plan(ring(c.four), machines["rear"], p)
			if err != nil {
				t.Fatal(err)
			}
			var got []int
			for _, pass := range d.Passes {
				got = append(got, pass.Zone)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("zones of the passes %v; want %v", got, c.want)
			}
			full, _ := p.Complete(machines["rear"])
			checkMotion(t, d.Track, full, 1e-9)
			for _, w := range d.Warnings {
				if !c.four && strings.Contains(w, "the way to zone") {
					t.Errorf("there is a way around the body, yet: %s", w)
				}
			}
		})
	}
}

func TestRoundsLieOneWidthApart(t *testing.T) {
	f, m := ring(false), machines["rear"]
	d, err := Plan(f, m, Params{WorkMps: 2, Headland: HeadlandFirst})
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range d.Passes[:12] {
		want := 3 + 6*float64(i/4)
		middle := orb.Point{(p.From[0] + p.To[0]) / 2, (p.From[1] + p.To[1]) / 2}
		if got := planar.DistanceFrom(f.Boundary, middle); math.Abs(got-want) > 1e-6 {
			t.Errorf("side %d runs %g m from the border; want %g", i+1, got, want)
		}
	}
	// The last side ends where the turn into a side 15 m from the border would
	// begin.
	full, _ := Params{WorkMps: 2}.Complete(m)
	w := newWheel(full.MinRadiusM, full.sharpness())
	want := 15 + w.sideM + w.alongM
	first := d.Passes[0]
	along := (d.Passes[11].To[0]-first.From[0])*(first.To[1]-first.From[1]) - (d.Passes[11].To[1]-first.From[1])*(first.To[0]-first.From[0])
	along = math.Abs(along)/math.Hypot(first.To[0]-first.From[0], first.To[1]-first.From[1]) + 3
	if math.Abs(along-want) > 1e-6 {
		t.Errorf("the last side ends %g m before the first side's border; want %g", along, want)
	}
}

func TestJoinSparesTheCrop(t *testing.T) {
	f := box(0, orb.Ring{{0, 0}, {100, 0}, {100, 100}, {0, 100}}, orb.Ring{{-20, -20}, {120, -20}, {120, 120}, {-20, 120}})
	p, _ := Params{WorkMps: 2}.Complete(machines["rear"])
	pl := newPlanner(f, machines["rear"], p)
	from, to := place{-8, 80, 0}, place{30, 110, math.Pi / 2} // around a corner of the body
	short, _ := pl.shortest(from, to)
	way, _, _ := pl.join(from, straightAfterM, to, p.StraightBeforeM)
	if a, b := pl.offLimitsM(short), pl.offLimitsM(way); !(a > 5) || b != 0 {
		t.Errorf("the shortest way runs %g m over the body, the way chosen %g m; want some and none", a, b)
	}
}

func TestBorderSpeed(t *testing.T) {
	p := Params{WorkMps: 3, BorderMps: 1.5, HeadlandMps: 2}
	d, err := Plan(fields["slanting border"](), machines["rear"], p)
	if err != nil {
		t.Fatal(err)
	}
	// A bar of 6 m crosses a border that climbs 1 in 3.05 over 1.97 m.
	top, crossings := 0.0, 0
	for _, q := range d.Track {
		top = max(top, q.SpeedMps)
		for _, pass := range d.Passes {
			for _, at := range []orb.Point{pass.From, pass.To} {
				other := pass.From
				if at == other {
					other = pass.To
				}
				if math.Abs(q.EastM-at[0]) < 1e-6 && math.Abs(q.NorthM-at[1]) < 1.9 && math.Hypot(q.EastM-other[0], q.NorthM-other[1]) < math.Hypot(at[0]-other[0], at[1]-other[1]) {
					crossings++
					if q.SpeedMps > 1.5+1e-9 {
						t.Fatalf("%g m/s at the border (%.1f, %.1f); want 1.5", q.SpeedMps, q.EastM, q.NorthM)
					}
				}
			}
		}
	}
	if math.Abs(top-3) > 1e-9 || crossings < 2*len(d.Passes) {
		t.Errorf("top speed %g m/s, %d poses at the border; want 3 m/s and some each time", top, crossings)
	}
}

func TestLastPassStaysInTheZone(t *testing.T) {
	f := fields["rectangle"]() // 61 m wide: ten passes of 6 m and 1 m more
	d, err := Plan(f, machines["rear"], Params{WorkMps: 2})
	if err != nil {
		t.Fatal(err)
	}
	if last := d.Passes[len(d.Passes)-1]; len(d.Passes) != 11 || last.From[0] != 58 {
		t.Errorf("%d passes, the last at %g m; want 11, 58 m", len(d.Passes), last.From[0])
	}
}

func TestOutlineReachesTheEndsOfTheBar(t *testing.T) {
	for _, name := range sortedKeys(machines) {
		m := machines[name]
		pose := motion.Pose{EastM: 5, NorthM: 7, HeadingRad: 1.1, ToolHeadingRad: 1.1}
		if m.Mount == sections.Trailed {
			pose.ToolHeadingRad = 0.8
		}
		frame := m.Frame(&pose)
		leftE, leftN, _, _ := m.Line(0, &frame)
		_, _, rightE, rightN := m.Line(len(m.Sections)-1, &frame)
		left, right := math.Inf(1), math.Inf(1)
		outline(&pose, m, barOf(m), func(e, n float64) {
			left, right = min(left, math.Hypot(e-leftE, n-leftN)), min(right, math.Hypot(e-rightE, n-rightN))
		})
		if left > 1e-9 || right > 1e-9 {
			t.Errorf("%s: the outline misses the bar's ends by %g and %g m", name, left, right)
		}
	}
}

func TestTrailedToolIsInLineAtTheBorder(t *testing.T) {
	d, err := Plan(fields["rectangle"](), machines["trailed"], Params{WorkMps: 2})
	if err != nil {
		t.Fatal(err)
	}
	entered := 0
	for _, q := range d.Track {
		if entered < len(d.Passes) && math.Hypot(q.EastM-d.Passes[entered].From[0], q.NorthM-d.Passes[entered].From[1]) < 1e-6 {
			entered++
			if off := math.Abs(q.HeadingRad-q.ToolHeadingRad) * 180 / math.Pi; off > 1 {
				t.Errorf("pass %d: tool %g° off", entered, off)
			}
		}
	}
	if entered != len(d.Passes) {
		t.Errorf("entered %d of %d passes", entered, len(d.Passes))
	}
}

func TestErrors(t *testing.T) {
	good, m := fields["rectangle"](), machines["rear"]
	for _, c := range []struct {
		name string
		f    *field.Field
		m    *sections.Machine
		p    Params
		want string
	}{
		{"no speed", good, m, Params{}, "working speed 0 m/s; expected 0.1 or more"},
		{"negative speed", good, m, Params{WorkMps: -1}, "working speed -1 m/s; expected 0.1 or more"},
		{"NaN speed", good, m, Params{WorkMps: math.NaN()}, "working speed NaN"},
		{"endless speed", good, m, Params{WorkMps: math.Inf(1)}, "working speed +Inf m/s"},
		{"negative turn speed", good, m, Params{WorkMps: 2, TurnMps: -1}, "turn speed -1 m/s"},
		{"negative radius", good, m, Params{WorkMps: 2, MinRadiusM: -3}, "turning radius -3 m"},
		{"negative pause", good, m, Params{WorkMps: 2, PauseS: -3}, "pause -3 s"},
		{"slow steering", good, m, Params{WorkMps: 2, MinRadiusM: 3, SteerTimeS: 9}, "steer faster"},
		{"overlap", good, m, Params{WorkMps: 2, OverlapM: 6}, "overlap 6 m; expected at most 95 % of the bar's width, 5.7 m"},
		{"skip", good, m, Params{WorkMps: 2, SkipPasses: -1}, "-1 passes skipped"},
		{"unknown zone", good, m, Params{WorkMps: 2, Zones: []string{"east"}}, `no body zone "east" in the field; it has "body"`},
		{"no zone", &field.Field{}, m, Params{WorkMps: 2}, "the field has no body zone"},
		{"no headland", good, m, Params{WorkMps: 2, Headland: HeadlandLast}, "no headland zone"},
		{"no sections", good, &sections.Machine{}, Params{WorkMps: 2}, "0 sections"},
		{"trailed fishtail", good, machines["trailed"], Params{WorkMps: 2, Turn: Fishtail}, "jackknifes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Plan(c.f, c.m, c.p)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v; want %q", err, c.want)
			}
		})
	}
}

func TestStraightAndArc(t *testing.T) {
	track := Straight(5e9, 3, 4, math.Pi/6, 2, 100)
	end := track[len(track)-1]
	if end.TimeNs != 55e9 || math.Hypot(end.EastM-53, end.NorthM-(4+100*math.Cos(math.Pi/6))) > 1e-9 {
		t.Errorf("straight ends at %+v", end)
	}
	track = Arc(0, 0, 0, 0, 2, math.Pi*20, 20) // half a circle to the right
	end = track[len(track)-1]
	if math.Hypot(end.EastM-40, end.NorthM) > 1e-7 || math.Abs(end.HeadingRad-math.Pi) > 1e-8 {
		t.Errorf("arc ends at %+v", end)
	}
	cursor := 0
	for ns := int64(0); ns < end.TimeNs; ns += 7_654_321 {
		p := track.At(ns, &cursor)
		if r := math.Hypot(p.EastM-20, p.NorthM); math.Abs(r-20) > 1e-7 {
			t.Fatalf("at %d ns: radius %g", ns, r)
		}
	}
}

func BenchmarkPlan10h(b *testing.B) {
	f := box(0, orb.Ring{{0, 0}, {600, 0}, {600, 700}, {0, 760}}, orb.Ring{{0, -30}, {600, -30}, {600, 730}, {0, 790}})
	m := machineOf(sections.RearRigid, 6, -2.5, 0)
	b.ReportAllocs()
	for b.Loop() {
		d, err := Plan(f, m, Params{WorkMps: 8 / 3.6, SteerSigmaM: 0.02})
		if err != nil {
			b.Fatal(err)
		}
		last := d.Track[len(d.Track)-1]
		b.ReportMetric(float64(last.TimeNs)*1e-9/3600, "hours")
		b.ReportMetric(float64(len(d.Track)), "poses")
	}
}
