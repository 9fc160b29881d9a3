// The computation behind the page: the setting of its controls, or of a lesson,
// applied to the demo, to a scenario or to the user's own files, and run as
// every other command runs it.

package page

import (
	"bufio"
	"bytes"
	"cmp"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"sync"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/settings/timezone"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/version"
	"liftbench/cmd/liftbench/web"
	"liftbench/replay/diagnose"
	"liftbench/replay/states"
	"liftbench/sections/field"
	"liftbench/sections/field/geojson"
	"liftbench/sim"
	"liftbench/sim/drive"
)

// Bench computes for the page.
type Bench struct {
	Base     *settings.Setup // what settings are put on
	own      bool            // base is the demo, on the page's own field
	Controls []Control
	fields   lastField
}

// New returns the bench for the demo, or for the scenario selected.
func New(sel *settings.Selection) (*Bench, error) {
	u, err := sel.Load()
	if err != nil {
		return nil, err
	}
	if u.Log != "" || u.States != "" {
		return nil, &failure.Usage{Msg: sel.Arg + " replays a recorded drive; expected a scenario that generates its drive (the page takes the log as an upload)"}
	}
	b := &Bench{Base: u, own: sel.Arg == "" && sel.Machine == "" && sel.Field == "", Controls: Controls()}
	if sel.HeadlandM > 0 {
		u.Scenario.HeadlandM = &sel.HeadlandM
	}
	if sel.BearingSet {
		u.Scenario.RowBearingDeg = &sel.RowBearingDeg
	}
	if b.own {
		u.Title = pageFieldTitle
		// A driver who steers without error.
		straightM, radiusM, steerS, accelMps2 := 10.0, 5.0, 1.0, 1.5
		d := &u.Scenario.Drive
		d.StraightBeforeM, d.MinRadiusM, d.SteerTimeS = &straightM, &radiusM, &steerS
		d.AccelMps2, d.DecelMps2 = &accelMps2, &accelMps2
		d.SteerSigmaCm = 0
		u.Scenario.Limits = settings.Limits{}
	}
	s := b.setting()
	for i := range b.Controls {
		b.Controls[i].Default = b.Controls[i].get(s)
	}
	return b, nil
}

// pageSlantDeg is the slant with which the page's own field starts.
const pageSlantDeg = 20

// setting returns a copy of the base setting, which may be changed.
func (b *Bench) setting() *pageSetting {
	m, s := *b.Base.Machine, *b.Base.Scenario
	m.Doc = bind.NewDocument(cmp.Or(m.Name, m.Doc.File))
	s.Doc = bind.NewDocument(b.Base.Title)
	return &pageSetting{machine: &m, scenario: &s, slantDeg: pageSlantDeg}
}

// Web returns what answers the page's requests.
func (b *Bench) Web() web.Bench {
	w := web.Bench{Version: version.String(), Lessons: Lessons, Run: b.Run}
	for i := range b.Controls {
		w.Controls = append(w.Controls, b.Controls[i].Control)
	}
	file := func(name, contentType string, write func(*pageDrive, io.Writer) error) {
		w.Files = append(w.Files, web.File{Name: name, Type: contentType, Make: func(d *web.Drive, l language.Language) ([]byte, error) {
			var out bytes.Buffer
			drive := *d.Of.(*pageDrive)
			outcome := *drive.Outcome
			outcome.Language, drive.Outcome = l, &outcome
			err := write(&drive, &out)
			return out.Bytes(), err
		}})
	}
	file("setting.yaml", "application/yaml", (*pageDrive).writeSetting)
	file("summary.json", "application/json", func(d *pageDrive, w io.Writer) error { return report.WriteSummary(d.Outcome, w) })
	file("events.csv", "text/csv; charset=utf-8", func(d *pageDrive, w io.Writer) error { return report.WriteEvents(d.Outcome, w) })
	file("report.html", "text/html; charset=utf-8", func(d *pageDrive, w io.Writer) error { return report.WriteHTML(d.Outcome, w) })
	file("ground.geojson", "application/geo+json", func(d *pageDrive, w io.Writer) error { return report.WriteGround(d.Outcome, w) })
	return w
}

// pageDrive is a drive that was run for the page.
type pageDrive struct {
	*run.Outcome
	setup     *settings.Setup
	fieldText string              // of the field, in a scenario file
	diagnosis []byte              // diagnosis.json; nil = none
	explained *diagnose.Diagnosis // what it says
}

// Run runs what the page asks for. It ends early when ctx is done.
func (b *Bench) Run(ctx context.Context, a *web.Ask) (*web.Drive, error) {
	if _, given := a.Files["states"]; a.Zone != "" && !given {
		return nil, &web.Error{Status: http.StatusBadRequest, File: "zone", Msg: "zone " + a.Zone + ": expected recorded work states with it, whose times it is for"}
	}
	with, said, err := asFiles(a)
	if err != nil {
		return nil, asked(a, err)
	}
	a = with
	u, d, err := b.prepare(ctx, a)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, asked(a, err)
	}
	err = d.run(ctx, a)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, asked(a, err)
	}
	o := d.Outcome
	o.Warnings = append(said, o.Warnings...)
	var summary bytes.Buffer
	if err := report.WriteSummary(o, &summary); err != nil {
		return nil, err
	}
	m := u.Machine.Geometry()
	p := u.Machine.Params()
	w := &web.Drive{
		Title: u.Title, MachineName: cmp.Or(u.Machine.Name, u.Machine.Doc.File),
		Set: map[string]any{}, Fixed: b.fixed(a),
		Outcome: o.Outcome, Machine: m, Field: u.Field,
		Settings:   u.Machine.Settings(&p),
		Hydraulics: p, Passes: o.Passes, Warnings: o.Remarks(), Simulated: o.Simulated,
		Summary: bytes.TrimSpace(summary.Bytes()), Diagnosis: d.diagnosis, Explained: d.explained, Of: d,
	}
	if len(o.StraightRuns) > 0 {
		w.Straight = &web.Straight{Text: run.NeedText(o.Straight), LineM: o.Straight.LineM, Runs: o.StraightRuns}
	}
	s := &pageSetting{machine: u.Machine, scenario: u.Scenario, slantDeg: pageSlantDeg}
	if v, ok := a.Set["headland_deg"].(float64); ok {
		s.slantDeg = v
	}
	for i := range b.Controls {
		w.Set[b.Controls[i].Key] = b.Controls[i].get(s)
	}
	return w, nil
}

// fixed returns the controls that have no effect on the request.
func (b *Bench) fixed(a *web.Ask) []string {
	var keys []string
	for i := range b.Controls {
		c := &b.Controls[i]
		without := false
		for _, part := range c.no {
			_, given := a.Files[part]
			without = without || given || !b.own && (part == "field" || part == "machine")
		}
		if without {
			keys = append(keys, c.Key)
		}
	}
	return keys
}

// prepare combines the user's files and setting.
func (b *Bench) prepare(ctx context.Context, a *web.Ask) (*settings.Setup, *pageDrive, error) {
	u := &settings.Setup{Title: b.Base.Title, Stop: ctx.Err}
	s := b.setting()
	if f, ok := a.Files["machine"]; ok {
		m, err := settings.LoadMachine(f.Name, settings.Named(func(string, string) ([]byte, error) { return f.Data, nil }))
		if err != nil {
			return nil, nil, err
		}
		m.Doc = bind.NewDocument(f.Name)
		s.machine = m
	}
	fixed := b.fixed(a)
	for i := range b.Controls {
		c := &b.Controls[i]
		if v, ok := a.Set[c.Key]; ok && !slices.Contains(fixed, c.Key) {
			c.put(s, v)
			if err := s.machine.Check(); err != nil {
				return nil, nil, &web.Error{Status: http.StatusBadRequest, Key: c.Key, Msg: err.Error()}
			}
		}
	}
	if b.own && s.scenario.Drive.Headland == drive.NoHeadland {
		// The driver turns at the speed that is set: the tools must meet a
		// border at that speed. On the headland, whose strips end at the side
		// of the field, the driver slows down.
		turnKmh := s.scenario.Drive.SpeedKmh
		s.scenario.Drive.TurnKmh = &turnKmh
	}
	u.Machine, u.Scenario = s.machine, s.scenario
	u.Scenario.Controller = u.Machine.Controller
	d := &pageDrive{setup: u}
	if f, ok := a.Files["log"]; ok {
		u.Title, u.Scenario.Log = f.Name, f.Name
	}
	if f, ok := a.Files["states"]; ok {
		if u.Scenario.Log == "" {
			return nil, nil, &web.Error{Status: http.StatusBadRequest, File: "states", Msg: f.Name + ": recorded work states go with the log of the same day; expected a log too"}
		}
		u.Scenario.States, u.Scenario.StatesZone = f.Name, a.Zone
		var err error
		if u.StatesZone, err = timezone.Named(a.Zone); err != nil {
			return nil, nil, &web.Error{Status: http.StatusBadRequest, File: "zone", Msg: "zone: " + err.Error()}
		}
	}
	if err := b.loadField(a, u, s, d); err != nil {
		return nil, nil, err
	}
	d.Outcome = run.New(u)
	d.Command = "liftbench run setting.yaml"
	return u, d, nil
}

// loadField loads the user's field, the base's, or the page's own.
func (b *Bench) loadField(a *web.Ask, u *settings.Setup, s *pageSetting, d *pageDrive) error {
	if f, ok := a.Files["field"]; ok {
		u.FieldFile, d.fieldText = f.Name, FieldText(f.Name, f.Data)
		u.Scenario.HeadlandM, u.Scenario.RowBearingDeg = nil, nil
		var err error
		u.Field, err = field.Read(bytes.NewReader(f.Data), f.Name, field.Options{Stop: u.Stop})
		if err != nil {
			return &failure.Input{File: f.Name, Msg: err.Error(), Err: err}
		}
		return nil
	}
	if !b.own {
		u.Field, u.FieldFile = b.Base.Field, b.Base.FieldFile
		d.fieldText = FieldText(pageFieldFile, b.Base.FieldData)
		return nil
	}
	text := OwnField(s.slantDeg)
	u.FieldFile, d.fieldText = pageFieldFile, string(text)
	var err error
	u.Field, err = b.fields.of(text)
	return err
}

// lastField is the field of the last request. Only one control changes the
// field, and building its index takes a fifth of a run.
type lastField struct {
	mu    sync.Mutex
	text  string
	field *field.Field
}

// of returns the field that the GeoJSON describes.
func (l *lastField) of(text []byte) (*field.Field, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.text == string(text) {
		return l.field, nil
	}
	f, err := field.Read(bytes.NewReader(text), pageFieldFile, field.Options{})
	if err != nil {
		return nil, err
	}
	l.text, l.field = string(text), f
	return f, nil
}

// FieldText returns a field as it stands in a scenario file: the GeoJSON
// itself, made from what was given, on one line, or the name of its file if that is too long.
func FieldText(name string, data []byte) string {
	if features, kind, err := field.Features(data); err == nil && kind != "GeoJSON" {
		if made, err := geojson.Encode(features); err == nil {
			data = made
		}
	}
	var line bytes.Buffer
	if err := json.Compact(&line, bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))); err != nil || line.Len() > bind.MaxBytes/2 {
		return strconv.Quote(name)
	}
	return line.String()
}

// Limits of a drive that is run for the page: the log unpacked, and a
// generated drive's length and time, from area, width and speed.
const (
	MaxLogBytes    = 256 << 20
	maxDriveM      = 100e3
	maxDriveS      = 4 * 3600
	maxPageSection = 64
)

// run takes the drive through the bench.
func (d *pageDrive) run(ctx context.Context, a *web.Ask) error {
	u := d.setup
	job := run.Job(u)
	job.Strips, job.Heights = true, true
	if n := len(job.Machine.Sections); n > maxPageSection {
		return &failure.Input{File: u.Machine.Doc.File, Msg: fmt.Sprintf("%d sections; the page takes %d at most, liftbench run takes more", n, maxPageSection)}
	}
	d.Simulated = true
	var work *states.Recorded
	if f, ok := a.Files["states"]; ok {
		var err error
		if work, err = states.Read(bytes.NewReader(f.Data), f.Name, len(job.Machine.Sections), u.StatesZone); err != nil {
			return &failure.Input{File: f.Name, Msg: err.Error(), Err: err}
		}
		u.States, d.Simulated = f.Name, false
	}
	var in *files.Log
	if f, ok := a.Files["log"]; ok {
		plain, err := unpacked(f)
		if err != nil {
			return err
		}
		in = &files.Log{Name: f.Name, Progress: terminal.NewProgress(plain, 0, f.Name, io.Discard)}
	} else {
		if err := checkLength(u); err != nil {
			return err
		}
		var err error
		if in, err = run.Open(u, job, d.Outcome, nil, io.Discard); err != nil {
			return err
		}
	}
	defer in.Close()
	in.In = &whileAsked{ctx, in.In}
	if work == nil {
		return d.Take(job, in, "")
	}
	return d.explain(ctx, job, in, work)
}

// whileAsked is a reader that ends in an error when nobody waits for the result
// any more.
type whileAsked struct {
	ctx context.Context
	in  io.Reader
}

func (w *whileAsked) Read(b []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.in.Read(b)
}

// explain scores and diagnoses the user's recorded day. A day that cannot be
// diagnosed is shown all the same, with the reason.
func (d *pageDrive) explain(ctx context.Context, job *sim.Job, in *files.Log, work *states.Recorded) error {
	why, day, err := run.Judge(d.setup, job, in, work)
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	why.Outcome.Command = d.Command
	d.Outcome = why.Outcome
	day.Stop = ctx.Err
	if err = why.Explain(day); ctx.Err() != nil {
		return ctx.Err()
	} else if err != nil {
		d.Warnings = append(d.Warnings, "no diagnosis: "+err.Error())
		return nil
	}
	var text bytes.Buffer
	if err := report.WriteDiagnosisJSON(why, &text); err != nil {
		return err
	}
	d.diagnosis, d.explained = bytes.TrimSpace(text.Bytes()), why.Diagnosis
	return nil
}

// checkLength refuses a drive that would take too long.
func checkLength(u *settings.Setup) error {
	drivenM := u.Field.AreaM2() / u.Machine.WidthM()
	if u.Scenario.Drive.Headland == drive.NoHeadland {
		drivenM = 0
		for i := range u.Field.Zones {
			if z := &u.Field.Zones[i]; z.Kind == field.Body {
				drivenM += z.AreaM2() / u.Machine.WidthM()
			}
		}
	}
	if seconds := drivenM / (u.Scenario.Drive.SpeedKmh / 3.6); drivenM > maxDriveM || seconds > maxDriveS {
		return &web.Error{Status: http.StatusBadRequest, Msg: fmt.Sprintf("%.1f ha with %.3g m at %g km/h would be %.0f km and %.1f h of driving; the page takes %.0f km and %.0f h at most: a smaller field, a wider machine, or liftbench run",
			u.Field.AreaM2()/1e4, u.Machine.WidthM(), u.Scenario.Drive.SpeedKmh, drivenM/1000, seconds/3600, maxDriveM/1000, maxDriveS/3600.0)}
	}
	return nil
}

// unpacked returns a log's plain bytes, up to a limit: a megabyte can unpack to
// a gigabyte.
func unpacked(f web.Upload) (io.Reader, error) {
	if !bytes.HasPrefix(f.Data, gzipMagic) {
		return bytes.NewReader(f.Data), nil
	}
	z, err := gzip.NewReader(bytes.NewReader(f.Data))
	if err != nil {
		return nil, &failure.Input{File: f.Name, Msg: "no gzip data: " + err.Error(), Err: err}
	}
	in := bufio.NewReader(z)
	if head, _ := in.Peek(2); bytes.Equal(head, gzipMagic) {
		// The reader of the log unpacks gzip too; data packed twice would
		// escape the limit.
		return nil, &failure.Input{File: f.Name, Msg: "gzip data inside gzip data; expected NMEA sentences, packed once at most"}
	}
	return &boundedLog{in: in, left: MaxLogBytes}, nil
}

// gzipMagic is how gzip data begin (RFC 1952).
var gzipMagic = []byte{0x1f, 0x8b}

// boundedLog is a reader that ends in an error after this many bytes.
type boundedLog struct {
	in   io.Reader
	left int64
}

var errLogTooLong = fmt.Errorf("unpacks to more than %d bytes; liftbench run takes longer logs", int64(MaxLogBytes))

func (l *boundedLog) Read(b []byte) (int, error) {
	if l.left <= 0 {
		return 0, errLogTooLong
	}
	n, err := l.in.Read(b[:min(int64(len(b)), l.left)])
	l.left -= int64(n)
	return n, err
}

// asked turns an error in the user's files or settings into an answer that says
// where it is.
func asked(a *web.Ask, err error) error {
	var known *web.Error
	if errors.As(err, &known) {
		return known
	}
	e := &web.Error{Status: http.StatusBadRequest, Msg: err.Error()}
	file := ""
	var config *failure.Setting
	var input *failure.Input
	switch {
	case errors.As(err, &config):
		file, e.Line, e.Col = config.File, config.Line, config.Col
	case errors.As(err, &input):
		file = input.File
		if input.Err != nil && input.Msg == input.Err.Error() && len(input.Msg) > len(file) && input.Msg[:len(file)] == file {
			e.Msg = input.Msg // it begins with the file's name already
		}
	}
	for _, part := range [...]string{"machine", "field", "log", "states"} {
		if f, ok := a.Files[part]; ok && f.Name == file {
			e.File = part
		}
	}
	return e
}

// writeSetting writes the setting as the scenario file that liftbench run
// takes.
func (d *pageDrive) writeSetting(w io.Writer) error {
	fmt.Fprintf(w, "# A setting of the page, to be run by: liftbench run setting.yaml\n")
	u := d.setup
	for _, f := range []string{u.Scenario.Log, u.Scenario.States} {
		if f != "" {
			fmt.Fprintf(w, "# Put %s beside it.\n", f)
		}
	}
	_, err := w.Write(u.SettingText(d.fieldText))
	return err
}
