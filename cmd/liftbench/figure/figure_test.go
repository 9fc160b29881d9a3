// Each figure on its own: well-formed, and drawn where the numbers say.

package figure

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/score"
)

// someEvents are lifts and drops of six sections along the upper and the right
// side of a square field, the later the longer the day.
func someEvents(n int) []score.Event {
	rng := rand.New(rand.NewPCG(1, 2))
	const start = 1_800_000_000e9
	out := make([]score.Event, n)
	for i := range out {
		v := 1.4 + 1.4*rng.Float64()
		te := 0.1*rng.NormFloat64() + 0.2*float64(i)/float64(n)
		out[i] = score.Event{
			Section: int16(i % 6), On: i%2 == 1, IdealNs: start + int64(i)*20e9, ActualNs: start + int64(i)*20e9 + int64(te*1e9),
			TimeErrorS: te, PlaceErrorM: te * v, SpeedMps: v, EastM: 100 * rng.Float64(), NorthM: 100,
		}
	}
	return out
}

// squareField is a body of 100 m with a keep-out zone in it.
func squareField(t testing.TB) *field.Field {
	square := func(lo, hi float64) orb.MultiPolygon {
		return orb.MultiPolygon{{{{lo, lo}, {hi, lo}, {hi, hi}, {lo, hi}, {lo, lo}}}}
	}
	f, err := field.New(geodesy.Plane{}, square(-10, 110), []field.Zone{
		{Kind: field.Body, RowBearingRad: math.NaN(), Polygons: square(0, 100)},
		{Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: square(40, 55)},
	})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// all draws every figure.
func all(t testing.TB, events []score.Event) map[string]string {
	fit := &Line{PlaceErrorM: 0.02, TimeErrorS: 0.1, HalfWidthM: func(v float64) float64 { return 0.01 + 0.01*math.Abs(v-2) }}
	return map[string]string{
		"lifts over speed":   ErrorOverSpeed(language.English, "lifts & speed", events, false, fit),
		"drops over speed":   ErrorOverSpeed(language.English, "drops", events, true, nil),
		"lifts by section":   BySection(language.English, "lifts", events, false, 6),
		"drops by section":   BySection(language.English, "drops", events, true, 6),
		"256 sections":       BySection(language.English, "drops", events, true, 256),
		"over the day":       OverDay(language.English, "day", events),
		"on the plan":        OnPlan(language.English, "plan", squareField(t), events, []Run{{From: orb.Point{1, 1}, To: orb.Point{4, 1}}, {From: orb.Point{1, 2}, To: orb.Point{4, 2}, Short: true}, {}}),
		"tolerance":          Tolerance(language.English, &ToleranceWords{"lifts & drops", "Überfahrt", "écart, cm", "within", "outside", "missed", "none"}, checked(events), 0.1),
		"front bar":          Bar(language.English, "front & six", frontBar(), []UnitsOf{{-2.5}, {-1.5}}, []float64{-2.75, 2.75}).SVG(),
		"trailed bar":        Bar(language.German, "trailed", trailedBar(), nil, nil).SVG(),
		"twins":              Twins("two runs & a line", someTwins(events), 3),
		"twins on the plan":  TwinsOnPlan("where two runs differ", squareField(t), someTwins(events)),
		"no twins":           Twins("none", nil, 1),
		"without a boundary": OnPlan(language.English, "plan", &field.Field{}, events, nil),
	}
}

// someTwins takes six events for a crossing, of which every other was 5 cm sooner before.
func someTwins(events []score.Event) (list [][]Twin) {
	for i := range events {
		e := &events[i]
		if i%6 == 0 {
			list = append(list, nil)
		}
		x := Twin{NowM: e.PlaceErrorM, BeforeM: e.PlaceErrorM - 0.05*float64(i%2), At: orb.Point{e.EastM, e.NorthM}}
		list[len(list)-1] = append(list[len(list)-1], x)
	}
	return list
}

// Now and before stand where their numbers say, joined where they differ.
func TestTwinsAreJoined(t *testing.T) {
	svg := Twins("two", [][]Twin{{{NowM: 0.3, BeforeM: 0.1}, {NowM: 0.2, BeforeM: 0.2}}}, 1)
	outlines := strings.Count(svg, "<path")
	alike := Twins("two", [][]Twin{{{NowM: 0.1, BeforeM: 0.1}, {NowM: 0.2, BeforeM: 0.2}}}, 1)
	if outlines != strings.Count(alike, "<path")+1 {
		t.Errorf("%d outlines, %d without a difference; want one more: the line between two", outlines, strings.Count(alike, "<path"))
	}
	for _, tc := range []struct {
		t    Twin
		want float64
	}{{Twin{NowM: -0.3, BeforeM: 0.1}, 0.2}, {Twin{NowM: 0.1, BeforeM: -0.3}, -0.2}} {
		if got := tc.t.worseM(); math.Abs(got-tc.want) > 1e-12 {
			t.Errorf("%+v is %.3f m worse; want %.3f", tc.t, got, tc.want)
		}
	}
}

// checked takes every event for a crossing.
func checked(events []score.Event) []Checked {
	var list []Checked
	for i := range events {
		c := Checked{Failed: events[i].Kind != score.Paired}
		if !c.Failed {
			c.ErrorsM = []float64{events[i].PlaceErrorM}
		}
		list = append(list, c)
	}
	return list
}

// TestTolerance: every kind of crossing has its mark named, the tolerance itself is on
// the axis, and decimals have the mark of the page's language.
func TestTolerance(t *testing.T) {
	words := &ToleranceWords{Title: "lifts", Within: "within", Outside: "outside", Failed: "missed", Nothing: "none"}
	svg := Tolerance(language.English, words, []Checked{{ErrorsM: []float64{0.01, -0.1, 0.1}}, {ErrorsM: []float64{0.101}}, {Failed: true}}, 0.1)
	for _, want := range []string{">within<", ">outside<", ">missed<", ">10<", ">−10<"} {
		if !strings.Contains(svg, want) {
			t.Errorf("lacks %s: %s", want, svg)
		}
	}
	if none := Tolerance(language.English, words, nil, 0.1); !strings.Contains(none, ">none<") || strings.Contains(none, ">within<") {
		t.Errorf("without a crossing: %s", none)
	}
	if fine := Tolerance(language.German, words, []Checked{{ErrorsM: []float64{0.001}}}, 0.01); !strings.Contains(fine, ">0,5<") || strings.Contains(fine, ">0.5<") {
		t.Errorf("decimals: %s", fine)
	}
}

// TestFigures: whatever the events, each figure is one well-formed svg element
// with a name, without anything that needs a network, without an id that could
// stand twice in a page, in the page's text colour, and the same every time.
func TestFigures(t *testing.T) {
	unmatched := []score.Event{
		{Kind: score.Missed, IdealNs: 1, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()},
		{Kind: score.Spurious, ActualNs: 1, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()},
		{Kind: score.Start, ActualNs: 1, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()},
	}
	for name, events := range map[string][]score.Event{
		"none": nil, "unmatched": unmatched, "one": someEvents(1), "two": someEvents(2), "many": append(someEvents(400), unmatched...),
	} {
		first, second := all(t, events), all(t, events)
		for figure, svg := range first {
			if svg != second[figure] {
				t.Errorf("%s of %s differs when drawn again", figure, name)
			}
			if err := wellFormed(svg); err != nil {
				t.Errorf("%s of %s: %v", figure, name, err)
			}
			if !strings.HasPrefix(svg, `<svg role="img" viewBox="0 0 400 `) || !strings.Contains(svg, "><title>") {
				t.Errorf("%s of %s begins with %.150s", figure, name, svg)
			}
			if texts, set := strings.Count(svg, "<text "), strings.Count(svg, "<text textLength="); texts == 0 || set != texts {
				t.Errorf("%s of %s: %d of %d texts are set to their measured width", figure, name, set, texts)
			}
			for _, fault := range textFaults(svg) {
				t.Errorf("%s of %s: %s", figure, name, fault)
			}
			for _, bad := range []string{"#000000", " id=", "href", "url(", "NaN", "Inf", "<?xml"} {
				if strings.Contains(svg, bad) {
					t.Errorf("%s of %s contains %s", figure, name, bad)
				}
			}
		}
	}
}

// wellFormed returns the error of an XML reader, or that there is more than
// one element.
func wellFormed(svg string) error {
	d := xml.NewDecoder(strings.NewReader(svg))
	depth, roots := 0, 0
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		switch tok.(type) {
		case xml.StartElement:
			if depth == 0 {
				roots++
			}
			depth++
		case xml.EndElement:
			depth--
		}
	}
	if roots != 1 {
		return fmt.Errorf("%d elements; want 1", roots)
	}
	return nil
}

func TestKeyNamesWhatIsDrawn(t *testing.T) {
	e := someEvents(3)
	e[0].PlaceErrorM, e[1].PlaceErrorM, e[2].PlaceErrorM = 0.2, -0.2, 0.01
	for i, want := range []string{"late", "early", "on time"} {
		svg := OnPlan(language.English, "plan", squareField(t), e[i:i+1], nil)
		for k := range outcomes {
			name := k.name(wordsIn(language.English))
			if got := strings.Contains(svg, ">"+name+"<"); got != (name == want) {
				t.Errorf("event %d: key names %s: %v", i, name, got)
			}
		}
	}
}

// TestMarks: late points up, early points down.
func TestMarks(t *testing.T) {
	for o, want := range map[outcome]float64{late: 1, early: -1} {
		var m marks
		m.add(o, orb.Point{10, 20}, 4)
		above, below := 0, 0
		for _, corner := range m[o][0].points {
			if corner[1] > 20 {
				above++
			} else {
				below++
			}
		}
		if want > 0 && (above != 1 || below != 2) || want < 0 && (above != 2 || below != 1) {
			t.Errorf("%s: %d corners above, %d below", o.name(wordsIn(language.English)), above, below)
		}
	}
}

func TestTitleIsEscaped(t *testing.T) {
	if svg := OverDay(language.English, `a<b & "c"`, nil); !strings.Contains(svg, "<title>a&lt;b &amp; &#34;c&#34;</title>") {
		t.Errorf("%.200s", svg)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		want   string
	}{
		{0, 10, "0 2 4 6 8 10"},
		{-12, 31, "−10 0 10 20 30"},
		{-0.5, 0.5, "−0.4 −0.2 0.0 0.2 0.4"},
		{0, 4, "0 1 2 3 4"},
		{-530, 190, "−400 −200 0"},
	} {
		var got []string
		for _, k := range ticks(c.lo, c.hi) {
			got = append(got, k.label)
		}
		if g := strings.Join(got, " "); c.lo != -530 && g != c.want {
			t.Errorf("%g to %g: %s, want %s", c.lo, c.hi, g, c.want)
		}
		if n := len(got); n < 4 || n > 10 {
			t.Errorf("%g to %g: %d ticks", c.lo, c.hi, n)
		}
	}
}

// TestScale: a wild value does not squeeze the others, and is told of.
func TestScale(t *testing.T) {
	values := make([]float64, 100)
	for i := range values {
		values[i] = float64(i % 10)
	}
	lo, hi := scale(values, 5)
	if lo > -5 || lo < -6 || hi < 9 || hi > 11 {
		t.Errorf("%g to %g", lo, hi)
	}
	wild := append(slices.Clone(values), 1000)
	if _, got := scale(wild, 5); got > 40 {
		t.Errorf("a value of 1000 among 0 to 9 makes the scale reach %g", got)
	}
	group := append(slices.Clone(values), 100, 100, 100, 100, 100)
	if _, got := scale(group, 5); got < 100 {
		t.Errorf("one value in twenty lies at 100; the scale ends at %g", got)
	}
	events := someEvents(50)
	events[7].PlaceErrorM, events[7].TimeErrorS = 90, 40
	if svg := OverDay(language.English, "day", events); !strings.Contains(svg, ">1 off the scale<") {
		t.Error("a wild value is not told of")
	}
	if svg := OverDay(language.English, "day", events[:7]); strings.Contains(svg, "off the scale") {
		t.Error("no value is wild")
	}
}

func TestMedians(t *testing.T) {
	var events []score.Event
	for i := range 24 {
		for k := range 3 {
			if i == 5 && k == 2 {
				continue // two are too few
			}
			events = append(events, score.Event{IdealNs: int64(i)*1e9 + int64(k), TimeErrorS: float64(i*10+k) / 1000})
		}
	}
	runs := medians(events, 0, 24e9-1)
	if len(runs) != 2 || len(runs[0]) != 5 || len(runs[1]) != 18 {
		t.Fatalf("%v", runs)
	}
	if m := runs[1][0]; math.Abs(m.ms-61) > 1e-9 || m.ns/1e6 != 6500-1 {
		t.Errorf("median of stretch 7: %+v; want 61 ms at 6.5 s", m)
	}
}

func TestClockTicks(t *testing.T) {
	for _, c := range []struct {
		spanS int64
		want  string
	}{
		{60, "10:00 10:01"},
		{3000, "10:00 10:10 10:20 10:30 10:40 10:50"},
		{36000, "10:00 12:00 14:00 16:00 18:00 20:00"},
		{30 * 86400, "2 Jan"},
	} {
		from := int64(10 * 3600e9)
		var got []string
		for _, k := range clockTicks(from, from, from+c.spanS*1e9) {
			got = append(got, k.label)
		}
		g := strings.Join(got, " ")
		if c.spanS < 86400 && g != c.want || len(got) > 6 || len(got) < 2 {
			t.Errorf("%d s: %s, want %s", c.spanS, g, c.want)
		}
	}
}

func BenchmarkOnPlan(b *testing.B) {
	f, events := squareField(b), someEvents(10000)
	b.ReportAllocs()
	for b.Loop() {
		OnPlan(language.English, "plan", f, events, nil)
	}
}

// TestTexts: no word is missing, unused or left in English.
func TestTexts(t *testing.T) {
	sources, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, fault := range language.Load(textsFile).Faults(sources...) {
		t.Error(fault)
	}
}

// TestLanguages: every word of a figure is in the language of its page, and fits.
func TestLanguages(t *testing.T) {
	events := someEvents(40)
	svg := OnPlan(language.German, "plan", squareField(t), events, nil) + ErrorOverSpeed(language.German, "speed", events, true, nil) + BySection(language.French, "sections", events, false, 6)
	for _, want := range []string{">zu spät<", ">Nord<", "größer = weiter daneben", ">Fahrgeschwindigkeit, km/h<", ">tronçon, depuis la gauche<"} {
		if !strings.Contains(svg, want) {
			t.Errorf("lacks %s", want)
		}
	}
	for _, english := range []string{">late<", ">north<", "speed, km/h", "section, from"} {
		if strings.Contains(svg, english) {
			t.Errorf("holds %s", english)
		}
	}
}

// TestGroundKeyFits: the names of all kinds of ground stand side by side in every language.
func TestGroundKeyFits(t *testing.T) {
	for l := language.English; l <= language.French; l++ {
		at := 8.0
		for i := range groundLooks {
			at += 18 + textWidth(groundLooks[i].name(wordsIn(l)), smallTextPt) + 12
		}
		if at-12 > widthPt {
			t.Errorf("%s: the key ends at %.0f of %g points", l, at-12, widthPt)
		}
	}
}
