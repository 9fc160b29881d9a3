// The drives that tune compares. Every setting meets the same random numbers.

package study

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections/score"
	"liftbench/sim/sweep"
)

// CostWeights is how much a square metre of each kind of ground weighs.
type CostWeights struct{ Overrun, Miss, Repeat float64 }

// of returns the cost of a drive in weighted m².
func (w *CostWeights) of(s *score.Result) float64 {
	return w.Overrun*s.Area.OverrunM2 + w.Miss*s.Area.MissM2 + w.Repeat*s.Area.RepeatM2
}

// tuneBench runs drives and computes their costs.
type tuneBench struct {
	ctx     context.Context
	options *TuneOptions
	drives  DriveBench // its fields
	base    *settings.Setup
	bar     *tuneBar
	ran     int // drives so far
}

func NewTuneBench(ctx context.Context, u *settings.Setup, o *TuneOptions, stderr io.Writer) *tuneBench {
	return &tuneBench{ctx: ctx, options: o, base: u, bar: newTuneBar(stderr)}
}

// Change is a setting and its value.
type Change struct {
	Key   string
	Value float64
}

// With returns the setup with changes.
func With(u *settings.Setup, changes ...Change) (*settings.Setup, error) {
	c := u.Copy()
	for _, x := range changes {
		if err := c.Set(x.Key, x.Value); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// driven holds what tune keeps of a drive.
type driven struct {
	cost                float64
	within, transitions float64
	zoneM2              float64
}

// run runs each of several setups with the first seeds of all, and returns the
// results by setup, then by drive.
func (b *tuneBench) run(what string, setups []*settings.Setup, drives int) ([][]driven, error) {
	out := make([][]driven, len(setups))
	for i := range out {
		out[i] = make([]driven, drives)
	}
	number := make([]float64, len(setups))
	for i := range number {
		number[i] = float64(i)
	}
	s := &sweep.Study{
		Plan:    sweep.Plan{Axes: []sweep.Axis{{Key: what, Values: number}}, Seeds: drives, FirstSeed: uint64(b.options.FirstSeed)},
		Workers: b.options.Workers,
		Do: func(bench sweep.Bench) ([]float64, error) {
			u := setups[bench.Point].Copy()
			u.Scenario.Drive.Seed = int(bench.Seed)
			o, err := b.drives.run(u)
			if err != nil {
				return nil, err
			}
			// Each bench writes to its own element.
			out[bench.Point][int(bench.Seed)-b.options.FirstSeed] = driven{
				cost:        b.options.Weights.of(o.Score),
				within:      within(o.Score, b.options.ToleranceCm/100),
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
		return nil, &failure.Usage{Msg: fmt.Sprintf("interrupted after %s", wording.Counted(b.ran, "drive"))}
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

// difference returns how much higher the second of two costs is, drive by drive
// with the same random numbers.
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

// tuneBar shows on a terminal which search is running and how far it is.
type tuneBar struct {
	out   io.Writer // nil: silent
	shown time.Time
	drawn bool
}

func newTuneBar(stderr io.Writer) *tuneBar {
	b := &tuneBar{}
	if terminal.IsTerminal(stderr) {
		b.out = stderr
	}
	return b
}

func (b *tuneBar) show(what string, all, done, of int) {
	if now := time.Now(); b.out != nil && now.Sub(b.shown) >= terminal.ProgressEvery {
		b.shown, b.drawn = now, true
		terminal.Redraw(b.out, fmt.Sprintf("%s: %.0f %% of this step; %s so far", what, math.Floor(100*float64(done)/float64(of)), wording.Counted(all, "drive")))
	}
}

func (b *tuneBar) finish() {
	if b.drawn {
		terminal.Redraw(b.out, "")
	}
}
