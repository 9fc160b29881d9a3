// What is drawn on a sheet, as SVG and as PNG.

package figure

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/golang/freetype/truetype"
	"github.com/paulmach/orb"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/math/fixed"

	"liftbench/cmd/liftbench/figure/pngfile"
	"liftbench/cmd/liftbench/language"
)

// TestSVG: one of each, read against the attributes that SVG 1.1 gives them
// (W3C, chapters 8, 10 and 11). y counts from the top down.
func TestSVG(t *testing.T) {
	s := newSheet(wordsIn(language.English), 50)
	var outline path
	outline.line(orb.Point{1, 2}, orb.Point{3.456, 4.004})
	outline.ring(orb.Point{0, 0}, orb.Point{10, 0}, orb.Point{-0.001, 10})
	outline.circle(orb.Point{20, 20}, 2.5)
	s.stroke(pen{color: lineColor, widthPt: 0.5, dashes: []float64{3, 1.5}}, outline)
	s.fill(faded(workColor, 0x33), outline[1:2])
	s.fill(lineColor, outline[1:2])
	s.write(small("a<b", orb.Point{30, 10}, endsAt, bottomAt))
	s.write(text{words: "up", at: orb.Point{5, 25}, sizePt: 10, color: missColor, across: middleAt, upward: topAt, turned: true})
	s.write(small("", orb.Point{1, 1}, startsAt, topAt))
	want := `<svg role="img" viewBox="0 0 400 50" xmlns="http://www.w3.org/2000/svg" fill="currentColor" font-family="Liberation Sans, Arial, Helvetica, sans-serif"><title>of &#34;all&#34;</title>
<path d="M1 48L3.46 46M0 50L10 50L0 40zM17.5 30a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0 -5 0z" fill="none" stroke="currentColor" stroke-width="0.5" stroke-dasharray="3 1.5"/>
<path d="M0 50L10 50L0 40z" fill="#0072B2" fill-opacity="0.2"/>
<path d="M0 50L10 50L0 40z"/>
<text textLength="20.36" lengthAdjust="spacingAndGlyphs" x="30" y="37.46" text-anchor="end" font-size="12">a&lt;b</text>
<text textLength="11.12" lengthAdjust="spacingAndGlyphs" x="14.05" y="25" text-anchor="middle" font-size="10" transform="rotate(-90 14.05 25)" fill="#CC79A7">up</text>
</svg>`
	if got := s.element(`of "all"`); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// textElement is what a figure says of a text.
var textElement = regexp.MustCompile(`<text textLength="([\d.]+)" lengthAdjust="spacingAndGlyphs" x="([-\d.]+)" y="([-\d.]+)"( text-anchor="(middle|end)")? font-size="([\d.]+)"( transform="rotate)?[^>]*>([^<]*)<`)

// placed is where a text lies, y from the top down.
type placed struct {
	words string
	orb.Bound
}

// textsOf returns where each text of a figure lies, from the top of its letters to
// the depth below their line.
func textsOf(svg string) []placed {
	var out []placed
	for _, m := range textElement.FindAllStringSubmatch(svg, -1) {
		number := func(i int) float64 { v, _ := strconv.ParseFloat(m[i], 64); return v }
		length, x, y, size := number(1), number(2), number(3), number(6)
		before := map[string]float64{"": 0, "middle": 0.5, "end": 1}[m[5]] * length
		b := orb.Bound{Min: orb.Point{x - before, y - capital*size}, Max: orb.Point{x - before + length, y + descent*size}}
		if m[7] != "" { // turned
			b = orb.Bound{Min: orb.Point{x - capital*size, y + before - length}, Max: orb.Point{x + descent*size, y + before}}
		}
		out = append(out, placed{m[8], b})
	}
	return out
}

// textFaults names each text of a figure that sticks out of it or lies on
// another.
func textFaults(svg string) []string {
	var height float64
	fmt.Sscanf(svg[strings.Index(svg, "viewBox"):], `viewBox="0 0 400 %f"`, &height)
	texts := textsOf(svg)
	var faults []string
	if n := strings.Count(svg, "<text "); n != len(texts) {
		faults = append(faults, fmt.Sprintf("%d of %d texts are written as expected", len(texts), n))
	}
	for i, a := range texts {
		const hundredth = 0.011 // the numbers are rounded
		if a.Min[0] < -hundredth || a.Min[1] < -hundredth || a.Max[0] > widthPt+hundredth || a.Max[1] > height+hundredth {
			faults = append(faults, fmt.Sprintf("%q lies at %.1f, outside of 400 by %g", a.words, a.Bound, height))
		}
		for _, b := range texts[:i] {
			if a.Min[0] < b.Max[0] && b.Min[0] < a.Max[0] && a.Min[1] < b.Max[1] && b.Min[1] < a.Max[1] {
				faults = append(faults, fmt.Sprintf("%q lies on %q", a.words, b.words))
			}
		}
	}
	return faults
}

// pictureOf returns a sheet as a picture.
func pictureOf(t *testing.T, s *sheet) image.Image {
	t.Helper()
	var b, again bytes.Buffer
	if err := s.writePNG(&b); err != nil {
		t.Fatal(err)
	}
	if err := s.writePNG(&again); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("not the same twice, %v", err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// inked returns where a picture is not white, in points from its lower left
// corner, and what share of that bound is black.
func inked(img image.Image) (orb.Bound, float64) {
	var b image.Rectangle
	sum := 0.0
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			if _, g, _, _ := img.At(x, y).RGBA(); g != 0xFFFF {
				b = b.Union(image.Rect(x, y, x+1, y+1))
				sum += 1 - float64(g)/0xFFFF
			}
		}
	}
	pt := func(x, y int) orb.Point {
		return orb.Point{float64(x) / pixelsPerPt, float64(img.Bounds().Dy()-y) / pixelsPerPt}
	}
	return orb.Bound{Min: pt(b.Min.X, b.Max.Y), Max: pt(b.Max.X, b.Min.Y)}, sum / float64(b.Dx()*b.Dy())
}

// TestPicture: areas, lines and texts stand where the SVG has them.
func TestPicture(t *testing.T) {
	square := func(lo, hi float64) path {
		var p path
		p.ring(orb.Point{lo, lo}, orb.Point{hi, lo}, orb.Point{hi, hi}, orb.Point{lo, hi})
		return p
	}
	var disc path
	disc.circle(orb.Point{30, 30}, 10)
	box := func(x0, y0, x1, y1 float64) orb.Bound {
		return orb.Bound{Min: orb.Point{x0, y0}, Max: orb.Point{x1, y1}}
	}
	words := "Hill"
	long := textWidth(words, 20)
	for _, c := range []struct {
		name  string
		draw  func(s *sheet)
		want  orb.Bound
		share [2]float64 // least and most of the bound that is black
	}{
		{"area", func(s *sheet) { s.fill(lineColor, square(20, 40)) }, box(20, 20, 40, 40), [2]float64{0.95, 1}},
		{"half covered", func(s *sheet) { s.fill(faded(lineColor, 0x80), square(20, 40)) }, box(20, 20, 40, 40), [2]float64{0.48, 0.51}},
		{"disc", func(s *sheet) { s.fill(lineColor, disc) }, box(20, 20, 40, 40), [2]float64{0.75, 0.79}}, // π/4
		{"outline", func(s *sheet) { s.stroke(pen{color: lineColor, widthPt: 2}, square(21, 39)) }, box(20, 20, 40, 40), [2]float64{0.34, 0.37}},
		{"ring", func(s *sheet) { s.stroke(pen{color: lineColor, widthPt: 2}, disc) }, box(19, 19, 41, 41), [2]float64{0.24, 0.28}},
		{"line", func(s *sheet) { s.line(pen{color: lineColor, widthPt: 2}, orb.Point{10, 20}, orb.Point{50, 20}) }, box(10, 19, 50, 21), [2]float64{0.75, 1}},
		{"dashes", func(s *sheet) {
			s.line(pen{color: lineColor, widthPt: 2, dashes: []float64{3, 3}}, orb.Point{10, 20}, orb.Point{49, 20})
		}, box(10, 19, 49, 21), [2]float64{0.4, 0.56}},
		{"text", func(s *sheet) {
			s.write(text{words: words, at: orb.Point{100, 30}, sizePt: 20, across: startsAt, color: lineColor})
		},
			box(101.5, 30, 100+long-1.5, 30+0.75*20), [2]float64{0.25, 0.6}},
		{"text that ends there", func(s *sheet) {
			s.write(text{words: words, at: orb.Point{100, 30}, sizePt: 20, across: endsAt, color: lineColor})
		},
			box(101.5-long, 30, 98.5, 30+0.75*20), [2]float64{0.25, 0.6}},
		{"text around it, turned", func(s *sheet) {
			s.write(text{words: words, at: orb.Point{100, 40}, sizePt: 20, across: middleAt, color: lineColor, turned: true})
		},
			box(100-0.75*20, 41.5-long/2, 100, 38.5+long/2), [2]float64{0.25, 0.6}},
		{"text of unknown letters", func(s *sheet) { s.write(small("\U0010FFFD", orb.Point{100, 30}, startsAt, bottomAt)) }, box(100, 32, 112, 42), [2]float64{0.1, 0.9}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSheet(wordsIn(language.English), 80)
			c.draw(s)
			got, share := inked(pictureOf(t, s))
			near := 0.8
			if strings.HasPrefix(c.name, "text") {
				near = 2 // letters leave room around them
			}
			for i := range 2 {
				if d := max(got.Min[i]-c.want.Min[i], c.want.Min[i]-got.Min[i], got.Max[i]-c.want.Max[i], c.want.Max[i]-got.Max[i]); !(d <= near) {
					t.Errorf("drawn at %.2f, want %.2f", got, c.want)
				}
			}
			if !(share >= c.share[0] && share <= c.share[1]) {
				t.Errorf("%.2f of it is black, want %.2f", share, c.share)
			}
		})
	}
}

// TestCut: dashes go on around a corner, and the last may be short.
func TestCut(t *testing.T) {
	got := cut([]orb.Point{{0, 0}, {4, 0}, {4, 7}}, []float64{3, 2})
	want := [][]orb.Point{{{0, 0}, {3, 0}}, {{4, 1}, {4, 4}}, {{4, 6}, {4, 7}}}
	if !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestLetterWidths: the table is that of Liberation Sans (Debian fonts-liberation),
// and Go Regular, in which pictures are set, is at most a twentieth wider or narrower.
func TestLetterWidths(t *testing.T) {
	units := func(f *truetype.Font, r rune) (int, bool) {
		i := f.Index(r)
		return int(f.HMetric(fixed.Int26_6(f.FUnitsPerEm()), i).AdvanceWidth) * unitsPerEm / int(f.FUnitsPerEm()), i != 0
	}
	goFont, err := truetype.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	sum, ours := 0, 0
	for r := ' '; r <= '~'; r++ {
		n, _ := units(goFont, r)
		sum += n
		ours += letterUnits(r)
	}
	if sum*20 > ours*21 || sum*20 < ours*19 {
		t.Errorf("Go Regular's letters are %d units wide together, ours %d", sum, ours)
	}

	files, err := filepath.Glob("/usr/share/fonts/truetype/liberation*/LiberationSans-Regular.ttf")
	if err != nil || len(files) == 0 {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") != "" {
			t.Fatal("missing: Liberation Sans (Debian fonts-liberation)")
		}
		t.Skip("missing: Liberation Sans (Debian fonts-liberation)")
	}
	data, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	font, err := truetype.Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for r := rune(0x20); r <= 0x2212; r++ {
		if want, ok := units(font, r); ok && (r <= '~' || 0xA0 <= r && r <= 0xFF || r == '−') {
			seen++
			if got := letterUnits(r); got != want {
				t.Errorf("%q is %d units wide, in the font %d", r, got, want)
			}
		}
	}
	if seen < 190 {
		t.Errorf("the font has %d of our letters", seen)
	}
}

// TestPNG: image/png reads back every pixel.
func TestPNG(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 37, 23))
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range img.Pix {
		img.Pix[i] = byte(rng.Uint32())
		if i%4 == 3 {
			img.Pix[i] = 0xFF
		}
	}
	var b bytes.Buffer
	if err := pngfile.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(&b)
	if err != nil || got.Bounds() != img.Bounds() || b.Len() > 0 {
		t.Fatalf("%v, %v, %d bytes left", got, err, b.Len())
	}
	for y := range 23 {
		for x := range 37 {
			if rgba(got.At(x, y)) != rgba(img.At(x, y)) {
				t.Fatalf("pixel %d, %d is %v, want %v", x, y, got.At(x, y), img.At(x, y))
			}
		}
	}
}

func rgba(c color.Color) [4]uint32 {
	r, g, b, a := c.RGBA()
	return [4]uint32{r, g, b, a}
}
