// Package commandline judges what was typed: arguments, flags and help topics that are not
// there, each with what was expected; and it writes a command line that can be typed again.
package commandline

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings/bind"
)

// AsksVersion reports whether the command line asks for the version.
func AsksVersion(root *cobra.Command) bool {
	asked, err := root.Flags().GetBool("version")
	return err == nil && asked
}

// KnownCommand refuses a word that is no command, and names those that are.
func KnownCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 || AsksVersion(root) {
		return nil
	}
	return &failure.Usage{Msg: fmt.Sprintf("unknown command %q; %s", args[0], bind.ExpectKey(args[0], Names(root)))}
}

// Names returns the names of the commands.
func Names(root *cobra.Command) []string {
	var names []string
	for _, c := range root.Commands() {
		if !c.IsAdditionalHelpTopicCommand() {
			names = append(names, c.Name())
		}
	}
	return names
}

// KnownTopic refuses help on a word that is neither a command nor a topic, and
// names those that are.
func KnownTopic(root *cobra.Command, words []string) error {
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

// AtMostOne checks the arguments of a command that takes one file, or the demo.
func AtMostOne(cmd *cobra.Command, args []string) error {
	if len(args) <= 1 {
		return nil
	}
	_, what, _ := strings.Cut(cmd.Use, " ")
	return &failure.Usage{Msg: fmt.Sprintf("%s: found %d arguments; expected one at most: %s", cmd.CommandPath(), len(args), what)}
}

// None checks the arguments of a command that takes none.
func None(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return &failure.Usage{Msg: fmt.Sprintf("%s: found %q; expected no argument", cmd.CommandPath(), args[0])}
}

// NoEmptyText refuses a flag or an argument with an empty text, as a shell
// variable that is not set leaves it. Otherwise --out "$DIR" would keep nothing
// and run "$FILE" would run the demo.
func NoEmptyText(cmd *cobra.Command, args []string) (err error) {
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

// FlagError says what is wrong with a flag, and where all of them are listed.
func FlagError(cmd *cobra.Command, err error) error {
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

// Logs checks the arguments of a command that reads one log or several.
func Logs(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return &failure.Usage{Msg: cmd.CommandPath() + ": found 0 arguments; expected LOG, or - for standard input"}
	}
	return nil
}

// ExactlyOneLog checks the arguments of a command that reads a log.
func ExactlyOneLog(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &failure.Usage{Msg: fmt.Sprintf("%s: found %d arguments; expected LOG, or - for standard input", cmd.CommandPath(), len(args))}
	}
	return nil
}
