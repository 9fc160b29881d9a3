// The README's pictures: figures of the demo's reports, each as a file.

package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// pictureOf cuts the figure of that title out of a report, and lays it on white
// with a margin and dark text: a picture inside a README does not see whether the page
// around it is light or dark.
func pictureOf(t *testing.T, report, title string) string {
	t.Helper()
	for rest := report; ; {
		from := strings.Index(rest, "<svg ")
		if from < 0 {
			t.Fatalf("the report has no figure %q", title)
		}
		end := from + strings.Index(rest[from:], "</svg>") + len("</svg>")
		svg := rest[from:end]
		rest = rest[end:]
		if strings.Contains(svg, "<title>"+title+"</title>") {
			head := strings.Index(svg, ">") + 1
			box := strings.Index(svg, `viewBox="`)
			var width, height float64
			if _, err := fmt.Sscanf(svg[box:], `viewBox="0 0 %g %g"`, &width, &height); err != nil {
				t.Fatalf("%q: %v", svg[:head], err)
			}
			const margin = 12
			return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="%d %d %g %g" color="#1a1a1a" fill="currentColor" font-family="Liberation Sans, Arial, Helvetica, sans-serif">`, -margin, -margin, width+2*margin, height+2*margin) +
				`<rect x="-12" y="-12" width="100%" height="100%" rx="6" fill="#ffffff"/>` + svg[head:] + "\n"
		}
	}
}

// TestPictures: the pictures are those that the reports hold today;
// go test -run TestPictures ./cmd/liftbench -update draws them anew.
func TestPictures(t *testing.T) {
	dir := t.TempDir()
	for _, args := range [][]string{{"run", "--out", dir}, {"diagnose", "--out", dir}} {
		if status, _, stderr := command("", args...); status != 0 {
			t.Fatal(stderr)
		}
	}
	for _, p := range []struct{ name, report, title string }{
		{"plan.svg", "diagnosis.html", "Where on the field"},
		{"closeup.svg", "report.html", "The worst lift in close-up"},
		{"diagnosis.svg", "diagnosis.html", "Lifts: error over speed"},
	} {
		report, err := os.ReadFile(filepath.Join(dir, p.report))
		if err != nil {
			t.Fatal(err)
		}
		got := []byte(pictureOf(t, string(report), p.title))
		path := filepath.Join("pictures", p.name)
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not the figure that %s holds; with -update it is drawn anew", path, p.report)
		}
	}
}
