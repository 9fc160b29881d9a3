// Package flags adds the flags that several commands share: what to work on,
// where to play it, and where to answer HTTP.
package flags

import (
	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/guard"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/settings"

	"github.com/spf13/cobra"
)

// AddSelection adds the flags that choose machine and field.
func AddSelection(s *settings.Selection, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.Machine, "machine", "", "machine `FILE`, in place of the scenario's")
	f.StringVar(&s.Field, "field", "", "field `FILE` (GeoJSON, KML, KMZ, GPX or shapefile), in place of the scenario's")
	f.Float64Var(&s.HeadlandM, "headland", 0, "width in `m` of a headland along the boundary, for a field without zones")
	f.Float64Var(&s.RowBearingDeg, "row-bearing", 0, "direction of the body's rows in `degrees` from north, for a field that does not give it")
	f.StringArrayVar(&s.Leave, "leave", nil, "`ZONE` that is not worked in this job, as a headland done before or after: headland, body or a name, or none where the file leaves one; may be given again")
	AddChoice(&s.Choice, cmd)
	for flag, exts := range map[string][]string{"machine": {"yaml", "yml"}, "field": {"geojson", "json", "kml", "kmz", "gpx", "shp", "zip"}} {
		// The error would be of a flag that does not exist.
		_ = cmd.MarkFlagFilename(flag, exts...)
	}
}

// AddChoice adds the flags that choose from a recording.
func AddChoice(c *recording.Choice, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&c.Task, "task", "", "`TASK` of task data that holds several, as TSK4")
	f.StringVar(&c.Device, "device", "", "`DEVICE` of task data whose work states count, as DVC-3 or \"DVC-3 DET-9\"")
	f.StringVar(&c.Sender, "sender", "", "`ADDRESS` on the CAN bus, or in its trace, whose positions count, 0 to 255")
}

// TakeSelection reads the arguments and checks the flags' numbers.
func TakeSelection(s *settings.Selection, cmd *cobra.Command, args []string) error {
	s.Told = cmd.ErrOrStderr()
	s.Arg = append(args, "")[0]
	s.BearingSet = cmd.Flags().Changed("row-bearing")
	if cmd.Flags().Changed("headland") && !(s.HeadlandM > 0 && s.HeadlandM <= 500) {
		return &failure.Usage{Msg: "--headland " + cmd.Flag("headland").Value.String() + ": expected a width above 0 up to 500 m"}
	}
	if s.BearingSet && !(s.RowBearingDeg >= -360 && s.RowBearingDeg <= 360) {
		return &failure.Usage{Msg: "--row-bearing " + cmd.Flag("row-bearing").Value.String() + ": expected -360 to 360 degrees"}
	}
	return nil
}

// AddPlay adds the flags that play a receiver to a port.
func AddPlay(p *loop.PlayFlags, cmd *cobra.Command) {
	p.Pace = 1
	cmd.Flags().StringVar(&p.To, "to", "", "play the receiver to `PORT`, as tcp-listen::9000 or serial:DEVICE?baud=115200")
	cmd.Flags().Float64Var(&p.Pace, "pace", 1, "`times` real time at which the receiver speaks; with --to")
}

// CheckPlay checks the numbers of the flags that play a receiver.
func CheckPlay(p *loop.PlayFlags, cmd *cobra.Command) error {
	if p.To == "" && cmd.Flags().Changed("pace") {
		return &failure.Usage{Msg: "--pace: expected it with --to"}
	}
	return loop.CheckPace(p.Pace)
}

// AddHTTP adds the flags of a command that answers HTTP while it works.
func AddHTTP(h *loop.HttpFlags, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&h.Addr, "http", "", "answer the page that follows, /metrics, /healthz and /readyz on `HOST:PORT`")
	f.StringVar(&h.TokenFile, "http-token-file", "", "`FILE` with the token that HTTP asks for, needed beyond loopback; else that of "+guard.TokenVariable)
}

// AddSheet adds the flags of a command that can write an acceptance sheet.
func AddSheet(w *acceptance.Wanted, cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&w.File, "sheet", "", "write an acceptance sheet, to be printed and signed, to `FILE` (HTML)")
	f.StringVar(&w.FromFile, "sheet-file", "", "sheet `FILE` (YAML) with customer, machine, tolerance and what else the sheet says; liftbench help files sheet")
	f.StringVar(&w.Lang, "lang", "en", "language of the sheet and of the reports in HTML: `en|de|fr`")
	for flag, ext := range map[string]string{"sheet": "html", "sheet-file": "yaml"} {
		_ = cmd.MarkFlagFilename(flag, ext)
	}
	_ = cmd.RegisterFlagCompletionFunc("lang", cobra.FixedCompletions([]string{"en", "de", "fr"}, cobra.ShellCompDirectiveNoFileComp))
}
