package taskdata_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"liftbench/replay/taskdata"
)

// files makes a file system of these names and contents.
func files(pairs ...string) fstest.MapFS {
	m := fstest.MapFS{}
	for k := 0; k < len(pairs); k += 2 {
		m[pairs[k]] = &fstest.MapFile{Data: []byte(pairs[k+1])}
	}
	return m
}

// root wraps elements as a TASKDATA.XML.
func root(elements string) string {
	return `<?xml version="1.0" encoding="UTF-8"?><ISO11783_TaskData VersionMajor="4" VersionMinor="2">` + elements + `</ISO11783_TaskData>`
}

// spring is a file without end, of blanks.
type spring struct{ fstest.MapFS }

func (s spring) Open(name string) (fs.File, error) {
	f, err := s.MapFS.Open(name)
	if err == nil && strings.HasSuffix(name, "TASKDATA.XML") {
		return endless{f}, nil
	}
	return f, err
}

type endless struct{ fs.File }

func (endless) Read(p []byte) (int, error) {
	for k := range p {
		p[k] = ' '
	}
	return len(p), nil
}

func TestTooLarge(t *testing.T) {
	if _, err := taskdata.Open(spring{files("TASKDATA.XML", "")}, ""); err == nil || !strings.Contains(err.Error(), "holds more than 64 MB") {
		t.Errorf("XML without end: %v", err)
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("TASKDATA/TASKDATA.XML")
	if err != nil {
		t.Fatal(err)
	}
	blank := bytes.Repeat([]byte(" "), 1<<20)
	for range 65 {
		w.Write(blank)
	}
	z.Close()
	if b.Len() > 100<<10 {
		t.Fatalf("the bomb has %d bytes", b.Len())
	}
	// It is given up at a hundred times its size and 4 MB.
	most := 4 + 100*float64(b.Len())/(1<<20)
	if _, err := taskdata.OpenZip(bytes.NewReader(b.Bytes()), int64(b.Len()), ""); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("holds more than %.0f MB", most)) {
		t.Errorf("zip bomb: %v; want more than %.0f MB", err, most)
	}
}

// TestLongStand packs ten hours at a stand, ten rows a second in which the position jitters in its last digit: hardly a day
// compresses better, and it is read whole.
func TestLongStand(t *testing.T) {
	const rows = 10 * 3600 * 10
	var log bytes.Buffer
	for k := range uint32(rows) {
		binary.Write(&log, binary.LittleEndian, struct {
			Ms        uint32
			Day       uint16
			North, E  int32
			Quality   uint8
			Values    uint8
			Condensed [5]uint8 // which value, and its four bytes
		}{k * 100, 15_000, 520_000_000 + int32(k%2), 110_000_000, 4, 1, [5]uint8{0, 0x55, 0, 0, 0}})
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{
		"TASKDATA/TASKDATA.XML": root(`<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" E="0" F="0"/></DVC><TSK A="TSK1"><TLG A="TLG00001"/></TSK>`),
		"TASKDATA/TLG00001.XML": `<TIM A="" D="4"><PTN A="" B="" D=""/><DLV A="00A1" B="" C="DET-1"/></TIM>`, "TASKDATA/TLG00001.BIN": log.String(),
	} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write([]byte(text))
	}
	z.Close()
	t.Logf("packed %.0f times smaller", float64(log.Len())/float64(b.Len()))
	s, err := taskdata.OpenZip(bytes.NewReader(b.Bytes()), int64(b.Len()), "")
	if err != nil {
		t.Fatal(err)
	}
	d, err := s.Day(taskdata.Options{})
	if err != nil || len(d.Fixes) != rows {
		t.Errorf("%v, %d positions of %d", err, len(d.Fixes), rows)
	}
}

// Elements in a ring, in a line of 65 536, and too many of them.
func TestDevicesOfAnyShape(t *testing.T) {
	var many strings.Builder
	many.WriteString(`<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" E="0" F="0"/>`)
	for k := 2; k <= 70000; k++ {
		fmt.Fprintf(&many, `<DET A="DET-%d" B="%d" C="4" E="%d" F="%d"/>`, k, k, k, k-1)
	}
	many.WriteString("</DVC>")
	rings := `<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" F="3"/><DET A="DET-2" B="2" C="2" F="1"/><DET A="DET-3" B="3" C="4" F="2"/><DET A="DET-4" B="4" C="4" F="4"/></DVC>`
	for name, device := range map[string]string{"line": many.String(), "ring": rings} {
		start := time.Now()
		s, err := taskdata.Open(files("TASKDATA.XML", root(device+`<TSK A="TSK1"><TLG A="TLG00001"/></TSK>`),
			"TLG00001.XML", `<TIM A=""><PTN A="" B=""/><DLV A="00A1" B="" C="DET-1"/></TIM>`, "TLG00001.BIN",
			"\x00\x00\x00\x00\x10\x3d\x01\x00\x00\x00\x01\x00\x00\x00\x01\x00\x55\x00\x00\x00"), "")
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		d, err := s.Day(taskdata.Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(d.Geometry.Sections) > 256 {
			t.Errorf("%s: %d sections", name, len(d.Geometry.Sections))
		}
		if name == "ring" && len(s.Device("DVC-1").Sections("DET-1", nil)) != 1 {
			t.Errorf("ring: sections %v", s.Device("DVC-1").Sections("DET-1", nil))
		}
		if name == "line" && !strings.Contains(fmt.Sprint(s.Damage), "more than 65536 device elements") {
			t.Errorf("line: damage %v", s.Damage)
		}
		t.Logf("%s: %v", name, time.Since(start).Round(time.Millisecond))
	}
}

func TestFolders(t *testing.T) {
	xml := root("")
	_, err := taskdata.Open(files("a/TASKDATA.XML", xml, "b/c/taskdata.xml", xml, "__MACOSX/TASKDATA/TASKDATA.XML", xml, "a/._TASKDATA.XML", "x"), "")
	var several *taskdata.SeveralError
	if !errors.As(err, &several) || fmt.Sprint(several.Folders) != "[a b/c]" {
		t.Errorf("several: %v", err)
	}
	if _, err := taskdata.Open(files("a/TASKDATA.XML", xml, "b/TASKDATA.XML", xml), "b"); err != nil {
		t.Error(err)
	}
	if _, err := taskdata.Open(files("readme.txt", ""), ""); !errors.Is(err, taskdata.ErrNone) {
		t.Errorf("none: %v", err)
	}
	if _, err := taskdata.OpenZip(strings.NewReader("no zip"), 6, ""); err == nil {
		t.Error("no zip: no error")
	}
	for text, want := range map[string]string{"": "expected the element", "<kml/>": `found the element "kml"`} {
		if _, err := taskdata.Open(files("TASKDATA.XML", text), ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, expected %q", text, err, want)
		}
	}
	// A reference out of the folder, to itself, and the same log twice.
	s, err := taskdata.Open(files("a/TASKDATA.XML", root(`<XFR A="../secret"/><XFR A="TASKDATA"/><TSK A="TSK1"><TLG A="TLG00001"/><TLG A="TLG00001"/></TSK>`), "secret.xml", "<XFC/>"), "")
	if err != nil || len(s.Tasks[0].Logs) != 1 || len(s.Damage) != 4 {
		t.Errorf("%v, %+v", err, s)
	}
}

// Encodings: a byte order mark, UTF-16, Latin-1 whatever it declares.
func TestEncodings(t *testing.T) {
	plain := root(`<PFD A="PFD1" C="Äcker" D="5"/>`)
	latin := strings.ReplaceAll(plain, "Ä", "\xc4")
	var wide []byte
	for _, r := range "\ufeff" + plain {
		wide = append(wide, byte(r), byte(r>>8))
	}
	for name, text := range map[string]string{
		"plain": plain, "mark": "\xef\xbb\xbf" + plain, "Latin-1": strings.Replace(latin, "UTF-8", "ISO-8859-1", 1), "Latin-1 as UTF-8": latin, "UTF-16": strings.Replace(string(wide), "UTF-8", "UTF-16", 1),
		"cut": plain[:len(plain)-10],
	} {
		s, err := taskdata.Open(files("TASKDATA.XML", text), "")
		if err != nil || len(s.Fields) != 1 || s.Fields[0].AreaM2 != 5 {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if (name == "cut") != (len(s.Damage) == 1) {
			t.Errorf("%s: damage %v", name, s.Damage)
		}
	}
}

// No text that could name a person, a farm or a firm is anywhere in what is read.
func TestNoNames(t *testing.T) {
	xml := root(`<CTR A="CTR1" B="Jane Doe" C="Jane"/><FRM A="FRM1" B="Jane Farm"/><WKR A="WKR1" B="Jane"/>
	<PDT A="PDT1" B="Jane Seeds"/><PFD A="PFD1" B="Jane" C="Jane's field" D="5"><PLN A="1" B="Jane"><LSG A="1" B="Jane"><PNT A="2" B="Jane" C="52" D="8"/><PNT A="2" C="52.1" D="8"/><PNT A="2" C="52" D="8.1"/></LSG></PLN></PFD>
	<PFD A="Jane Doe"/><TSK A="TSK1" B="for Jane" C="CTR1" D="FRM1" E="PFD1" F="WKR1"><TLG A="TLG00001"/><TLG A="Jane Doe"/><CNN A="Jane Doe" B="Jane 2" C="Jane 3" D="Jane 4"/></TSK><TSK A="Jane Doe"/>
	<DVC A="DVC-1" B="Jane Works" C="1" E="Jane 1"><DET A="DET-1" B="1" C="1" D="Jane" E="0" F="0"><DOR A="2"/></DET><DET A="Jane Doe" B="4" C="4" F="1"/><DPD A="2" B="008D" C="1" D="8" E="Jane"/></DVC><DVC A="Jane Doe"/>`)
	s, err := taskdata.Open(files("TASKDATA.XML", xml, "TLG00001.XML", `<TIM A="Jane" B="Jane"><PTN A="" B=""/><DLV A="008D" B="" C="DET-1"/><DLV A="008D" B="" C="Jane Doe"/></TIM>`,
		"TLG00001.BIN", "\x00\x00\x00\x00\x10\x3d\x01\x00\x00\x00\x01\x00\x00\x00\x01\x00\x01\x00\x00\x00"), "")
	if err != nil {
		t.Fatal(err)
	}
	d, err := s.Day(taskdata.Options{})
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, v := range []any{s, d} {
		texts(reflect.ValueOf(v), map[uintptr]bool{}, func(text string) {
			seen++
			if strings.Contains(text, "Jane") {
				t.Errorf("kept: %q", text)
			}
		})
	}
	if seen < 10 || len(s.Fields) != 1 || len(s.Fields[0].Zones) != 1 {
		t.Errorf("%d texts seen, %d fields", seen, len(s.Fields))
	}
}

// texts calls f with every string that can be reached from v, but for the files themselves.
func texts(v reflect.Value, been map[uintptr]bool, f func(string)) {
	switch v.Kind() {
	case reflect.String:
		f(v.String())
	case reflect.Pointer:
		if !v.IsNil() && !been[v.Pointer()] {
			been[v.Pointer()] = true
			texts(v.Elem(), been, f)
		}
	case reflect.Slice, reflect.Array:
		for k := range v.Len() {
			texts(v.Index(k), been, f)
		}
	case reflect.Map:
		for it := v.MapRange(); it.Next(); {
			texts(it.Key(), been, f)
			texts(it.Value(), been, f)
		}
	case reflect.Struct:
		for k := range v.NumField() {
			if v.Type().Field(k).Name != "fsys" {
				texts(v.Field(k), been, f)
			}
		}
	}
}

// FuzzXML takes anything as TASKDATA.XML and as the header of its log.
func FuzzXML(f *testing.F) {
	f.Add(root(`<XFR A="TLG00001"/><DVC A="DVC-1"><DET A="DET-1" B="1" C="1" F="1"><DOR A="2"/></DET><DPT A="2" B="0086" C="-5"/></DVC><TSK A="TSK1" E="PFD1"><TLG A="TLG00001"/><CNN A="DVC-1" B="DET-1" C="DVC-2" D="DET-3"/></TSK>`), `<TIM A=""><PTN A="" B=""/><DLV A="00A1" B="" C="DET-1"/></TIM>`, "")
	f.Add(root(`<PFD A="PFD1" D="5"><PLN A="1"><LSG A="2"><PNT C="1" D="2"/><PNT C="1" D="3"/><PNT C="2" D="3"/></LSG><LSG A="1"><PNT C="0" D="0"/><PNT C="0" D="9"/><PNT C="9" D="9"/></LSG></PLN><GGP><GPN A="GPN1" C="1"><LSG A="5"><PNT A="6" C="1" D="2"/><PNT A="7" C="2" D="2"/></LSG></GPN></GGP></PFD>`), "", "\x00")
	f.Fuzz(func(t *testing.T, xml, header, rows string) {
		use(taskdata.Open(files("TASKDATA.XML", xml, "TLG00001.XML", header, "TLG00001.BIN", rows), ""))
	})
}

// use asks for everything that a set has.
func use(s *taskdata.Set, err error) {
	if err != nil {
		_ = err.Error()
		return
	}
	for _, d := range s.Damage {
		_ = d.String()
	}
	for k := range s.Fields {
		s.Fields[k].GeoJSON()
	}
	for k := range s.Tasks {
		for _, b := range s.Tasks[k].Banks {
			if d, err := s.Day(taskdata.Options{TaskID: s.Tasks[k].ID, Element: b.Element}); err == nil {
				_ = d.Clock.String()
				d.Actual.Work()
			}
		}
		s.Day(taskdata.Options{TaskID: s.Tasks[k].ID})
	}
}

// FuzzZip takes anything as a zip.
func FuzzZip(f *testing.F) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{
		"TASKDATA/TASKDATA.XML": root(`<DVC A="DVC-1"><DET A="DET-1" B="1" C="1"/></DVC><TSK A="TSK1"><TLG A="TLG00001"/></TSK>`),
		"TASKDATA/TLG00001.XML": `<TIM A=""><PTN A="" B=""/><DLV A="008D" B="" C="DET-1"/></TIM>`,
		"TASKDATA/TLG00001.BIN": "\x00\x00\x00\x00\x10\x3d\x01\x00\x00\x00\x01\x00\x00\x00\x01\x00\x01\x00\x00\x00",
	} {
		w, _ := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		io.WriteString(w, text)
	}
	z.Close()
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		use(taskdata.OpenZip(bytes.NewReader(data), int64(len(data)), ""))
	})
}

// A zip whose log is damaged inside: what comes before is used and the place is named.
func TestBrokenZip(t *testing.T) {
	m := newMade("00A1 DET-2")
	for k := range 20_000 {
		m.add(100*k, 100*k, k*7919%1000+k, 0, 21*(k/100%2))
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range [][2]string{{"TASKDATA.XML", root(threeSections + `<TSK A="TSK1" G="4"><TLG A="TLG00001" C="1"/></TSK>`)}, {"TLG00001.XML", m.header}, {"TLG00001.BIN", string(m.rows)}} {
		w, err := z.Create(f[0])
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, f[1])
	}
	z.Close()
	data := b.Bytes()
	for k := range 64 {
		data[len(data)/2+k] ^= 0x5a
	}
	s, err := taskdata.OpenZip(bytes.NewReader(data), int64(len(data)), "")
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Damage) == 0 || s.Damage[0].File != "TLG00001.BIN" || s.Damage[0].Offset < 1000 {
		t.Errorf("damage %v", s.Damage)
	}
	rows := s.Tasks[0].Logs[0].Rows
	d, err := s.Day(taskdata.Options{})
	if err != nil || d.Rows != rows || rows < 5000 || rows > 15_000 {
		t.Errorf("%v: %d rows of 20000", err, rows)
	}
}
