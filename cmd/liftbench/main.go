// Command liftbench is a bench for the section lift of row-crop hoes: it runs
// the controller, the hydraulics, the soil and the field in software, from
// recorded or generated positions, and scores where each section worked
// against where it should have.
package main

import (
	"fmt"
	"io"
	"os"
	"runtime/debug"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/check"
	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/desktop"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/helptopic"
	"liftbench/cmd/liftbench/ports"
	"liftbench/cmd/liftbench/spreadsheet"
	"liftbench/cmd/liftbench/suite"
	"liftbench/cmd/liftbench/tape"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/version"
)

func main() {
	cobra.MousetrapHelpText = "" // a double click is no mistake here: package desktop
	// A day's log is read once and its samples are kept. Collecting garbage at
	// 1.5 times the live heap keeps a ten-hour run below 100 MiB.
	debug.SetGCPercent(50)
	terminal.Prepare(os.Stdout, os.Stderr)
	args := os.Args[1:]
	serve, clicked := desktop.Arguments(args, commandline.Names(newRootCommand()))
	if clicked {
		args = serve
	}
	status := execute(args, os.Stdin, os.Stdout, os.Stderr)
	if clicked && status != 0 {
		desktop.WaitForEnter(os.Stdin, os.Stderr)
	}
	os.Exit(status)
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
		Args:              commandline.KnownCommand,
		PersistentPreRunE: commandline.NoEmptyText,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if commandline.AsksVersion(cmd) {
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
	root.SetFlagErrorFunc(commandline.FlagError)
	root.AddCommand(newDiagnoseCommand(), newRunCommand(), newServeCommand(), newLiveCommand(), newBenchCommand(), newSweepCommand(), newTuneCommand(), suite.NewCommand(), newDriveCommand(), newZonesCommand(), newImportCommand(), newExportCommand(), newFixesCommand(), check.NewCommand(), tape.NewCommand(), ports.NewCommand(), spreadsheet.NewCommand(), helptopic.NewFiles(), helptopic.NewCab(), helptopic.NewInstall())
	root.InitDefaultHelpCmd()
	if help, _, err := root.Find([]string{"help"}); err == nil {
		print := help.Run
		help.Run, help.RunE = nil, func(cmd *cobra.Command, args []string) error {
			if err := commandline.KnownTopic(root, args); err != nil {
				return err
			}
			print(cmd, args)
			return nil
		}
	}
	return root
}
