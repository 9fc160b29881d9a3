// Areas against GEOS (through python3-shapely), which knows nothing of sweeps,
// shares or lines across: each section's way is cut in small quadrilaterals, whose
// areas, intersections with the zones and union it works out.

package score

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

const geos = `
import json, sys
from shapely.geometry import Polygon
from shapely.ops import unary_union
from shapely.prepared import prep
d = json.load(sys.stdin)
zone = unary_union([Polygon(r) for r in d["zones"]]).difference(unary_union([Polygon(r) for r in d["keep_out"]]))
on = [Polygon(r).buffer(0) for r in d["on"]]
off = [Polygon(r).buffer(0) for r in d["off"]]
worked = sum(q.area for q in on)
union = unary_union(on)
holds = prep(union).contains
assert all(holds(q.centroid) for q in on), "the union lacks some of its parts"
json.dump({
  "zone": zone.area, "worked": worked, "once": union.area, "repeat": worked - union.area,
  "outside": union.difference(zone).area,
  "overrun": worked - sum(q.intersection(zone).area for q in on),
  "miss": sum(q.intersection(zone).area for q in off)}, sys.stdout)
`

// requireShapely skips the test, or fails it where everything is required.
func requireShapely(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import shapely").Run() == nil {
			return python
		}
	}
	const missing = "python3 with shapely (Debian: python3-shapely) is not installed"
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatal(missing)
	}
	t.Skip(missing)
	return ""
}

func TestAreasAgainstGEOS(t *testing.T) {
	python := requireShapely(t)
	zones := []orb.Polygon{
		{{{0, 0}, {40, 6}, {44, 50}, {21, 43}, {3, 55}, {0, 0}}},
		{{{3, 55}, {21, 43}, {44, 50}, {47, 62}, {5, 66}, {3, 55}}},
	}
	keepOut := orb.Polygon{{{15, 20}, {22, 18}, {20, 27}, {15, 20}}}
	f := newField(t, zone(field.Body, anyHeading, zones...), zone(field.KeepOut, anyHeading, keepOut))
	for seed := range uint64(2) {
		r := rand.New(rand.NewPCG(seed, 21))
		m := rearBar(5, 0.6, -2)
		g := newGate(f, m, sections.Even)
		// A wandering drive that crosses its own way, and tools that go up and down at random.
		d := newDrive(20+r.Float64()*5, 5, r.Float64())
		for range 30 {
			d.along(5+10*r.Float64(), 2, 0)
			d.along(3+12*r.Float64(), 2, (0.5+r.Float64()*0.5)/8)
		}
		var changes []sections.WorkChange
		state := make([]bool, len(m.Sections))
		end := d.track[len(d.track)-1].TimeNs
		for at := int64(startNs); at < end; at += r.Int64N(3e9) {
			i := r.IntN(len(state))
			state[i] = !state[i]
			changes = append(changes, sections.WorkChange{TimeNs: at, Section: int16(i), On: state[i]})
		}
		res := mustRun(t, d.track, g, changes, nil, Options{})

		in := map[string]any{"zones": []orb.Ring{zones[0][0], zones[1][0]}, "keep_out": []orb.Ring{keepOut[0]}}
		in["on"], in["off"] = cutUp(d.track, m, changes)
		data, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(python, "-c", geos)
		cmd.Stdin, cmd.Stderr = strings.NewReader(string(data)), os.Stderr
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		var want struct{ Zone, Worked, Once, Repeat, Outside, Overrun, Miss float64 }
		if err := json.Unmarshal(out, &want); err != nil {
			t.Fatal(err)
		}
		t.Logf("seed %d: GEOS %+v", seed, want)
		near(t, "zone", res.ZoneM2, want.Zone, 1e-6)
		near(t, "worked", res.Area.WorkedM2, want.Worked, 0.001*want.Worked)
		near(t, "overrun", res.Area.OverrunM2, want.Overrun, 0.001*want.Overrun)
		near(t, "miss", res.Area.MissM2, want.Miss, 0.001*want.Miss)
		near(t, "worked once", res.WorkedOnceM2, want.Once, 0.001*want.Once)
		near(t, "repeat", res.Area.RepeatM2, want.Repeat, 0.001*want.Repeat)
		near(t, "outside", res.OutsideM2, want.Outside, 0.001*want.Outside)
	}
}

// cutUp cuts each section's way, worked or not, at every change and pose. Corners
// are whole micrometres: with some that differ by 1e-14 m, GEOS 3.11 leaves whole
// quadrilaterals out of their union.
func cutUp(track motion.Track, m *sections.Machine, changes []sections.WorkChange) (on, off []orb.Ring) {
	state := make([]bool, len(m.Sections))
	next, cursor := 0, 0
	line := func(i int, t int64) (l, r orb.Point) {
		p := track.At(t, &cursor)
		f := m.Frame(&p)
		l[0], l[1], r[0], r[1] = m.Line(i, &f)
		for k := range l {
			l[k], r[k] = math.Round(l[k]*1e6)/1e6, math.Round(r[k]*1e6)/1e6
		}
		return l, r
	}
	for k := 1; k < len(track); k++ {
		t0, t1 := track[k-1].TimeNs, track[k].TimeNs
		for from := t0; from < t1; {
			for next < len(changes) && changes[next].TimeNs <= from {
				state[changes[next].Section] = changes[next].On
				next++
			}
			until := t1
			if next < len(changes) {
				until = min(until, changes[next].TimeNs)
			}
			for i := range state {
				a, b := line(i, from)
				d, c := line(i, until)
				ring := orb.Ring{a, b, c, d, a}
				if state[i] {
					on = append(on, ring)
				} else {
					off = append(off, ring)
				}
			}
			from = until
		}
	}
	return on, off
}
