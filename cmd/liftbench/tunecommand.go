// liftbench tune: the settings at which a machine on a field costs least.

package main

import (
	"context"
	"fmt"
	"io"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"
)

func newTuneCommand() *cobra.Command {
	o := tuneOptions{weights: costWeights{overrun: 1, miss: 1}, drives: 8, firstSeed: 1, toleranceCm: 10, sharePercent: 95}
	var outDir string
	cmd := &cobra.Command{
		Use:   "tune [SCENARIO]",
		Short: "Find the leads, edge rule and shortest times that cost least",
		Long: `tune drives a scenario many times and finds the settings of the controller that
cost least under the errors of its receiver and the spread of its machine: what
is worked outside the zone, missed inside, and worked twice, in m², each with a
weight. By default a square metre of crop lost weighs as much as one of weeds
left, and one worked twice nothing: the tool only loosens it again.

It says how sure each value is, how much it matters, up to which speed lifts
and drops keep the tolerance, and what a better receiver, a bigger pump or
narrower sections would still gain. All settings meet the same chances.

With --out it writes tune.json, the cost curves as CSV, SVG and PNG, and
controller.yaml, to be put into the machine file.`,
		Example: `  liftbench tune --drives 4
  liftbench check --write-demo beets
  liftbench tune --crop 3 --tolerance-cm 8 --out tuned beets/scenario.yaml`,
		Args: atMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.check(); err != nil {
				return err
			}
			sel := selection{}
			if len(args) > 0 {
				sel.arg = args[0]
			}
			if !sel.isScenario() {
				return &usageError{sel.arg + " is no scenario file; expected a name that ends in .yaml"}
			}
			u, err := sel.load()
			if err != nil {
				return err
			}
			if u.log != "" {
				return &usageError{sel.arg + " replays a recorded drive; expected a scenario that generates its drive"}
			}
			if outDir != "" {
				if err := makeDir(outDir); err != nil {
					return err
				}
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			t, err := o.tune(ctx, u, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			if outDir != "" {
				if err := writeDir(outDir, t.files()); err != nil {
					return err
				}
			}
			return t.writeTable(cmd.OutOrStdout())
		},
	}
	f := cmd.Flags()
	f.Float64Var(&o.weights.overrun, "crop", o.weights.overrun, "what a m² of overrun weighs")
	f.Float64Var(&o.weights.miss, "weeds", o.weights.miss, "what a m² of miss weighs")
	f.Float64Var(&o.weights.repeat, "repeat", o.weights.repeat, "what a m² worked more than once weighs")
	f.IntVar(&o.drives, "drives", o.drives, "drives at each setting, each with other chances")
	f.IntVar(&o.firstSeed, "first-seed", o.firstSeed, "`seed` of the first of them")
	f.IntVar(&o.workers, "workers", 0, "drives at once; 0 = one a core")
	f.Float64Var(&o.toleranceCm, "tolerance-cm", o.toleranceCm, "place error, in `cm`, that the largest speed is to keep")
	f.Float64Var(&o.sharePercent, "share", o.sharePercent, "share of lifts and drops, in `%`, that is to keep it")
	f.StringVar(&outDir, "out", "", "write tune.json, controller.yaml and the cost curves to `DIR`")
	_ = cmd.MarkFlagDirname("out")
	return cmd
}

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
