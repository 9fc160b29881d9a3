// liftbench zones: the zones of a field, found from the way that was driven on it.

package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections"
)

func newZonesCommand() *cobra.Command {
	var machine, boundary, states, outDir string
	var widthM float64
	cmd := &cobra.Command{
		Use:   "zones LOG",
		Short: "Find rows, headland and keep-outs of a field from a recorded track",
		Long: `zones reads the positions of a day on one field (NMEA, - for standard input, gzip
is unpacked) and finds the directions of the rows, the rounds driven in the
headland, and what was driven around. Half a width beside the innermost round is
the border of the body, half a width beside the outermost one the boundary.

Where no round was driven, recorded work states (--states, with --machine) tell
where the body ends, and what then cannot be told is said.

With --out it writes zones.geojson, which every command takes as --field, each
border with the interval in which it lies (95 %), and zones.svg.`,
		Example: `  liftbench drive --out beets.nmea
  liftbench zones beets.nmea
  liftbench zones --width 6 --out found beets.nmea`,
		Args: exactlyOneLog,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("width") && !(widthM >= 0.5 && widthM <= 40) {
				return &failure.Usage{Msg: fmt.Sprintf("--width %g: expected 0.5 to 40 m", widthM)}
			}
			var m *sections.Machine
			if machine != "" {
				read, err := settings.LoadMachine(machine, settings.OnDisk)
				if err != nil {
					return err
				}
				m = read.Geometry()
			}
			var work []sections.WorkChange
			if states != "" {
				if m == nil {
					return &failure.Usage{Msg: "--states " + states + ": expected --machine with it, which says how many sections there are and where its tools work"}
				}
				var err error
				if work, err = run.ReadWork(states, len(m.Sections)); err != nil {
					return err
				}
			}
			var fieldData []byte
			if boundary != "" {
				var err error
				if fieldData, err = files.ReadFile(boundary, "a field's boundary (GeoJSON)"); err != nil {
					return err
				}
			}
			in, err := files.OpenLog(args[0], files.NMEALog, cmd.InOrStdin(), cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			defer in.Close()
			z, err := run.FindZones(in, fieldData, boundary, work, m, widthM)
			if err != nil {
				return err
			}
			if outDir != "" {
				err = files.WriteDir(outDir, report.ZonesFiles(z, "Zones found from "+args[0]))
			}
			for _, s := range z.Sentences() {
				if _, err := io.WriteString(cmd.OutOrStdout(), wording.Wrap("", "  ", s)); err != nil {
					return fmt.Errorf("standard output: %w", err)
				}
			}
			return err
		},
	}
	f := cmd.Flags()
	f.StringVar(&boundary, "boundary", "", "registered boundary, GeoJSON `FILE`")
	f.StringVar(&machine, "machine", "", "machine `FILE`: its width, its antenna and where its tools work")
	f.Float64Var(&widthM, "width", 0, "working width in `m`, without --machine; else how far apart passes lie")
	f.StringVar(&states, "states", "", "work states recorded with LOG, CSV `FILE`")
	f.StringVar(&outDir, "out", "", "write zones.geojson and zones.svg to `DIR`")
	_ = cmd.MarkFlagDirname("out")
	return cmd
}
