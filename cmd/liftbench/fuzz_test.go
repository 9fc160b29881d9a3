package main

// Whatever bytes the settings, the field and the page's uploads are made of:
// what is refused is refused in a sentence that says where, and what is taken
// can be written down and means the same when it is read again.

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/study"
	"liftbench/cmd/liftbench/web"
	"liftbench/sections/field"
	"liftbench/sim/sweep"
)

// demoBut is the demo's folder with data as the file of that name.
func demoBut(name string, data []byte) settings.Source {
	return settings.Named(func(path, what string) ([]byte, error) {
		if path == name {
			return data, nil
		}
		return settings.InDemo.Read("demo/"+path, what)
	})
}

// addSettings adds the demo's file of that name as a seed, and what
// badSettings make of it.
func addSettings(f *testing.F, name string) {
	text := demoText(f, name)
	f.Add([]byte(text))
	for _, c := range badSettings {
		if c.file == name {
			bad, _ := edit(f, text, c.old, c.replacement)
			f.Add([]byte(bad))
		}
	}
}

// checkSaid checks that what was refused is said in one line that begins with
// the file's name, and for a setting with a place that is in the file.
func checkSaid(t *testing.T, err error, name string, data []byte) {
	t.Helper()
	var at *failure.Setting
	var input *failure.Input
	switch text := err.Error(); {
	case strings.ContainsAny(text, "\n\r"):
		t.Fatalf("error of more than one line: %q", text)
	case errors.As(err, &at) && at.File == name:
		if at.Line < 1 || at.Line > 1+bytes.Count(data, []byte("\n"))+bytes.Count(data, []byte("\r")) || at.Col < 1 {
			t.Fatalf("no such place in the file: %q", text)
		}
	case !errors.As(err, &at) && !errors.As(err, &input) && !strings.HasPrefix(text, name+": "):
		t.Fatalf("an error that names no file: %q", text)
	}
}

// FuzzMachine: a machine that is read is sound, and written down it is read as
// the same machine.
func FuzzMachine(f *testing.F) {
	addSettings(f, "machine.yaml")
	f.Add([]byte("mount: rear\ntool: {forward_m: -2}\nrows: {count: 4, spacing_m: 0.5}\nsections: 2\n"))
	f.Add([]byte("mount: trailed\ntool: {forward_m: -4, hitch_behind_m: 1, drawbar_m: 3.5}\nrows: {count: 12, spacing_m: 0.45}\nsections: [4, 4, 4]\ntransport: {width_m: 3, height_m: 4}\n"))
	f.Add([]byte("name: \"\\xff\\u2028\"\nmount: rear\ntool: {forward_m: -2, offset_m: -0}\nrows: {count: 4, spacing_m: 0.5}\nsections: 2\nantenna: {height_m: -0}\n"))
	f.Add([]byte("name: \xff\nmount: rear\ntool: {forward_m: -2}\nrows: {count: 4, spacing_m: 0.5}\nsections: 2\n"))
	f.Add([]byte("? [a]\n: b"))
	f.Add([]byte("- 1\n- 2"))
	f.Add([]byte("<<: *x"))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := settings.LoadMachine("machine.yaml", demoBut("machine.yaml", data))
		if err != nil {
			checkSaid(t, err, "machine.yaml", data)
			return
		}
		if err := m.Geometry().Validate(); err != nil {
			t.Errorf("accepted a machine that is not valid: %v", err)
		}
		p := m.Params()
		set := m.Settings(&p)
		if err := set.Validate(); err != nil {
			t.Errorf("accepted settings that are not valid: %v", err)
		}
		written := bind.AppendGroup(nil, "", reflect.ValueOf(*m), reflect.ValueOf(*settings.DefaultMachine()))
		again, err := settings.LoadMachine("again.yaml", demoBut("again.yaml", written))
		if err != nil {
			t.Fatalf("%v in\n%s", err, written)
		}
		again.Doc = m.Doc
		if !reflect.DeepEqual(again, m) {
			t.Fatalf("%s\nis read as %+v\nand was %+v", written, again, m)
		}
	})
}

// loadIn reads a scenario of a folder with machine and field.
func loadIn(name string, read settings.Source) (*settings.Setup, error) {
	s, m, err := settings.LoadScenario(name, read, "")
	if err != nil {
		return nil, err
	}
	u := &settings.Setup{Title: name, Scenario: s, Machine: m}
	if s.Name != "" {
		u.Title = s.Name
	}
	fieldFile, read := s.Field.In(name, read)
	return u, u.LoadField(fieldFile, read, &settings.Selection{})
}

// checkWritten checks that the setting, written as one file with its field, is
// read as the same setting with the same field.
func checkWritten(t *testing.T, u *settings.Setup) {
	t.Helper()
	written := u.SettingText(page.FieldText(u.FieldFile, u.FieldData))
	again, err := loadIn("again.yaml", demoBut("again.yaml", written))
	if err != nil {
		t.Fatalf("%v in\n%s", err, written)
	}
	const name = "field.geojson" // GeoJSON is written with its keys in another order
	if was, is := u.SettingText(name), again.SettingText(name); !bytes.Equal(was, is) {
		t.Fatalf("%s\nis read and written as\n%s", was, is)
	}
	sameField(t, again.Field, u.Field)
}

// sameField checks that two fields are the same, but for where they were read.
func sameField(t *testing.T, got, want *field.Field) {
	t.Helper()
	if got.AreaM2() != want.AreaM2() || got.Bound() != want.Bound() || got.Plane != want.Plane || !reflect.DeepEqual(got.Boundary, want.Boundary) || len(got.Zones) != len(want.Zones) {
		t.Fatalf("a field of %g m² within %v, %d zones; want %g, %v, %d", got.AreaM2(), got.Bound(), len(got.Zones), want.AreaM2(), want.Bound(), len(want.Zones))
	}
	for i := range got.Zones {
		g, w := got.Zones[i], want.Zones[i]
		if math.IsNaN(g.RowBearingRad) && math.IsNaN(w.RowBearingRad) {
			g.RowBearingRad, w.RowBearingRad = 0, 0
		}
		if !reflect.DeepEqual(g, w) {
			t.Fatalf("zone %+v; want %+v", g, w)
		}
	}
}

// FuzzScenario: a scenario that is read, with its machine and field, is read
// the same from the one file it is written to.
func FuzzScenario(f *testing.F) {
	addSettings(f, "scenario.yaml")
	const inline = "name: \"a\\tb\"\nmachine: {mount: front, tool: {forward_m: 2}, rows: {count: 4, spacing_m: 0.5}, sections: [1, 3]}\n" +
		"field: {type: Polygon, coordinates: [[[10, 52], [10.004, 52], [10.004, 52.002], [10, 52]]]}\nheadland_m: 9\nrow_bearing_deg: 30\n"
	f.Add([]byte(inline + "receiver: {preset: sbas, sentences: [GGA], faults: [{from_s: 1, to_s: 2, kind: float}, {from_s: 3, to_s: 4, kind: silence}]}\nmeasured: {antenna_right_m: 0.1}\n"))
	f.Add([]byte(inline + "log: day.nmea\nstates: day.csv\ncontroller: {edge_rule: even, lift_lead: 120, flow_aware: false}\nlimits: {missed: 3, miss_m2: 1e99}\n"))
	f.Add([]byte(inline + "drive: {turn: fishtail, headland: last, zones: [a, b], decel_mps2: 1, overlap_cm: -3}\nspread: {oil_start_c: 5, flow_percent: 3}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		u, err := loadIn("scenario.yaml", demoBut("scenario.yaml", data))
		if err != nil {
			checkSaid(t, err, "scenario.yaml", data)
			return
		}
		checkWritten(t, u)
	})
}

// FuzzInlineField: a field means the same in a file of its own and in the
// scenario.
func FuzzInlineField(f *testing.F) {
	f.Add([]byte(demoText(f, "field.geojson")))
	f.Add(page.OwnField(20))
	f.Add([]byte(`{"type":"Feature","properties":{"zone":"body","name":"\"a\" \u00e9\/\ud83c\udf31: #b\t","row_bearing_deg":-1.5E1},"geometry":{"type":"Polygon","coordinates":[[[1e1,52],[10.004,52],[10.004,52.002]]]}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		want, err := field.Read(bytes.NewReader(data), "field.geojson", field.Options{})
		if err != nil {
			return
		}
		u, err := loadIn("scenario.yaml", demoBut("scenario.yaml", []byte("machine: machine.yaml\nfield: "+page.FieldText("field.geojson", data)+"\n")))
		if err != nil && strings.Contains(err.Error(), "already defined") {
			return // of two keys of the same name JSON takes the last
		}
		if err != nil && strings.Contains(err.Error(), "surrogate") {
			return // half of a UTF-16 pair is no character; JSON reads it as one that stands for none
		}
		if err != nil {
			t.Fatalf("%v; in a file of its own it is read", err)
		}
		sameField(t, u.Field, want)
	})
}

// FuzzStudy: every drive of a study that is planned can be set, the setting
// that it varies stays as it was, and what is driven can be written down.
func FuzzStudy(f *testing.F) {
	f.Add([]byte(demoText(f, "study.yaml")))
	f.Add([]byte("scenario: scenario.yaml\nseeds: 2\nfirst_seed: 7\nvary:\n  - {key: machine.sections, values: [1, 2, 6]}\n  - {key: controller.lift_lead, from: 0, to: 300, steps: 4}\n"))
	f.Add([]byte("scenario: scenario.yaml\nvary:\n  - {key: receiver.latency_ms, draw: uniform, from: 20, to: 300}\n  - {key: machine.tool.offset_m, draw: normal, mean: 0, sd: 1}\nshow: [missed]\n"))
	f.Add([]byte("scenario: scenario.yaml\nvary:\n  - {key: drive.seed, values: [1]}\n"))
	f.Add([]byte("scenario: scenario.yaml\nfirst_seed: 9007199254740991\nvary:\n  - {key: drive.speed_kmh, values: [6]}\n"))
	f.Add([]byte("scenario: scenario.yaml\nvary:\n  - {key: machine.sections, draw: uniform, from: 1, to: 6}\n"))
	f.Add([]byte("scenario: scenario.yaml\nvary:\n  - {key: controller.drop_lead, draw: uniform, from: -9, to: 9}\n"))
	f.Add([]byte("scenario: scenario.yaml\nvary:\n  - {key: drive.border_kmh, values: [1e1, -0, 5]}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, u, err := settings.LoadStudy("study.yaml", demoBut("study.yaml", data))
		if err != nil {
			checkSaid(t, err, "study.yaml", data)
			return
		}
		before := u.SettingText(u.FieldFile)
		plan, err := c.Plan(u)
		if err == nil {
			_, err = study.Head(c, u, plan, sweep.Shard{})
		}
		if err != nil {
			checkSaid(t, err, "study.yaml", data)
			return
		}
		for _, number := range []int{0, plan.Benches() / 2, plan.Benches() - 1} {
			bench := plan.Bench(number)
			driven := u.Copy()
			driven.Scenario.Drive.Seed = int(bench.Seed)
			for i, a := range plan.Axes {
				if err := driven.Set(a.Key, bench.Values[i]); err != nil {
					t.Fatalf("drive %d of %d cannot be set: %v", number, plan.Benches(), err)
				}
			}
			if driven.Check() == nil {
				checkWritten(t, driven)
			}
		}
		if after := u.SettingText(u.FieldFile); !bytes.Equal(after, before) {
			t.Fatalf("%s\nbecame\n%s", before, after)
		}
	})
}

// FuzzUploads: files that are uploaded get the answer to a drive, or a sentence
// that says what is wrong with them; a drive can be downloaded in every form,
// and its setting is one that liftbench run takes.
func FuzzUploads(f *testing.F) {
	machine, land := demoText(f, "machine.yaml"), demoText(f, "field.geojson")
	const states = "time,section,setpoint,actual\n2026-05-12T08:00:01Z,1,1,0\n2026-05-12T08:00:01.2Z,1,1,1\n"
	var log strings.Builder
	status, stdout, stderr := command("", "drive", "--out", "-")
	if status != 0 {
		f.Fatal(stderr)
	}
	for i, line := range strings.SplitAfter(stdout, "\n") {
		if i%50 == 0 && i < 5000 {
			log.WriteString(line)
		}
	}
	f.Add(``, "day.nmea", machine, land, log.String(), states)
	f.Add(`{"lift_lead_ms":120,"edge_rule":"crop-first"}`, "../a\\b.nmea", "", "", log.String(), "")
	f.Add(`{"speed_kmh":0}`, "day.nmea", "", "", "", "")
	f.Add(``, "day.nmea", "mount: rear", "", log.String(), "")
	f.Add(``, "day.nmea", "", `{"type":"Point"}`, log.String(), "")
	f.Add(``, "day.nmea.gz", "", "", "\x1f\x8b\x08$GPGGA", "")
	f.Add(``, "day.nmea", "", "", log.String(), "time,section,actual\n")
	b := newTestBench(f).Web()
	f.Fuzz(func(t *testing.T, set, logName, machine, land, log, states string) {
		files := [][3]string{{"log", logName, log}}
		for _, part := range [][3]string{{"machine", "hoe.yaml", machine}, {"field", "land.geojson", land}, {"states", "day.csv", states}} {
			if part[2] != "" {
				files = append(files, part)
			}
		}
		contentType, body := form(t, set, files...)
		h := web.Handler(b)
		w := askPage(h, "POST", "/api/run", contentType, bytes.NewReader(body.Bytes()))
		if w.Code != http.StatusOK {
			var said web.Error
			if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || w.Code >= 500 || said.Msg == "" || strings.Contains(said.Msg, "\n") {
				t.Fatalf("status %d, %v, %q", w.Code, err, w.Body)
			}
			return
		}
		var answer struct{ Title string }
		if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil || answer.Title == "" {
			t.Fatalf("%v in %q", err, w.Body)
		}
		for _, file := range b.Files {
			w := askPage(h, "POST", "/api/"+file.Name, contentType, bytes.NewReader(body.Bytes()))
			if w.Code != http.StatusOK {
				t.Fatalf("%s: status %d, %q", file.Name, w.Code, w.Body)
			}
			if file.Name == "setting.yaml" {
				if _, err := loadIn("setting.yaml", demoBut("setting.yaml", w.Body.Bytes())); err != nil {
					t.Fatalf("%v in\n%s", err, w.Body)
				}
			}
		}
	})
}

// FuzzSheetFile: a sheet file is refused with its place, or makes a whole page in which
// nothing of it is taken for markup.
func FuzzSheetFile(f *testing.F) {
	f.Add([]byte(demoText(f, "sheet.yaml")))
	f.Add([]byte("customer: <script>alert(1)</script>\nmachine: {serial_number: 0x1F, software: 1e3}\n"))
	f.Add([]byte("date: 2026-02-30\n"))
	f.Add([]byte("tolerance: {lift_cm: 0.01, share_percent: 99.9, confidence_percent: 99.9}\ncautions: [\"&lt;\", \"{n}\"]\n"))
	f.Add([]byte("before: {lift_lead_ms: 1e1, antenna_forward_m: -0}\n"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(dir, "sheet.yaml")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		a, err := settings.LoadAcceptance(path)
		if err != nil {
			checkSaid(t, err, path, data)
			return
		}
		for _, l := range []language.Language{language.English, language.German, language.French} {
			var b strings.Builder
			if err := (&acceptance.Sheet{Language: l, Details: a}).Write(&b); err != nil {
				t.Fatal(err)
			}
			if page := b.String(); strings.Contains(page, "<script") || strings.Count(page, "<td") != strings.Count(page, "</td>") || !strings.HasSuffix(page, "</html>\n") {
				t.Fatalf("%s", page)
			}
		}
	})
}
