// Flags that several commands share: what to work on, where to play it, and
// where to answer HTTP.

package main

import (
	"liftbench/cmd/liftbench/guard"

	"github.com/spf13/cobra"
)

// addFlags adds the flags that choose machine and field.
func (s *selection) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.machine, "machine", "", "machine `FILE`, in place of the scenario's")
	f.StringVar(&s.field, "field", "", "field `FILE` (GeoJSON), in place of the scenario's")
	f.Float64Var(&s.headlandM, "headland", 0, "width in `m` of a headland along the boundary, for a field without zones")
	f.Float64Var(&s.rowBearingDeg, "row-bearing", 0, "direction of the body's rows in `degrees` from north, for a field that does not give it")
	for flag, exts := range map[string][]string{"machine": {"yaml", "yml"}, "field": {"geojson", "json"}} {
		// The error is of a flag that does not exist.
		_ = cmd.MarkFlagFilename(flag, exts...)
	}
}

// take reads the arguments and checks the flags' numbers.
func (s *selection) take(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		s.arg = args[0]
	}
	s.bearingSet = cmd.Flags().Changed("row-bearing")
	if cmd.Flags().Changed("headland") && !(s.headlandM > 0 && s.headlandM <= 500) {
		return &usageError{"--headland " + cmd.Flag("headland").Value.String() + ": expected a width above 0 up to 500 m"}
	}
	if s.bearingSet && !(s.rowBearingDeg >= -360 && s.rowBearingDeg <= 360) {
		return &usageError{"--row-bearing " + cmd.Flag("row-bearing").Value.String() + ": expected -360 to 360 degrees"}
	}
	return nil
}

func (p *playFlags) addFlags(cmd *cobra.Command) {
	p.pace = 1
	cmd.Flags().StringVar(&p.to, "to", "", "play the receiver to `PORT`, as tcp-listen::9000 or serial:DEVICE?baud=115200")
	cmd.Flags().Float64Var(&p.pace, "pace", 1, "`times` real time at which the receiver speaks; with --to")
}

// check checks the numbers.
func (p *playFlags) check(cmd *cobra.Command) error {
	if p.to == "" && cmd.Flags().Changed("pace") {
		return &usageError{"--pace: expected it with --to"}
	}
	return checkPace(p.pace)
}

func (h *httpFlags) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&h.addr, "http", "", "answer the page that follows, /metrics, /healthz and /readyz on `HOST:PORT`")
	f.StringVar(&h.tokenFile, "http-token-file", "", "`FILE` with the token that HTTP asks for, needed beyond loopback; else that of "+guard.TokenVariable)
}
