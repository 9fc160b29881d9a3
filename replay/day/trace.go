// A day from the trace of a CAN bus.

package day

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/states"
	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/trace"
	"liftbench/replay/trace/pool"
	"liftbench/replay/trace/process"
	"liftbench/replay/track"
	"liftbench/sections"
)

// ErrNoTimes is what FromTrace returns where a trace has no times.
var ErrNoTimes = errors.New("the trace has no times; record it with a time at each frame")

// FromTrace takes a trace as a day. sender is the address of the sender of positions, 0 to
// 255, or -1 for the best. The trace is read twice: open opens it again.
func FromTrace(open func() (io.Reader, error), sender int) (*Day, error) {
	var survey bus.Survey
	var work process.Recorder
	var described pool.Recorder
	d := &Day{}
	err := frames(open, d, func(f *trace.Frame) {
		survey.Add(f.TimeNs, f.Channel, &f.Frame)
		work.Add(f.TimeNs, f.Channel, &f.Frame)
		described.Add(f.Channel, &f.Frame)
	})
	if err != nil {
		return nil, err
	}
	plan, err := survey.Plan(sender)
	if err != nil {
		return nil, err
	}
	if plan.Untimed {
		return nil, ErrNoTimes
	}
	d.Chosen = append(d.Chosen, plan.Lines()...)
	d.Found = append(d.Found, work.Lines()...)

	// Everything is told in UTC, also when it arrived: forms of a trace differ in what
	// their clock counts. By this, the quickest position arrives at its instant.
	utc := func(hostNs int64) int64 {
		if !plan.Offset.Known {
			return hostNs
		}
		return hostNs - plan.Offset.At(hostNs)
	}
	dec := bus.NewDecoder(plan)
	take := func() {
		f := dec.Fix()
		f.ArrivalNs, f.ReadyNs = utc(f.ArrivalNs), utc(f.ReadyNs)
		if k := len(d.Fixes); k == 0 || f.TimeNs > d.Fixes[k-1].TimeNs {
			d.Fixes = append(d.Fixes, f)
		}
	}
	if err := frames(open, &Day{}, func(f *trace.Frame) {
		if dec.Add(f.TimeNs, f.Channel, &f.Frame) {
			take()
		}
	}); err != nil {
		return nil, err
	}
	if dec.Flush() {
		take()
	}
	if d.positions() == 0 {
		return nil, bus.ErrNoPosition
	}
	deriveWhereMissing(d.Fixes)
	if devices := work.Devices(); len(devices) > 0 {
		delayNs := d.leastDelay(plan)
		d.takeMachine(devices[0], &described)
		d.takeWork(devices[0], func(hostNs int64) int64 { return utc(hostNs) + delayNs })
	}
	return d, nil
}

// leastDelay returns how long after its instant the quickest position was seen. What the
// logger's clock is ahead of UTC has that in it: it is all of it where that is little more
// than a time zone, and otherwise the usual delay is taken.
func (d *Day) leastDelay(plan *bus.Plan) int64 {
	const (
		zoneNs  = 900e9 // offsets of time zones are multiples of a quarter of an hour
		mostNs  = 500e6
		usualNs = 100e6 // from the instant of a position to the bus: common practice, no source
	)
	if !plan.Offset.Known || len(d.Fixes) == 0 {
		return 0
	}
	lessNs := plan.Offset.LessNs % zoneNs
	if lessNs < 0 {
		lessNs += zoneNs
	}
	if lessNs < mostNs {
		return lessNs
	}
	d.Chosen = append(d.Chosen, "the usual 100 ms (common practice, no source) from a position's instant to the bus, as the logger's clock is not set to UTC: work states are earlier or later by what that is wrong")
	return usualNs
}

// frames calls each with the frames of a trace, and notes what its form is and what of it
// was left out.
func frames(open func() (io.Reader, error), d *Day, each func(*trace.Frame)) error {
	r, err := open()
	if err != nil {
		return err
	}
	s := trace.NewScanner(r)
	var f trace.Frame // one for all: a trace has tens of millions
	for s.Next() {
		f = s.Frame()
		each(&f)
	}
	d.Form = "CAN trace, " + s.Form().String()
	c := s.Counts()
	d.Found = append(d.Found, fmt.Sprintf("%d frames, times %s", c.Frames, s.Clock()))
	for _, x := range []struct {
		n    int64
		what string
	}{{c.FD, "frames of CAN FD"}, {c.Errors, "error frames"}, {c.Malformed, "lines or records that cannot be read"}} {
		if x.n > 0 {
			d.LeftOut = append(d.LeftOut, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	for _, w := range s.Warnings() {
		d.LeftOut = append(d.LeftOut, w.String())
	}
	err = s.Err()
	if (errors.Is(err, trace.ErrIncomplete) || errors.Is(err, io.ErrUnexpectedEOF)) && c.Frames > 0 {
		d.LeftOut = append(d.LeftOut, err.Error())
		err = nil
	}
	return err
}

// deriveWhereMissing derives speeds if hardly any position has one.
func deriveWhereMissing(fixes []nmea.Fix) {
	with := 0
	for i := range fixes {
		if !math.IsNaN(fixes[i].SpeedMps) {
			with++
		}
	}
	if with*10 < len(fixes) {
		track.Derive(fixes)
	}
}

// takeMachine takes over what a device says of itself, if the trace began before it
// connected.
func (d *Day) takeMachine(v *process.Device, described *pool.Recorder) {
	d.LeftOut = append(d.LeftOut, described.Damage()...)
	all, self := described.Devices(v.Node)
	if self == nil {
		return
	}
	values := described.Values()
	// Its states are those of the sections below the element that reports them.
	var ids []string
	for i := range self.Elements {
		if e := &self.Elements[i]; e.Number == int(v.Element) && len(ids) == 0 {
			ids = self.Sections(e.ID, values)
		}
	}
	if n := len(ids); n == 0 || n < v.Sections() {
		d.LeftOut = append(d.LeftOut, fmt.Sprintf("the description of %s: it has %d sections below element %d, and %d worked", self.ID, n, v.Element, v.Sections()))
		return
	}
	g := device.Locate(all, nil, self.ID, ids, values)
	d.Machine = machineOf(&taskdata.Day{Geometry: g})
	d.Found = append(d.Found, fmt.Sprintf("%s describes itself: %d elements, %d sections below element %d", self.ID, len(self.Elements), len(ids), v.Element))
	if d.Machine == nil {
		d.Notes = append(d.Notes, "the device's description tells no widths of its sections")
	}
	d.Chosen = append(d.Chosen, g.Unsure...)
}

// takeWork takes over the work states of a device, of its sections up to the last that ever
// worked, unless it describes itself: else the bus does not tell how many there are.
func (d *Day) takeWork(v *process.Device, utc func(int64) int64) {
	n := v.Sections()
	if n == 0 {
		return
	}
	if d.Machine != nil {
		n = len(d.Machine.Sections)
	}
	d.Single = v.Single()
	actuals, setpoints := v.Initial(n)
	d.Work = &states.Recorded{
		Actuals:   changes(actuals, v.Actuals, n, utc),
		Setpoints: changes(setpoints, v.Setpoints, n, utc),
	}
	if told, of := met(d.Work.Setpoints, d.Work.Actuals); len(d.Work.Setpoints) > 0 && told*10 < of*9 {
		d.Work.Setpoints = nil
		d.LeftOut = append(d.LeftOut, fmt.Sprintf("setpoints, because only %d of %d changes of work state have one before them", told, of))
	}
	if v.Polls() {
		for _, c := range v.Actuals {
			if int(c.Section) < n {
				d.Work.ActualPolls = append(d.Work.ActualPolls, states.Poll{Section: int16(c.Section), AfterNs: utc(c.BeforeNs), AtNs: utc(c.TimeNs)})
			}
		}
	}
	d.Work.OneClock = len(d.Work.Setpoints) > 0 // the logger's
	span(d.Work)
	on := 0
	for _, c := range v.Actuals {
		if c.On && int(c.Section) < n {
			on++
		}
	}
	d.Found = append(d.Found, fmt.Sprintf("%d sections, %d changes of work state, %d on and %d off", n, len(v.Actuals), on, len(v.Actuals)-on))
	d.foundWithin(d.Work.ActualPolls)
	d.foundDelays()
}

// foundDelays says how long work states took from their commands. Both are on the logger's
// clock, so that no two clocks are compared.
func (d *Day) foundDelays() {
	const s = 1e9 // ns
	middle := map[states.Poll]int64{}
	for _, p := range d.Work.ActualPolls {
		middle[states.Poll{Section: p.Section, AtNs: p.AtNs}] = (p.AtNs - p.AfterNs) / 2
	}
	var delays [2][]float64
	answered(d.Work.Setpoints, d.Work.Actuals, func(told, did sections.WorkChange) {
		way := 0
		if did.On {
			way = 1
		}
		delays[way] = append(delays[way], float64(did.TimeNs-middle[states.Poll{Section: did.Section, AtNs: did.TimeNs}]-told.TimeNs)/s)
	})
	var parts []string
	for way, name := range [2]string{"lifts", "drops"} {
		if list := delays[way]; len(list) > 0 {
			slices.Sort(list)
			parts = append(parts, fmt.Sprintf("%s %.2f s (%.2f to %.2f s, %d of them)", name, list[len(list)/2], list[0], list[len(list)-1], len(list)))
		}
	}
	if len(parts) == 0 {
		return
	}
	how := "exact, as both are on one bus and one clock"
	if len(middle) > 0 {
		how = "on one bus and one clock, exact but for half of the time between two reports"
	}
	d.Found = append(d.Found, "from command to work state "+strings.Join(parts, ", ")+": "+how)
}

// changes puts first states before the changes.
func changes(first []process.First, list []process.Change, n int, utc func(int64) int64) []sections.WorkChange {
	var out []sections.WorkChange
	for i, f := range first {
		if f.State != process.Unknown {
			out = append(out, sections.WorkChange{TimeNs: utc(f.TimeNs), Section: int16(i), On: f.State == process.On})
		}
	}
	for _, c := range list {
		if int(c.Section) < n {
			out = append(out, sections.WorkChange{TimeNs: utc(c.TimeNs), Section: int16(c.Section), On: c.On})
		}
	}
	return out
}

// met counts the changes of actual states that a setpoint asked for, and the changes.
func met(setpoints, actuals []sections.WorkChange) (told, of int) {
	of = answered(setpoints, actuals, func(sections.WorkChange, sections.WorkChange) { told++ })
	return told, of
}

// answered calls each with the changes of actual states that have a setpoint of the same section to the
// same state at most 10 s before them, and returns how many changes there are.
func answered(setpoints, actuals []sections.WorkChange, each func(told, did sections.WorkChange)) (of int) {
	const longNs = 10e9
	last := map[int16]sections.WorkChange{}
	seen := map[int16]bool{}
	k := 0
	for _, a := range actuals {
		for ; k < len(setpoints) && setpoints[k].TimeNs <= a.TimeNs; k++ {
			last[setpoints[k].Section] = setpoints[k]
		}
		if !seen[a.Section] { // the first is no change
			seen[a.Section] = true
			continue
		}
		of++
		if s, ok := last[a.Section]; ok && s.On == a.On && a.TimeNs-s.TimeNs <= longNs {
			each(s, a)
		}
	}
	return of
}
