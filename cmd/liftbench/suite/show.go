// One drive of the suite, lift by lift, beside the baseline.

package suite

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/loop"
	"liftbench/sections/field"
)

func newShowCommand() *cobra.Command {
	o := options{bench: loop.Bench{PlayFlags: loop.PlayFlags{Pace: 1}, Lockstep: true, AnswerWithin: 10 * time.Second}}
	var page string
	cmd := &cobra.Command{
		Use:   "show DRIVE",
		Short: "Show one drive of the suite, crossing by crossing",
		Long: `show runs one drive of the suite and prints every lift and drop of each
crossing, with what the baseline had there. Without --exec or --to it runs our own
controller. --html draws both runs over each other.`,
		Example: `  liftbench suite show hard/ditches
  liftbench suite show hard/ditches --own --baseline suite.json
  liftbench suite show hard/ditches --baseline suite.json --html ditches.html`,
		Args: cobra.ArbitraryArgs, // counted below, after empty texts have been refused
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return &failure.Usage{Msg: fmt.Sprintf("suite show: found %d arguments; expected the name of one drive, as hard/ditches", len(args))}
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			drives, err := Drives(o.drives)
			if err != nil {
				return err
			}
			d, err := find(drives, args[0])
			if err != nil {
				return err
			}
			o.own = o.own || o.bench.Exec == "" && o.bench.To == ""
			runner, err := o.check("suite show")
			if err != nil {
				return err
			}
			if page != "" && o.baseline == "" {
				return &failure.Usage{Msg: "--html draws both runs over each other; expected it with --baseline FILE"}
			}
			var before map[string]*Result
			if o.baseline != "" {
				if before, err = ReadResults(o.baseline); err != nil {
					return err
				}
			}
			list, err := runner.Run(ctx, []Drive{*d}, io.Discard)
			if err != nil {
				return err
			}
			if list[0].Failed != "" {
				return &failure.Input{File: d.Name, Msg: list[0].Failed, Err: os.ErrInvalid}
			}
			u, err := d.Load(o.seed)
			if err != nil {
				return err
			}
			r, old := &list[0], before[d.Name]
			if page != "" {
				if !r.paired(old) {
					return &failure.Usage{Msg: fmt.Sprintf("--html: %s holds no score of %s by the same chances; expected a baseline with this drive and --seed", o.baseline, d.Name)}
				}
				c, _ := Compare(list, before, 1, 0)
				if err := files.WriteWhole(page, func(w io.Writer) error { return WritePage(w, r, old, u.Field, &c) }); err != nil {
					return err
				}
			}
			return show(cmd.OutOrStdout(), r, old, u.Field)
		},
	}
	o.addController(cmd)
	cmd.Flags().StringVar(&page, "html", "", "write a page to `FILE` on which both runs are drawn over each other")
	return cmd
}

// paired tells whether each crossing of r is one of old; old may be nil.
func (r *Result) paired(old *Result) bool {
	return old != nil && old.Failed == "" && old.Chances == r.Chances && slices.Equal(old.Crossings, r.Crossings)
}

// show prints a drive. old is its result in the baseline; nil = there is none.
func show(w io.Writer, r, old *Result, f *field.Field) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s: %s\n\n", r.Name, r.Title)
	for _, line := range sketch(f, 48, 14) {
		fmt.Fprintf(&b, "  %s\n", line)
	}
	fmt.Fprintf(&b, "\n  %s\n", r.numbers())
	for _, x := range r.Exceeded {
		fmt.Fprintf(&b, "  %s\n", x)
	}
	paired := r.paired(old)
	switch {
	case paired:
		fmt.Fprintf(&b, "  baseline: %s\n", old.numbers())
	case old != nil:
		b.WriteString("  The baseline had other chances, so that its crossings are others.\n")
	}
	b.WriteString("\n  Place errors in cm, from the left; positive = late. A missed one counts 200.\n\n")
	at := 0
	for i, n := range r.Crossings {
		fmt.Fprintf(&b, "  crossing %3d ", i+1)
		for _, p := range r.PlaceMm[at : at+n] {
			fmt.Fprintf(&b, " %6.1f", float64(p)/10)
		}
		b.WriteByte('\n')
		if paired && fmt.Sprint(old.PlaceMm[at:at+n]) != fmt.Sprint(r.PlaceMm[at:at+n]) {
			b.WriteString("      baseline ")
			for _, p := range old.PlaceMm[at : at+n] {
				fmt.Fprintf(&b, " %6.1f", float64(p)/10)
			}
			b.WriteByte('\n')
		}
		at += n
	}
	_, err := w.Write(b.Bytes())
	return err
}

// sketch draws a field in letters, north up: # is to be worked, o is kept out of.
func sketch(f *field.Field, width, height int) []string {
	bound := f.Bound()
	stepM := max((bound.Max[0]-bound.Min[0])/float64(width), (bound.Max[1]-bound.Min[1])/float64(2*height))
	width, height = int(math.Ceil((bound.Max[0]-bound.Min[0])/stepM)), int(math.Ceil((bound.Max[1]-bound.Min[1])/(2*stepM)))
	var lines []string
	for row := range height {
		var line strings.Builder
		for column := range width {
			// The middle says whether there is crop; a ditch may be thinner than a letter.
			mark := byte(' ')
			for k := range 25 {
				x, y := (float64(k%5)+0.5)/5, (float64(k/5)+0.5)/5
				at := f.At(bound.Min[0]+(float64(column)+x)*stepM, bound.Max[1]-(float64(row)+y)*2*stepM)
				for i := range f.Zones {
					switch {
					case at&(1<<i) == 0:
					case f.Zones[i].Kind == field.KeepOut:
						mark = 'o'
					case mark == ' ' && k == 12:
						mark = '#'
					}
				}
			}
			line.WriteByte(mark)
		}
		lines = append(lines, strings.TrimRight(line.String(), " "))
	}
	return lines
}
