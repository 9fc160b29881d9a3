// liftbench tune: the settings at which a machine on a field costs least.

package main

import (
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
