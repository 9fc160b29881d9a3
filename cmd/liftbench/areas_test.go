// Areas of whole benches, the demo and random fields, against GEOS (by way of
// shapely, Debian python3-shapely): it is given where each section's line stood
// and whether it was in work, and the zones' rings, and none of our areas.

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"sort"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
)

// sweptScript sums up quadrilaterals: [crossing or -1, in work, zones that take part,
// a bit each, then four corners].
// Corners are whole micrometres: with some that differ by 1e-14 m, GEOS 3.11 leaves whole
// quadrilaterals out of their union.
const sweptScript = `
import json, math, sys, time
from shapely.geometry import Polygon
from shapely.ops import unary_union
from shapely.prepared import prep
d = json.load(sys.stdin)
union = lambda l: unary_union(list(l))
shapes = [(z["keep_out"], union(Polygon(p[0], p[1:]) for p in z["polygons"])) for z in d["zones"]]
kept = union(g for out, g in shapes if out)
class Ground:
    def __init__(self, g):
        self.g, self.inside, self.touches = g, prep(g).contains, prep(g).intersects
    def area(self, q):
        if self.inside(q): return q.area
        return q.intersection(self.g).area if self.touches(q) else 0
all_zones = Ground(union(g for out, g in shapes if not out).difference(kept))
known = {}
def part(k):
    if k not in known:
        known[k] = Ground(union(g for i, (out, g) in enumerate(shapes) if k >> i & 1 and not out).difference(kept))
    return known[k]
worked = miss = overrun = across = 0
crossings, on = [0] * d["crossings"], []
for crossing, work, zones, *c in d["quads"]:
    q = Polygon([c[0:2], c[2:4], c[4:6], c[6:8]])
    if not q.is_valid: q = q.buffer(0)
    inside = part(int(zones)).area(q)
    if crossing >= 0:
        crossings[crossing] += q.area - inside
    elif work:
        on.append(q)
        worked += q.area
        overrun += q.area - inside
        if q.area - inside > 0: across += all_zones.area(q) - inside
    else:
        miss += inside
began = time.perf_counter()
once = union(on)
took = time.perf_counter() - began
holds = prep(once).contains
assert all(holds(q.centroid) for q in on), "the union lacks some of its parts"
json.dump({"unionS": took, "left": all_zones.g.difference(once).area, "beside": once.difference(all_zones.g).area, "zone": all_zones.g.area, "worked": worked, "miss": miss, "overrun": overrun, "across": across, "once": once.area,
  "repeat": worked - once.area, "crossings": crossings}, sys.stdout)
`

// geosAreas is what sweptScript says, in m².
type geosAreas struct {
	Zone, Worked, Miss, Overrun, Across, Once, Repeat float64
	Left, Beside                                      float64   // zones less what was worked, and the other way round
	Crossings                                         []float64 // overrun of each
	UnionS                                            float64   // seconds that the union alone took
}

// swept collects what sweptScript is given.
type swept struct {
	gate     *sections.Gate
	track    motion.Track
	followed []sections.Follow // at each pose of the track
	quads    [][]float64
}

// zonesAt returns the zones that take part at pose p of the track.
func (s *swept) zonesAt(p *motion.Pose) field.Mask {
	if s.followed == nil {
		var w sections.Follow
		for i := range s.track {
			s.gate.Follow(&w, &s.track[i])
			s.followed = append(s.followed, w)
		}
	}
	k := sort.Search(len(s.track), func(i int) bool { return s.track[i].TimeNs > p.TimeNs })
	w := s.followed[max(k-1, 0)]
	s.gate.Follow(&w, p)
	return w.Zones
}

// bits returns a mask of the field's zones that holds those of m.
func (s *swept) bits(m field.Mask) float64 {
	bits := 0
	for i, z := range s.gate.Field.Zones {
		sin, cos := math.Sincos(z.RowBearingRad)
		if math.IsNaN(sin) || m&s.gate.Field.Participating(sin, cos, 1-1e-12)&^s.gate.Field.Unbound() != 0 {
			bits |= 1 << i
		}
	}
	return float64(bits)
}

// cut adds what section i sweeps from one instant to another, in steps: short
// ones where zones start or stop to take part.
func (s *swept) cut(crossing, i int, on bool, from, until, stepNs int64) {
	cursor := 0
	line := func(p *motion.Pose) (left, right orb.Point) {
		f := s.gate.Machine.Frame(p)
		left[0], left[1], right[0], right[1] = s.gate.Machine.Line(i, &f)
		for k := range left {
			left[k], right[k] = math.Round(left[k]*1e6)/1e6, math.Round(right[k]*1e6)/1e6
		}
		return left, right
	}
	p := s.track.At(from, &cursor)
	zones := s.zonesAt(&p)
	a, b := line(&p)
	for from < until {
		to := min(from-from%stepNs+stepNs, until)
		p = s.track.At(to, &cursor)
		for to-from > 1e5 && s.zonesAt(&p) != zones {
			to = from + (to-from)/2
			p = s.track.At(to, &cursor)
		}
		zones = s.zonesAt(&p)
		d, c := line(&p)
		mid := s.track.At(from+(to-from)/2, &cursor)
		s.quads = append(s.quads, []float64{float64(crossing), oneIf(on), s.bits(s.zonesAt(&mid)),
			a[0], a[1], b[0], b[1], c[0], c[1], d[0], d[1]})
		from, a, b = to, d, c
	}
}

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// spells calls do for each stretch of time within which section i did not change.
func spells(changes []sections.WorkChange, i int, from, until int64, do func(on bool, from, until int64)) {
	on := false
	for _, c := range changes {
		if int(c.Section) != i || c.TimeNs >= until {
			continue
		}
		if c.TimeNs > from {
			do(on, from, c.TimeNs)
			from = c.TimeNs
		}
		on = c.On
	}
	do(on, from, until)
}

// ask lets GEOS sum up.
func (s *swept) ask(t *testing.T, crossings int) (a geosAreas) {
	t.Helper()
	const python = "/usr/bin/python3" // where Debian's packages are
	if exec.Command(python, "-c", "import shapely").Run() != nil {
		outside(t, "python3-shapely (Debian)")
	}
	type zone struct {
		KeepOut  bool             `json:"keep_out"`
		Polygons orb.MultiPolygon `json:"polygons"`
	}
	var zones []zone
	for _, z := range s.gate.Field.Zones {
		zones = append(zones, zone{KeepOut: z.Kind == field.KeepOut, Polygons: z.Polygons})
	}
	in, err := json.Marshal(map[string]any{"zones": zones, "crossings": crossings, "quads": s.quads})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", sweptScript)
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), os.Stderr
	out, err := cmd.Output()
	if err == nil {
		err = json.Unmarshal(out, &a)
	}
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// randomField is a rough polygon of a third of a hectare with a hole to keep
// out of, rows and a headland, and a drive on it.
func randomField(t *testing.T, seed uint64) *settings.Setup {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 71))
	plane := geodesy.NewPlane(52.06, 11.14)
	ring := func(n int, radiusM, rag float64) (points [][2]float64) {
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			d := radiusM * (1 + rag*r.Float64())
			lat, lon := plane.ToGeodetic(d*c, d*s)
			points = append(points, [2]float64{lon, lat})
		}
		return append(points, points[0])
	}
	outer, err := json.Marshal(ring(5+r.IntN(8), 28, 0.4))
	if err != nil {
		t.Fatal(err)
	}
	pond, err := json.Marshal(ring(5, 4, 0.5))
	if err != nil {
		t.Fatal(err)
	}
	machine, err := settings.InDemo.Read("demo/machine.yaml", "the demo's machine")
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{
		"machine.yaml": string(machine),
		"field.geojson": fmt.Sprintf(`{"type": "FeatureCollection", "features": [
			{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [%s]}},
			{"type": "Feature", "properties": {"zone": "keep-out"}, "geometry": {"type": "Polygon", "coordinates": [%s]}}]}`, outer, pond),
		"s.yaml": fmt.Sprintf("machine: machine.yaml\nfield: field.geojson\nheadland_m: 9\nrow_bearing_deg: %d\n"+
			"drive: {speed_kmh: 8, turn_kmh: 6, steering_sigma_cm: 3, seed: %d}\nreceiver: {noise_cm: 3, rate_hz: 10, latency_ms: 100}\n", r.IntN(180), seed),
		"study.yaml": "scenario: s.yaml\nseeds: 1\nvary:\n  - {key: machine.sections, values: [1]}\n",
	}
	_, u, err := settings.LoadStudy("study.yaml", settings.Named(func(name, _ string) ([]byte, error) { return []byte(files[name]), nil }))
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func TestAreasOfBenchesAgainstGEOS(t *testing.T) {
	t.Run("demo", func(t *testing.T) {
		u, err := new(settings.Selection).Load()
		if err != nil {
			t.Fatal(err)
		}
		compareAreas(t, u)
	})
	for seed := range uint64(campaign.Times(3, 10, 10)) {
		t.Run(fmt.Sprintf("random field %d", seed), func(t *testing.T) { compareAreas(t, randomField(t, seed)) })
	}
}

// sweptBy runs u, and returns all that its sections swept.
func sweptBy(t *testing.T, u *settings.Setup) (*run.Outcome, *swept) {
	t.Helper()
	o, err := run.Drive(u, nil, io.Discard, false)
	if err != nil {
		t.Fatal(err)
	}
	job := run.Job(u)
	ctl, err := sections.New(job.Machine, job.Field, job.Settings)
	if err != nil {
		t.Fatal(err)
	}
	s := &swept{gate: ctl.Gate(), track: o.Track}
	first, last := s.track[0].TimeNs, s.track[len(s.track)-1].TimeNs
	for i := range job.Machine.Sections {
		spells(o.Changes, i, first, last, func(on bool, from, until int64) { s.cut(-1, i, on, from, until, 300e6) })
	}
	return o, s
}

// compareAreas runs u. Areas have to agree within 0.1 % at least, and the overrun of each
// crossing within 10 cm².
func compareAreas(t *testing.T, u *settings.Setup) {
	t.Parallel()
	o, s := sweptBy(t, u)
	machine := s.gate.Machine

	// Our overrun of a crossing is that of a drive of a few poses around it, with its section alone.
	var ours []float64
	var events []*score.Event
	for k := range o.Score.Events {
		e := &o.Score.Events[k]
		if e.Kind != score.Paired {
			continue
		}
		at := func(ns int64) int {
			return sort.Search(len(s.track)-1, func(p int) bool { return s.track[p].TimeNs >= ns })
		}
		part := s.track[at(min(e.IdealNs, e.ActualNs)-5e8) : at(max(e.IdealNs, e.ActualNs)+5e8)+1]
		i, from, until := int(e.Section), part[0].TimeNs, part[len(part)-1].TimeNs
		initial := make([]bool, len(machine.Sections))
		var changes []sections.WorkChange
		spells(o.Changes, i, from, until, func(on bool, from, until int64) {
			changes = append(changes, sections.WorkChange{TimeNs: from, Section: e.Section, On: on})
			if on {
				s.cut(len(events), i, on, from, until, 20e6)
			}
		})
		res, err := score.Run(part, s.gate, changes, initial, score.Options{})
		if err != nil {
			t.Fatal(err)
		}
		events, ours = append(events, e), append(ours, res.Sections[i].Area.OverrunM2)
	}
	want, got := s.ask(t, len(events)), &o.Score.Area
	if want.Worked == 0 || len(events) == 0 {
		t.Fatal("nothing was worked")
	}
	r := o.Score
	for _, c := range []struct {
		name      string
		got, want float64
		within    float64 // of it
	}{
		{"zones", r.ZoneM2, want.Zone, 1e-6},
		{"worked", got.WorkedM2, want.Worked, 1e-5},
		{"missed", got.MissM2, want.Miss, 0.001},
		{"overrun", got.OverrunM2, want.Overrun, 0.001},
		{"across rows", got.AcrossRowsM2, want.Across, 0.001},
		{"worked once", r.WorkedOnceM2, want.Once, 0.001},
		{"worked again", got.RepeatM2, want.Repeat, 0.001},
		{"zones, not worked", r.ZoneM2 - (r.WorkedOnceM2 - r.OutsideM2), want.Left, 0.001},
		{"worked, not zones", r.OutsideM2, want.Beside, 0.001},
	} {
		t.Logf("%-17s %10.3f m², GEOS %10.3f m²: %+.4f %% of it", c.name, c.got, c.want, 100*(c.got-c.want)/c.want)
		if math.Abs(c.got-c.want) > c.within*c.want {
			t.Errorf("%s: %.3f m²; GEOS has %.3f m²", c.name, c.got, c.want)
		}
	}
	var off []float64
	for k, e := range events {
		off = append(off, math.Abs(ours[k]-want.Crossings[k]))
		if off[k] > 0.001 {
			t.Errorf("overrun of section %d at %d ns: %.5f m²; GEOS has %.5f m²", e.Section+1, e.ActualNs, ours[k], want.Crossings[k])
		}
	}
	slices.Sort(off)
	t.Logf("%d crossings: overrun within %.2f cm²", len(off), 1e4*off[len(off)-1])
}
