// liftbench tune: the settings at which a machine on a field costs least.

package main

import (
	"cmp"
	"fmt"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/study"
	"liftbench/cmd/liftbench/wording"
)

func newTuneCommand() *cobra.Command {
	o := study.TuneOptions{Weights: study.CostWeights{Overrun: 1, Miss: 1}, Drives: 8, FirstSeed: 1, ToleranceCm: 10, SharePercent: 95}
	var outDir string
	var sheet acceptance.Wanted
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
narrower sections would still gain. All settings meet the same chances. With
--sheet the settings found meet others, and an acceptance sheet says what they keep.

With --out it writes tune.json, the cost curves as CSV, SVG and PNG, and
controller.yaml, to be put into the machine file.

Before a machine drives by these figures:
` + wording.StandClearEverywhere,
		Example: `  liftbench tune --drives 4
  liftbench check --write-demo beets
  liftbench tune --crop 3 --tolerance-cm 8 --out tuned beets/scenario.yaml`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := cmp.Or(o.Check(), sheet.Check()); err != nil {
				return err
			}
			sel := settings.Selection{}
			if len(args) > 0 {
				sel.Arg = args[0]
			}
			if !sel.IsScenario() {
				return &failure.Usage{Msg: sel.Arg + " is no scenario file; expected a name that ends in .yaml"}
			}
			u, err := sel.Load()
			if err != nil {
				return err
			}
			if u.Log != "" {
				return &failure.Usage{Msg: sel.Arg + " replays a recorded drive; expected a scenario that generates its drive"}
			}
			if outDir != "" {
				if err := files.MakeDir(outDir); err != nil {
					return err
				}
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			t, err := o.Tune(ctx, u, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			var notKept error // what was found is printed all the same
			if outDir != "" {
				notKept = files.WriteDir(outDir, t.Files())
			}
			if sheet.File != "" && notKept == nil {
				if s, err := t.Sheet(commandline.Again(cmd, args)); err != nil {
					notKept = err
				} else {
					notKept = sheet.Write(s)
				}
			}
			if err := t.WriteTable(cmd.OutOrStdout()); err != nil {
				return fmt.Errorf("standard output: %w", err)
			}
			return notKept
		},
	}
	f := cmd.Flags()
	f.Float64Var(&o.Weights.Overrun, "crop", o.Weights.Overrun, "what a m² of overrun weighs")
	f.Float64Var(&o.Weights.Miss, "weeds", o.Weights.Miss, "what a m² of miss weighs")
	f.Float64Var(&o.Weights.Repeat, "repeat", o.Weights.Repeat, "what a m² worked more than once weighs")
	f.IntVar(&o.Drives, "drives", o.Drives, "drives at each setting, each with other chances")
	f.IntVar(&o.FirstSeed, "first-seed", o.FirstSeed, "`seed` of the first of them")
	f.IntVar(&o.Workers, "workers", 0, "drives at once; 0 = one a core")
	f.Float64Var(&o.ToleranceCm, "tolerance-cm", o.ToleranceCm, "place error, in `cm`, that the largest speed is to keep")
	f.Float64Var(&o.SharePercent, "share", o.SharePercent, "share of lifts and drops, in `%`, that is to keep it")
	f.StringVar(&outDir, "out", "", "write tune.json, controller.yaml and the cost curves to `DIR`")
	_ = cmd.MarkFlagDirname("out")
	flags.AddSheet(&sheet, cmd)
	return cmd
}
