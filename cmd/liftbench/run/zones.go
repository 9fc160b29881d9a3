// Zones found from the track of a recorded day.

package run

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/timezone"
	"liftbench/nmea/epoch"
	"liftbench/replay/states"
	"liftbench/replay/zones"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/field/form"
)

// Zones are the zones found from a log.
type Zones struct {
	*zones.Found
	JSON   []byte       // as a field file
	Field  *field.Field // the same, read
	Driven []orb.LineString
	Rounds []orb.LineString // on the field's plane, as Driven is
}

// ZonesWanted is from what zones are to be found beside the log: names of files,
// empty where there is none.
type ZonesWanted struct {
	Machine, Boundary, States string
	Zone                      string  // of the times of States that say none
	WidthM                    float64 // without a machine; 0 = not known
	Choice                    recording.Choice
}

// Find finds the zones of a log.
func (q *ZonesWanted) Find(log string, stdin io.Reader, stderr io.Writer) (*Zones, error) {
	if q.WidthM != 0 && !(q.WidthM >= 0.5 && q.WidthM <= 40) {
		return nil, &failure.Usage{Msg: fmt.Sprintf("--width %g: expected 0.5 to 40 m", q.WidthM)}
	}
	var m *sections.Machine
	if q.Machine != "" {
		read, err := settings.LoadMachine(q.Machine, settings.OnDisk)
		if err != nil {
			return nil, err
		}
		m = read.Geometry()
	}
	var work []sections.WorkChange
	if q.States == "" && q.Zone != "" {
		_, err := timezone.OfStates(q.Zone, q.States)
		return nil, err
	}
	if q.States != "" {
		if m == nil {
			return nil, &failure.Usage{Msg: "--states " + q.States + ": expected --machine with it, which says how many sections there are and where its tools work"}
		}
		zone, err := timezone.OfStates(q.Zone, q.States)
		if err != nil {
			return nil, err
		}
		recorded, err := statesFile(q.States, len(m.Sections), zone)
		if err != nil {
			return nil, err
		}
		for _, note := range recorded.Notes {
			fmt.Fprintf(stderr, "liftbench: %s\n", note)
		}
		work = recorded.Work()
	}
	var boundary []byte
	if q.Boundary != "" {
		var err error
		if boundary, err = settings.OnDisk.Shapes(q.Boundary, "a field's boundary ("+form.Taken+")"); err != nil {
			return nil, err
		}
	}
	in, err := recording.OpenPositions(log, nil, q.Choice, stdin, stderr)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return FindZones(in, boundary, q.Boundary, work, m, q.WidthM)
}

// FindZones finds zones from a log. boundary is a registered boundary, in any form of a field, or
// nil; work is nil where no states were recorded; m is nil where the machine is
// not known, but for its width, widthM, 0 = not known either.
func FindZones(in *files.Log, boundary []byte, boundaryFile string, work []sections.WorkChange, m *sections.Machine, widthM float64) (*Zones, error) {
	var rec zones.Recording
	rd := epoch.NewReader(in)
	for rd.Next() {
		f := rd.Fix()
		rec.Add(&f)
	}
	c := rd.Counts()
	if len(rec.Samples) == 0 {
		return nil, files.EmptyLog(in.Name, in.Done, &c, 0)
	}
	day := rec.Day()
	day.WidthM, day.Changes = widthM, work
	if m != nil {
		day.Antenna, day.WidthM = m.Antenna(), m.WidthM()
		left, right := math.Inf(1), math.Inf(-1)
		for _, s := range m.Sections {
			left, right = min(left, s.YM-s.WidthM/2), max(right, s.YM+s.WidthM/2)
			day.ToolM += s.XM / float64(len(m.Sections))
		}
		day.MiddleM = (left + right) / 2
	}
	if boundary != nil {
		b, err := field.Read(bytes.NewReader(boundary), boundaryFile, field.Options{})
		if err != nil {
			return nil, err
		}
		for _, p := range b.Boundary {
			q := orb.Polygon{}
			for _, r := range p {
				q = append(q, moved(r, b, &rec))
			}
			day.Boundary = append(day.Boundary, q)
		}
	}
	found, err := zones.Find(day)
	if err != nil {
		return nil, &failure.Input{File: in.Name, Msg: err.Error(), Err: err}
	}
	z := &Zones{Found: found}
	if z.JSON, err = found.GeoJSON(&rec.Plane); err != nil {
		return nil, err
	}
	if z.Field, err = field.Read(bytes.NewReader(z.JSON), "zones found from "+in.Name, field.Options{}); err != nil {
		return nil, err
	}
	back := func(l orb.LineString) orb.LineString {
		out := make(orb.LineString, len(l))
		for i, p := range l {
			e, n := z.Field.Plane.ToPlane(rec.Plane.ToGeodetic(p[0], p[1]))
			out[i] = orb.Point{e, n}
		}
		return out
	}
	for _, l := range found.Lines {
		z.Rounds = append(z.Rounds, back(l))
	}
	var l orb.LineString
	for i := range rec.Samples {
		p := orb.Point{rec.Samples[i].EastM, rec.Samples[i].NorthM}
		if n := len(l); n > 0 && math.Hypot(p[0]-l[n-1][0], p[1]-l[n-1][1]) < 1 {
			continue
		}
		l = append(l, p)
	}
	z.Driven = []orb.LineString{back(l)}
	return z, nil
}

// moved is a ring on the recording's plane.
func moved(r orb.Ring, from *field.Field, rec *zones.Recording) orb.Ring {
	out := make(orb.Ring, len(r))
	for i, p := range r {
		e, n := rec.Plane.ToPlane(from.Plane.ToGeodetic(p[0], p[1]))
		out[i] = orb.Point{e, n}
	}
	return out
}

// zonesFromTrack gives a setup without zones those that its log tells, and returns
// what there is to say of them, and how the body's border was found. Where headland rounds were driven the headland is taken
// to be left, and what was lifted and dropped on the rounds is taken out of work: where
// a driver lifts at the corners of a round, no border tells.
func zonesFromTrack(u *settings.Setup, work *states.Recorded, stderr io.Writer) (said []string, border zones.Border, err error) {
	if u.Log == "-" {
		return nil, border, &failure.Usage{Msg: "standard input: the field has no zones, and finding them reads the log twice; expected the log as a file, --headland, or a field file with zones"}
	}
	in, err := recording.OpenPositions(u.Log, u.Day, recording.Choice{}, strings.NewReader(""), stderr)
	if err != nil {
		return nil, border, err
	}
	defer in.Close()
	z, err := FindZones(in, u.FieldData, u.FieldFile, work.Work(), u.Machine.Geometry(), 0)
	if err != nil {
		var input *failure.Input
		if errors.As(err, &input) {
			input.Msg += "; or give --headland, or a field file with zones"
		}
		return nil, border, err
	}
	u.Field, u.FieldData, u.FieldFile = z.Field, z.JSON, "zones found from "+u.Log
	for _, b := range z.Blocks {
		if b.SureM > border.SureM {
			border = b.Border
		}
	}
	said = []string{"The field has no zones, so they were found from the track; liftbench zones writes them to a file, to look at and to correct."}
	said = append(said, z.Sentences()...)
	if len(z.Found.Strips) == 0 {
		return said, border, nil
	}
	name := "zones found from " + u.Log
	if u.Field, err = field.Read(bytes.NewReader(z.JSON), name, field.Options{Leave: []string{"headland"}}); err != nil {
		return nil, border, err
	}
	taken := 0
	for _, list := range []*[]sections.WorkChange{&work.Setpoints, &work.Actuals} {
		var n int
		*list, n = without(*list, roundTimes(z.Found))
		taken = max(taken, n)
	}
	if taken > 0 {
		said = append(said, fmt.Sprintf("Lifts and drops are judged at the body's border alone: %d on the headland rounds are left out, as no border says where they were due.", taken))
	}
	return said, border, nil
}

// roundTimes returns when rounds were driven, in order, each with what was driven after
// the last pass before it and before the first pass after it.
func roundTimes(f *zones.Found) [][2]int64 {
	passes := func(fromNs, toNs int64) bool {
		for _, b := range f.Blocks {
			for _, p := range b.Passes {
				if p.FromNs < toNs && p.ToNs > fromNs {
					return true
				}
			}
		}
		return false
	}
	times := slices.Clone(f.RoundsNs)
	sort.Slice(times, func(i, j int) bool { return times[i][0] < times[j][0] })
	var out [][2]int64
	for _, t := range times {
		if n := len(out); n > 0 && !passes(out[n-1][1], t[0]) {
			out[n-1][1] = max(out[n-1][1], t[1])
			continue
		}
		out = append(out, t)
	}
	if n := len(out); n > 0 {
		if !passes(math.MinInt64, out[0][0]) {
			out[0][0] = math.MinInt64
		}
		if !passes(out[n-1][1], math.MaxInt64) {
			out[n-1][1] = math.MaxInt64
		}
	}
	return out
}

// without takes the changes within some times, in order, out of a list in order of time.
// A section whose state differs after such a time changes at its end.
func without(list []sections.WorkChange, times [][2]int64) (kept []sections.WorkChange, taken int) {
	on, said := map[int16]bool{}, map[int16]bool{} // the state that kept says, and whether it says one
	var due []sections.WorkChange                  // what was taken out last, one a section
	next := 0
	settle := func(untilNs int64) {
		for ; next < len(times) && times[next][1] <= untilNs; next++ {
			for _, c := range due {
				if !said[c.Section] || on[c.Section] != c.On {
					c.TimeNs = times[next][1]
					kept = append(kept, c)
					on[c.Section], said[c.Section] = c.On, true
				}
			}
			due = due[:0]
		}
	}
	for _, c := range list {
		settle(c.TimeNs)
		if next < len(times) && times[next][0] <= c.TimeNs {
			taken++
			due = slices.DeleteFunc(due, func(d sections.WorkChange) bool { return d.Section == c.Section })
			due = append(due, c)
			continue
		}
		kept = append(kept, c)
		on[c.Section], said[c.Section] = c.On, true
	}
	settle(math.MaxInt64 - 1) // after the day nothing changes
	return kept, taken
}

// asOne returns a machine as one section of its whole width, and the states of its
// first section: for a day of which one state is recorded for the whole machine,
// which counts once and not once a section.
func asOne(m *sections.Machine, work *states.Recorded) *sections.Machine {
	one := *m
	left, right, x := math.Inf(1), math.Inf(-1), 0.0
	for _, s := range m.Sections {
		left, right = min(left, s.YM-s.WidthM/2), max(right, s.YM+s.WidthM/2)
		x += s.XM / float64(len(m.Sections))
	}
	one.Sections = []sections.Section{{XM: x, YM: (left + right) / 2, WidthM: right - left}}
	for _, list := range []*[]sections.WorkChange{&work.Setpoints, &work.Actuals} {
		*list = slices.DeleteFunc(*list, func(c sections.WorkChange) bool { return c.Section != 0 })
		if len(*list) == 0 {
			*list = nil
		}
	}
	return &one
}
