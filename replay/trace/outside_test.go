// Traces beside python-can, can-utils and Wireshark's text2pcap.

package trace

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"go.einride.tech/can"
)

// data returns a file of the recorded traces, or skips.
func data(t testing.TB, name string) string {
	t.Helper()
	dir := os.Getenv("LIFTBENCH_DATA")
	path := filepath.Join(dir, "can", name)
	if _, err := os.Stat(path); dir == "" || err != nil {
		missing(t, "recorded traces: set LIFTBENCH_DATA to the folder that holds can/"+name)
	}
	return path
}

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatal("absent: " + what)
	}
	t.Skip("absent: " + what)
}

// program runs a program of another maker and returns what it printed.
func program(t testing.TB, stdin []byte, name string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		missing(t, name)
	}
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), "TZ=UTC", "LC_ALL=C.UTF-8")
	cmd.Stdin = bytes.NewReader(stdin)
	var diagnosis bytes.Buffer
	cmd.Stderr = &diagnosis
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, args, err, diagnosis.String())
	}
	return out
}

// python runs testdata/frames.py, which needs Debian's python3-can.
func python(t testing.TB, args ...string) []byte {
	t.Helper()
	if _, err := os.Stat("/usr/lib/python3/dist-packages/can"); err != nil {
		missing(t, "python3-can")
	}
	return program(t, nil, "/usr/bin/python3", append([]string{"testdata/frames.py"}, args...)...)
}

// read returns all frames of a trace.
func read(t testing.TB, trace []byte) ([]Frame, *Scanner) {
	t.Helper()
	s := NewScanner(bytes.NewReader(trace))
	var frames []Frame
	for s.Next() {
		frames = append(frames, s.Frame())
	}
	if err := s.Err(); err != nil {
		t.Fatal(err)
	}
	return frames, s
}

func file(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// asPrinted is a frame as frames.py prints it.
func asPrinted(f *Frame, fromNs int64) string {
	kind, data := "s", ""
	if f.IsExtended {
		kind = "x"
	}
	if f.IsRemote {
		kind = "r" + kind
	} else {
		data = fmt.Sprintf("%x", f.Data[:f.Length])
	}
	return fmt.Sprintln((f.TimeNs-fromNs)/1000, fmt.Sprintf("%x", f.ID), kind, f.Length, data)
}

// Every file of the recorded traces that python-can reads gives the same frames
// with the same times. It fails at comments in a log of candump and at remote
// frames in TRC, and gives times of TRC from the start of the trace; it also
// returns frames of 11 bits with larger identifiers, which no bus carries.
func TestSameAsPythonCan(t *testing.T) {
	forms := map[string]string{
		"candump-fast.txt": "candump", "candump-fast-cr.txt": "candump", "rows-32.candump.log": "candump", "candumpSample3.txt": "candump",
		"rows-32.asc": "asc", "test_CanMessage.asc": "asc", "test_CanErrorFrames.asc": "asc",
		"test_CanFdMessage.asc": "asc", "test_CanRemoteMessage.asc": "asc",
		"rows-32.blf": "blf", "test_CanMessage.blf": "blf",
		"test_CanMessage_V1_0_BUS1.trc": "trc", "test_CanMessage_V1_1.trc": "trc", "test_CanMessage_V2_1.trc": "trc",
	}
	dir := t.TempDir()
	args := []string{"read"}
	for name, form := range forms {
		var kept []byte
		for line := range bytes.Lines(file(t, data(t, name))) {
			if form == "candump" && line[0] != '(' || form == "trc" && (bytes.Contains(line, []byte("RTR")) || bytes.Contains(line, []byte(" RR "))) {
				continue
			}
			kept = append(kept, line...)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, kept, 0o666); err != nil {
			t.Fatal(err)
		}
		args = append(args, form, path)
	}
	want := map[string][]string{}
	name := ""
	for line := range strings.Lines(string(python(t, args...))) {
		if path, ok := strings.CutPrefix(line, "= "); ok {
			name = filepath.Base(strings.TrimSpace(path))
			want[name] = nil
			continue
		}
		var us, id, length int64
		var kind string
		fmt.Sscanf(line, "%d %x %s %d", &us, &id, &kind, &length)
		if !strings.HasSuffix(kind, "s") || id <= can.MaxID {
			want[name] = append(want[name], line)
		}
	}
	if len(want) != len(forms) {
		t.Fatalf("python-can read %d files; expected %d", len(want), len(forms))
	}
	for name, want := range want {
		frames, s := read(t, file(t, data(t, name)))
		fromNs := int64(0)
		if forms[name] == "trc" {
			fromNs = s.text.startNs
		}
		var got []string
		for _, f := range frames {
			if forms[name] != "trc" || !f.IsRemote {
				got = append(got, asPrinted(&f, fromNs))
			}
		}
		if len(got) != len(want) {
			t.Errorf("%s: %d frames; python-can reads %d", name, len(got), len(want))
			continue
		}
		for i := range got {
			if got[i] != want[i] {
				t.Errorf("%s: frame %d: %s python-can: %s", name, i, got[i], want[i])
				break
			}
		}
	}
}

// One bus trace in every form is the same frames, at the same times from the
// first: as it came, and as python-can, can-utils and text2pcap write it.
func TestEveryForm(t *testing.T) {
	log := data(t, "rows-32.candump.log")
	want, _ := read(t, file(t, log))
	if len(want) != 6593 {
		t.Fatalf("%d frames; expected 6593", len(want))
	}
	dir := t.TempDir()
	python(t, "write", log, dir)
	written := func(form string) []byte { return file(t, filepath.Join(dir, "x."+form)) }
	dump := written("hex")
	packets := func(t testing.TB, form string) []byte {
		out := filepath.Join(dir, "x."+form)
		program(t, dump, "text2pcap", "-q", "-F", form, "-l", "227", "-t", "%Y-%m-%d %H:%M:%S.%f", "-", out)
		return file(t, out)
	}
	for _, c := range []struct {
		name  string
		trace func(testing.TB) []byte
		form  Form
		clock Clock
	}{
		{"ASC as it came", func(t testing.TB) []byte { return file(t, data(t, "rows-32.asc")) }, ASC, Local},
		{"BLF as it came", func(t testing.TB) []byte { return file(t, data(t, "rows-32.blf")) }, BLF, Local},
		{"ASC of python-can", func(t testing.TB) []byte { return written("asc") }, ASC, Local},
		{"BLF of python-can", func(t testing.TB) []byte { return written("blf") }, BLF, Local},
		{"TRC of python-can", func(t testing.TB) []byte { return written("trc") }, TRC, Local},
		{"ASC of log2asc", func(t testing.TB) []byte { return program(t, nil, "log2asc", "-I", log, "can0") }, ASC, Local},
		{"candump log of asc2log", func(t testing.TB) []byte { return program(t, nil, "asc2log", "-I", data(t, "rows-32.asc")) }, CandumpLog, UTC},
		{"candump screen", func(t testing.TB) []byte { return written("screen") }, CandumpScreen, UTC},
		{"pcap of text2pcap", func(t testing.TB) []byte { return packets(t, "pcap") }, Pcap, UTC},
		{"pcap of text2pcap with nanoseconds", func(t testing.TB) []byte { return packets(t, "nsecpcap") }, Pcap, UTC},
		{"pcapng of text2pcap", func(t testing.TB) []byte { return packets(t, "pcapng") }, Pcapng, UTC},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, s := read(t, c.trace(t))
			if s.Form() != c.form || s.Clock() != c.clock || s.Counts().Malformed > 0 {
				t.Errorf("%s, clock %s, %d malformed; expected %s, %s, 0\n%v", s.Form(), s.Clock(), s.Counts().Malformed, c.form, c.clock, s.Warnings())
			}
			if len(got) != len(want) {
				t.Fatalf("%d frames; expected %d", len(got), len(want))
			}
			for i := range got {
				g, w := got[i], want[i]
				g.TimeNs -= got[0].TimeNs
				w.TimeNs -= want[0].TimeNs
				if g != w {
					t.Fatalf("frame %d is %+v; expected %+v", i, g, w)
				}
			}
			switch c.form {
			case CandumpScreen, Pcap, Pcapng, BLF:
				if got[0].TimeNs != want[0].TimeNs {
					t.Errorf("starts at %d; expected %d", got[0].TimeNs, want[0].TimeNs)
				}
			}
		})
	}
}

// Wireshark turns a log into packets of link type 252: refused, with the reason.
func TestRefused(t *testing.T) {
	log := data(t, "rows-32.candump.log")
	out := filepath.Join(t.TempDir(), "x.pcapng")
	program(t, nil, "tshark", "-r", log, "-w", out)
	s := NewScanner(bytes.NewReader(file(t, out)))
	if s.Next() {
		t.Errorf("a frame: %+v", s.Frame())
	}
	if err := s.Err(); err == nil || !strings.Contains(err.Error(), "252") {
		t.Errorf("error %v; expected link type 252", err)
	}
}

// The versions of TRC hold one recording, converted by their maker's program.
func TestVersionsOfTRC(t *testing.T) {
	want, _ := read(t, file(t, data(t, "test_CanMessage_V1_1.trc")))
	if len(want) != 11 {
		t.Fatalf("%d frames; expected 11", len(want))
	}
	for name, resolutionNs := range map[string]int64{
		"test_CanMessage_V1_0_BUS1.trc": 1e6, "test_CanMessage_V1_3.trc": 1, "test_CanMessage_V2_0_BUS1.trc": 1, "test_CanMessage_V2_1.trc": 1,
	} {
		got, s := read(t, file(t, data(t, name)))
		if len(got) != len(want) {
			t.Errorf("%s: %d frames; expected %d; %v", name, len(got), len(want), s.Warnings())
			continue
		}
		for i := range got {
			w := want[i]
			if w.TimeNs-got[i].TimeNs < resolutionNs {
				w.TimeNs = got[i].TimeNs
			}
			if got[i] != w {
				t.Errorf("%s: frame %d is %+v; expected %+v", name, i, got[i], w)
			}
		}
		if c := s.Counts(); c.Malformed > 0 || c.Other != 1 || s.Clock() != Local {
			t.Errorf("%s: %+v, clock %s; expected one line that is no frame, local", name, c, s.Clock())
		}
	}
}
