// The options of tune: weights, drives and the tolerance.

package study

import (
	"context"
	"fmt"
	"io"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings"
)

// TuneOptions holds the flags of tune.
type TuneOptions struct {
	Weights                   CostWeights
	Drives, FirstSeed         int
	Workers                   int
	ToleranceCm, SharePercent float64
}

// Check refuses options out of range, and weights by which never to lift or
// never to drop would be best.
func (o *TuneOptions) Check() error {
	for _, c := range []struct {
		flag       string
		v, lo, hi  float64
		expectText string
	}{
		{"crop", o.Weights.Overrun, 0, 1e6, "a weight from 0 to 1e6"},
		{"weeds", o.Weights.Miss, 0, 1e6, "a weight from 0 to 1e6"},
		{"repeat", o.Weights.Repeat, 0, 1e6, "a weight from 0 to 1e6"},
		{"drives", float64(o.Drives), 2, 10000, "2 to 10000: of one drive nothing tells how sure it is"},
		{"first-seed", float64(o.FirstSeed), 0, 1 << 53, "0 to 2^53"},
		{"workers", float64(o.Workers), 0, 4096, "1 to 4096, or 0 for one a core"},
		{"tolerance-cm", o.ToleranceCm, 0.1, 1000, "0.1 to 1000 cm"},
		{"share", o.SharePercent, 1, 99.9, "1 to 99.9 %"},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return &failure.Usage{Msg: fmt.Sprintf("--%s %g: expected %s", c.flag, c.v, c.expectText)}
		}
	}
	if o.Weights.Overrun == 0 || o.Weights.Miss == 0 {
		return &failure.Usage{Msg: "--crop or --weeds 0: the best would be never to drop, or never to lift; expected weights above 0"}
	}
	return nil
}

// Tune runs the whole search.
func (o *TuneOptions) Tune(ctx context.Context, u *settings.Setup, stderr io.Writer) (*Tuned, error) {
	b := NewTuneBench(ctx, u, o, stderr)
	defer b.bar.finish()
	t := &Tuned{title: u.Title, Options: *o, Base: u}
	for _, step := range []func(*tuneBench) error{t.FindLeads, t.compareRules, t.compareTimes, t.findSpeed, t.compareMachines} {
		if err := step(b); err != nil {
			return nil, err
		}
	}
	t.ran = b.ran
	return t, nil
}
