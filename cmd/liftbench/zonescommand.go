// liftbench zones: the zones of a field, found from the way driven on it.

package main

import (
	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
)

func newZonesCommand() *cobra.Command {
	var want run.ZonesWanted
	var outDir string
	cmd := &cobra.Command{
		Use:   "zones LOG",
		Short: "Find rows, headland and keep-outs of a field from a recorded track",
		Long: `zones finds the rows, the headland and what was driven around from positions
(NMEA, - for standard input): half a width beside the innermost round the body
ends, beside the outermost one the field. --out writes zones.geojson, a --field.`,
		Example: `  liftbench drive --out beets.nmea
  liftbench zones --width 6 --out zones beets.nmea`,
		Args: commandline.ExactlyOneLog,
		RunE: func(cmd *cobra.Command, args []string) error {
			z, err := want.Find(args[0], cmd.InOrStdin(), cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			return report.WriteZones(z, args[0], outDir, cmd.OutOrStdout())
		},
	}
	f := cmd.Flags()
	f.StringVar(&want.Boundary, "boundary", "", "registered boundary, `FILE`: GeoJSON, KML, KMZ, GPX or a shapefile")
	f.StringVar(&want.Machine, "machine", "", "machine `FILE`: its width, its antenna and where its tools work")
	f.Float64Var(&want.WidthM, "width", 0, "working width in `m`, without --machine; else how far apart passes lie")
	f.StringVar(&want.States, "states", "", "work states recorded with LOG, CSV `FILE`; with --machine")
	flags.AddChoice(&want.Choice, cmd)
	f.StringVar(&want.Zone, "zone", "", "`ZONE` of the times of --states that say none: Europe/Berlin, or an offset like +02:00")
	f.StringVar(&outDir, "out", "", "write zones.geojson and zones.svg to `DIR`")
	return cmd
}
