// The drives that tune compares: the same chances under every setting.

package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"liftbench/sections/score"
	"liftbench/sim/sweep"
)

// costWeights is what a square metre of each weighs.
type costWeights struct{ overrun, miss, repeat float64 }

// of returns the cost of a drive in weighted m².
func (w *costWeights) of(s *score.Result) float64 {
	return w.overrun*s.Area.OverrunM2 + w.miss*s.Area.MissM2 + w.repeat*s.Area.RepeatM2
}

// tuneBench runs drives and tells what they cost.
type tuneBench struct {
	ctx     context.Context
	options *tuneOptions
	drives  sweepBench // its fields
	base    *setup
	bar     *tuneBar
	ran     int // drives so far
}

func newTuneBench(ctx context.Context, u *setup, o *tuneOptions, stderr io.Writer) *tuneBench {
	return &tuneBench{ctx: ctx, options: o, base: u, bar: newTuneBar(stderr)}
}

// change is a setting and its value.
type change struct {
	key   string
	value float64
}

// with returns the setup with changes.
func with(u *setup, changes ...change) (*setup, error) {
	c := u.copy()
	for _, x := range changes {
		if err := c.set(x.key, x.value); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// driven is what tune keeps of a drive.
type driven struct {
	cost                float64
	within, transitions float64
	zoneM2              float64
}

// run drives each of several setups with the first seeds of all, and returns
// what each came to: by setup, then drive.
func (b *tuneBench) run(what string, setups []*setup, drives int) ([][]driven, error) {
	out := make([][]driven, len(setups))
	for i := range out {
		out[i] = make([]driven, drives)
	}
	number := make([]float64, len(setups))
	for i := range number {
		number[i] = float64(i)
	}
	s := &sweep.Study{
		Plan:    sweep.Plan{Axes: []sweep.Axis{{Key: what, Values: number}}, Seeds: drives, FirstSeed: uint64(b.options.firstSeed)},
		Workers: b.options.workers,
		Do: func(bench sweep.Bench) ([]float64, error) {
			u := setups[bench.Point].copy()
			u.scenario.Drive.Seed = int(bench.Seed)
			o, err := b.drives.run(u)
			if err != nil {
				return nil, err
			}
			// Each bench has a place of its own.
			out[bench.Point][int(bench.Seed)-b.options.firstSeed] = driven{
				cost:        b.options.weights.of(o.Score),
				within:      within(o.Score, b.options.toleranceCm/100),
				transitions: float64(o.Score.Lift.Count + o.Score.Drop.Count),
				zoneM2:      o.Score.ZoneM2,
			}
			return nil, nil
		},
		Progress: func(done, of int) { b.bar.show(what, b.ran+done, done, of) },
	}
	rows, err := s.Run(b.ctx, nil, func(sweep.Row) error { return nil }, func() error { return nil })
	b.ran += len(rows)
	if b.ctx.Err() != nil {
		return nil, &usageError{fmt.Sprintf("interrupted after %s", counted(b.ran, "drive"))}
	}
	return out, err
}

// costs returns the costs alone.
func costs(drives [][]driven) [][]float64 {
	out := make([][]float64, len(drives))
	for i := range drives {
		out[i] = make([]float64, len(drives[i]))
		for k := range drives[i] {
			out[i][k] = drives[i][k].cost
		}
	}
	return out
}

// difference is how much more the second of two costs, drive by drive under
// the same chances.
func difference(a, b []driven) sweep.Interval {
	d := make([]float64, len(a))
	for i := range a {
		d[i] = b[i].cost - a[i].cost
	}
	return sweep.Mean(d)
}

// shareWithin is the share of transitions within the tolerance.
func shareWithin(d []driven, together int) sweep.Interval {
	hits, trials := make([]float64, len(d)), make([]float64, len(d))
	for i := range d {
		hits[i], trials[i] = d[i].within, d[i].transitions
	}
	return sweep.Share(hits, trials, float64(together))
}

func meanCost(d []driven) float64 {
	sum := 0.0
	for i := range d {
		sum += d[i].cost
	}
	return sum / float64(len(d))
}

// tuneBar shows on a terminal what is looked for and how far that is.
type tuneBar struct {
	out   io.Writer // nil: silent
	shown time.Time
	drawn bool
}

func newTuneBar(stderr io.Writer) *tuneBar {
	b := &tuneBar{}
	if isTerminal(stderr) {
		b.out = stderr
	}
	return b
}

func (b *tuneBar) show(what string, all, done, of int) {
	if now := time.Now(); b.out != nil && now.Sub(b.shown) >= progressEvery {
		b.shown, b.drawn = now, true
		fmt.Fprintf(b.out, "\r\x1b[K%s: %.0f %% of this step; %s so far", what, math.Floor(100*float64(done)/float64(of)), counted(all, "drive"))
	}
}

func (b *tuneBar) finish() {
	if b.drawn {
		fmt.Fprint(b.out, "\r\x1b[K")
	}
}
