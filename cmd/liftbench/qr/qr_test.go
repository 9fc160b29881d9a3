// Codes beside another decoder, from the text that a terminal shows.

package qr

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"liftbench/sim/campaign"
)

// picture paints what a terminal shows: a block is light, the rest dark, six points a module.
func picture(text string) image.Image {
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	const points = 6
	img := image.NewGray(image.Rect(0, 0, points*len([]rune(lines[0])), 2*points*len(lines)))
	for y, line := range lines {
		for x, r := range []rune(line) {
			for half := range 2 {
				if r == '█' || r == '▀' && half == 0 || r == '▄' && half == 1 {
					for py := range points {
						for px := range points {
							img.SetGray(points*x+px, points*(2*y+half)+py, color.Gray{255})
						}
					}
				}
			}
		}
	}
	return img
}

// zbar reads what is drawn: texts of every length, so that all versions are among them.
func TestBesideZbar(t *testing.T) {
	zbar, err := exec.LookPath("zbarimg")
	if err != nil {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: zbarimg (Debian zbar-tools)")
		}
		t.Skip("missing: zbarimg (Debian zbar-tools)")
	}
	rng := rand.New(rand.NewPCG(18, 50))
	texts := []string{"http://192.0.2.17:8080/measure?token=ABCDEFGHIJKLMNOPQRSTUVWXYZ", "1", strings.Repeat("x", MostBytes)}
	for n := 5; n <= MostBytes; n += campaign.Times(12, 3, 1) {
		var b strings.Builder
		for range n {
			b.WriteByte("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-._~:/?#[]@!$&'()*+,;=%"[rng.IntN(85)])
		}
		texts = append(texts, b.String())
	}
	seen := map[int]bool{}
	dir := t.TempDir()
	args := []string{"--quiet", "--raw", "-Sdisable", "-Sqrcode.enable"}
	for i, text := range texts {
		c, err := Encode(text)
		if err != nil {
			t.Fatal(err)
		}
		seen[c.size] = true
		var b bytes.Buffer
		if err := png.Encode(&b, picture(c.Text())); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, "code"+string(rune('a'+i/26))+string(rune('a'+i%26))+".png")
		if err := os.WriteFile(name, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		args = append(args, name)
	}
	out, err := exec.Command(zbar, args...).Output()
	if err != nil {
		t.Errorf("zbarimg: %v", err)
	}
	got := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
	if len(got) != len(texts) {
		t.Fatalf("%d of %d codes read", len(got), len(texts))
	}
	for i, text := range texts {
		if got[i] != text {
			t.Errorf("%d bytes: read as %q; want %q", len(text), got[i], text)
		}
	}
	if len(seen) != len(versions)-1 {
		t.Errorf("%d versions tried; want %d", len(seen), len(versions)-1)
	}
	t.Logf("%d texts of 1 to %d bytes, %d versions: all read", len(texts), MostBytes, len(seen))
}

func TestTooLong(t *testing.T) {
	if _, err := Encode(strings.Repeat("x", MostBytes+1)); err == nil {
		t.Error("a text that is too long was encoded")
	}
}
