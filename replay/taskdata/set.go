// Package taskdata reads a day as a terminal on a machine records it: ISO 11783-10
// task data, TASKDATA.XML with binary time logs beside it, in a folder or a zip.
//
// Of the texts in the file only ids such as TSK4 are kept. Names, of people, farms
// and firms among them, are not even read.
package taskdata

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/timelog"
)

// Limits. Real sets are hundreds of kilobytes; a day of 24 h at 10 Hz with 20 values in
// each row is 110 MB.
const (
	maxXML      = 64 << 20  // bytes of one XML file, uncompressed
	maxLog      = 256 << 20 // bytes of one time log
	maxRead     = 1 << 30   // bytes of all files together
	maxRatio    = 100       // of these to the bytes of the zip they are packed in, beyond what follows: sticks have 3 to 8, hours at a stand 30
	freeRead    = 4 << 20   // bytes that a zip of any size may hold
	maxFiles    = 1 << 16   // files and folders that are looked at
	maxElements = 1 << 16   // device elements of a set
	maxLogs     = 4096      // time logs of a set
	maxXFR      = 1024      // external files
)

// Set is task data: what was to be done, with what, and the logs of it. It is for one goroutine at a
// time.
type Set struct {
	Tasks   []Task
	Devices []*device.Device
	Fields  []Field
	// Damage is what is wrong with the files of the set.
	Damage []Damage

	fsys   fs.FS
	folder string
	files  map[string]string // upper case → as it is written
	most   int64             // bytes that Open, or one Day, may read
	budget int64             // how many of them are left
	values values            // of all logs
	owners map[string]*device.Device
}

// Task is something that was done, and its logs.
type Task struct {
	ID      string // TSK…
	FieldID string // of Set.Fields; "" is none
	Logs    []Log
	// Connections are how devices hung on each other.
	Connections []device.Connection
	// DeviceIDs are the devices that the task allots, connects or logs, in the order of
	// the set.
	DeviceIDs []string
	// Banks are the parts of the devices whose work state was logged. The first is the
	// one to use: of those that changed, one with condensed words before others; then the one
	// that changed most.
	Banks []Bank
}

// Bank is an element whose work state was logged for its sections.
type Bank struct {
	DeviceID string
	Element  string
	Sections []string // elements, from the left
	// Reports are the rows that said anything about it, and Changes how often a
	// value differed from the one before.
	Reports, Changes int

	words bool // condensed, not of single elements
}

// Log is one time log of a task.
type Log struct {
	Name string // TLG…
	Rows int
	// FirstNs and LastNs are the times of the first and last row on the terminal's own
	// clock, ns since 1970-01-01T00:00 there; see Clock.
	FirstNs, LastNs int64
	// Usable is false where the header or the rows are missing or make no sense; then
	// Set.Damage says why.
	Usable bool

	file string
}

// SeveralError is returned by Open where there is more than one set.
type SeveralError struct{ Folders []string }

func (e *SeveralError) Error() string {
	return fmt.Sprintf("%d sets of task data: %s; name one of these folders", len(e.Folders), strings.Join(e.Folders, ", "))
}

// ErrNone is wrapped where there is no TASKDATA.XML.
var ErrNone = errors.New("no TASKDATA.XML; expected one in the folder or below it")

// Folders returns the folders that hold a TASKDATA.XML, in any case, in order.
// What systems leave beside files (__MACOSX, ._*) is passed over.
func Folders(fsys fs.FS) ([]string, error) {
	var found []string
	n := 0
	err := fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, err error) error {
		if n++; n > maxFiles {
			return fmt.Errorf("more than %d files and folders; expected one set of task data", maxFiles)
		}
		if err != nil {
			if p == "." {
				return err
			}
			return fs.SkipDir
		}
		base := path.Base(p)
		if d.IsDir() && (base == "__MACOSX" || strings.Count(p, "/") > 16) {
			return fs.SkipDir
		}
		if !d.IsDir() && strings.EqualFold(base, "TASKDATA.XML") {
			found = append(found, path.Dir(p))
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	sort.Strings(found)
	return found, nil
}

// OpenZip is Open for a zip of so many bytes.
func OpenZip(r io.ReaderAt, size int64, folder string) (*Set, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("a zip that is damaged or cut short (%w); expected a whole one: copy it from the stick again", err)
	}
	return open(z, folder, min(maxRead, freeRead+maxRatio*min(size, maxRead)))
}

// Open reads the set in a folder of fsys, which "" finds: then there must be one
// only, or the error is a SeveralError. Damage to parts is no error.
func Open(fsys fs.FS, folder string) (*Set, error) { return open(fsys, folder, maxRead) }

// open reads no more than so many bytes.
func open(fsys fs.FS, folder string, most int64) (*Set, error) {
	if folder == "" {
		all, err := Folders(fsys)
		switch {
		case err != nil:
			return nil, err
		case len(all) == 0:
			return nil, ErrNone
		case len(all) > 1:
			return nil, &SeveralError{all}
		}
		folder = all[0]
	}
	s := &Set{fsys: fsys, folder: folder, files: map[string]string{}, most: most, budget: most, values: values{}, owners: map[string]*device.Device{}}
	entries, err := fs.ReadDir(fsys, folder)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if !e.IsDir() && len(s.files) < maxFiles {
			if _, twice := s.files[strings.ToUpper(e.Name())]; !twice {
				s.files[strings.ToUpper(e.Name())] = e.Name()
			}
		}
	}
	root, err := s.parse("TASKDATA.XML", "ISO11783_TaskData")
	if err != nil {
		return nil, err
	}
	for i, x := range root.XFR {
		if i == maxXFR {
			s.damage("TASKDATA.XML", -1, fmt.Sprintf("more than %d external files", maxXFR), "the rest is left out")
			break
		}
		name := timelog.Name(x.A)
		if name == "" {
			s.damage("TASKDATA.XML", -1, "an external file without a usable name", "left out")
			continue
		}
		part, err := s.parse(strings.ToUpper(name)+".XML", "XFC")
		if err != nil {
			s.damage(name+".XML", -1, strings.TrimPrefix(err.Error(), strings.ToUpper(name)+".XML: "), "its content is missing")
			continue
		}
		root.DVC = append(root.DVC, part.DVC...)
		root.PFD = append(root.PFD, part.PFD...)
		root.TSK = append(root.TSK, part.TSK...)
	}
	s.devices(root)
	s.fields(root)
	s.tasks(root)
	return s, nil
}

func (s *Set) damage(file string, offset int64, what, done string) {
	if len(s.Damage) < maxDamage {
		s.Damage = append(s.Damage, Damage{file, offset, what, done})
	}
}

// bytes reads a file of the set, whatever the case of its name.
func (s *Set) bytes(name string, limit int64) ([]byte, error) {
	real, ok := s.files[strings.ToUpper(name)]
	if !ok {
		return nil, fmt.Errorf("%w: expected %s", fs.ErrNotExist, name)
	}
	f, err := s.fsys.Open(path.Join(s.folder, real))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	limit = min(limit, s.budget)
	var b bytes.Buffer
	if info, err := f.Stat(); err == nil {
		// A file may claim what it likes: so much is taken on trust.
		b.Grow(int(min(max(info.Size(), 0), limit, 32<<20)) + bytes.MinRead)
	}
	_, err = b.ReadFrom(io.LimitReader(f, limit+1))
	data := b.Bytes()
	s.budget -= int64(len(data))
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("holds more than %d MB; expected task data of a day", (limit+1<<19)>>20)
	}
	return data, err
}

// The elements and attributes that are read. No designator is among them.
type (
	xmlRoot struct {
		XFR []struct {
			A string `xml:"A,attr"`
		}
		DVC []xmlDevice
		PFD []xmlField
		TSK []xmlTask
	}
	xmlDevice struct {
		A   string `xml:"A,attr"`
		D   string `xml:"D,attr"`
		DET []struct {
			A   string `xml:"A,attr"`
			B   string `xml:"B,attr"`
			C   string `xml:"C,attr"`
			E   string `xml:"E,attr"`
			F   string `xml:"F,attr"`
			DOR []struct {
				A string `xml:"A,attr"`
			}
		}
		DPT []struct {
			A string `xml:"A,attr"`
			B string `xml:"B,attr"`
			C string `xml:"C,attr"`
		}
	}
	xmlTask struct {
		A   string `xml:"A,attr"`
		E   string `xml:"E,attr"`
		TLG []struct {
			A string `xml:"A,attr"`
		}
		CNN []struct {
			A string `xml:"A,attr"`
			B string `xml:"B,attr"`
			C string `xml:"C,attr"`
			D string `xml:"D,attr"`
		}
		DAN []struct {
			C string `xml:"C,attr"`
		}
	}
)

// parse decodes an XML file of the set.
func (s *Set) parse(name, element string) (*xmlRoot, error) {
	data, err := s.bytes(name, maxXML)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	root := &xmlRoot{}
	d := xml.NewDecoder(bytes.NewReader(plainText(data)))
	d.Strict = false
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	for {
		t, err := d.Token()
		if err != nil {
			return nil, fmt.Errorf("%s: byte %d: %w; expected the element %s", name, d.InputOffset(), err, element)
		}
		start, ok := t.(xml.StartElement)
		if !ok {
			continue
		}
		if !strings.EqualFold(start.Name.Local, element) {
			return nil, fmt.Errorf("%s: found the element %.20q, expected %s", name, start.Name.Local, element)
		}
		if err := d.DecodeElement(root, &start); err != nil {
			// What was read before the damage is used.
			s.damage(name, d.InputOffset(), "the XML is damaged: "+firstLine(err.Error()), "what comes before is used")
		}
		return root, nil
	}
}

func firstLine(text string) string {
	text, _, _ = strings.Cut(text, "\n")
	if len(text) > 100 {
		text = text[:100]
	}
	return text
}

var encoding = regexp.MustCompile(`^<\?xml[^>]*\?>`)

// plainText returns XML as UTF-8 without byte order mark and declaration. Text that is
// not UTF-8, whatever it declares, is taken to be Latin-1.
func plainText(data []byte) []byte {
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		big := data[0] == 0xfe
		var b bytes.Buffer
		// Names lie beyond ASCII, ids and numbers do not: surrogates may become anything.
		for k := 2; k+1 < len(data); k += 2 {
			lo, hi := rune(data[k]), rune(data[k+1])
			if big {
				lo, hi = hi, lo
			}
			b.WriteRune(hi<<8 | lo)
		}
		data = b.Bytes()
	case !utf8.Valid(data):
		var b bytes.Buffer
		for _, c := range data {
			b.WriteRune(rune(c))
		}
		data = b.Bytes()
	}
	head := data[:min(len(data), 200)]
	if m := encoding.FindIndex(head); m != nil {
		blank := bytes.Clone(data)
		for k := range m[1] {
			blank[k] = ' ' // offsets stay
		}
		return blank
	}
	return data
}

// devices takes the devices of the XML.
func (s *Set) devices(root *xmlRoot) {
	total := 0
	seen := map[string]bool{}
	for _, x := range root.DVC {
		id := timelog.Name(x.A)
		if id == "" || seen[id] {
			s.damage("TASKDATA.XML", -1, "a device without an id of its own", "left out")
			continue
		}
		seen[id] = true
		type property struct {
			ddi   uint16
			value int32
		}
		properties := make(map[string]property, len(x.DPT))
		for _, p := range x.DPT {
			ddi, err := strconv.ParseUint(p.B, 16, 16)
			value, err2 := strconv.ParseInt(p.C, 10, 32)
			if err == nil && err2 == nil {
				properties[p.A] = property{uint16(ddi), int32(value)}
			}
		}
		var elements []device.Element
		for _, e := range x.DET {
			if total++; total > maxElements {
				s.damage("TASKDATA.XML", -1, fmt.Sprintf("more than %d device elements", maxElements), "the rest is left out")
				break
			}
			c, _ := strconv.ParseUint(e.C, 10, 8)
			object, err := strconv.Atoi(e.B)
			if err != nil {
				object = -1 - len(elements)
			}
			parent, err := strconv.Atoi(e.F)
			if err != nil {
				parent = 0
			}
			number, _ := strconv.Atoi(e.E)
			el := device.Element{ID: timelog.Name(e.A), Object: object, Parent: parent, Type: device.Type(c), Number: number}
			for _, ref := range e.DOR {
				if p, ok := properties[ref.A]; ok {
					if el.Properties == nil {
						el.Properties = map[uint16]int32{}
					}
					el.Properties[p.ddi] = p.value
				}
			}
			elements = append(elements, el)
		}
		d := device.New(id, elements)
		if name, err := strconv.ParseUint(x.D, 16, 64); err == nil {
			d.Kind = device.Kind(name)
		}
		s.Devices = append(s.Devices, d)
		for _, e := range elements {
			if _, taken := s.owners[e.ID]; !taken && e.ID != "" {
				s.owners[e.ID] = d
			}
		}
	}
}

// Device returns the device of an id; nil if there is none.
func (s *Set) Device(id string) *device.Device {
	for _, d := range s.Devices {
		if d.ID == id {
			return d
		}
	}
	return nil
}

// Task returns the task of an id; nil if there is none.
func (s *Set) Task(id string) *Task {
	for i := range s.Tasks {
		if s.Tasks[i].ID == id {
			return &s.Tasks[i]
		}
	}
	return nil
}

// Field returns the field of an id; nil if there is none.
func (s *Set) Field(id string) *Field {
	for i := range s.Fields {
		if s.Fields[i].ID == id {
			return &s.Fields[i]
		}
	}
	return nil
}

// log reads the header and the rows of a log.
func (s *Set) log(l *Log) (*timelog.Header, []byte, error) {
	head, err := s.bytes(l.file+".XML", maxXML)
	if err != nil {
		return nil, nil, fmt.Errorf("header: %w", err)
	}
	h, err := timelog.ParseHeader(bytes.NewReader(plainText(head)))
	if err != nil {
		return nil, nil, err
	}
	rows, err := s.bytes(l.file+".BIN", maxLog)
	if err != nil {
		// A zip that is damaged gives what it has.
		if len(rows) > 0 && !errors.Is(err, fs.ErrNotExist) {
			return h, rows, err
		}
		return nil, nil, fmt.Errorf("rows: %w", err)
	}
	return h, rows, nil
}

// upper is how file names are looked up: in any case.
func upper(name string) string { return strings.ToUpper(name) }
