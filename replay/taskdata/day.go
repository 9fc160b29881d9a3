package taskdata

import (
	"fmt"
	"math"
	"strings"

	"liftbench/nmea"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/timelog"
	"liftbench/replay/track"
)

// Options choose from a set. The zero value takes the only task with logs, and in it
// the element whose work state changed most.
type Options struct {
	TaskID string
	// DeviceID and Element choose among Task.Banks; "" is any.
	DeviceID, Element string
	// OffsetNs is UTC less the terminal's clock where OffsetKnown; it overrides what the
	// file says.
	OffsetNs    int64
	OffsetKnown bool
}

// ChoiceError is returned by Day where there is more to choose from than Options
// decide, or nothing that they ask for.
type ChoiceError struct {
	What string   // "task" or "device"
	Of   []string // ids
}

func (e *ChoiceError) Error() string {
	if len(e.Of) == 0 {
		return fmt.Sprintf("no %s with a usable time log", e.What)
	}
	return fmt.Sprintf("expected a %s, one of %s", e.What, strings.Join(e.Of, ", "))
}

// Day is what one task recorded.
type Day struct {
	Task  *Task
	Bank  *Bank  // whose states these are; nil: none were logged
	Field *Field // nil: none
	// Geometry is where the sections of Bank and the antenna are.
	Geometry device.Geometry
	Clock    Clock
	// Fixes are of the antenna, in order of time. Speed and course are derived from the
	// positions around each. The quality is Autonomous where the log does not say.
	Fixes []nmea.Fix
	// Starts are the indices of the fixes that begin a track: the first one, and those
	// after a jump that no machine makes.
	Starts []int
	// Setpoint is what sections were told, Actual what they did.
	Setpoint, Actual States
	// Rows is how many rows of all logs there are, those of parallel logs at the same time
	// counted once.
	Rows int
	// NoPosition are rows at 0/0 or of a status without position; StoodStill are those whose
	// GPS time did not go on; OffClock those whose GPS time contradicts the others.
	NoPosition, StoodStill, OffClock int
	Simulated                        bool // by the status of some position
	// Unsure is what a user should know, a sentence each, besides Geometry.Unsure.
	Unsure []string
}

// cursor is where a log is read.
type cursor struct {
	header *timelog.Header
	data   []byte
	scan   timelog.Scanner
	order  int   // among the logs
	nowNs  int64 // the instant of its last row, the terminal's clock
	rows   int   // in that instant
	prevNs int64 // time of the row before that is another instant, UTC
	lastNs int64 // time of the last row, UTC
	seen   bool
	told   [timelog.MaxColumns]reportTime
	polled [timelog.MaxColumns]bool
	even   bool // rows come at intervals, not when a work state changes
	use    [timelog.MaxColumns]use
}

// reportTime is when a column was last told.
type reportTime struct {
	ns   int64
	told bool
}

// merge goes through the rows of all logs in order of the terminal's time, within each
// log in that of the file; at the same time in the order of the logs. It is a heap.
type merge struct {
	logs []*cursor
	heap []*cursor
}

func (m *merge) rewind() {
	m.heap = m.heap[:0]
	for k, c := range m.logs {
		c.order = k
		c.scan.Reset(c.header, c.data)
		if c.scan.Scan() {
			m.heap = append(m.heap, c)
		}
	}
	for k := len(m.heap)/2 - 1; k >= 0; k-- {
		m.sift(k)
	}
}

// top returns the log with the next row; nil at the end.
func (m *merge) top() *cursor {
	if len(m.heap) == 0 {
		return nil
	}
	return m.heap[0]
}

// step goes to the row after that of top.
func (m *merge) step() {
	if !m.heap[0].scan.Scan() {
		last := len(m.heap) - 1
		m.heap[0] = m.heap[last]
		m.heap = m.heap[:last]
	}
	m.sift(0)
}

// sift moves the log at k down to its place.
func (m *merge) sift(k int) {
	for {
		first := k
		for c := 2*k + 1; c <= 2*k+2 && c < len(m.heap); c++ {
			if m.heap[c].before(m.heap[first]) {
				first = c
			}
		}
		if first == k {
			return
		}
		m.heap[k], m.heap[first] = m.heap[first], m.heap[k]
		k = first
	}
}

func (c *cursor) before(o *cursor) bool {
	a, b := c.scan.Row().TimeNs, o.scan.Row().TimeNs
	return a < b || a == b && c.order < o.order
}

// Day reads the logs of a task.
func (s *Set) Day(o Options) (*Day, error) {
	t, err := s.chooseTask(o.TaskID)
	if err != nil {
		return nil, err
	}
	d := &Day{Task: t, Field: s.Field(t.FieldID)}
	if d.Bank, err = t.chooseBank(o); err != nil {
		return nil, err
	}
	s.budget = s.most
	own := values{}
	logs := &merge{}
	rows := 0 // of the longest log
	for k := range t.Logs {
		if !t.Logs[k].Usable {
			continue
		}
		h, data, err := s.log(&t.Logs[k])
		if h == nil {
			return nil, fmt.Errorf("%s: %w", t.Logs[k].Name, err)
		}
		c := &cursor{header: h, data: data}
		var sum tally
		c.scan.Reset(h, data)
		sum.read(h, &c.scan)
		sum.values(h, own)
		for i := range h.Columns {
			c.polled[i] = sum.columns[i].habit.Polls()
		}
		c.even = sum.habit.Polls()
		logs.logs = append(logs.logs, c)
		rows = max(rows, sum.rows)
	}
	d.Fixes = make([]nmea.Fix, 0, min(rows, 1<<20))
	v := layered{own, s.values}
	var states *tracker
	if d.Bank != nil {
		d.Geometry = device.Locate(s.Devices, t.Connections, d.Bank.DeviceID, d.Bank.Sections, v)
		states = newTracker(s.Device(d.Bank.DeviceID), d.Bank)
		for _, c := range logs.logs {
			states.wire(c)
		}
	}
	pieces := d.fit(logs, o)
	d.read(logs, pieces, states)
	for k, from := range d.Starts {
		to := len(d.Fixes)
		if k+1 < len(d.Starts) {
			to = d.Starts[k+1]
		}
		track.Derive(d.Fixes[from:to])
	}
	d.remarks(t)
	return d, nil
}

func (s *Set) chooseTask(id string) (*Task, error) {
	var with []string
	for i := range s.Tasks {
		t := &s.Tasks[i]
		usable := false
		for _, l := range t.Logs {
			usable = usable || l.Usable
		}
		if usable && (id == "" || t.ID == id) {
			with = append(with, t.ID)
		}
	}
	if len(with) != 1 {
		if id != "" {
			return nil, &ChoiceError{"task", s.usable()}
		}
		return nil, &ChoiceError{"task", with}
	}
	return s.Task(with[0]), nil
}

// usable returns the ids of the tasks with a usable log.
func (s *Set) usable() []string {
	var ids []string
	for i := range s.Tasks {
		for _, l := range s.Tasks[i].Logs {
			if l.Usable {
				ids = append(ids, s.Tasks[i].ID)
				break
			}
		}
	}
	return ids
}

func (t *Task) chooseBank(o Options) (*Bank, error) {
	var of []string
	for i := range t.Banks {
		b := &t.Banks[i]
		if (o.DeviceID == "" || b.DeviceID == o.DeviceID) && (o.Element == "" || b.Element == o.Element) {
			return b, nil
		}
		of = append(of, b.DeviceID+" "+b.Element)
	}
	if o.DeviceID != "" || o.Element != "" {
		return nil, &ChoiceError{"device", of}
	}
	return nil, nil
}

// fit finds the terminal's clock against UTC.
func (d *Day) fit(logs *merge, o Options) []piece {
	samples := make([]sample, 0, cap(d.Fixes))
	seq := 0
	var lastMs uint32
	first := true
	logs.rewind()
	for c := logs.top(); c != nil; c = logs.top() {
		r := c.scan.Row()
		if c.header.InRow&timelog.GPSTime != 0 && r.GPSTimeMs < dayMs && positioned(c.header, r) {
			if ahead := msAhead(lastMs, r.GPSTimeMs); !first && ahead > 0 {
				if off, ok := offset(r.TimeNs, r.GPSTimeMs, r.GPSDays, c.header.InRow&timelog.GPSDate != 0); ok {
					samples = append(samples, sample{seq, r.TimeNs, off})
				}
			}
			lastMs, first = r.GPSTimeMs, false
		}
		seq++
		logs.step()
	}
	if o.OffsetKnown {
		d.Clock = Clock{Source: Given, OffsetNs: o.OffsetNs}
		return []piece{{offNs: float64(o.OffsetNs)}}
	}
	pieces := fitClock(samples)
	if len(pieces) == 0 {
		return []piece{{}}
	}
	pieces[0].from = 0
	d.Clock = clock(pieces)
	return pieces
}

// msAhead returns by how many ms of the day b is after a, -12 h to 12 h.
func msAhead(a, b uint32) int {
	d := int(b) - int(a)
	if d > dayMs/2 {
		d -= dayMs
	} else if d <= -dayMs/2 {
		d += dayMs
	}
	return d
}

// positioned reports whether a row has a position that is one.
func positioned(h *timelog.Header, r *timelog.Row) bool {
	if !h.Has(timelog.North|timelog.East) || r.North == 0 && r.East == 0 {
		return false
	}
	if r.North > 90e7 || r.North < -90e7 || r.East > 180e7 || r.East < -180e7 {
		return false
	}
	return !h.Has(timelog.Status) || r.Status != 0 && r.Status != 14
}

// qualities are those of ISO 11783-10, PTN attribute D, as the GGA sentence counts them.
var qualities = [16]nmea.Quality{
	1: nmea.Autonomous, 2: nmea.Differential, 3: nmea.PPS, 4: nmea.RTKFixed, 5: nmea.RTKFloat,
	6: nmea.Estimated, 7: nmea.ManualInput, 8: nmea.Simulator, 15: nmea.Autonomous,
}

// read goes through the rows and takes fixes and states.
func (d *Day) read(logs *merge, pieces []piece, track *tracker) {
	var (
		seq       int
		now       int64 // the instant being read, the terminal's clock
		nowUTC    int64
		any       bool
		lastMs    uint32
		lastGPS   bool
		lastUTC   int64
		lastNorth int32
		lastEast  int32
		lastAny   bool
		most      int   // rows of one log in this instant
		stillNs   int64 // since when the GPS time stands still
		still     bool
	)
	logs.rewind()
	for c := logs.top(); c != nil; c = logs.top() {
		r := c.scan.Row()
		for len(pieces) > 1 && pieces[1].from <= seq {
			pieces = pieces[1:]
		}
		seq++
		p := &pieces[0]
		if !any || r.TimeNs != now {
			if any && track != nil {
				track.flush(nowUTC)
			}
			any = true
			now, nowUTC = r.TimeNs, p.utc(r.TimeNs)
			most = 0
		}
		if c.nowNs != now || c.rows == 0 {
			c.nowNs, c.rows = now, 0
		}
		if c.rows++; c.rows > most {
			most++
			d.Rows++
		}
		if track != nil {
			track.row(c, r, nowUTC)
		}
		if c.seen && nowUTC != c.lastNs || !c.seen {
			c.prevNs = c.lastNs
			if !c.seen {
				c.prevNs = nowUTC
			}
			c.lastNs, c.seen = nowUTC, true
		}
		switch {
		case !c.header.Has(timelog.North | timelog.East):
		case !positioned(c.header, r):
			d.NoPosition++
		case c.header.InRow&timelog.GPSTime != 0 && r.GPSTimeMs < dayMs && d.Clock.Source == GPS:
			off, ok := offset(r.TimeNs, r.GPSTimeMs, r.GPSDays, c.header.InRow&timelog.GPSDate != 0)
			ahead := msAhead(lastMs, r.GPSTimeMs)
			utc := r.TimeNs + off
			switch far := utc - nowUTC; {
			case lastGPS && ahead == 0:
				d.StoodStill++
				if !still {
					still, stillNs = true, lastUTC
				}
				if nowUTC-stillNs > d.Clock.FrozenNs {
					d.Clock.FrozenNs, d.Clock.FrozenAtNs = nowUTC-stillNs, stillNs
				}
			case !ok || far > wrongNs || far < -wrongNs:
				d.OffClock++
			default:
				d.fix(c.header, r, utc)
				lastMs, lastGPS, lastUTC, still = r.GPSTimeMs, true, nowUTC, false
			}
		default:
			if lastAny && r.North == lastNorth && r.East == lastEast {
				break
			}
			lastNorth, lastEast, lastAny = r.North, r.East, true
			d.fix(c.header, r, nowUTC)
		}
		logs.step()
	}
	if any && track != nil {
		track.flush(nowUTC)
		d.Setpoint, d.Actual = track.setpoint.States, track.actual.States
	}
}

// fix appends a fix, unless its time does not go on.
func (d *Day) fix(h *timelog.Header, r *timelog.Row, utcNs int64) {
	if n := len(d.Fixes); n > 0 && utcNs <= d.Fixes[n-1].TimeNs {
		return
	}
	f := nmea.EmptyFix()
	f.TimeNs, f.Dated = utcNs, true
	f.LatDeg, f.LonDeg = float64(r.North)/1e7, float64(r.East)/1e7
	if h.Has(timelog.Up) {
		f.HeightM = float64(r.Up) / 1000
	}
	f.Quality = nmea.Autonomous
	if h.Has(timelog.Status) {
		f.Quality = qualities[r.Status&15]
		d.Simulated = d.Simulated || r.Status == 8
	}
	if f.Quality == nmea.NoFix {
		f.Quality = nmea.Autonomous // a status that the standard reserves
	}
	if h.Has(timelog.HDOP) && r.HDOP > 0 && r.HDOP < 0xFFFE {
		f.HDOP = float32(r.HDOP) / 10
	}
	if h.Has(timelog.Satellites) && r.Satellites != 255 {
		f.Satellites = r.Satellites
	}
	if n := len(d.Fixes); n == 0 || jumped(&d.Fixes[n-1], &f) {
		d.Starts = append(d.Starts, n)
	}
	d.Fixes = append(d.Fixes, f)
}

const (
	// No field machine goes 30 m/s.
	maxSpeedMps = 30
	maxJumpM    = 150
)

// jumped reports whether no machine goes from a to b.
func jumped(a, b *nmea.Fix) bool {
	e, n := metres(a, b)
	m := math.Hypot(e, n)
	s := float64(b.TimeNs-a.TimeNs) / 1e9
	return m > maxJumpM && m > float64(10*s) || m > 5 && m > float64(maxSpeedMps*s)
}

// metres returns how far b is east and north of a, by the radii of curvature of WGS 84
// at a: within 1e-6 over a few metres.
func metres(a, b *nmea.Fix) (east, north float64) {
	const (
		axis = 6378137.0
		e2   = 0.0066943799901413165 // f(2 − f), f = 1/298.257223563
	)
	sin, cos := math.Sincos(a.LatDeg * math.Pi / 180)
	w := 1 - float64(e2*float64(sin*sin))
	n := axis / math.Sqrt(w)
	m := n * (1 - e2) / w
	lon := b.LonDeg - a.LonDeg
	if lon > 180 {
		lon -= 360
	} else if lon < -180 {
		lon += 360
	}
	return lon * math.Pi / 180 * float64(n*cos), (b.LatDeg - a.LatDeg) * math.Pi / 180 * m
}

// remarks says what a user should know.
func (d *Day) remarks(t *Task) {
	say := func(format string, a ...any) { d.Unsure = append(d.Unsure, fmt.Sprintf(format, a...)) }
	if d.Bank == nil {
		say("no work states were logged (DDI 141, 161 to 176)")
	}
	if d.Simulated {
		say("positions are marked as simulated")
	}
	if d.Clock.FrozenNs > 5e9 {
		say("the receiver's time stood still for %d s from %s on: no fixes there", d.Clock.FrozenNs/1e9, Time(d.Clock.FrozenAtNs).Format("15:04:05"))
	}
	if d.NoPosition > 0 {
		say("%d rows have no position", d.NoPosition)
	}
	if n := len(d.Starts); n > 1 {
		say("the track jumps %d times", n-1)
	}
	if len(d.Actual.Changes) > 0 {
		told, of := d.told()
		switch {
		case d.Setpoint.Reports == 0:
			say("setpoints were not logged")
		case !d.SetpointsUsable():
			say("setpoints were logged before %d of %d changes of work states: too few to be used", told, of)
		}
	}
}
