// A straight drive north over two zones, in real time: where every setpoint
// can be held against the true place.

package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/wire"
	"liftbench/sections"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// The zones lie across the drive, the first with a slanting far border, so
// that sections lift one after another there.
//
//	n = 6 … 18 (+0.5 m for each metre to the right)   n = 26 … 86
const (
	straightMps  = 6.0
	straightFrom = -12.0 // north of the tractor at the start
	firstLo      = 6.0
	firstHi      = 18.0
	slant        = 0.5
	longLo       = 26.0
	longHi       = 86.0
	straightM    = 112.0
	liftLeadS    = 0.2
	dropLeadS    = 0.3
	maxAgeS      = 0.6
	holdS        = 0.3
	latencyS     = 0.05
)

// straight is the drive with its files.
type straight struct {
	dir            string
	machine, field string
	setup          *settings.Setup
	geometry       *sections.Machine
	startNs        int64
	track          motion.Track
	seed           uint64 // of the faults that chance makes
}

const straightMachine = `name: test bar
mount: rear
antenna: {forward_m: 0.5, right_m: 0, height_m: 3}
tool: {forward_m: -2}
rows: {count: SECTIONS, spacing_m: 0.5, tool_width_m: 0.38, plant_strip_m: 0.02}
sections: SECTIONS
depth: {working_cm: 3, effective_cm: 1.5, raised_cm: 8}
hydraulics: {pump_l_min: 200, valve_cap_l_min: 12}
controller:
  edge_rule: even
  lift_lead: LIFT
  drop_lead: DROP
  flow_aware: false
  tick_ms: 50
  latency_ms: 50
  max_age_ms: 600
  hold_ms: 300
  min_quality: 4
  shortest_up_ms: 100
  shortest_down_ms: 100
`

// band is a zone across the drive: from lo to hi north, hi further by slope for
// each metre to the right.
type band struct{ lo, hi, slope float64 }

// newStraight writes machine and field and plans the drive from startNs on. lift
// and drop are the machine's leads, as its file says them.
func newStraight(t testing.TB, count int, lift, drop string, startNs int64, bands ...band) *straight {
	t.Helper()
	if bands == nil {
		bands = []band{{firstLo, firstHi, slant}, {longLo, longHi, 0}}
	}
	s := &straight{dir: t.TempDir(), startNs: startNs, seed: 1}
	s.machine, s.field = filepath.Join(s.dir, "machine.yaml"), filepath.Join(s.dir, "field.geojson")
	s.write(t, "machine.yaml", strings.NewReplacer("SECTIONS", fmt.Sprint(count), "LIFT", lift, "DROP", drop).Replace(straightMachine))

	p := geodesy.NewPlane(52.3, 9.8)
	var features []string
	for _, b := range bands {
		const half = 15.0
		var ring []string
		for _, c := range [][2]float64{{-half, b.lo}, {half, b.lo}, {half, b.hi + half*b.slope}, {-half, b.hi - half*b.slope}, {-half, b.lo}} {
			lat, lon := p.ToGeodetic(c[0], c[1])
			ring = append(ring, fmt.Sprintf("[%.9f,%.9f]", lon, lat))
		}
		features = append(features, `{"type":"Feature","properties":{"zone":"body"},"geometry":{"type":"Polygon","coordinates":[[`+strings.Join(ring, ",")+`]]}}`)
	}
	s.write(t, "field.geojson", `{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+"]}")

	var err error
	if s.setup, err = (&settings.Selection{Machine: s.machine, Field: s.field}).Load(); err != nil {
		t.Fatal(err)
	}
	s.geometry = s.setup.Machine.Geometry()
	// The field has a plane of its own; the drive is planned on that.
	lat, lon := p.ToGeodetic(0, straightFrom)
	e, n := s.setup.Field.Plane.ToPlane(lat, lon)
	s.track = drive.Straight(startNs, e, n, 0, straightMps, straightM)
	return s
}

func (s *straight) write(t testing.TB, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(s.dir, name), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// alter replaces a piece of one of the files, and loads them again.
func (s *straight) alter(t testing.TB, name, from, to string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(s.dir, name))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), from) {
		t.Fatalf("%s holds no %q", name, from)
	}
	s.write(t, name, strings.Replace(string(text), from, to, 1))
	if s.setup, err = (&settings.Selection{Machine: s.machine, Field: s.field}).Load(); err != nil {
		t.Fatal(err)
	}
}

// burst is the sentences that the receiver sends of one instant.
type burst struct {
	timeNs    int64 // of the position
	arrivalNs int64 // of its sentences
	text      []byte
}

// epochs are what a receiver says of the drive.
func (s *straight) epochs(t testing.TB, p receiver.Params) []burst {
	t.Helper()
	p.LatencyNs = latencyS * 1e9
	r, err := receiver.New(s.track, &s.setup.Field.Plane, s.geometry, p)
	if err != nil {
		t.Fatal(err)
	}
	var out []burst
	for r.Scan() {
		out = append(out, burst{r.Fix().TimeNs, r.Fix().ArrivalNs, r.Append(nil)})
	}
	return out
}

// feed writes the epochs at their times.
func feed(w io.Writer, epochs []burst) {
	for _, e := range epochs {
		time.Sleep(time.Until(time.Unix(0, e.arrivalNs)))
		w.Write(e.text) // a peer that is gone is the test's matter
	}
}

// soon is an instant shortly ahead, when a drive can begin.
func soon() int64 {
	return time.Now().Add(300 * time.Millisecond).Truncate(100 * time.Millisecond).Add(100 * time.Millisecond).UnixNano()
}

// inside reports how far section i, at time t of the drive, is inside a zone
// along the path; negative = outside by so much.
func (s *straight) inside(i int, t int64) float64 {
	cursor := 0
	p := s.track.At(t, &cursor)
	// Metres from the start, whatever plane.
	along := float64(p.TimeNs-s.startNs)*1e-9*straightMps + straightFrom
	if p.TimeNs > s.track[len(s.track)-1].TimeNs {
		along = straightFrom + straightM
	}
	sec := &s.geometry.Sections[i]
	n := along + sec.XM
	return max(min(n-firstLo, firstHi+slant*sec.YM-n), min(n-longLo, longHi-n))
}

// work is a stretch of time in which a section was told to be in work.
type work struct {
	section        int
	fromNs, tillNs int64
}

// works puts setpoints together to stretches; those without an end last on.
func works(setpoints []sections.Setpoint) []work {
	var out []work
	open := map[int16]int{}
	for _, s := range setpoints {
		k, is := open[s.Section]
		switch {
		case s.On && !is:
			open[s.Section] = len(out)
			out = append(out, work{int(s.Section), s.DueNs, math.MaxInt64})
		case !s.On && is:
			out[k].tillNs = s.DueNs
			delete(open, s.Section)
		}
	}
	return out
}

// neverOutside checks that no section was in work further outside the zones
// than tolM, from the drop's effect to the lift's.
func (s *straight) neverOutside(t testing.TB, setpoints []sections.Setpoint, tolM float64) {
	t.Helper()
	for _, w := range works(setpoints) {
		if w.tillNs == math.MaxInt64 {
			t.Errorf("section %d stayed in work at the end", w.section+1)
			continue
		}
		from, till := w.fromNs+dropLeadS*1e9, w.tillNs+liftLeadS*1e9
		for at := from; at <= till; at += 5e6 {
			if d := s.inside(w.section, at); d < -tolM {
				t.Errorf("section %d in work %.2f m outside its zone, %.2f s from the start", w.section+1, -d, float64(at-s.startNs)*1e-9)
				break
			}
		}
	}
}

// readSetpoints reads the JSON lines of live.
func readSetpoints(t testing.TB, lines [][]byte) []sections.Setpoint {
	t.Helper()
	out := make([]sections.Setpoint, len(lines))
	for i, l := range lines {
		if err := wire.ParseJSON(l, &out[i]); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func (s *straight) at(seconds float64) int64 { return s.startNs + int64(seconds*1e9) }

// between alters the epochs of an interval of the drive, in seconds.
func (s *straight) between(epochs []burst, from, to float64, alter func(*burst)) []burst {
	out := slices.Clone(epochs)
	for i := range out {
		if e := &out[i]; e.timeNs >= s.at(from) && e.timeNs < s.at(to) {
			alter(e)
		}
	}
	return out
}
