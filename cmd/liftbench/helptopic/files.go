// Package helptopic holds what liftbench help tells beside the commands: every key of
// every file that liftbench reads, and a controller in the cab.
package helptopic

import (
	"io"
	"strings"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/settings"
)

// NewFiles returns the help topic of the files, with one topic below it
// for each kind. None of them runs: cobra lists them as topics.
func NewFiles() *cobra.Command {
	topic := func(use, short string, kinds ...settings.FileKind) *cobra.Command {
		c := &cobra.Command{Use: use, Short: short}
		c.SetHelpFunc(func(c *cobra.Command, _ []string) {
			var b strings.Builder
			for i, k := range kinds {
				if i > 0 {
					b.WriteByte('\n')
				}
				b.WriteString(k.Short + "\n")
				k.Write(&b)
			}
			_, _ = io.WriteString(c.OutOrStdout(), b.String())
		})
		return c
	}
	all := topic("files", "Every key of the files: unit, range, default, meaning", settings.FileKinds...)
	for _, k := range settings.FileKinds {
		all.AddCommand(topic(k.Name, k.Short, k))
	}
	return all
}
