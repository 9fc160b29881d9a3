package helptopic

import (
	"fmt"

	"github.com/spf13/cobra"
)

// install is what liftbench help install prints.
const install = `Installing, starting and removing

The archives of a release need nothing else: no Go, no library.

  Windows          unpack the zip, double-click liftbench.exe. A window opens, the page
                   opens in the browser; closing the window ends it. Logs, fields and
                   work states that are dropped on the icon are opened in the page. Where
                   Windows warns of an unknown publisher: the program is not signed;
                   check its sum first.
  macOS            unpack the tar.gz, run ./liftbench in a terminal. Not tried on a Mac
                   yet; built and vetted only.
  Linux, FreeBSD   unpack the tar.gz, copy liftbench to a folder of the PATH. armv6 and
                   armv7 are for 32-bit systems of a Pi, arm64 for 64-bit ones.
  Debian, Pi OS    apt install ./liftbench_VERSION_ARCHITECTURE.deb
  with Go          go install ./cmd/liftbench in a clone; it goes to $(go env GOPATH)/bin

Check what was downloaded, in the folder with SHA256SUMS:

  Linux            sha256sum --check --ignore-missing SHA256SUMS
  macOS            shasum -a 256 --check --ignore-missing SHA256SUMS
  Windows          Get-FileHash liftbench-*.zip      in PowerShell; compare by eye

LICENCES.txt in the archive holds the licences of all that is in the program,
sbom.cdx.json its bill of materials. liftbench --version names version, commit and Go.

A receiver: liftbench ports lists the serial ports. Under Windows a port is written
serial:COM3; under Linux its user belongs to the group dialout.

Tables for a spreadsheet: liftbench spreadsheet --lang de results/events.csv.

Completion in a shell: liftbench completion --help.

To remove it, delete the program; it keeps nothing elsewhere.
`

// NewInstall returns the help topic of installing.
func NewInstall() *cobra.Command {
	c := &cobra.Command{Use: "install", Short: "Install, check and start the program on each system"}
	c.SetHelpFunc(func(c *cobra.Command, _ []string) { fmt.Fprint(c.OutOrStdout(), install) })
	return c
}
