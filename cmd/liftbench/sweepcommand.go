// liftbench sweep: many drives of a scenario whose settings vary.

package main

import (
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/study"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sim/sweep"
)

func newSweepCommand() *cobra.Command {
	var outDir, shardText string
	var workers int
	cmd := &cobra.Command{
		Use:   "sweep [STUDY]",
		Short: "Drive a scenario many times while its settings vary",
		Long: `sweep drives a scenario at every point of a grid of settings, several times
each with other random numbers, and writes what each drive came to. A STUDY
(.yaml) names the scenario and what varies; with none, the demo's runs.

Every drive is noted in DIR/` + study.JournalFile + ` as it ends. Interrupted or killed, the
same command goes on from there. With --shard 2/5 it runs the second of five
parts; "liftbench sweep merge" puts the parts together.

DIR then holds results.csv and results.parquet, a row a drive; points.csv, the
mean at each point with its 95 % interval; and figures as SVG and PNG.`,
		Example: `  liftbench sweep
  liftbench check --write-demo beets
  liftbench sweep --out speeds beets/study.yaml
  liftbench sweep --out part1 --shard 1/2 beets/study.yaml
  liftbench sweep --out part2 --shard 2/2 beets/study.yaml
  liftbench sweep merge --out speeds part1 part2`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			shard, err := study.ParseShard(shardText)
			if err != nil {
				return err
			}
			if workers < 0 || workers > 4096 {
				return &failure.Usage{Msg: fmt.Sprintf("--workers %d: expected 1 to 4096, or 0 for one a core", workers)}
			}
			if shard.Of > 0 && outDir == "" {
				return &failure.Usage{Msg: "--shard " + shardText + ": expected --out DIR, for the part's journal"}
			}
			file, read := settings.DemoStudy, settings.InDemo
			if len(args) > 0 {
				file, read = args[0], settings.OnDisk
			}
			c, u, err := settings.LoadStudy(file, read)
			if err != nil {
				return err
			}
			plan, err := c.Plan(u)
			if err != nil {
				return err
			}
			b := &study.DriveBench{Base: u, ToleranceM: c.ToleranceCm / 100, Plan: plan}
			head, err := study.Head(c, u, plan, shard)
			if err != nil {
				return err
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			s := &sweep.Study{Plan: *plan, Do: b.Do, Workers: workers, Shard: shard}
			rows, err := study.Run(ctx, s, &head, outDir, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			if shard.Of > 0 {
				_, err := fmt.Fprintf(cmd.OutOrStdout(), "Part %s of %s: %s in %s.\nliftbench sweep merge puts the parts together.\n",
					shard, head.Title, wording.Counted(len(rows), "drive"), filepath.Join(outDir, study.JournalFile))
				return err
			}
			return (&study.Result{Head: &head, Rows: rows}).Write(outDir, cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&outDir, "out", "", "write journal, results and figures to `DIR`, or go on with what is there")
	cmd.Flags().StringVar(&shardText, "shard", "", "run one part of several, as `2/5`")
	cmd.Flags().IntVar(&workers, "workers", 0, "drives at once; 0 = one a core")
	_ = cmd.MarkFlagDirname("out")
	cmd.AddCommand(newSweepMergeCommand())
	return cmd
}

func newSweepMergeCommand() *cobra.Command {
	var outDir string
	cmd := &cobra.Command{
		Use:   "merge DIR...",
		Short: "Put the parts of a sweep together",
		Long: `merge reads the journals of all parts of a study and writes what the whole study
in one run would have written.`,
		Example: `  liftbench sweep merge --out speeds part1 part2`,
		Args:    partsGiven,
		RunE: func(cmd *cobra.Command, args []string) error {
			var paths []string
			for _, dir := range args {
				if info, err := os.Stat(dir); err == nil && info.IsDir() {
					dir = filepath.Join(dir, study.JournalFile)
				}
				if _, err := os.Stat(dir); err != nil {
					return failure.Opening(dir, "the journal of a part", err)
				}
				paths = append(paths, dir)
			}
			head, rows, err := sweep.Merge(paths)
			if err != nil {
				return &failure.Usage{Msg: err.Error()}
			}
			return (&study.Result{Head: &head, Rows: rows}).Write(outDir, cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&outDir, "out", "", "write results and figures to `DIR`")
	_ = cmd.MarkFlagDirname("out")
	return cmd
}

// partsGiven checks the arguments of merge.
func partsGiven(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return &failure.Usage{Msg: cmd.CommandPath() + ": found no argument; expected the directories of all parts"}
	}
	return nil
}
