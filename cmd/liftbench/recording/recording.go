// Package recording opens a recorded day, whatever a machine or a bus logger wrote: the
// form is told by the content, never by the name.
package recording

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/nmea/epoch"
	"liftbench/replay/day"
	"liftbench/replay/taskdata"
	"liftbench/replay/trace"
)

// Choice chooses where a recording holds several of a kind. The zero value chooses where
// there is no doubt.
type Choice struct {
	Task   string // of task data
	Device string // of task data
	Sender string // of the positions on a bus: its address, 0 to 255
}

// Expected names what a recorded day may be, for errors.
const Expected = "a log of NMEA sentences, ISO 11783-10 task data (a folder or a zip), or a CAN trace"

// Read tells the form of path, "-" for standard input, and reads it unless it is a log
// of NMEA sentences, or anything that is not known: then it returns nil, and
// what was read of standard input stands in rest.
func Read(path string, c Choice, stdin io.Reader) (d *day.Day, rest io.Reader, err error) {
	if path == "-" {
		return fromStream(stdin, c)
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, failure.Opening(path, Expected, err)
	}
	if info.IsDir() {
		set, err := taskdata.Open(os.DirFS(path), "")
		if err != nil {
			return nil, nil, &failure.Input{File: path, Msg: "is a directory; " + err.Error(), Err: err}
		}
		d, err := c.taskData(path, set)
		return d, nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, nil, nil // a pipe cannot be read twice
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, failure.Opening(path, Expected, err)
	}
	defer f.Close()
	d, err = c.from(path, f, info.Size())
	return d, nil, err
}

// ReadAll reads one recording, or several of one day, of which any may be a log of NMEA
// sentences, and makes one of them. A log of sentences alone is refused.
func ReadAll(paths []string, c Choice, stdin io.Reader, stderr io.Writer) (*day.Day, error) {
	if len(paths) == 1 {
		d, _, err := Read(paths[0], c, stdin)
		if err == nil && d == nil {
			err = &failure.Input{File: paths[0], Msg: "is taken for a log of NMEA sentences, which every command takes as it is; expected ISO 11783-10 task data, or a CAN trace"}
		}
		return d, err
	}
	var parts []day.Part
	for _, path := range paths {
		if path == "-" {
			return nil, &failure.Usage{Msg: "-: standard input is one recording; expected files where there are several"}
		}
		d, _, err := Read(path, c, nil)
		if err != nil {
			return nil, err
		}
		if d == nil {
			if d, err = sentences(path, stderr); err != nil {
				return nil, err
			}
		}
		if len(d.Fixes) == 0 {
			return nil, &failure.Input{File: path, Msg: "no position in it", Err: bus.ErrNoPosition}
		}
		parts = append(parts, day.Part{Name: path, Day: d})
	}
	d, err := day.Join(parts)
	if err != nil {
		return nil, &failure.Usage{Msg: err.Error() + "; import them one by one:\n" + listed(parts)}
	}
	return d, nil
}

// sentences reads a log of NMEA sentences.
func sentences(path string, stderr io.Writer) (*day.Day, error) {
	in, err := files.OpenLog(path, files.NMEALog, nil, stderr)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	rd := epoch.NewReader(in)
	var fixes []nmea.Fix
	for rd.Next() {
		if f := rd.Fix(); f.HasPosition() {
			if !f.Dated {
				return nil, &failure.Input{File: path, Msg: "positions without a date; expected RMC or ZDA among the sentences, so that it can be put beside other recordings"}
			}
			fixes = append(fixes, f)
		}
	}
	c := rd.Counts()
	if len(fixes) == 0 {
		return nil, files.EmptyLog(path, in.Done, &c, 0)
	}
	return day.FromFixes(fixes), nil
}

// listed lists recordings: when, how many positions and sections.
func listed(parts []day.Part) string {
	var b strings.Builder
	fmt.Fprintf(&b, "  %-32s %-42s %9s %8s", "file", "UTC", "positions", "sections")
	for _, p := range parts {
		firstNs, lastNs := p.Span()
		n := "-"
		if p.Machine != nil {
			n = fmt.Sprint(len(p.Machine.Sections))
		}
		at := func(ns int64) string { return time.Unix(0, ns).UTC().Format("2006-01-02 15:04:05") }
		fmt.Fprintf(&b, "\n  %-32s %-42s %9d %8s", p.Name, at(firstNs)+" to "+at(lastNs), len(p.Fixes), n)
	}
	return b.String()
}

// Within reads a recording that is held in memory, as an upload; nil as Read.
func Within(name string, data []byte, c Choice) (*day.Day, error) {
	return c.from(name, bytes.NewReader(data), int64(len(data)))
}

// source can be read from several places.
type source interface {
	io.ReaderAt
	io.ReadSeeker
}

// mostStreamBytes bounds what is kept of standard input.
const mostStreamBytes = 1 << 30

// fromStream reads standard input if it is no log of NMEA sentences.
func fromStream(stdin io.Reader, c Choice) (*day.Day, io.Reader, error) {
	const name = "standard input"
	r := bufio.NewReaderSize(stdin, headBytes)
	head, _ := r.Peek(headBytes) // an error comes again with the next read
	if formOf(head) == nmeaLog {
		return nil, r, nil
	}
	data, err := io.ReadAll(io.LimitReader(r, mostStreamBytes+1))
	if err == nil && len(data) > mostStreamBytes {
		err = fmt.Errorf("more than %d bytes; expected a file in its place", int64(mostStreamBytes))
	}
	if err != nil {
		return nil, nil, &failure.Input{File: name, Msg: err.Error(), Err: err}
	}
	d, err := Within(name, data, c)
	return d, nil, err
}

// form is what a file holds by its first bytes.
type form uint8

const (
	nmeaLog form = iota // or what is not known
	zipped
	busTrace
)

// headBytes is how much of a file tells its form.
const headBytes = 1 << 14

// formOf tells a form by the first bytes, unpacked where they are compressed.
func formOf(head []byte) form {
	if bytes.HasPrefix(head, []byte("\x1f\x8b")) {
		z, err := gzip.NewReader(bytes.NewReader(head))
		if err != nil {
			return nmeaLog
		}
		plain := make([]byte, headBytes)
		n, _ := io.ReadFull(z, plain) // the head ends within
		head = plain[:n]
	}
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return zipped
	}
	// A sentence among the first lines makes it a log of sentences, whatever stands between.
	if s := nmea.NewScanner(bytes.NewReader(head)); s.Scan() {
		return nmeaLog
	}
	s := trace.NewScanner(bytes.NewReader(head))
	for s.Next() {
	}
	if s.Form() != trace.Unknown && (s.Counts().Frames > 0 || s.Form() != trace.CandumpScreen) {
		return busTrace
	}
	return nmeaLog
}

// from reads a file of size bytes.
func (c Choice) from(name string, f source, size int64) (*day.Day, error) {
	head := make([]byte, headBytes)
	n, err := f.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return nil, failure.Opening(name, Expected, err)
	}
	switch formOf(head[:n]) {
	case zipped:
		set, err := taskdata.OpenZip(f, size, "")
		if err != nil {
			return nil, &failure.Input{File: name, Msg: err.Error(), Err: err}
		}
		return c.taskData(name, set)
	case busTrace:
		return c.trace(name, f)
	}
	return nil, nil
}

// Address returns the sender of the positions, 0 to 255, or -1 where none is named.
func (c Choice) Address() (int, error) {
	if c.Sender == "" {
		return -1, nil
	}
	address, err := strconv.ParseUint(c.Sender, 10, 8)
	if err != nil {
		return -1, &failure.Usage{Msg: "--sender " + c.Sender + ": expected an address on the bus, 0 to 255"}
	}
	return int(address), nil
}

// trace reads a CAN trace.
func (c Choice) trace(name string, f source) (*day.Day, error) {
	sender, err := c.Address()
	if err != nil {
		return nil, err
	}
	if c.Task != "" || c.Device != "" {
		return nil, &failure.Usage{Msg: name + " is a CAN trace: it has no tasks; expected the command without --task and --device"}
	}
	d, err := day.FromTrace(func() (io.Reader, error) {
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return nil, err
		}
		return unpacked(f)
	}, sender)
	if err != nil {
		return nil, &failure.Input{File: name, Msg: err.Error(), Err: err}
	}
	return d, nil
}

// unpacked returns a reader of what gzip has packed, or of what is not packed.
func unpacked(r io.Reader) (io.Reader, error) {
	b := bufio.NewReader(r)
	if head, _ := b.Peek(2); !bytes.Equal(head, []byte("\x1f\x8b")) { // an error comes again with the next read
		return b, nil
	}
	return gzip.NewReader(b)
}

// taskData takes a task of a set.
func (c Choice) taskData(name string, set *taskdata.Set) (*day.Day, error) {
	if c.Sender != "" {
		return nil, &failure.Usage{Msg: name + " is task data: it has no senders; expected the command without --sender"}
	}
	o := taskdata.Options{TaskID: c.Task}
	for _, id := range strings.Fields(c.Device) { // DVC-3, or DVC-3 DET-9
		if strings.HasPrefix(id, "DET") {
			o.Element = id
		} else {
			o.DeviceID = id
		}
	}
	d, err := day.FromTaskData(set, o)
	var several *taskdata.ChoiceError
	switch {
	case errors.As(err, &several):
		msg := err.Error()
		if len(several.Of) == 0 {
			msg += "; expected a stick on which the terminal recorded work, with TLG files"
		} else if several.What == "task" {
			msg += "; choose with --task:\n" + Tasks(set)
		} else {
			msg += "; choose with --device"
			for _, v := range day.Devices(set, c.taskOf(set)) {
				msg += "\n  " + v.String()
			}
		}
		return nil, &failure.Input{File: name, Msg: msg, Err: err}
	case err != nil:
		return nil, &failure.Input{File: name, Msg: err.Error(), Err: err}
	}
	return d, nil
}

// taskOf is the task that is chosen, or the only one with a usable log.
func (c Choice) taskOf(set *taskdata.Set) string {
	if c.Task != "" {
		return c.Task
	}
	for i := range set.Tasks {
		for k := range set.Tasks[i].Logs {
			if set.Tasks[i].Logs[k].Usable {
				return set.Tasks[i].ID
			}
		}
	}
	return ""
}

// Tasks lists the tasks of a set that have logs: when, how many rows, sections and
// hectares.
func Tasks(set *taskdata.Set) string {
	var b strings.Builder
	fmt.Fprintf(&b, "  %-8s %-32s %8s %9s %8s", "task", "terminal's time", "rows", "sections", "ha")
	for i := range set.Tasks {
		t := &set.Tasks[i]
		rows, from, to := 0, int64(0), int64(0)
		for k := range t.Logs {
			l := &t.Logs[k]
			if !l.Usable || l.Rows == 0 {
				continue
			}
			if rows == 0 || l.FirstNs < from {
				from = l.FirstNs
			}
			to = max(to, l.LastNs)
			rows = max(rows, l.Rows) // of parallel logs
		}
		if rows == 0 {
			continue
		}
		sections, ha := "-", "-"
		if len(t.Banks) > 0 {
			sections = fmt.Sprint(len(t.Banks[0].Sections))
		}
		if f := set.Field(t.FieldID); f != nil && f.AreaM2 > 0 {
			ha = fmt.Sprintf("%.2f", f.AreaM2/1e4)
		}
		fmt.Fprintf(&b, "\n  %-8s %-32s %8d %9s %8s", t.ID, taskdata.Time(from).Format("2006-01-02 15:04:05")+" to "+taskdata.Time(to).Format("15:04:05"), rows, sections, ha)
	}
	return b.String()
}

// OpenPositions opens a recorded day as what its receiver said: a log of sentences as it
// is, the fixes of another form as sentences. What another form holds is told on
// stderr. d is the day if it has been read before.
func OpenPositions(path string, d *day.Day, c Choice, stdin io.Reader, stderr io.Writer) (*files.Log, error) {
	if d == nil {
		var rest io.Reader
		var err error
		if d, rest, err = Read(path, c, stdin); err != nil {
			return nil, err
		}
		if d != nil {
			Tell(path, d, stderr)
		}
		if rest != nil {
			stdin = rest
		}
	}
	if d == nil {
		return files.OpenLog(path, files.NMEALog, stdin, stderr)
	}
	if len(d.Fixes) == 0 {
		return nil, &failure.Input{File: path, Msg: "no position in it", Err: bus.ErrNoPosition}
	}
	return &files.Log{Name: path, Progress: terminal.NewProgress(day.NewSentences(d.Fixes), 0, path, stderr)}, nil
}

// Tell says what was found in a recording, chosen and left out.
func Tell(name string, d *day.Day, w io.Writer) {
	fmt.Fprintf(w, "%s: %s\n", name, d.Form)
	for _, part := range []struct {
		name string
		list []string
	}{{"found", d.Found}, {"taken", d.Chosen}, {"left out", d.LeftOut}, {"note", d.Notes}} {
		for _, s := range part.list {
			_, _ = io.WriteString(w, wording.Wrap("  "+part.name+": ", "    ", s))
		}
	}
}
