// What the page computes with: a setting put on the demo, on a scenario, or on
// files of the asker's, through the same reading and the same run as every
// other command.

package main

import (
	"bufio"
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"sync"

	"liftbench/cmd/liftbench/web"
	"liftbench/replay"
	"liftbench/replay/diagnose"
	"liftbench/sections/field"
	"liftbench/sim"
	"liftbench/sim/drive"
)

// pageBench computes for the page.
type pageBench struct {
	base     *setup // what settings are put on
	own      bool   // base is the demo, on the page's own field
	controls []pageControl
	fields   lastField
}

// newPageBench returns the bench for the demo, or for the scenario selected.
func newPageBench(sel *selection) (*pageBench, error) {
	u, err := sel.load()
	if err != nil {
		return nil, err
	}
	if u.log != "" || u.states != "" {
		return nil, &usageError{sel.arg + " replays a recorded drive; expected a scenario that generates its drive (the page takes the log as an upload)"}
	}
	b := &pageBench{base: u, own: sel.arg == "" && sel.machine == "" && sel.field == "", controls: pageControls()}
	if sel.headlandM > 0 {
		u.scenario.HeadlandM = &sel.headlandM
	}
	if sel.bearingSet {
		u.scenario.RowBearingDeg = &sel.rowBearingDeg
	}
	if b.own {
		u.title = pageFieldTitle
		// A driver with a steady hand.
		straightM, radiusM, steerS, accelMps2 := 10.0, 5.0, 1.0, 1.5
		d := &u.scenario.Drive
		d.StraightBeforeM, d.MinRadiusM, d.SteerTimeS = &straightM, &radiusM, &steerS
		d.AccelMps2, d.DecelMps2 = &accelMps2, &accelMps2
		d.SteerSigmaCm = 0
		u.scenario.Limits = limitsConfig{}
	}
	s := b.setting()
	for i := range b.controls {
		b.controls[i].Default = b.controls[i].get(s)
	}
	return b, nil
}

// pageSlantDeg is the slant of the page's own field to begin with.
const pageSlantDeg = 20

// setting returns the base setting, to be changed at will.
func (b *pageBench) setting() *pageSetting {
	m, s := *b.base.machine, *b.base.scenario
	m.doc = newDocument(cmp.Or(m.Name, m.doc.file))
	s.doc = newDocument(b.base.title)
	return &pageSetting{machine: &m, scenario: &s, slantDeg: pageSlantDeg}
}

// bench returns what the page asks.
func (b *pageBench) bench() web.Bench {
	w := web.Bench{Version: version(), Lessons: pageLessons, Run: b.run}
	for i := range b.controls {
		w.Controls = append(w.Controls, b.controls[i].Control)
	}
	file := func(name, contentType string, write func(*pageDrive, io.Writer) error) {
		w.Files = append(w.Files, web.File{Name: name, Type: contentType, Make: func(d *web.Drive) ([]byte, error) {
			var out bytes.Buffer
			err := write(d.Of.(*pageDrive), &out)
			return out.Bytes(), err
		}})
	}
	file("setting.yaml", "application/yaml", (*pageDrive).writeSetting)
	file("summary.json", "application/json", func(d *pageDrive, w io.Writer) error { return d.writeSummary(w) })
	file("events.csv", "text/csv; charset=utf-8", func(d *pageDrive, w io.Writer) error { return d.writeEvents(w) })
	file("report.html", "text/html; charset=utf-8", func(d *pageDrive, w io.Writer) error { return d.writeReport(w) })
	file("ground.geojson", "application/geo+json", func(d *pageDrive, w io.Writer) error { return d.writeGround(w) })
	return w
}

// pageDrive is a drive that was run for the page.
type pageDrive struct {
	*outcome
	setup     *setup
	fieldText string              // of the field, in a scenario file
	diagnosis []byte              // diagnosis.json; nil = none
	explained *diagnose.Diagnosis // what it says
}

// run runs what the page asks for.
func (b *pageBench) run(a *web.Ask) (*web.Drive, error) {
	u, d, err := b.prepare(a)
	if err != nil {
		return nil, asked(a, err)
	}
	if err := d.run(a); err != nil {
		return nil, asked(a, err)
	}
	o := d.outcome
	var summary bytes.Buffer
	if err := o.writeSummary(&summary); err != nil {
		return nil, err
	}
	m := u.machine.geometry()
	p := u.machine.params()
	w := &web.Drive{
		Title: u.title, MachineName: cmp.Or(u.machine.Name, u.machine.doc.file),
		Set: map[string]any{}, Fixed: b.fixed(a),
		Outcome: o.Outcome, Machine: m, Field: u.field,
		Settings:   u.machine.Controller.settings(&p, len(m.Sections)),
		Hydraulics: p, Passes: o.passes, Warnings: o.warnings, Simulated: o.simulated,
		Summary: bytes.TrimSpace(summary.Bytes()), Diagnosis: d.diagnosis, Explained: d.explained, Of: d,
	}
	s := &pageSetting{machine: u.machine, scenario: u.scenario, slantDeg: pageSlantDeg}
	if v, ok := a.Set["headland_deg"].(float64); ok {
		s.slantDeg = v
	}
	for i := range b.controls {
		w.Set[b.controls[i].Key] = b.controls[i].get(s)
	}
	return w, nil
}

// fixed returns the controls without effect on what is asked for.
func (b *pageBench) fixed(a *web.Ask) []string {
	var keys []string
	for i := range b.controls {
		c := &b.controls[i]
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

// prepare puts the asker's files and setting together.
func (b *pageBench) prepare(a *web.Ask) (*setup, *pageDrive, error) {
	u := &setup{title: b.base.title}
	s := b.setting()
	if f, ok := a.Files["machine"]; ok {
		m, err := loadMachine(f.Name, slashed(func(string, string) ([]byte, error) { return f.Data, nil }))
		if err != nil {
			return nil, nil, err
		}
		m.doc = newDocument(f.Name)
		s.machine = m
	}
	fixed := b.fixed(a)
	for i := range b.controls {
		c := &b.controls[i]
		if v, ok := a.Set[c.Key]; ok && !slices.Contains(fixed, c.Key) {
			c.put(s, v)
			if err := s.machine.check(); err != nil {
				return nil, nil, &web.Error{Status: http.StatusBadRequest, Key: c.Key, Msg: err.Error()}
			}
		}
	}
	if b.own && s.scenario.Drive.Headland == headlandNames[drive.NoHeadland] {
		// Turns at the speed that is set: what is seen at a border comes of what
		// is turned. On the headland, whose strips end at the field's side, the
		// driver slows down.
		turnKmh := s.scenario.Drive.SpeedKmh
		s.scenario.Drive.TurnKmh = &turnKmh
	}
	u.machine, u.scenario = s.machine, s.scenario
	u.scenario.Controller = u.machine.Controller
	d := &pageDrive{setup: u}
	if f, ok := a.Files["log"]; ok {
		u.title, u.scenario.Log = f.Name, f.Name
	}
	if f, ok := a.Files["states"]; ok {
		if u.scenario.Log == "" {
			return nil, nil, &web.Error{Status: http.StatusBadRequest, File: "states", Msg: f.Name + ": recorded work states go with the log of the same day; expected a log too"}
		}
		u.scenario.States = f.Name
	}
	if err := b.loadField(a, u, s, d); err != nil {
		return nil, nil, err
	}
	d.outcome = u.outcome()
	d.command = "liftbench run setting.yaml"
	return u, d, nil
}

// loadField takes the asker's field, the base's, or the page's own.
func (b *pageBench) loadField(a *web.Ask, u *setup, s *pageSetting, d *pageDrive) error {
	if f, ok := a.Files["field"]; ok {
		u.fieldFile, d.fieldText = f.Name, fieldText(f.Name, f.Data)
		u.scenario.HeadlandM, u.scenario.RowBearingDeg = nil, nil
		var err error
		u.field, err = field.Read(bytes.NewReader(f.Data), f.Name, field.Options{})
		if err != nil {
			return &inputError{file: f.Name, msg: err.Error(), err: err}
		}
		return nil
	}
	if !b.own {
		u.field, u.fieldFile = b.base.field, b.base.fieldFile
		d.fieldText = fieldText(pageFieldFile, b.base.fieldData)
		return nil
	}
	text := pageField(s.slantDeg)
	u.fieldFile, d.fieldText = pageFieldFile, string(text)
	var err error
	u.field, err = b.fields.of(text)
	return err
}

// lastField is the field that was asked for last: it changes with one control
// alone, and its index takes a fifth of a run.
type lastField struct {
	mu    sync.Mutex
	text  string
	field *field.Field
}

// of returns the field that the GeoJSON tells.
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

// fieldText is a field as it stands in a scenario file: the GeoJSON itself, on
// one line, or the name of its file where that is too long.
func fieldText(name string, data []byte) string {
	var line bytes.Buffer
	if err := json.Compact(&line, data); err != nil || line.Len() > maxConfigBytes/2 {
		return strconv.Quote(name)
	}
	return line.String()
}

// Limits of a drive that is run for the page: the log unpacked, and a
// generated drive's length and time, from area, width and speed.
const (
	maxLogBytes    = 256 << 20
	maxDriveM      = 100e3
	maxDriveS      = 4 * 3600
	maxPageSection = 64
)

// run takes the drive through the bench.
func (d *pageDrive) run(a *web.Ask) error {
	u := d.setup
	job := u.job()
	job.Strips, job.Heights = true, true
	if n := len(job.Machine.Sections); n > maxPageSection {
		return &inputError{file: u.machine.doc.file, msg: fmt.Sprintf("%d sections; the page takes %d at most, liftbench run takes more", n, maxPageSection)}
	}
	d.simulated = true
	var states *replay.States
	if f, ok := a.Files["states"]; ok {
		var err error
		if states, err = replay.ReadStates(bytes.NewReader(f.Data), f.Name, len(job.Machine.Sections)); err != nil {
			return &inputError{file: f.Name, msg: err.Error(), err: err}
		}
		u.states, d.simulated = f.Name, false
	}
	var in *logInput
	if f, ok := a.Files["log"]; ok {
		plain, err := unpacked(f)
		if err != nil {
			return err
		}
		in = &logInput{name: f.Name, progress: newProgress(plain, 0, f.Name, io.Discard)}
	} else {
		if err := u.checkLength(); err != nil {
			return err
		}
		var err error
		if in, err = u.open(job, d.outcome, nil, io.Discard); err != nil {
			return err
		}
	}
	defer in.close()
	if states == nil {
		return d.take(job, in, "")
	}
	return d.explain(job, in, states)
}

// explain scores the asker's recorded day and says why it was as it was. A day
// that cannot be explained is shown all the same, with the reason.
func (d *pageDrive) explain(job *sim.Job, in *logInput, states *replay.States) error {
	why, day, err := d.setup.judge(job, in, states)
	if err != nil {
		return err
	}
	why.outcome.command = d.command
	d.outcome = why.outcome
	if why.Diagnosis, err = diagnose.Run(*day); err != nil {
		d.warnings = append(d.warnings, "no diagnosis: "+err.Error())
		return nil
	}
	var text bytes.Buffer
	if err := why.writeJSON(&text); err != nil {
		return err
	}
	d.diagnosis, d.explained = bytes.TrimSpace(text.Bytes()), why.Diagnosis
	return nil
}

// checkLength refuses a drive that would take too long.
func (u *setup) checkLength() error {
	drivenM := u.field.AreaM2() / u.machine.widthM()
	if u.scenario.Drive.Headland == headlandNames[drive.NoHeadland] {
		drivenM = 0
		for i := range u.field.Zones {
			if z := &u.field.Zones[i]; z.Kind == field.Body {
				drivenM += z.AreaM2() / u.machine.widthM()
			}
		}
	}
	if seconds := drivenM / (u.scenario.Drive.SpeedKmh / 3.6); drivenM > maxDriveM || seconds > maxDriveS {
		return &web.Error{Status: http.StatusBadRequest, Msg: fmt.Sprintf("%.1f ha with %.3g m at %g km/h would be %.0f km and %.1f h of driving; the page takes %.0f km and %.0f h at most: a smaller field, a wider machine, or liftbench run",
			u.field.AreaM2()/1e4, u.machine.widthM(), u.scenario.Drive.SpeedKmh, drivenM/1000, seconds/3600, maxDriveM/1000, maxDriveS/3600.0)}
	}
	return nil
}

// unpacked returns a log's plain bytes, bounded: a megabyte can unpack to a
// gigabyte. The scanner unpacks what is gzip still, without bound, so gzip
// inside gzip is refused.
func unpacked(f web.Upload) (io.Reader, error) {
	if !bytes.HasPrefix(f.Data, []byte(gzipMagic)) {
		return bytes.NewReader(f.Data), nil
	}
	z, err := gzip.NewReader(bytes.NewReader(f.Data))
	if err != nil {
		return nil, &inputError{file: f.Name, msg: "no gzip data: " + err.Error(), err: err}
	}
	plain := bufio.NewReader(&boundedLog{in: z, left: maxLogBytes})
	// An error here comes again with the first read.
	if head, _ := plain.Peek(len(gzipMagic)); string(head) == gzipMagic {
		return nil, &inputError{file: f.Name, msg: "gzip inside gzip; expected a log packed once"}
	}
	return plain, nil
}

// gzipMagic starts every gzip stream (RFC 1952, 2.3.1), and no log.
const gzipMagic = "\x1f\x8b"

// boundedLog ends in an error after so many bytes.
type boundedLog struct {
	in   io.Reader
	left int64
}

var errLogTooLong = fmt.Errorf("unpacks to more than %d bytes; liftbench run takes longer logs", int64(maxLogBytes))

func (l *boundedLog) Read(b []byte) (int, error) {
	if l.left <= 0 {
		return 0, errLogTooLong
	}
	n, err := l.in.Read(b[:min(int64(len(b)), l.left)])
	l.left -= int64(n)
	return n, err
}

// asked turns an error of the asker's files and settings into the answer that
// says where it is.
func asked(a *web.Ask, err error) error {
	var known *web.Error
	if errors.As(err, &known) {
		return known
	}
	e := &web.Error{Status: http.StatusBadRequest, Msg: err.Error()}
	file := ""
	var config *configError
	var input *inputError
	switch {
	case errors.As(err, &config):
		file, e.Line, e.Col = config.file, config.line, config.col
	case errors.As(err, &input):
		file = input.file
		if input.err != nil && input.msg == input.err.Error() && len(input.msg) > len(file) && input.msg[:len(file)] == file {
			e.Msg = input.msg // it begins with the file's name already
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
	for _, f := range []string{u.scenario.Log, u.scenario.States} {
		if f != "" {
			fmt.Fprintf(w, "# Put %s beside it.\n", f)
		}
	}
	_, err := w.Write(u.settingText(d.fieldText))
	return err
}
