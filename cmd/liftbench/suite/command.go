// liftbench suite: flags, help and what they call.

package suite

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/study"
	"liftbench/sim/sweep"
)

// options are the flags of suite.
type options struct {
	bench                 loop.Bench
	own, list, update     bool
	drives, shard         string
	baseline, outDir      string
	junit, markdown, prom string
	allowCm               float64
	seed                  uint64
}

// NewCommand returns the command suite.
func NewCommand() *cobra.Command {
	o := options{bench: loop.Bench{PlayFlags: loop.PlayFlags{Pace: 1}, Lockstep: true, AnswerWithin: 10 * time.Second}}
	cmd := &cobra.Command{
		Use:   "suite",
		Short: "Score a controller on a standard set of drives",
		Long: `suite runs a controller through ` + fmt.Sprint(numberOfDrives()) + ` drives that are the same for everybody, in lockstep,
and says per class how much was well placed, what was lost, and what others come to
on the same drives. --list names the drives.

The controller is a program (--exec), hangs on a port (--to), or is ours (--own).
A program is started for each drive, several at once, with LIFTBENCH_DRIVE, the
drive's name, and LIFTBENCH_SCENARIO, its file, in its environment. One that
crashes, hangs or says rubbish fails that drive; the others go on.

--baseline compares with an earlier result: crossing by crossing where both had the
same chances. --update writes the new one.

Exit status: 1 if a drive exceeds its limits or has no score, or if a class is worse
than the baseline by more than --allow; 2 if the suite could not be run.`,
		Example: `  liftbench suite --list
  liftbench suite --own
  liftbench suite --own --baseline suite.json --update
  liftbench suite --own --baseline suite.json --junit suite.xml
  liftbench suite show hard/ditches --baseline suite.json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			return o.run(ctx, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.addController(cmd)
	f := cmd.Flags()
	f.BoolVar(&o.list, "list", false, "say what each drive is, and draw its field")
	f.StringVar(&o.shard, "shard", "", "run the `PART` of several, as 2/5")
	f.StringVar(&o.outDir, "out", "", "write "+resultFile+", summary.md, metrics.prom and what each program said on standard error to `DIR`")
	f.StringVar(&o.junit, "junit", "", "write a JUnit report to `FILE`")
	f.StringVar(&o.markdown, "markdown", "", "write the summary for a merge request to `FILE`")
	f.StringVar(&o.prom, "metrics-file", "", "write Prometheus text to `FILE`")
	f.BoolVar(&o.update, "update", false, "write the new result in place of the baseline")
	f.Float64Var(&o.allowCm, "allow", 0, "how many `cm` a lift or drop, on average, may be worse than the baseline")
	_ = cmd.MarkFlagDirname("out")
	cmd.AddCommand(newShowCommand())
	return cmd
}

// addController adds the flags that choose controller, drives and baseline.
func (o *options) addController(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.bench.Exec, "exec", "", "`COMMAND` that starts the controller, once a drive")
	f.StringVar(&o.bench.To, "to", "", "`PORT` of the controller, as tcp-listen::9000; it is opened once a drive")
	f.StringVar(&o.bench.From, "from", "", "`PORT` on which its setpoints come, where that is another")
	f.DurationVar(&o.bench.AnswerWithin, "answer-within", o.bench.AnswerWithin, "`time` after which a controller is given up")
	f.BoolVar(&o.own, "own", false, "our own controller")
	f.StringVar(&o.drives, "drives", "", "`DIR` with scenarios of your own, which join the suite")
	f.StringVar(&o.baseline, "baseline", "", "earlier results: a `FILE`, or a folder that --out wrote")
	f.Uint64Var(&o.seed, "seed", 0, "`number` added to the seed of each drive: other chances")
	_ = cmd.MarkFlagDirname("drives")
}

func noArguments(_ *cobra.Command, args []string) error {
	if len(args) > 0 {
		return &failure.Usage{Msg: fmt.Sprintf("suite %s: expected no argument; `liftbench suite show DRIVE` shows one drive", strings.Join(args, " "))}
	}
	return nil
}

func numberOfDrives() int {
	list, err := Drives("")
	if err != nil {
		return 0
	}
	return len(list)
}

// check checks the flags that addController adds, and returns who runs.
func (o *options) check(command string) (*Runner, error) {
	n := 0
	for _, set := range []bool{o.own, o.bench.Exec != "", o.bench.To != ""} {
		if set {
			n++
		}
	}
	switch {
	case n != 1:
		return nil, &failure.Usage{Msg: command + ": expected one of --exec COMMAND, --to PORT and --own"}
	case o.seed > 1<<32:
		return nil, &failure.Usage{Msg: fmt.Sprintf("--seed %d: expected 0 to %d", o.seed, uint64(1<<32))}
	case o.own:
		return &Runner{Seed: o.seed}, nil
	}
	if err := o.bench.Check(); err != nil {
		return nil, err
	}
	return &Runner{Bench: &o.bench, Seed: o.seed}, nil
}

// title is how the results call the controller under test.
func (o *options) title() string {
	switch {
	case o.own:
		return "our own controller"
	case o.bench.Exec != "":
		return o.bench.Exec
	}
	return o.bench.To
}

func (o *options) run(ctx context.Context, stdout, stderr io.Writer) error {
	drives, err := Drives(o.drives)
	if err != nil {
		return err
	}
	if o.list {
		return list(drives, stdout)
	}
	runner, err := o.check("suite")
	if err != nil {
		return err
	}
	if !(o.allowCm >= 0 && o.allowCm <= 200) {
		return &failure.Usage{Msg: fmt.Sprintf("--allow %g: expected 0 to 200 cm", o.allowCm)}
	}
	if o.update && o.baseline == "" {
		return &failure.Usage{Msg: "--update: expected it with --baseline FILE"}
	}
	shard, err := study.ParseShard(o.shard)
	if err != nil {
		return err
	}
	var before map[string]*Result
	if o.baseline != "" {
		if before, err = ReadResults(o.baseline); err != nil && !o.update {
			return err
		}
	}
	references, err := References()
	if err != nil {
		return err
	}
	if o.outDir != "" {
		if err := files.MakeDir(o.outDir); err != nil {
			return err
		}
	}
	mine := part(drives, shard)
	results, err := runner.Run(ctx, mine, stderr)
	if err != nil {
		return err
	}
	told := groups(results, before, o.allowCm*10)
	if len(mine) < numberOfDrives() {
		references = nil // they are of whole classes
	}
	notKept := o.write(results, told, drives)
	if err := WriteTable(stdout, o.title(), told, references); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	if notKept != nil {
		return notKept
	}
	return verdict(results, told, o.update)
}

// part returns the drives of one part of several: every n-th, so that parts take alike.
func part(drives []Drive, shard sweep.Shard) []Drive {
	if shard.Of == 0 {
		return drives
	}
	var out []Drive
	for i := range drives {
		if i%shard.Of == shard.Part-1 {
			out = append(out, drives[i])
		}
	}
	return out
}

// write writes all files that are asked for.
func (o *options) write(results []Result, told []group, drives []Drive) error {
	type file struct {
		path  string
		write func(io.Writer) error
	}
	summary := func(w io.Writer) error { return WriteMarkdown(w, o.title(), told) }
	figures := func(w io.Writer) error { return WriteMetrics(w, told) }
	list := []file{{o.junit, func(w io.Writer) error { return WriteJUnit(w, told) }}, {o.markdown, summary}, {o.prom, figures}}
	if o.outDir != "" {
		list = append(list, file{filepath.Join(o.outDir, resultFile), func(w io.Writer) error { return WriteResults(results, w) }},
			file{filepath.Join(o.outDir, "summary.md"), summary}, file{filepath.Join(o.outDir, "metrics.prom"), figures})
		for i := range results {
			if r := &results[i]; len(r.stderr) > 0 {
				list = append(list, file{filepath.Join(o.outDir, "stderr-"+strings.ReplaceAll(r.Name, "/", "-")+".txt"), func(w io.Writer) error {
					_, err := w.Write(r.stderr)
					return err
				}})
			}
		}
	}
	for _, f := range list {
		if f.path == "" {
			continue
		}
		if err := files.WriteWhole(f.path, f.write); err != nil {
			return err
		}
	}
	if o.update {
		return UpdateResults(o.baseline, results, drives)
	}
	return nil
}

// verdict is the error that makes the exit status 1; nil = all is well. A baseline
// that has just been replaced is no reason.
func verdict(results []Result, told []group, updated bool) error {
	var sentences []string
	for i := range results {
		r := &results[i]
		if r.Failed != "" {
			sentences = append(sentences, r.Name+": no score")
		}
		for _, x := range r.Exceeded {
			sentences = append(sentences, r.Name+": "+x)
		}
	}
	if !updated {
		sentences = append(sentences, worse(told)...)
	}
	if sentences == nil {
		return nil
	}
	return &failure.Limit{Exceeded: sentences}
}

// list says what each drive is.
func list(drives []Drive, stdout io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s, %d drives\n", format(), len(drives))
	class := ""
	for i := range drives {
		d := &drives[i]
		u, err := d.Load(0)
		if err != nil {
			return err
		}
		if d.Class != class {
			class = d.Class
			asks := "scenarios of your own"
			for _, c := range classes {
				if c.name == class {
					asks = c.asks
				}
			}
			fmt.Fprintf(&b, "\n%s: %s\n", class, asks)
		}
		fmt.Fprintf(&b, "\n  %s\n    %s\n", d.Name, u.Title)
		for _, line := range sketch(u.Field, 24, 6) {
			fmt.Fprintf(&b, "      %s\n", line)
		}
	}
	_, err := stdout.Write(b.Bytes())
	return err
}
