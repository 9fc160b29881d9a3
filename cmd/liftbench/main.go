// Command liftbench is a bench for the section lift of row-crop hoes: it runs
// the controller, the hydraulics, the soil and the field in software, from
// recorded or generated positions, and scores where each section worked
// against where it should have.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/version"
)

func main() {
	// A day's log is read once and its samples are kept. Collecting garbage at
	// 1.5 times the live heap keeps a ten-hour run below 100 MiB.
	debug.SetGCPercent(50)
	os.Exit(execute(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// execute runs one command line and returns the exit status. What is printed on
// standard error, and on standard output if that is a terminal, holds no escape
// codes from the names of files or from names in files.
func execute(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	stderr = terminal.NewPlain(stderr)
	if terminal.IsTerminal(stdout) {
		stdout = terminal.NewPlain(stdout)
	}
	root := newRootCommand()
	root.SetArgs(append([]string{}, args...)) // nil would mean os.Args
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.Execute()
	if err != nil {
		fmt.Fprintf(stderr, "liftbench: %v\n", err)
	}
	return failure.ExitStatus(err)
}

// newRootCommand builds the command tree.
func newRootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:   "liftbench",
		Short: "Bench for the section lift of row-crop hoes",
		Long: `liftbench finds the timing of a hoe's section lift before the first pass.

A hoe's row units hang in sections, each lifted by its own valve. A controller
lifts and drops them from a GNSS position, so that nothing is hoed across the
headland rows and no strip of weeds is left in the field. liftbench runs that
controller, the hydraulics, the soil and the field in software, fed by recorded
or generated NMEA, and measures every lift and drop: how early or late, and what
that cost in crop and in weeds.

With no file given, most commands work on a demo built into the program.

Exit status: 0 done, 1 a limit stated in the scenario is exceeded, 2 the input
cannot be used.`,
		Example: `  liftbench run
  liftbench diagnose
  liftbench check
  liftbench check --write-demo beets
  liftbench run --out results beets/scenario.yaml
  liftbench drive --out beets.nmea
  liftbench fixes --format csv beets.nmea`,
		SilenceUsage:      true,
		SilenceErrors:     true,
		Args:              knownCommand,
		PersistentPreRunE: noEmptyText,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asksVersion(cmd) {
				_, err := fmt.Fprintln(cmd.OutOrStdout(), "liftbench", version.String())
				return err
			}
			return cmd.Help()
		},
	}
	// The version flag is ours, not cobra's. Cobra prints a version in another
	// form only by templates; templates call methods by name, so the linker
	// would have to keep every exported method of the program. With cobra's own
	// annotation nothing is completed after the flag.
	root.Flags().BoolP("version", "v", false, "version for liftbench")
	_ = root.Flags().SetAnnotation("version", cobra.FlagSetByCobraAnnotation, []string{"true"}) // fails of an absent flag alone
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(newDiagnoseCommand(), newRunCommand(), newServeCommand(), newLiveCommand(), newBenchCommand(), newSweepCommand(), newTuneCommand(), newDriveCommand(), newZonesCommand(), newFixesCommand(), newCheckCommand(), newFilesTopic())
	root.InitDefaultHelpCmd()
	if help, _, err := root.Find([]string{"help"}); err == nil {
		print := help.Run
		help.Run, help.RunE = nil, func(cmd *cobra.Command, args []string) error {
			if err := knownTopic(root, args); err != nil {
				return err
			}
			print(cmd, args)
			return nil
		}
	}
	return root
}

// knownTopic refuses help on a word that is neither a command nor a topic, and
// names those that are.
func knownTopic(root *cobra.Command, words []string) error {
	at := root
	for i, word := range words {
		var next *cobra.Command
		var names []string
		for _, c := range at.Commands() {
			names = append(names, c.Name())
			if c.Name() == word || c.HasAlias(word) {
				next = c
			}
		}
		if next == nil {
			topic := strings.Join(words[:i+1], " ")
			if names == nil {
				return &failure.Usage{Msg: fmt.Sprintf("unknown help topic %q; %s has no topics below it", topic, strings.Join(words[:i], " "))}
			}
			return &failure.Usage{Msg: fmt.Sprintf("unknown help topic %q; %s", topic, bind.ExpectKey(word, names))}
		}
		at = next
	}
	return nil
}

// asksVersion reports whether the command line asks for the version.
func asksVersion(root *cobra.Command) bool {
	asked, err := root.Flags().GetBool("version")
	return err == nil && asked
}

// knownCommand refuses a word that is no command, and names those that are.
func knownCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 || asksVersion(root) {
		return nil
	}
	var names []string
	for _, c := range root.Commands() {
		if !c.IsAdditionalHelpTopicCommand() {
			names = append(names, c.Name())
		}
	}
	return &failure.Usage{Msg: fmt.Sprintf("unknown command %q; %s", args[0], bind.ExpectKey(args[0], names))}
}

// atMostOne checks the arguments of a command that takes one file, or the demo.
func atMostOne(cmd *cobra.Command, args []string) error {
	if len(args) <= 1 {
		return nil
	}
	_, what, _ := strings.Cut(cmd.Use, " ")
	return &failure.Usage{Msg: fmt.Sprintf("%s: found %d arguments; expected one at most: %s", cmd.CommandPath(), len(args), what)}
}

// noEmptyText refuses a flag or an argument with an empty text, as a shell
// variable that is not set leaves it. Otherwise --out "$DIR" would keep nothing
// and run "$FILE" would run the demo.
func noEmptyText(cmd *cobra.Command, args []string) (err error) {
	if cmd.Name() == cobra.ShellCompRequestCmd || cmd.Name() == cobra.ShellCompNoDescRequestCmd {
		return nil // a shell asks what may stand where nothing does yet
	}
	if slices.Contains(args, "") {
		return &failure.Usage{Msg: fmt.Sprintf("%s: found an empty argument; expected the name of a file", cmd.CommandPath())}
	}
	cmd.Flags().Visit(func(f *pflag.Flag) {
		empty := f.Value.Type() == "string" && f.Value.String() == ""
		if list, ok := f.Value.(pflag.SliceValue); ok {
			empty = slices.Contains(list.GetSlice(), "")
		}
		if empty && err == nil {
			what, _ := pflag.UnquoteUsage(f)
			err = &failure.Usage{Msg: fmt.Sprintf("--%s \"\": found nothing; expected %s, or the command without --%s", f.Name, what, f.Name)}
		}
	})
	return err
}

// flagError says what is wrong with a flag, and where all of them are listed.
func flagError(cmd *cobra.Command, err error) error {
	text := err.Error()
	var bad *pflag.InvalidValueError
	if errors.As(err, &bad) {
		f := bad.GetFlag()
		what := map[string]string{"float64": "a number", "int": "a whole number", "duration": "a time with its unit, as 500ms or 2s"}[f.Value.Type()]
		if what != "" {
			text = fmt.Sprintf("--%s %s: expected %s", f.Name, bad.GetValue(), what)
		}
	}
	return &failure.Usage{Msg: fmt.Sprintf("%s; %s --help lists the flags", text, cmd.CommandPath())}
}
