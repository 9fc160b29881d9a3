// What tune is asked for: weights, drives and the tolerance.

package main

import (
	"context"
	"fmt"
	"io"
)

// tuneOptions is what the command line says.
type tuneOptions struct {
	weights                   costWeights
	drives, firstSeed         int
	workers                   int
	toleranceCm, sharePercent float64
}

func (o *tuneOptions) check() error {
	for _, c := range []struct {
		flag       string
		v, lo, hi  float64
		expectText string
	}{
		{"crop", o.weights.overrun, 0, 1e6, "a weight from 0 to 1e6"},
		{"weeds", o.weights.miss, 0, 1e6, "a weight from 0 to 1e6"},
		{"repeat", o.weights.repeat, 0, 1e6, "a weight from 0 to 1e6"},
		{"drives", float64(o.drives), 2, 10000, "2 to 10000: of one drive nothing tells how sure it is"},
		{"first-seed", float64(o.firstSeed), 0, 1 << 53, "0 to 2^53"},
		{"workers", float64(o.workers), 0, 4096, "1 to 4096, or 0 for one a core"},
		{"tolerance-cm", o.toleranceCm, 0.1, 1000, "0.1 to 1000 cm"},
		{"share", o.sharePercent, 1, 99.9, "1 to 99.9 %"},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return &usageError{fmt.Sprintf("--%s %g: expected %s", c.flag, c.v, c.expectText)}
		}
	}
	if o.weights.overrun == 0 || o.weights.miss == 0 {
		return &usageError{"--crop or --weeds 0: the best would be never to drop, or never to lift; expected weights above 0"}
	}
	return nil
}

// tune finds everything that the table says.
func (o *tuneOptions) tune(ctx context.Context, u *setup, stderr io.Writer) (*tuned, error) {
	b := newTuneBench(ctx, u, o, stderr)
	defer b.bar.finish()
	t := &tuned{title: u.title, options: *o, base: u}
	for _, step := range []func(*tuneBench) error{t.findLeads, t.compareRules, t.compareTimes, t.findSpeed, t.compareMachines} {
		if err := step(b); err != nil {
			return nil, err
		}
	}
	t.ran = b.ran
	return t, nil
}
