// Package tape is the command that finds the timing with flags, a tape and a stopwatch.
package tape

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/tape"
)

// options are the flags.
type options struct {
	liftLeadMs, dropLeadMs, antennaM, overM float64
	wantMs, atKmh, slowKmh, fastKmh         float64
	sigmaCm                                 float64
	workingCm, raisedCm                     float64
	sections                                int
	machine, out, page, demoDir             string
	plan, bothWays                          bool
	signed                                  acceptance.Wanted
	machineName                             string // of the machine file

	say     *words
	changed func(flag string) bool
}

// NewCommand builds the command.
func NewCommand() *cobra.Command {
	var o options
	cmd := &cobra.Command{
		Use:   "tape [FILE ...]",
		Short: "Find the timing with flags, a tape and a stopwatch",
		Long: `tape takes what was measured by hand behind the machine: a line of flags where
the tools are to lift or drop, a few passes over it at two speeds, and the way
from the flag line to the edge of the undisturbed soil. It says which leads to
set, how sure that is, what the readings cannot tell, and what to drive next.

` + wording.StandClear + `

A FILE is CSV with a heading line; columns are separated by ; or , and stand in
any order, numbers have a point or a comma:

  move       lift or drop
  late_cm    from the flag line to the edge of the undisturbed soil, in cm,
             in the driving direction; + = beyond the line: late
  speed_kmh  or seconds, over a length over_m
  pass       its name: sections measured on one pass share its error
  section    a number, or all
  lead_ms    the lead that was set
  direction  any two words
  antenna_m  the distance from antenna back to the tool that was set
  oil        cold, warm or °C

Times at standstill have columns of their own, in the same file or another:

  event      lifting: moves, out (of the ground), raised;
             lowering: falls, in (touches the ground), depth
  sections   commanded at once: one, two, all or a number
  time_s     from the command, by stopwatch; or frames and fps of a video

With no FILE it reads standard input, or asks line by line on a terminal. A row
that cannot be read is named, and the others count.

--plan says before driving which passes tell the lead with least driving, and
writes a sheet to be printed. --sheet writes an acceptance sheet of the passes
that were driven with the leads set last, to be signed. --page writes the same
computation as one file for a phone, which needs no network.`,
		Example: `  liftbench tape --plan --out sheet
  liftbench tape --write-demo yard
  liftbench tape yard/passes.csv
  liftbench tape --sections 6 --out answer yard/passes.csv yard/standstill.csv
  liftbench tape --lang de --sheet sheet.html yard/passes.csv
  liftbench tape --page measure.html`,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.changed = cmd.Flags().Changed
			if err := o.signed.Check(); err != nil {
				return err
			}
			o.say = in(o.signed.Language())
			return o.run(cmd, args)
		},
	}
	f := cmd.Flags()
	f.Float64Var(&o.liftLeadMs, "lift-lead", 0, "lift lead in `ms` that was set, for rows that do not say it")
	f.Float64Var(&o.dropLeadMs, "drop-lead", 0, "drop lead in `ms` that was set, for rows that do not say it")
	f.Float64Var(&o.antennaM, "antenna-to-tool", 0, "distance in `m` from antenna back to the tool that was set, for rows that do not say it")
	f.Float64Var(&o.overM, "over", 0, "length in `m` that seconds were taken over, for rows that do not say it")
	f.StringVar(&o.machine, "machine", "", "machine `FILE`: leads and distance that were set, heights of the tool, number of sections")
	f.Float64Var(&o.wantMs, "want", 40, "precision wanted of a lead: ± `ms`, 95 %")
	f.Float64Var(&o.slowKmh, "slow", 4, "slowest speed of the next passes, `km/h`")
	f.Float64Var(&o.fastKmh, "fast", 10, "fastest speed of the next passes, `km/h`")
	f.Float64Var(&o.atKmh, "at", 8, "speed in `km/h` that the tolerance is told for")
	f.Float64Var(&o.sigmaCm, "scatter", 5, "standard deviation of a reading in `cm`, for the plan and where one reading is all there is")
	f.Float64Var(&o.workingCm, "working", 3, "working depth in `cm`, for times at standstill")
	f.Float64Var(&o.raisedCm, "raised", 15, "height in `cm` of the raised tool above the ground, for times at standstill")
	f.IntVar(&o.sections, "sections", 0, "`number` of sections that all at once are, for times at standstill")
	f.BoolVar(&o.plan, "plan", false, "say which passes to drive, and with --out write plan.html to be printed")
	f.BoolVar(&o.bothWays, "both-ways", false, "with --plan: passes go both ways over the line")
	f.StringVar(&o.page, "page", "", "write the page for a phone to `FILE`, as measure.html")
	f.StringVar(&o.out, "out", "", "write tape.json, controller.yaml and readings.csv to `DIR`; with --plan plan.html")
	f.StringVar(&o.demoDir, "write-demo", "", "write passes.csv and standstill.csv to `DIR`, to start from")
	_ = cmd.MarkFlagDirname("write-demo")
	_ = cmd.MarkFlagFilename("machine", "yaml", "yml")
	_ = cmd.MarkFlagFilename("page", "html")
	_ = cmd.MarkFlagDirname("out")
	flags.AddSheet(&o.signed, cmd)
	f.Lookup("lang").Usage = "language of the answer, the plan, the page and the sheet: `en|de|fr`"
	return cmd
}

// run does what the flags say.
func (o *options) run(cmd *cobra.Command, args []string) error {
	if err := o.check(); err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if o.page != "" {
		if len(args) > 0 || o.plan || o.signed.File != "" {
			return &failure.Usage{Msg: "--page: found other work beside it; expected it alone"}
		}
		if err := files.WriteWhole(o.page, o.writePage); err != nil {
			return files.WriteError(o.page, "a page", err)
		}
		_, err := fmt.Fprintf(out, "%s: the Measure page; open it in a browser, or send it to the phone. It needs no network.\n", o.page)
		return err
	}
	if o.demoDir != "" {
		return writeDemo(o.demoDir)
	}
	d, h, err := o.defaults()
	if err != nil {
		return err
	}
	if o.plan {
		if len(args) > 0 {
			return &failure.Usage{Msg: fmt.Sprintf("--plan: found %s beside it; expected it alone, before anything is measured", args[0])}
		}
		if o.signed.File != "" {
			return &failure.Usage{Msg: "--plan: found --sheet beside it; expected it alone, before anything is measured"}
		}
		return o.writePlan(out)
	}
	if o.bothWays {
		return &failure.Usage{Msg: "--both-ways: expected it with --plan"}
	}
	if o.out != "" {
		if err := files.MakeDir(o.out); err != nil {
			return err
		}
	}
	s, err := o.read(cmd, args, d)
	if err != nil {
		return err
	}
	r := &result{options: o, words: o.say, sheet: s, heights: h}
	if len(s.Readings) > 0 {
		r.answer = tape.Find(s.Readings, o.wish())
	}
	r.still = tape.AtStandstill(s.Still, h)
	var notKept error
	if o.out != "" {
		notKept = files.WriteDir(o.out, r.files()) // the answer is printed all the same
	}
	notKept = cmp.Or(notKept, o.signed.WriteOf(func() *acceptance.Sheet { return r.acceptance(d, commandline.Again(cmd, args)) }))
	if _, err := io.WriteString(out, r.text()); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return notKept
}

// check refuses numbers that cannot be meant.
func (o *options) check() error {
	for _, c := range []struct {
		flag     string
		found    float64
		from, to float64
		unit     string
	}{
		{"lift-lead", o.liftLeadMs, 0, 10000, "ms"}, {"drop-lead", o.dropLeadMs, 0, 10000, "ms"},
		{"antenna-to-tool", o.antennaM, -30, 30, "m"}, {"want", o.wantMs, 5, 1000, "ms"},
		{"slow", o.slowKmh, 0.5, 36, "km/h"}, {"fast", o.fastKmh, 0.5, 36, "km/h"}, {"at", o.atKmh, 0.5, 36, "km/h"},
		{"scatter", o.sigmaCm, 0.3, 100, "cm"}, {"working", o.workingCm, 0.1, 50, "cm"}, {"raised", o.raisedCm, 0.1, 400, "cm"},
		{"sections", float64(o.sections), 0, 256, "sections"},
	} {
		if !(c.found >= c.from && c.found <= c.to) {
			return &failure.Usage{Msg: fmt.Sprintf("--%s %g: expected %g to %g %s", c.flag, c.found, c.from, c.to, c.unit)}
		}
	}
	if o.changed("over") && !(o.overM >= 0.1 && o.overM <= 1000) {
		return &failure.Usage{Msg: fmt.Sprintf("--over %g: expected 0.1 to 1000 m", o.overM)}
	}
	if o.fastKmh < o.slowKmh+1 {
		return &failure.Usage{Msg: fmt.Sprintf("--slow %g --fast %g: expected speeds at least 1 km/h apart, as the farther apart they are the fewer passes it takes", o.slowKmh, o.fastKmh)}
	}
	return nil
}

func (o *options) wish() tape.Wish {
	return tape.Wish{WantS: o.wantMs / 1000, SlowMps: o.slowKmh / 3.6, FastMps: o.fastKmh / 3.6, AtMps: o.atKmh / 3.6, SigmaM: o.sigmaCm / 100}
}

// defaults are what was set on every pass, by the machine file and by flags, which go before it.
func (o *options) defaults() (d tape.Defaults, h tape.Heights, err error) {
	h = tape.Heights{WorkingM: o.workingCm / 100, RaisedM: o.raisedCm / 100, Sections: o.sections}
	if o.machine != "" {
		m, err := settings.LoadMachine(o.machine, settings.OnDisk)
		if err != nil {
			return d, h, err
		}
		for move, lead := range []settings.LeadTime{m.Controller.LiftLead, m.Controller.DropLead} {
			if !lead.Auto {
				s := (lead.Ms + []float64{m.Controller.LiftTrimMs, m.Controller.DropTrimMs}[move]) / 1000
				d.LeadS[move] = &s
			}
		}
		o.machineName = m.Name
		back := m.Antenna.ForwardM - m.Tool.ForwardM
		d.AntennaM = &back
		if !o.changed("working") {
			h.WorkingM = m.Depth.WorkingCm / 100
		}
		if !o.changed("raised") {
			h.RaisedM = m.Depth.RaisedCm / 100
		}
		if !o.changed("sections") {
			h.Sections = len(m.RowsOf())
		}
	}
	if o.changed("lift-lead") {
		s := o.liftLeadMs / 1000
		d.LeadS[tape.Lift] = &s
	}
	if o.changed("drop-lead") {
		s := o.dropLeadMs / 1000
		d.LeadS[tape.Drop] = &s
	}
	if o.changed("antenna-to-tool") {
		d.AntennaM = &o.antennaM
	}
	if o.changed("over") {
		d.OverM = &o.overM
	}
	return d, h, nil
}

// read reads all files as one sheet, or asks.
func (o *options) read(cmd *cobra.Command, args []string, d tape.Defaults) (*tape.Sheet, error) {
	in := cmd.InOrStdin()
	if len(args) == 0 {
		if f, ok := in.(*os.File); ok && terminal.IsTerminal(f) {
			return ask(in, cmd.ErrOrStderr(), o.say, d, o.wish())
		}
		args = []string{"-"}
	}
	all := &tape.Sheet{}
	for _, name := range args {
		s, err := o.readOne(name, in, d)
		if err != nil {
			return nil, err
		}
		if len(args) > 1 {
			for i := range s.Unread {
				s.Unread[i].Why = name + ": " + s.Unread[i].Why
			}
			for i := range s.Readings {
				if r := &s.Readings[i]; r.Pass != "" {
					r.Pass = name + ": " + r.Pass // pass 1 of one file is not that of another
				}
			}
		}
		all.Readings = append(all.Readings, s.Readings...)
		all.Still = append(all.Still, s.Still...)
		all.Unread = append(all.Unread, s.Unread...)
		all.Ignored = append(all.Ignored, s.Ignored...)
	}
	return all, nil
}

func (o *options) readOne(name string, stdin io.Reader, d tape.Defaults) (*tape.Sheet, error) {
	if name == "-" {
		s, err := tape.Read(stdin, "standard input", d)
		return s, badInput(err)
	}
	data, err := files.ReadFile(name, "a file of readings (CSV)")
	if err != nil {
		return nil, err
	}
	s, err := tape.Read(strings.NewReader(string(data)), name, d)
	return s, badInput(err)
}

// badInput keeps an error as it is said; it is of the input, not of the program.
func badInput(err error) error {
	if err == nil {
		return nil
	}
	return errors.New(terminalText(err.Error()))
}

// terminalText is text without line breaks.
func terminalText(s string) string { return strings.Join(strings.Fields(s), " ") }
