package helptopic

import (
	_ "embed"
	"io"

	"github.com/spf13/cobra"
)

//go:embed cab.txt
var cabText string

// NewCab returns the help topic of a controller in the cab: the package, its service, and
// what the receiver of its lines must do. It does not run: cobra lists it as a topic.
func NewCab() *cobra.Command {
	c := &cobra.Command{Use: "cab", Short: "A controller in the cab: package, service, ports, what happens when it is cut off"}
	c.SetHelpFunc(func(c *cobra.Command, _ []string) { _, _ = io.WriteString(c.OutOrStdout(), cabText) })
	return c
}
