// A drive, generated or recorded, as task data.

package run

import (
	"fmt"
	"io"
	"math"
	"sort"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/write"
	"liftbench/sections"
	"liftbench/sections/field"
)

// WriteTaskData runs the setup's drive on the bench and writes it to a zip as a terminal
// would have recorded it: positions, what the controller told the sections and what they did,
// the machine and the field. On a recorded day with work states these are what was done;
// then what was told is written only where it was recorded.
func WriteTaskData(u *settings.Setup, out string, stdin io.Reader, stderr io.Writer) error {
	job, o := Job(u), New(u)
	d := &write.Day{Machine: geometryOf(u)}
	told := true
	if u.States != "" {
		work, err := readStates(u, len(job.Machine.Sections))
		if err != nil {
			return err
		}
		job.Recorded, d.Setpoint, told = work.Work(), work.Setpoints, false
	}
	in, err := Open(u, job, o, stdin, stderr)
	if err != nil {
		return err
	}
	defer in.Close()
	job.Watch = func(f *nmea.Fix) {
		if f.HasPosition() && f.Dated {
			d.Fixes = append(d.Fixes, *f)
		}
	}
	if err := o.Take(job, in, u.States); err != nil {
		return err
	}
	for _, w := range o.Warnings {
		fmt.Fprintf(stderr, "%s: %s\n", u.Title, w)
	}
	if d.Actual = o.Changes; told {
		d.Setpoint = make([]sections.WorkChange, len(o.Setpoints))
		for i, s := range o.Setpoints {
			d.Setpoint[i] = sections.WorkChange{TimeNs: s.DueNs, Section: s.Section, On: s.On}
		}
	}
	inOrder(d.Setpoint)
	inOrder(d.Actual)
	addField(d, u.Field)
	if _, err := write.Files(d); err != nil {
		return &failure.Input{File: u.Title, Msg: err.Error(), Err: err}
	}
	return files.WriteWhole(out, func(w io.Writer) error { return write.Zip(w, d) })
}

// inOrder sorts changes by time.
func inOrder(list []sections.WorkChange) {
	sort.SliceStable(list, func(i, k int) bool { return list[i].TimeNs < list[k].TimeNs })
}

// geometryOf returns the setup's machine as task data describes it.
func geometryOf(u *settings.Setup) device.Geometry {
	m := u.Machine.Geometry()
	p := u.Machine.Params()
	s := u.Machine.Settings(&p)
	// Leads that grow with the sections that move are no setting of a terminal.
	fixed := !(u.Machine.Controller.FlowAware && (u.Machine.Controller.LiftLead.Auto || u.Machine.Controller.DropLead.Auto))
	g := device.Geometry{
		Tractor: "DVC-1", AntennaKnown: true, AntennaXM: m.AntennaXM, AntennaYM: m.AntennaYM, AntennaZM: m.AntennaZM,
		Hitch: device.Mounted, SetpointDelayMs: -1, ActualDelayMs: -1,
	}
	if m.Mount == sections.Trailed {
		g.Hitch, g.HitchXM, g.PivotM = device.Drawbar, -m.HitchBehindM, m.DrawbarM
	}
	for _, x := range m.Sections {
		g.Sections = append(g.Sections, device.At{
			XM: x.XM, YM: x.YM, WidthM: x.WidthM,
			LiftNs: s.LiftLead.AloneNs(), DropNs: s.DropLead.AloneNs(), LeadsKnown: fixed,
		})
	}
	return g
}

// addField adds the field: its boundary, its zones, and a guide along the rows of the body.
func addField(d *write.Day, f *field.Field) {
	lonLat := func(p orb.Point) orb.Point {
		lat, lon := f.Plane.ToGeodetic(p[0], p[1])
		return orb.Point{lon, lat}
	}
	add := func(kind taskdata.Kind, list orb.MultiPolygon) {
		for _, p := range list {
			q := make(orb.Polygon, len(p))
			for i, ring := range p {
				for _, x := range ring {
					q[i] = append(q[i], lonLat(x))
				}
			}
			d.Zones = append(d.Zones, taskdata.Zone{Kind: kind, Polygon: q})
		}
	}
	kinds := map[field.Kind]taskdata.Kind{field.Body: taskdata.Body, field.Headland: taskdata.Headland, field.KeepOut: taskdata.KeepOut}
	add(taskdata.Boundary, f.Boundary)
	for i := range f.Zones {
		z := &f.Zones[i]
		add(kinds[z.Kind], z.Polygons)
		if b := z.Polygons.Bound(); z.Kind == field.Body && z.Line == nil && !math.IsNaN(z.RowBearingRad) && len(d.Guides) == 0 {
			const halfM = 50
			sin, cos := math.Sincos(z.RowBearingRad)
			c := b.Center()
			d.Guides = append(d.Guides, taskdata.Guide{
				BearingDeg: math.Mod(z.RowBearingRad*180/math.Pi+360, 360),
				A:          lonLat(orb.Point{c[0] - halfM*sin, c[1] - halfM*cos}), B: lonLat(orb.Point{c[0] + halfM*sin, c[1] + halfM*cos}),
			})
		}
	}
	d.AreaM2 = f.AreaM2()
}
