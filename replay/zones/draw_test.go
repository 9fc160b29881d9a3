// Pictures of fields that came out badly: LIFTBENCH_DRAW=DIR.

package zones_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
)

// draw writes a field as SVG: the way driven grey, the truth green, what was found
// red, the rounds' lines blue.
func draw(t *testing.T, name string, way, truth, found, rounds []orb.LineString) {
	dir := os.Getenv("LIFTBENCH_DRAW")
	if dir == "" {
		return
	}
	var all orb.Bound
	for i, l := range way {
		if i == 0 {
			all = l.Bound()
		}
		all = all.Union(l.Bound())
	}
	for _, l := range truth {
		all = all.Union(l.Bound())
	}
	all = all.Pad(5)
	var b bytes.Buffer
	w, h := all.Max[0]-all.Min[0], all.Max[1]-all.Min[1]
	scale := 1400 / max(w, h)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f"><rect width="100%%" height="100%%" fill="white"/>`, w*scale, h*scale)
	for _, layer := range []struct {
		lines []orb.LineString
		style string
	}{
		{way, `stroke="#999" stroke-width="0.8"`}, {truth, `stroke="#0a0" stroke-width="3"`},
		{rounds, `stroke="#22f" stroke-width="1" stroke-dasharray="6 4"`}, {found, `stroke="#e00" stroke-width="1.4"`},
	} {
		for _, l := range layer.lines {
			b.WriteString(`<polyline fill="none" ` + layer.style + ` points="`)
			for _, p := range l {
				fmt.Fprintf(&b, "%.1f,%.1f ", (p[0]-all.Min[0])*scale, (all.Max[1]-p[1])*scale)
			}
			b.WriteString(`"/>` + "\n")
		}
	}
	b.WriteString("</svg>\n")
	if err := os.WriteFile(filepath.Join(dir, name+".svg"), b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// lines are rings as lines.
func lines(rings []orb.Ring) []orb.LineString {
	var out []orb.LineString
	for _, r := range rings {
		out = append(out, orb.LineString(r))
	}
	return out
}
