// The same worlds on every processor: what .ci/processors runs on each.

package sim_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// TestTranscript writes what is decided and scored in drawn worlds, all numbers to
// the last bit: 200 into the file that LIFTBENCH_TRANSCRIPT names, so that it can be
// compared between processors; otherwise 3 of them twice, which must be the same.
func TestTranscript(t *testing.T) {
	if path := os.Getenv("LIFTBENCH_TRANSCRIPT"); path != "" {
		f, err := os.Create(filepath.Clean(path))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		w := bufio.NewWriter(f)
		for seed := range uint64(200) {
			transcribe(t, w, seed)
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		return
	}
	for seed := range uint64(3) {
		var a, b strings.Builder
		transcribe(t, &a, seed)
		transcribe(t, &b, seed)
		if a.String() != b.String() {
			t.Errorf("world %d: two transcripts of %d and %d bytes differ", seed, a.Len(), b.Len())
		}
	}
}

// transcribe drives through one drawn world. Products that go into sums are
// converted, as a compiler may otherwise round them differently. Half of the worlds
// have ties: the machine drives along the grid, borders lie on the edges of sections
// and square to the way at whole metres, and rows are at the very tolerance to it.
func transcribe(t *testing.T, w io.Writer, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 77))
	between := func(lo, hi float64) float64 { return lo + float64(rng.Float64()*(hi-lo)) }
	set := sections.DefaultSettings()
	h := lift()
	mount := sections.Mount(rng.IntN(3))
	x := -2.5
	if mount == sections.FrontRigid {
		x = 3.5
	}
	m := bar(mount, x, 4+2*rng.IntN(3), 1)
	if mount == sections.Trailed {
		m.HitchBehindM, m.DrawbarM = 0.75, 3
	}
	set.Rule = sections.EdgeRule(rng.IntN(3))
	set.SlackM = 0
	set.LiftLead, set.DropLead = sim.Leads(&h, len(m.Sections), true)

	ties := seed%2 == 0
	heading := between(-3, 3)
	slant := between(-0.4, 0.4)
	if ties {
		heading, slant = float64(rng.IntN(4))*exact.Atan2(1, 0), 0
	}
	sin, cos := exact.Sincos(heading)
	at := func(along, right float64) orb.Point {
		return orb.Point{float64(along*sin) + float64(right*cos), float64(along*cos) - float64(right*sin)}
	}
	ring := func(from, to, left, right float64) orb.MultiPolygon {
		l := float64(slant * left)
		r := float64(slant * right)
		a := at(from+l, left)
		return orb.MultiPolygon{{{a, at(from+r, right), at(to+r, right), at(to+l, left), a}}}
	}
	rows := heading + set.RowToleranceRad
	if !ties {
		rows = heading + between(-0.4, 0.4)
	}
	right := between(-2, 12)
	if ties {
		right = float64(rng.IntN(3)) - 1 // on an edge between sections
	}
	zones := []field.Zone{
		{Name: "body", RowBearingRad: rows, Polygons: ring(0, 40, -12, right)},
		{Name: "headland", Kind: field.Headland, RowBearingRad: heading, Polygons: ring(40, 60, -12, 12)},
		{Name: "pond", Kind: field.KeepOut, RowBearingRad: heading, Polygons: ring(20, 24, -1, 2)},
	}
	f := fieldOf(t, zones)
	var track motion.Track
	from := at(-30, 0)
	speed := between(0.8, 4)
	if rng.IntN(2) == 0 {
		track = drive.Straight(startNs, from[0], from[1], heading, speed, 110)
	} else {
		track = drive.Arc(startNs, from[0], from[1], heading, speed, 110, between(40, 200))
	}
	p := receiver.Params{
		RateHz: []float64{1, 2, 5, 10}[rng.IntN(4)], LatencyNs: 100e6, Seed: seed,
		LostShare: float64(between(0, 0.2) * float64(rng.IntN(2))),
	}
	if !ties || rng.IntN(2) == 0 {
		p.SigmaM, p.CorrelationS, p.VelocitySigmaMps = 0.014, 20, 0.03
	}
	var log bytes.Buffer
	if err := receiver.Write(&log, track, &plane, m, p); err != nil {
		t.Fatal(err)
	}
	job := sim.Job{Machine: m, Field: f, Settings: set, Hydraulics: h, Heights: true, Strips: true}
	if rng.IntN(2) == 0 {
		job.Truth = track
	}
	fmt.Fprintf(w, "world %d\n%s", seed, log.Bytes())
	out, err := job.Run(epoch.NewReader(bytes.NewReader(log.Bytes())))
	if err != nil {
		fmt.Fprintln(w, err)
		return
	}
	for _, s := range out.Setpoints {
		fmt.Fprintf(w, "setpoint %+v\n", s)
	}
	for _, c := range out.Changes {
		fmt.Fprintf(w, "change %+v\n", c)
	}
	for _, e := range out.Score.Events {
		fmt.Fprintf(w, "event %+v\n", e)
	}
	for i := 0; i < len(out.Track); i += 20 {
		fmt.Fprintf(w, "pose %+v\n", out.Track[i])
	}
	for i := range out.Score.Sections {
		s := &out.Score.Sections[i]
		fmt.Fprintf(w, "section %d %+v %v %v\n", i+1, s.Area, s.Lift.Paired, s.Drop.Paired)
	}
	fmt.Fprintf(w, "%+v\n%+v\n%+v\n", out.Heights, out.Score.Area, out.Score.Strips)
	fmt.Fprintf(w, "%+v %+v %v %v\n", out.Controller, out.Reception, out.DistanceM, out.WorkM)
}
