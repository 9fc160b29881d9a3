// A campaign of clocks: days of the demo whose states are recorded by drawn clocks and
// grids, alone and on top of the ordinary causes. The times are changed here, by code
// that shares nothing with the search for them.

package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sim/campaign"
	"liftbench/sim/receiver"
)

// drivenDay is one drive of the demo: its log, and what a sound machine was told and did.
type drivenDay struct {
	dir       string
	setpoints []sections.WorkChange
	actuals   []sections.WorkChange
	timesNs   []int64   // of the way driven
	wayM      []float64 // at those
}

// driveDay drives the demo with speeds that differ from pass to pass by sdPercent.
func driveDay(t *testing.T, sdPercent float64, seed int) *drivenDay {
	t.Helper()
	d := &drivenDay{dir: t.TempDir()}
	if err := settings.WriteDemo(d.dir); err != nil {
		t.Fatal(err)
	}
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	u.Scenario.Drive.SpeedSDPercent, u.Scenario.Drive.Seed = sdPercent, seed
	o, err := run.Drive(u, nil, io.Discard, true)
	if err != nil {
		t.Fatal(err)
	}
	m := u.Machine.Geometry()
	driven, err := run.Plan(u, m)
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	if err := receiver.Write(&log, driven.Track, &u.Field.Plane, m, run.ReceiverParams(u)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(d.dir, "day.nmea"), log.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, s := range o.Setpoints {
		d.setpoints = append(d.setpoints, sections.WorkChange{TimeNs: s.DueNs, Section: s.Section, On: s.On})
	}
	d.actuals = o.Changes
	way := 0.0
	for i, p := range driven.Track {
		if i > 0 {
			q := driven.Track[i-1]
			way += math.Hypot(p.EastM-q.EastM, p.NorthM-q.NorthM)
		}
		d.timesNs, d.wayM = append(d.timesNs, p.TimeNs), append(d.wayM, way)
	}
	return d
}

// furtherS is how much later the machine is so many metres on.
func (d *drivenDay) furtherS(ns int64, m float64) float64 {
	k := sort.Search(len(d.timesNs), func(i int) bool { return d.timesNs[i] >= ns })
	k = max(1, min(k, len(d.timesNs)-1))
	part := float64(ns-d.timesNs[k-1]) / float64(d.timesNs[k]-d.timesNs[k-1])
	target := d.wayM[k-1] + part*(d.wayM[k]-d.wayM[k-1]) + m
	q := sort.Search(len(d.wayM), func(i int) bool { return d.wayM[i] >= target })
	q = max(1, min(q, len(d.wayM)-1))
	at := float64(d.timesNs[q-1])
	if step := d.wayM[q] - d.wayM[q-1]; step > 0 {
		at += (target - d.wayM[q-1]) / step * float64(d.timesNs[q]-d.timesNs[q-1])
	}
	return (at - float64(ns)) * 1e-9
}

// clockDay is what is drawn: the ordinary causes, the clock, the grid.
type clockDay struct {
	base                          int
	record                        string // setpoint, actual, both
	liftS, dropS, latencyS, place float64
	machine                       bool // lifts or drops are late after their setpoints
	offsetS, driftS               float64
	gridS                         float64
	kind                          string
}

func (c clockDay) String() string {
	return fmt.Sprintf("base %d, %s, lifts %+.2f, drops %+.2f, latency %+.2f, place %+.2f, machine %v, clock %+.3f drift %+.2f, grid %g %s",
		c.base, c.record, c.liftS, c.dropS, c.latencyS, c.place, c.machine, c.offsetS, c.driftS, c.gridS, c.kind)
}

// drawClockDay draws the i-th day.
func drawClockDay(i, bases int) clockDay {
	r := rand.New(rand.NewPCG(uint64(i), 16))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	pick := func(list ...float64) float64 { return list[r.IntN(len(list))] }
	sign := func() float64 { return pick(-1, 1) }
	c := clockDay{base: r.IntN(bases), record: []string{"actual", "both", "both", "setpoint"}[r.IntN(4)]}
	c.machine = c.record == "both" && r.IntN(2) == 0
	for range r.IntN(3) {
		switch r.IntN(4) {
		case 0:
			// Alone, lifts may be later than any clock in the draw.
			c.liftS = pick(between(0.15, 0.6), between(0.6, 3), -between(0.15, 0.5))
		case 1:
			c.dropS = pick(between(0.15, 0.6), -between(0.15, 0.5))
		case 2:
			c.latencyS = between(0.1, 0.6)
		case 3:
			c.place = sign() * between(0.15, 0.5)
		}
	}
	if c.machine { // no tool moves before it is told to
		c.liftS, c.dropS = math.Abs(c.liftS), math.Abs(c.dropS)
	}
	switch r.IntN(6) {
	case 0, 1:
	case 2:
		c.offsetS = sign() * between(0.1, 3)
	case 3:
		c.offsetS = sign() * 18
	case 4:
		c.offsetS = 3600 * pick(-6, -4, -1, 1, 2, 5.5, 12)
	case 5:
		c.driftS = sign() * between(0.5, 3)
		c.offsetS = pick(0, sign()*between(0.1, 3))
	}
	if c.offsetS != 0 && c.liftS > 0.6 {
		c.liftS /= 5
	}
	if r.IntN(2) == 0 {
		c.gridS = pick(0.05, 0.1, 0.2, 0.25, 0.5, 1)
		c.kind = []string{"sampled", "rounded"}[r.IntN(2)]
	}
	return c
}

// recorded returns the rows of a drawn day.
func (c clockDay) recorded(d *drivenDay) (setpoints, actuals []sections.WorkChange) {
	first, last := d.actuals[0].TimeNs, d.actuals[len(d.actuals)-1].TimeNs
	laterS := func(s sections.WorkChange, onMachine bool) float64 {
		s0 := c.latencyS
		if own := map[bool]float64{false: c.liftS, true: c.dropS}[s.On]; !c.machine || onMachine {
			s0 += own
		}
		if c.place != 0 {
			s0 += d.furtherS(s.TimeNs, c.place)
		}
		return s0
	}
	clock := func(ns float64) float64 {
		ns += c.offsetS*1e9 + c.driftS*1e9*((ns-float64(first))/float64(last-first)-0.5)
		q := c.gridS * 1e9
		switch c.kind {
		case "sampled":
			phase := math.Mod(float64(c.base)*0.0137e9+0.0031e9, q)
			ns = math.Ceil((ns-phase)/q)*q + phase
		case "rounded":
			ns = math.Round(ns/q) * q
		}
		return ns
	}
	moved := func(list []sections.WorkChange, onMachine bool) []sections.WorkChange {
		out := slices.Clone(list)
		day := int64(86400e9) // whole days stay whole in a float
		for i := range out {
			base := first / day * day
			ns := float64(out[i].TimeNs-base) + laterS(out[i], onMachine)*1e9
			out[i].TimeNs = base + int64(math.Round(clock(ns+float64(base))-float64(base)))
		}
		slices.SortStableFunc(out, func(a, b sections.WorkChange) int {
			return int(max(-1, min(1, a.TimeNs-b.TimeNs)))
		})
		return out
	}
	if c.record != "actual" {
		setpoints = moved(d.setpoints, false)
	}
	if c.record != "setpoint" {
		actuals = moved(d.actuals, true)
	}
	return setpoints, actuals
}

// clockTally counts what became of the days of one kind.
type clockTally struct {
	days                     int
	offsets, named, within   int // days with an offset to find; named; right
	hidden                   int // nothing shows them
	causes, found            int // ordinary causes; found first or in doubt
	falseFirst, falseOffsets int
	extra                    int
}

// TestClockCampaign: drawn clocks, grids and ordinary causes, on 16 days, on 60 with
// LIFTBENCH_CAMPAIGN=ci, on 400 with full; LIFTBENCH_CLOCK_DAYS_FROM=5000 draws others.
func TestClockCampaign(t *testing.T) {
	n := campaign.Times(16, 60, 400)
	var bases []*drivenDay
	for k, sd := range []float64{0, 6, 12, 18} {
		bases = append(bases, driveDay(t, sd, k+1))
	}
	rows := map[string]*clockTally{}
	var all clockTally
	from := 0
	if s := os.Getenv("LIFTBENCH_CLOCK_DAYS_FROM"); s != "" {
		var err error
		if from, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	for i := from; i < from+n; i++ {
		c := drawClockDay(i, len(bases))
		kind := "no clock"
		switch a := math.Abs(c.offsetS); {
		case c.driftS != 0:
			kind = "drift"
		case a >= 900:
			kind = "whole hours"
		case a == 18:
			kind = "18 s"
		case a > 0:
			kind = "0.1 to 3 s"
		}
		if rows[kind] == nil {
			rows[kind] = &clockTally{}
		}
		row := rows[kind]
		base := bases[c.base]
		path := filepath.Join(base.dir, "states.csv")
		setpoints, actuals := c.recorded(base)
		told := make([]sections.Setpoint, len(setpoints))
		for k, s := range setpoints {
			told[k] = sections.Setpoint{DueNs: s.TimeNs, Section: s.Section, On: s.On}
		}
		if err := os.WriteFile(path, run.AppendStates(nil, told, actuals), 0o644); err != nil {
			t.Fatal(err)
		}
		sel := settings.Selection{Arg: filepath.Join(base.dir, "day.nmea"), Machine: filepath.Join(base.dir, "machine.yaml"), Field: filepath.Join(base.dir, "field.geojson"), States: path}
		u, err := sel.Load()
		if err != nil {
			t.Fatal(err)
		}
		d, err := run.Diagnose(u, false, nil, io.Discard)
		if err != nil {
			t.Errorf("day %d (%s): %v", i, c, err)
			continue
		}
		v := c.judge(d)
		row.add(v)
		all.add(v)
		if v.offsets != v.within || v.causes != v.found || v.falseFirst+v.falseOffsets+v.extra > 0 {
			t.Logf("day %d: %s: %s\n%s", i, c, v.said(), said(d))
		}
	}
	for _, name := range []string{"no clock", "0.1 to 3 s", "18 s", "whole hours", "drift"} {
		if rows[name] != nil {
			t.Logf("%-12s %s", name, rows[name].said())
		}
	}
	t.Logf("%-12s %s", "all", all.said())
	share := func(part, of int) float64 { return float64(part) / float64(max(1, of)) }
	if share(all.within, all.offsets) < 0.95 {
		t.Errorf("%d of %d offsets within half a step or their interval", all.within, all.offsets)
	}
	if all.causes-all.found > max(1, all.causes/20) { // a latency and a place that cancel, on a coarse grid, show nothing
		t.Errorf("%d of %d ordinary causes first or in doubt", all.found, all.causes)
	}
	if all.falseFirst > max(1, all.days/50) { // of a few days one is no more than chance
		t.Errorf("a false cause first on %d of %d days", all.falseFirst, all.days)
	}
	if none := rows["no clock"]; share(none.falseOffsets, none.days) > 0.02 {
		t.Errorf("a clock named on %d of %d days without", none.falseOffsets, none.days)
	}
}

func (a *clockTally) add(b clockTally) {
	a.days += b.days
	a.offsets += b.offsets
	a.named += b.named
	a.within += b.within
	a.hidden += b.hidden
	a.causes += b.causes
	a.found += b.found
	a.falseFirst += b.falseFirst
	a.falseOffsets += b.falseOffsets
	a.extra += b.extra
}

func (a *clockTally) said() string {
	return fmt.Sprintf("%d days; offsets %d, named %d, within %d, hidden by leads %d; ordinary causes %d, first or in doubt %d; false cause first %d, beside %d, false clock %d",
		a.days, a.offsets, a.named, a.within, a.hidden, a.causes, a.found, a.falseFirst, a.extra, a.falseOffsets)
}

func said(d *run.Diagnosis) string {
	var b strings.Builder
	for _, f := range d.Causes {
		fmt.Fprintf(&b, "  %s %d %s %.4f %.3f drift %.3f %s\n", f.Cause, f.Section, f.Move, f.Size, f.CI95, f.DriftS, f.Record)
	}
	for _, q := range d.CannotTell {
		fmt.Fprintf(&b, "  doubt %q: %s\n", q.Between, q.Why)
	}
	if d.Sampling != nil {
		fmt.Fprintf(&b, "  %s", d.Sampling.Text)
	}
	return b.String()
}

// A lateness of lifts and drops alike between these may be an old position: such an offset
// must stand in doubt beside a latency, and the two together have one size.
const (
	likeLatencyFromS = -0.35
	likeLatencyToS   = 1.1
	// leastLateS and leastLateM of an ordinary cause must be found, and a step more on a
	// grid: half of one is what sampled and rounded times differ by.
	leastLateS, leastLateM = 0.1, 0.1
)

// judge compares what was found with what was drawn.
func (c clockDay) judge(d *run.Diagnosis) (v clockTally) {
	v.days = 1
	var clocks, ordinary []diagnose.Finding
	doubts := map[diagnose.Cause]bool{}
	for _, f := range d.Causes {
		if f.Cause == diagnose.ClockOffset {
			clocks = append(clocks, f)
		} else {
			ordinary = append(ordinary, f)
		}
	}
	clockInDoubt := false
	for _, q := range d.CannotTell {
		for _, cause := range q.Between {
			doubts[cause] = true
			clockInDoubt = clockInDoubt || cause == diagnose.ClockOffset
		}
	}
	nominal := math.Abs(c.offsetS) >= 18
	off := c.offsetS != 0 || c.driftS != 0
	// An offset that is no round number and a latency are one number.
	bothS := c.offsetS
	if !nominal {
		bothS += c.latencyS
	}
	hidden := !nominal && c.driftS == 0 && bothS >= likeLatencyFromS-c.gridS/2 && bothS <= likeLatencyToS+c.gridS/2
	near := func(f diagnose.Finding, want float64) bool {
		return math.Abs(f.Size-want) <= max(c.gridS/2, 0.01) || f.CI95[0]-0.01 <= want && want <= f.CI95[1]+0.01
	}
	// Lifts and drops that are both off by times of their own share what is alike: it may be
	// taken for the clock's.
	wants := []float64{bothS}
	if !nominal && off {
		wants = append(wants, bothS+c.liftS, bothS+c.dropS)
	}
	isRight := func(f diagnose.Finding) bool {
		return slices.ContainsFunc(wants, func(w float64) bool { return near(f, w) })
	}
	if one, two := bothS+c.liftS, bothS+c.dropS; hidden && one*two < 0 && math.Min(math.Abs(one), math.Abs(two)) > leastLateS {
		// Lifts that are late and drops that are early: two leads, and no clock in it.
		v.hidden++
	} else if off {
		v.offsets++
		if len(clocks) > 0 {
			v.named++
		}
		switch {
		case len(clocks) == 1:
			if isRight(clocks[0]) {
				v.within++
			}
		case hidden && len(clocks) == 0:
			late := slices.IndexFunc(ordinary, func(f diagnose.Finding) bool { return f.Cause == diagnose.Latency })
			small := math.Abs(bothS) < leastLateS+c.gridS/2
			if small || clockInDoubt && (late < 0 || isRight(ordinary[late])) {
				v.within++
			}
		case len(clocks) == 0 && clockInDoubt:
			v.within++
		}
	} else if len(clocks) > 0 {
		v.falseOffsets++
	}

	// Ordinary causes, by what they change.
	lateS := [2]float64{c.liftS, c.dropS}
	if nominal || !off || hidden {
		lateS[0], lateS[1] = lateS[0]+c.latencyS, lateS[1]+c.latencyS
	}
	if hidden {
		lateS[0], lateS[1] = lateS[0]+c.offsetS, lateS[1]+c.offsetS
	}
	isTime := [2][]diagnose.Cause{
		{diagnose.LiftTiming, diagnose.Latency, diagnose.MachineSlow, diagnose.CommandTiming},
		{diagnose.DropTiming, diagnose.Latency, diagnose.MachineSlow, diagnose.CommandTiming},
	}
	isPlace := []diagnose.Cause{diagnose.Geometry, diagnose.LiftGeometry, diagnose.DropGeometry}
	is := func(f diagnose.Finding, list []diagnose.Cause, move string) bool {
		return slices.Contains(list, f.Cause) && (f.Move == "" || f.Move == move)
	}
	inDoubt := func(list []diagnose.Cause) bool {
		return slices.ContainsFunc(list, func(x diagnose.Cause) bool { return doubts[x] })
	}
	isTrue := func(f diagnose.Finding) bool {
		switch {
		case is(f, isTime[0], "lift") && math.Abs(lateS[0]) > 0.02, is(f, isTime[1], "drop") && math.Abs(lateS[1]) > 0.02:
			return true
		case is(f, isTime[0], "lift") || is(f, isTime[1], "drop"):
			// Which of the two is late depends on the clock's offset.
			return !nominal && off && c.liftS != c.dropS
		}
		return slices.Contains(isPlace, f.Cause) && c.place != 0
	}
	for way, move := range []string{"lift", "drop"} {
		if math.Abs(lateS[way]) >= leastLateS+c.gridS {
			v.causes++
			if slices.ContainsFunc(ordinary, func(f diagnose.Finding) bool { return is(f, isTime[way], move) }) || inDoubt(isTime[way]) ||
				slices.ContainsFunc(ordinary, isTrue) && !nominal && off {
				v.found++
			}
		}
	}
	if math.Abs(c.place) >= leastLateM+c.gridS {
		v.causes++
		if slices.ContainsFunc(ordinary, func(f diagnose.Finding) bool { return slices.Contains(isPlace, f.Cause) }) || inDoubt(isPlace) {
			v.found++
		}
	}
	for i, f := range ordinary {
		if !isTrue(f) {
			if i == 0 {
				v.falseFirst++
			} else {
				v.extra++
			}
		}
	}
	return v
}
