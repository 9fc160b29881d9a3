// Where rows first dropped, beside a decoder in Python with shapely that reads a set in every way
// that comes to mind.

package taskdata_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// reading is one way to read where rows first dropped: as it is, with bits mirrored, x turned,
// and x left out.
type reading struct {
	Plane, Position, Distance, Middle, Deviation string
	HitchSide                                    string `json:"hitch_side"`
	Count                                        []int
	M                                            []float64
	SDM                                          []float64 `json:"sd_m"`
}

// dropsByShapely are the readings of the recorded set of 32 rows.
func dropsByShapely(t *testing.T) []reading {
	t.Helper()
	recorded(t, "rows-32.zip")
	const python = "/usr/bin/python3" // where Debian's packages are
	if exec.Command(python, "-c", "import shapely").Run() != nil {
		missing(t, "python3-shapely (Debian)")
	}
	cmd := exec.Command(python, "testdata/outside/drops.py", filepath.Join(os.Getenv("LIFTBENCH_DATA"), "taskdata", "rows-32.zip"), "TSK4", "DET-8", "DVC-1")
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Sections, Rows int
		Readings       []reading
	}
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	if all.Sections != 32 || all.Rows != 3633 || len(all.Readings) < 300 {
		t.Fatalf("shapely: %d sections, %d rows, %d readings", all.Sections, all.Rows, len(all.Readings))
	}
	return all.Readings
}

// The published figures of this set, eight of them, come out of one reading alone: on a sphere
// of 6371 km, which has the rows 3 cm nearer to the border than the ellipsoid, and without the 19 cm
// that the implement's connector is to the side, which are another 6 cm as the border is
// at a slant. Both are known better. A row's own position is that of a fix 70 ms
// younger or older than the row.
func TestFirstDropsBesideShapely(t *testing.T) {
	published := [][2]float64{{0.99, 0.32}, {2.29, 1.30}, {3.78, 1.38}, {2.38, 0.73}}
	var as []string
	var instant *reading
	readings := dropsByShapely(t)
	for i := range readings {
		r := &readings[i]
		same := true
		for k, p := range published {
			same = same && r.Count[k] == 31 && math.Round(100*r.M[k]) == math.Round(100*p[0]) && math.Round(100*r.SDM[k]) == math.Round(100*p[1])
		}
		if same {
			as = append(as, fmt.Sprint(r.Plane, "; ", r.Position, "; ", r.HitchSide, "; ", r.Distance, "; ", r.Middle, "; ", r.Deviation))
		}
		if r.Plane == "ellipsoid" && r.HitchSide == "as told" && r.Distance == "square" && r.Middle == "mean" && r.Deviation == "sample" {
			t.Logf("%s: %.3f ± %.3f m", r.Position, r.M[0], r.SDM[0])
			if r.Position == "the instant" {
				instant = r
			}
		}
	}
	if want := "sphere of 6371 km; the row; left out; square; mean; population"; len(as) != 1 || as[0] != want {
		t.Errorf("the published figures come out of %q, expected %q alone", as, want)
	}
	at := firstDrops(day(t, open(t, "rows-32.zip"), ""))
	mean, sd := spread(at)
	t.Logf("here %.3f ± %.3f m of %d rows", mean, sd, len(at))
	if instant == nil || math.Abs(mean-instant.M[0]) > 0.015 || math.Abs(sd-instant.SDM[0]) > 0.015 {
		t.Errorf("%.3f ± %.3f m, shapely at the instants %+v", mean, sd, instant)
	}
}
