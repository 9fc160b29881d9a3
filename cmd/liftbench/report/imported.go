// A recorded day as plain files.

package report

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/day"
	"liftbench/sections/field"
)

// WriteImported writes a day to dir as the files that every command takes: its positions
// as NMEA, work states as CSV, field as GeoJSON, machine as YAML, a scenario that names
// them, and a page that says what was found, chosen and left out. It prints the same.
// Files there with another content are not overwritten.
func WriteImported(d *day.Day, names []string, dir, command string, stdout io.Writer) error {
	name := strings.Join(names, ", ")
	text := func(b []byte) func(io.Writer) error {
		return func(w io.Writer) error {
			_, err := w.Write(b)
			return err
		}
	}
	list := []files.File{{Name: "day.nmea", Write: func(w io.Writer) error {
		_, err := io.Copy(w, day.NewSentences(d.Fixes))
		return err
	}}}
	scenario := "name: " + strconv.Quote(name) + "\nlog: day.nmea\n"
	var usual []settings.Usual
	machine, box := "machine.yaml", "field.geojson"
	var missing []string
	if d.Work != nil {
		list = append(list, files.File{Name: "states.csv", Write: text(run.AppendRecorded(nil, d.Work))})
		scenario += "states: states.csv\n"
	} else {
		missing = append(missing, "no work states were recorded")
	}
	if d.Machine != nil {
		var yaml []byte
		yaml, usual = settings.MachineText(d.Machine)
		list = append(list, files.File{Name: machine, Write: text(yaml)})
	} else {
		missing = append(missing, "nothing tells the machine: write "+machine+" beside the files, or give --machine")
	}
	if d.Field != nil {
		list = append(list, files.File{Name: box, Write: text(d.Field)})
	} else {
		missing = append(missing, "no field is in it: put "+box+" beside the files, or give --field")
	}
	scenario += "machine: " + machine + "\nfield: " + box + "\n"
	list = append(list,
		files.File{Name: "day.yaml", Write: text([]byte(scenario))},
		files.File{Name: "day.html", Write: func(w io.Writer) error { return importedPage(d, names, usual, missing).end(w, command) }})
	if err := files.WriteFresh(dir, list); err != nil {
		return err
	}
	recording.Tell(name, d, stdout)
	for _, m := range missing {
		_, _ = io.WriteString(stdout, wording.Wrap("  missing: ", "    ", m))
	}
	for _, u := range usual {
		_, _ = io.WriteString(stdout, wording.Wrap("  usual: ", "    ", u.Key+" "+u.Value+" ("+u.What+"; common practice, no source)"))
	}
	for _, f := range list {
		fmt.Fprintf(stdout, "  written: %s\n", f.Name)
	}
	_, err := fmt.Fprintf(stdout, "Next: liftbench diagnose %s/day.yaml\n", dir)
	return err
}

// importedPage says what was found in a day, with a plan of the way that was driven.
func importedPage(d *day.Day, names []string, usual []settings.Usual, missing []string) *reportPage {
	bare := ""
	for i, name := range names {
		if i > 0 {
			bare += ", "
		}
		bare += filepath.Base(name)
	}
	p := newReportPage("Imported: "+bare, "What "+bare+" holds", nil, d.Form+", "+wording.Counted(len(d.Fixes), "position")+".")
	for _, part := range []struct {
		heading string
		list    []string
	}{{"Found", d.Found}, {"Chosen", d.Chosen}, {"Left out", d.LeftOut}, {"Notes", d.Notes}, {"Missing", missing}} {
		if len(part.list) > 0 {
			p.text("\n<h2>%s</h2>", part.heading)
			p.list(part.list)
		}
	}
	if len(usual) > 0 {
		p.text("\n<h2>Usual values</h2>\n<p>%s</p>", "Nothing in it tells these of the machine. They are common practice, without a source: measure them, and write them into machine.yaml.")
		list := make([]string, len(usual))
		for i, u := range usual {
			list[i] = u.Key + ": " + u.Value + " (" + u.What + ")"
		}
		p.list(list)
	}
	if f, err := field.Read(bytes.NewReader(d.Field), bare, field.Options{}); d.Field != nil && err == nil {
		svg := figure.Way("Way driven, "+bare, f, wayOn(d, f), nil).SVG()
		p.figures([]reportFigure{{Title: "Way driven", SVG: svg, Sentence: "The way of the antenna over the field. A way that lies beside the field shows that field and log are of two places."}})
	}
	return p
}

// wayOn returns the way of the antenna on the field's plane, in pieces where it stops for
// more than a minute.
func wayOn(d *day.Day, f *field.Field) []orb.LineString {
	const pieceNs = 60e9
	var lines []orb.LineString
	lastNs := int64(-pieceNs)
	for i := range d.Fixes {
		x := &d.Fixes[i]
		if !x.HasPosition() {
			continue
		}
		if len(lines) == 0 || x.TimeNs-lastNs > pieceNs {
			lines = append(lines, nil)
		}
		e, n := f.Plane.ToPlane(x.LatDeg, x.LonDeg)
		lines[len(lines)-1] = append(lines[len(lines)-1], orb.Point{e, n})
		lastNs = x.TimeNs
	}
	return lines
}
