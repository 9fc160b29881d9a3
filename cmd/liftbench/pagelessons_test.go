// What each lesson says comes true when its control is turned.

package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	figures "liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/web"
	"liftbench/sections/score"
)

// lessonRun runs a lesson's setting with some controls turned.
func lessonRun(t *testing.T, b *page.Bench, key string, turned map[string]any) *web.Drive {
	t.Helper()
	set := map[string]any{}
	for i := range page.Lessons {
		if page.Lessons[i].Key != key {
			continue
		}
		for k, v := range page.Lessons[i].Set {
			set[k] = v
		}
	}
	if len(set) == 0 {
		t.Fatalf("no lesson %q that sets anything", key)
	}
	for k, v := range turned {
		set[k] = v
	}
	d, err := b.Run(context.Background(), &web.Ask{Set: set})
	if err != nil {
		t.Fatal(err)
	}
	s := d.Outcome.Score
	if s.Lift.Missed+s.Lift.Spurious+s.Drop.Missed+s.Drop.Spurious > 2 || s.Lift.Paired < 8 {
		t.Fatalf("%s %v: lifts %+v, drops %+v", key, turned, s.Lift, s.Drop)
	}
	return d
}

// mean is that of the paired transitions of one way.
func mean(d *web.Drive, on bool, of func(*score.Event) float64) float64 {
	sum, n := 0.0, 0.0
	for i := range d.Outcome.Score.Events {
		if e := &d.Outcome.Score.Events[i]; e.Kind == score.Paired && e.On == on {
			sum += of(e)
			n++
		}
	}
	return sum / n
}

func timeError(e *score.Event) float64  { return e.TimeErrorS }
func placeError(e *score.Event) float64 { return e.PlaceErrorM }

type turned = map[string]any

// Each lesson's sentences, computed.

func TestLessonLateLift(t *testing.T) {
	b := newTestBench(t)
	lift := b.Base.Machine.Params()
	late := float64(lift.LiftTimeNs(6)) * 1e-9 // six together at a square border
	place := map[float64]float64{}
	for _, kmh := range []float64{4, 6, 8, 12, 16} {
		d := lessonRun(t, b, "late-lift", turned{"speed_kmh": kmh, "noise_cm": 0.0, "headland_deg": 0.0})
		if got := mean(d, false, timeError); math.Abs(got-late) > 0.01 {
			t.Errorf("%g km/h: lifts %.3f s late; want %.3f at any speed", kmh, got, late)
		}
		place[kmh] = mean(d, false, placeError)
		if want := kmh / 3.6 * late; math.Abs(place[kmh]-want) > 0.05*want {
			t.Errorf("%g km/h: %.3f m; want speed × time = %.3f", kmh, place[kmh], want)
		}
	}
	if r := place[8] / place[4]; math.Abs(r-2) > 0.05 {
		t.Errorf("twice the speed hoes %.2f times as far", r)
	}
	d := lessonRun(t, b, "late-lift", turned{"lift_lead_ms": "auto"})
	if got := mean(d, false, placeError); math.Abs(got) > 0.05 {
		t.Errorf("with the lead on auto %.3f m", got)
	}
}

// Over speed the timing error is the slope, the geometry error the height at
// standstill; each setting mends its own.
func TestLessonTimeOrDistance(t *testing.T) {
	b := newTestBench(t)
	fit := func(more turned) (slopeS, heightM float64) {
		var v, e []float64
		for _, kmh := range []float64{4, 8, 12} {
			set := turned{"speed_kmh": kmh}
			for k, x := range more {
				set[k] = x
			}
			d := lessonRun(t, b, "time-or-distance", set)
			v = append(v, mean(d, false, func(e *score.Event) float64 { return e.SpeedMps }))
			e = append(e, mean(d, false, placeError))
		}
		slopeS = (e[2] - e[0]) / (v[2] - v[0])
		return slopeS, e[0] - v[0]*slopeS
	}
	for _, c := range []struct {
		name           string
		more           turned
		wantS, withinS float64
		wantM, withinM float64
	}{
		{"both", nil, 0.15, 0.02, 0.20, 0.04},
		{"told right", turned{"latency_told_ms": 250.0}, 0, 0.02, 0.20, 0.04},
		{"antenna right", turned{"antenna_wrong_cm": 0.0}, 0.15, 0.02, 0, 0.04},
		{"both right", turned{"latency_told_ms": 250.0, "antenna_wrong_cm": 0.0}, 0, 0.02, 0, 0.04},
	} {
		s, m := fit(c.more)
		if math.Abs(s-c.wantS) > c.withinS || math.Abs(m-c.wantM) > c.withinM {
			t.Errorf("%s: slope %.3f s, height %.3f m; want %g and %g", c.name, s, m, c.wantS, c.wantM)
		}
	}
}

// Overrun and miss at the slanting border are w²·tan α / 4 for each section
// and crossing with the even rule; half the width halves the sum.
func TestLessonOneOrTwelve(t *testing.T) {
	b := newTestBench(t)
	cost := func(more turned) float64 {
		more["noise_cm"] = 0.0
		a := lessonRun(t, b, "one-or-twelve", more).Outcome.Score.Area
		return a.OverrunM2 + a.MissM2
	}
	const passes, bar = 8, 6.0
	slant := math.Tan(30 * math.Pi / 180)
	for _, w := range []float64{6, 3, 2, 1, 0.5} {
		square := cost(turned{"section_m": w, "headland_deg": 0.0}) // what lead and soil cost without any slant
		got := cost(turned{"section_m": w}) - square
		want := passes * bar / w * w * w * slant / 4
		if math.Abs(got-want) > 0.1*want+0.4 {
			t.Errorf("sections of %g m: %.2f m² more than at a square border; want %.2f", w, got, want)
		}
	}
}

func TestLessonWholeBar(t *testing.T) {
	b := newTestBench(t)
	late := func(more turned) float64 { return mean(lessonRun(t, b, "whole-bar", more), false, timeError) }
	last := math.Inf(-1)
	for _, pump := range []float64{40, 25, 15, 8} {
		got := late(turned{"pump_l_min": pump})
		if got < last-0.001 {
			t.Errorf("pump of %g L/min: lifts %.3f s late, with more oil %.3f", pump, got, last)
		}
		last = got
	}
	if start := late(nil); start < 0.1 {
		t.Errorf("to begin with lifts are %.3f s late; want it to be seen", start)
	}
	if aware := late(turned{"flow_aware": true}); math.Abs(aware) > 0.02 {
		t.Errorf("a lead that counts the sections: %.3f s late", aware)
	}
}

// The lesson starts from the drop lead of a warm afternoon.
func TestLessonColdMorning(t *testing.T) {
	b := newTestBench(t)
	warm := b.Base.Machine.Params()
	var start turned
	for i := range page.Lessons {
		if page.Lessons[i].Key == "cold-morning" {
			start = page.Lessons[i].Set
		}
	}
	if ms := start["drop_lead_ms"].(float64); math.Abs(ms-float64(warm.DropTimeNs())*1e-6) > 2.5 {
		t.Errorf("drop lead %g ms; the warm machine needs %.0f", ms, float64(warm.DropTimeNs())*1e-6)
	}
	lastDrop, lastMiss := math.Inf(-1), math.Inf(-1)
	for _, oil := range []float64{45, 20, 10, 0, -5} {
		d := lessonRun(t, b, "cold-morning", turned{"oil_c": oil})
		drop, miss := mean(d, true, timeError), d.Outcome.Score.Area.MissM2
		if drop <= lastDrop || miss <= lastMiss {
			t.Errorf("oil of %g °C: drops %.3f s late, %.1f m² missed; warmer %.3f s, %.1f m²", oil, drop, miss, lastDrop, lastMiss)
		}
		lastDrop, lastMiss = drop, miss
		if lift := mean(d, false, timeError); math.Abs(lift) > 0.02 {
			t.Errorf("oil of %g °C: lifts %.3f s late; want them hardly later", oil, lift)
		}
	}
	if d := lessonRun(t, b, "cold-morning", nil); mean(d, true, timeError) < 0.3 {
		t.Errorf("to begin with drops are %.3f s late; want it to be seen", mean(d, true, timeError))
	}
}

func TestLessonOneOrTenHertz(t *testing.T) {
	b := newTestBench(t)
	worst := func(more turned) float64 {
		s := lessonRun(t, b, "one-or-ten-hertz", more).Outcome.Score
		return max(s.Lift.PlaceErrorM.MaxAbs, s.Drop.PlaceErrorM.MaxAbs)
	}
	one, ten := worst(nil), worst(turned{"rate_hz": 10.0})
	if one < 2*ten {
		t.Errorf("worst %.3f m at 1 Hz, %.3f m at 10 Hz; want at least twice as much", one, ten)
	}
	d := lessonRun(t, b, "one-or-ten-hertz", nil)
	if m := mean(d, false, placeError); math.Abs(m) > one/3 {
		t.Errorf("at 1 Hz the mean is %.3f m, the worst %.3f m; the lesson says to watch the worst", m, one)
	}
}

func TestLessonAntenna(t *testing.T) {
	b := newTestBench(t)
	for _, kmh := range []float64{3, 6, 10, 14} {
		d := lessonRun(t, b, "antenna-30", turned{"speed_kmh": kmh, "noise_cm": 0.0})
		for _, on := range []bool{false, true} {
			if got := mean(d, on, placeError); math.Abs(got-0.30) > 0.04 {
				t.Errorf("%g km/h, on=%v: %.3f m late; want 0.30 at any speed", kmh, on, got)
			}
		}
	}
	d := lessonRun(t, b, "antenna-30", turned{"antenna_wrong_cm": 0.0})
	if got := mean(d, false, placeError); math.Abs(got) > 0.04 {
		t.Errorf("measured right: %.3f m", got)
	}
}

func TestLessonHeadlandRows(t *testing.T) {
	b := newTestBench(t)
	body := lessonRun(t, b, "headland-rows", nil).Outcome.Score
	both := lessonRun(t, b, "headland-rows", turned{"work_headland": true}).Outcome.Score
	if more := both.WorkedOnceM2 - body.WorkedOnceM2; more < 0.9*(both.ZoneM2-body.WorkedOnceM2) {
		t.Errorf("%.0f m² more worked with the headland's rows, of %.0f m² that the body leaves", more, both.ZoneM2-body.WorkedOnceM2)
	}
	if across := both.Area.AcrossRowsM2; across > 0.002*both.Area.WorkedM2 {
		t.Errorf("%.1f m² hoed across the rows of %.0f m²", across, both.Area.WorkedM2)
	}
}

// TestLessonsAreSound: three sentences each, of settings and controls that
// there are.
func TestLessonsAreSound(t *testing.T) {
	b := newTestBench(t)
	has := func(key string) *web.Control {
		for i := range b.Controls {
			if b.Controls[i].Key == key {
				return &b.Controls[i].Control
			}
		}
		return nil
	}
	if len(page.Lessons) != 8 {
		t.Errorf("%d lessons; want 8", len(page.Lessons))
	}
	for _, l := range page.Lessons {
		for _, s := range l.Text {
			if !strings.HasSuffix(s, ".") || strings.Contains(s, ". ") {
				t.Errorf("%s: %q is not one sentence", l.Key, s)
			}
		}
		if len(l.Turn) == 0 || l.Watch == "" {
			t.Errorf("%s: nothing to turn or to watch", l.Key)
		}
		for _, key := range l.Turn {
			if has(key) == nil {
				t.Errorf("%s turns %q, which is no control", l.Key, key)
			}
		}
		for key, v := range l.Set {
			c := has(key)
			if c == nil {
				t.Errorf("%s sets %q, which is no control", l.Key, key)
				continue
			}
			if _, err := c.Take(v); err != nil {
				t.Errorf("%s: %v", l.Key, err)
			}
		}
	}
}

// TestOneTolerance: what counts as on time on the page does so in the reports.
func TestOneTolerance(t *testing.T) {
	data, err := os.ReadFile("web/page/mark.js")
	if err != nil {
		t.Fatal(err)
	}
	if want := fmt.Sprintf("export const ON_TIME_M = %g;", figures.OnTimeM); !strings.Contains(string(data), want) {
		t.Errorf("mark.js lacks %q", want)
	}
}
