package figure

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections"
)

// frontBar is a front hoe of six sections of 1 m.
func frontBar() *sections.Machine {
	m := &sections.Machine{Mount: sections.FrontRigid, AntennaXM: 1.2, AntennaYM: 0.3}
	for i := range 6 {
		m.Sections = append(m.Sections, sections.Section{XM: 3.6, YM: float64(i) - 2.5, WidthM: 1})
	}
	return m
}

// trailedBar is a trailed hoe of three sections, the middle one behind the others.
func trailedBar() *sections.Machine {
	return &sections.Machine{Mount: sections.Trailed, AntennaXM: -0.2, AntennaYM: -0.4, HitchBehindM: 1, DrawbarM: 5,
		Sections: []sections.Section{{XM: -6, YM: -3, WidthM: 3}, {XM: -6.5, YM: 0, WidthM: 3}, {XM: -6, YM: 3, WidthM: 3}}}
}

// whereIs returns where a text stands on the page: x to the right, y down.
func whereIs(t *testing.T, svg, words string) (x, y float64) {
	t.Helper()
	m := regexp.MustCompile(`<text [^>]*x="([-0-9.]+)" y="([-0-9.]+)"[^>]*>` + regexp.QuoteMeta(words) + `<`).FindStringSubmatch(svg)
	if m == nil {
		t.Fatalf("no text %q in %s", words, svg)
	}
	x, _ = strconv.ParseFloat(m[1], 64)
	y, _ = strconv.ParseFloat(m[2], 64)
	return x, y
}

// TestBar: sections are numbered from the left, a front bar is above the antenna and a trailed one below it, and what
// is measured is said with its side.
func TestBar(t *testing.T) {
	front := Bar(language.English, "front", frontBar(), nil, nil).SVG()
	lastX := 0.0
	for i := range 6 {
		x, _ := whereIs(t, front, strconv.Itoa(i+1))
		if x <= lastX {
			t.Errorf("section %d is not right of section %d", i+1, i)
		}
		lastX = x
	}
	_, bar := whereIs(t, front, "1")
	if _, antenna := whereIs(t, front, "antenna"); bar >= antenna {
		t.Errorf("the front bar is %g down the page, the antenna %g", bar, antenna)
	}
	for _, want := range []string{"bar 3.60 m ahead of the rear axle", "antenna 1.20 m ahead of it, 0.30 m right", ">6.00 m<"} {
		if !strings.Contains(front, want) {
			t.Errorf("no %q", want)
		}
	}
	trailed := Bar(language.German, "hinten", trailedBar(), nil, nil).SVG()
	_, outer := whereIs(t, trailed, "1")
	_, middle := whereIs(t, trailed, "2")
	if _, antenna := whereIs(t, trailed, "Antenne"); outer <= antenna || middle <= outer {
		t.Errorf("down the page: antenna %g, outer sections %g, the middle one, which is behind, %g", antenna, outer, middle)
	}
	for _, want := range []string{"Balken 6,00 m hinter der Hinterachse", "Antenne 0,20 m dahinter, 0,40 m links", ">9,00 m<"} {
		if !strings.Contains(trailed, want) {
			t.Errorf("no %q", want)
		}
	}
}
