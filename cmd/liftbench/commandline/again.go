// The command line in a form that can be typed again.

package commandline

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Again returns the command line that gives the same figures again: flags
// by name, without those that say where the results go.
func Again(cmd *cobra.Command, args []string) string {
	line := cmd.CommandPath()
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if f.Name != "out" {
			line += " --" + f.Name + " " + Quoted(f.Value.String())
		}
	})
	for _, a := range args {
		line += " " + Quoted(a)
	}
	return line
}

// Quoted quotes a word for a POSIX shell.
func Quoted(word string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./:,+@%", r) || r > 127
	}
	if word != "" && strings.IndexFunc(word, func(r rune) bool { return !plain(r) }) < 0 {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
