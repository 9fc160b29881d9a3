// Checks of the plane against GeographicLib's CartConvert and GeodSolve
// (Debian geographiclib-tools; Karney 2013, Journal of Geodesy 87:43-55).

package geodesy

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// missing skips a test for want of something outside the project, or fails it
// where everything is required.
func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatalf("%s missing", what)
	}
	t.Skipf("%s missing", what)
}

// geographicLib feeds lines to a program and returns the numbers of each line
// of its output.
func geographicLib(t *testing.T, lines []string, program string, args ...string) [][]float64 {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		missing(t, program+" (Debian geographiclib-tools)")
	}
	cmd := exec.Command(program, args...)
	cmd.Stdin = strings.NewReader(strings.Join(lines, "\n") + "\n")
	text, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for line := range strings.Lines(string(text)) {
		var row []float64
		for _, word := range strings.Fields(line) {
			var v float64
			if _, err := fmt.Sscan(word, &v); err != nil {
				t.Fatalf("%s printed %q", program, line)
			}
			row = append(row, v)
		}
		out = append(out, row)
	}
	if len(out) != len(lines) {
		t.Fatalf("%s printed %d lines for %d", program, len(out), len(lines))
	}
	return out
}

var origins = []struct {
	name           string
	latDeg, lonDeg float64
}{
	{"north", 54.57, 10.19},
	{"south", -33.9, 151.2},
	{"equator", 0, 0},
	{"date line", 68.4, 179.99},
	{"near the pole", -89.2, -40},
}

// around returns points up to 5 km from an origin.
func around(latDeg, lonDeg float64, n int) [][2]float64 {
	rng := rand.New(rand.NewPCG(1, 2))
	p := NewPlane(latDeg, lonDeg)
	out := make([][2]float64, n)
	for i := range out {
		lat, lon := p.ToGeodetic((rng.Float64()*2-1)*3500, (rng.Float64()*2-1)*3500)
		out[i] = [2]float64{lat, lon}
	}
	return out
}

func TestPlaneAgainstCartConvert(t *testing.T) {
	for _, o := range origins {
		t.Run(o.name, func(t *testing.T) {
			points := around(o.latDeg, o.lonDeg, 200)
			lines := make([]string, len(points))
			for i, q := range points {
				lines[i] = fmt.Sprintf("%.15g %.15g 0", q[0], q[1])
			}
			want := geographicLib(t, lines, "CartConvert", "-p", "9", "-l", fmt.Sprint(o.latDeg), fmt.Sprint(o.lonDeg), "0")
			p := NewPlane(o.latDeg, o.lonDeg)
			var worst float64
			for i, q := range points {
				e, n := p.ToPlane(q[0], q[1])
				worst = max(worst, math.Hypot(e-want[i][0], n-want[i][1]))
			}
			t.Logf("largest difference %.2g m", worst)
			if worst > 1e-6 {
				t.Errorf("plane and CartConvert differ by %g m, want at most 1 µm", worst)
			}
		})
	}
}

// The plane's distances are the ellipsoid's within a millimetre up to 5 km.
func TestPlaneAgainstGeodSolve(t *testing.T) {
	for _, o := range origins {
		t.Run(o.name, func(t *testing.T) {
			points := around(o.latDeg, o.lonDeg, 200)
			lines := make([]string, len(points))
			for i, q := range points {
				lines[i] = fmt.Sprintf("%.15g %.15g %.15g %.15g", o.latDeg, o.lonDeg, q[0], q[1])
			}
			want := geographicLib(t, lines, "GeodSolve", "-i", "-p", "6")
			p := NewPlane(o.latDeg, o.lonDeg)
			var worst float64
			for i, q := range points {
				e, n := p.ToPlane(q[0], q[1])
				azimuthDeg, distanceM := want[i][0], want[i][2]
				worst = max(worst, math.Abs(math.Hypot(e, n)-distanceM))
				turn := math.Remainder(math.Atan2(e, n)/radPerDeg-azimuthDeg, 360)
				if math.Abs(turn)*radPerDeg*distanceM > 1e-3 {
					t.Errorf("bearing to %v is %g° off", q, turn)
				}
			}
			t.Logf("largest difference %.2g m", worst)
			if worst > 1e-3 {
				t.Errorf("plane and geodesic distance differ by %g m, want at most 1 mm", worst)
			}
		})
	}
}

func TestPlaneRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := NewPlane(rapid.Float64Range(-89.9, 89.9).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon"))
		e, n := rapid.Float64Range(-2e5, 2e5).Draw(t, "e"), rapid.Float64Range(-2e5, 2e5).Draw(t, "n")
		e2, n2 := p.ToPlane(p.ToGeodetic(e, n))
		if math.Hypot(e2-e, n2-n) > 1e-6 {
			t.Fatalf("(%g, %g) came back as (%g, %g)", e, n, e2, n2)
		}
	})
}

func TestPlaneZeroValue(t *testing.T) {
	var zero Plane
	made := NewPlane(0, 0)
	e, n := zero.ToPlane(0.01, -0.02)
	if e2, n2 := made.ToPlane(0.01, -0.02); e != e2 || n != n2 {
		t.Errorf("zero value gives (%g, %g), the plane at 0, 0 gives (%g, %g)", e, n, e2, n2)
	}
	if lat, lon := zero.ToGeodetic(7e6, 0); !math.IsNaN(lat) || !math.IsNaN(lon) {
		t.Errorf("beyond the limb: %g, %g; want NaN", lat, lon)
	}
}

func BenchmarkToPlane(b *testing.B) {
	b.ReportAllocs()
	p := NewPlane(52, 10)
	lat, sum := 52.01, 0.0
	for b.Loop() {
		e, n := p.ToPlane(lat, 10.02)
		sum += e + n
		lat += 1e-12
	}
}
