// liftbench fixes: what did the receiver say.

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/report"
	"liftbench/nmea"
	"liftbench/nmea/epoch"
)

func newFixesCommand() *cobra.Command {
	format := "json"
	var choice recording.Choice
	cmd := &cobra.Command{
		Use:   "fixes LOG",
		Short: "Print every epoch of a log as JSON lines or CSV",
		Long: `fixes reads NMEA from a file or, with -, from standard input, and prints one line
an epoch: all sentences of one instant put together. What no sentence said is
null in JSON and empty in CSV. A summary of what was dropped follows on
standard error.

Times are UTC, RFC 3339; until the log has told the date, a time of day alone.
arrival is the host's clock where the log has it. Gzip is unpacked.`,
		Example: `  liftbench drive --out beets.nmea
  liftbench fixes beets.nmea
  liftbench fixes --format csv beets.nmea`,
		Args: commandline.ExactlyOneLog,
		RunE: func(cmd *cobra.Command, args []string) error {
			if format != "json" && format != "csv" {
				return &failure.Usage{Msg: fmt.Sprintf("--format %s: expected json or csv", format)}
			}
			in, err := recording.OpenPositions(args[0], nil, choice, cmd.InOrStdin(), cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer in.Close()
			return printFixes(in, format == "csv", cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().StringVar(&format, "format", format, "`json|csv`: JSON lines or comma-separated values")
	flags.AddChoice(&choice, cmd)
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions([]string{"json", "csv"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

// printFixes prints every epoch and then the summary.
func printFixes(in *files.Log, csv bool, stdout, stderr io.Writer) error {
	w := bufio.NewWriterSize(stdout, 1<<16)
	r := epoch.NewReader(in)
	var line []byte
	positions := 0
	if csv {
		w.WriteString(report.FixColumns)
	}
	for r.Next() {
		f := r.Fix()
		if f.HasPosition() {
			positions++
		}
		if csv {
			line = report.AppendFixCSV(line[:0], &f)
		} else {
			line = report.AppendFixJSON(line[:0], &f)
		}
		if _, err := w.Write(line); err != nil {
			return fmt.Errorf("standard output: %w", err)
		}
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	in.Finish()
	c := r.Counts()
	fmt.Fprintf(stderr, "%s: %s\n", in.Name, files.CountsText(&c))
	if err := r.Err(); errors.Is(err, nmea.ErrIncomplete) && positions > 0 {
		fmt.Fprintf(stderr, "%s: %v\n", in.Name, err)
	} else if err != nil {
		return &failure.Input{File: in.Name, Msg: err.Error(), Err: err}
	}
	return files.EmptyLog(in.Name, in.Done, &c, positions)
}
