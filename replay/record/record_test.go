// A recording read back, rotated, cut off, on a full disk.

package record

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"liftbench/nmea"
)

const startNs = int64(1_936_274_587e9)

// sentence is the i-th of a stream.
func sentence(i int) []byte {
	f := nmea.EmptyFix()
	f.TimeNs, f.LatDeg, f.LonDeg, f.Quality = startNs+int64(i)*50e6, 52, 9, nmea.RTKFixed
	return bytes.TrimSpace(nmea.AppendGGA(nil, &f))
}

func arrival(i int) int64 { return startNs + int64(i)*50e6 + 70_123_456 + int64(i) }

// files returns the recording in order of time.
func files(t *testing.T, prefix string) []string {
	t.Helper()
	names, err := filepath.Glob(prefix + "-*.nmea")
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(names)
	return names
}

// check reads the recording back and returns how many of the stream's
// sentences it holds, which must be the first, in order, each with its
// arrival to the nanosecond.
func check(t *testing.T, prefix string) int {
	t.Helper()
	var all []io.Reader
	for _, name := range files(t, prefix) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, bytes.NewReader(data))
	}
	sc := nmea.NewScanner(io.MultiReader(all...))
	n := 0
	for ; sc.Scan(); n++ {
		if !bytes.Equal(sc.Bytes(), sentence(n)) || sc.ArrivalNs() != arrival(n) {
			t.Fatalf("sentence %d is %d %s; expected %d %s", n, sc.ArrivalNs(), sc.Bytes(), arrival(n), sentence(n))
		}
	}
	if c := sc.Counts(); c.SkippedBytes != 0 {
		t.Errorf("%d bytes of the recording are no sentence", c.SkippedBytes)
	}
	return n
}

func TestRecordingIsReadBack(t *testing.T) {
	prefix := filepath.Join(t.TempDir(), "day")
	r, err := New(prefix, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 500 {
		r.Add(arrival(i), sentence(i))
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if n := check(t, prefix); n != 500 {
		t.Errorf("%d sentences read back of 500", n)
	}
	if got := files(t, prefix); len(got) != 1 || !strings.HasSuffix(got[0], "day-20310511T140307.nmea") {
		t.Errorf("files %q", got)
	}
	r.Add(arrival(500), sentence(500))
	if c := r.Counts(); c != (Counts{Sentences: 500, Lost: 1, Files: 1}) {
		t.Errorf("counts %+v", c)
	}
}

func TestRotation(t *testing.T) {
	for name, opt := range map[string]Options{
		"by size": {MaxBytes: 1000, Sync: 10 * time.Millisecond},
		"by age":  {MaxAge: 20 * time.Millisecond, Sync: 10 * time.Millisecond},
	} {
		t.Run(name, func(t *testing.T) {
			prefix := filepath.Join(t.TempDir(), "day")
			r, err := New(prefix, opt)
			if err != nil {
				t.Fatal(err)
			}
			for i := range 40 {
				r.Add(arrival(i), sentence(i))
				waitFor(t, func() bool { return r.Counts().Sentences == int64(i+1) }) // a batch of its own
			}
			if err := r.Close(); err != nil {
				t.Fatal(err)
			}
			got := files(t, prefix)
			if len(got) < 3 {
				t.Errorf("files %q; expected three at least", got)
			}
			for _, f := range got {
				if info, err := os.Stat(f); err != nil || opt.MaxBytes > 0 && info.Size() > opt.MaxBytes {
					t.Errorf("%s: %v, %d bytes", f, err, info.Size())
				}
			}
		})
	}
}

// Killed without warning, a recording lacks the last sync interval at most.
func TestKill(t *testing.T) {
	if prefix := os.Getenv("RECORD_UNTIL_KILLED"); prefix != "" {
		r, err := New(prefix, Options{Sync: 100 * time.Millisecond})
		if err != nil {
			t.Fatal(err)
		}
		for i := 0; ; i++ {
			r.Add(arrival(i), sentence(i))
			fmt.Println(i)
			time.Sleep(time.Millisecond)
		}
	}
	onTheClock(t)
	prefix := filepath.Join(t.TempDir(), "day")
	cmd := exec.Command(os.Args[0], "-test.run=^TestKill$")
	cmd.Env = append(os.Environ(), "RECORD_UNTIL_KILLED="+prefix)
	var out bytes.Buffer
	cmd.Stdout = &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	// Killed, as was asked for.
	_ = cmd.Wait()
	added := strings.Count(out.String(), "\n")
	n := check(t, prefix)
	// One sentence a millisecond at most; the rest is room for a busy computer.
	if n == 0 || added-n > 110 {
		t.Errorf("%d sentences of %d are there; expected all but 100 ms", n, added)
	}
}

// /dev/full takes nothing: every write fails as on a full disk.
func TestFullDisk(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip("no /dev/full")
	}
	prefix := filepath.Join(t.TempDir(), "day")
	var full atomic.Bool
	full.Store(true)
	r, err := begin(prefix, Options{Sync: 10 * time.Millisecond, MaxAge: 20 * time.Millisecond}, func(name string) (*os.File, error) {
		if full.Load() {
			return os.OpenFile("/dev/full", os.O_WRONLY, 0)
		}
		return create(name)
	})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		r.Add(arrival(i), sentence(i))
		waitFor(t, func() bool { return r.Counts().Lost == int64(i)+1 })
	}
	if err := r.Err(); err == nil || !strings.Contains(err.Error(), "no space") {
		t.Errorf("error %v; expected that there is no space", err)
	}
	full.Store(false)
	time.Sleep(30 * time.Millisecond)
	r.Add(arrival(0), sentence(0))
	waitFor(t, func() bool { return r.Counts().Sentences == 1 })
	if r.Err() == nil {
		t.Error("all well at once; expected it after ten seconds without an error")
	}
	r.mu.Lock()
	r.failed = r.failed.Add(-steadyAfter)
	r.mu.Unlock()
	r.Add(arrival(1), sentence(1))
	waitFor(t, func() bool { return r.Counts().Sentences == 2 })
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	if n := check(t, prefix); n != 2 {
		t.Errorf("%d sentences read back; expected the two after there was room", n)
	}
}

// onTheClock skips a test that real time decides, which a busy machine may miss:
// LIFTBENCH_REALTIME=1 runs it.
func onTheClock(t *testing.T) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REALTIME") != "1" {
		t.Skip("real time decides it; LIFTBENCH_REALTIME=1 runs it")
	}
}

func waitFor(t *testing.T, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Second); !ok(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("it did not come about")
		}
	}
}

func TestFolderMissing(t *testing.T) {
	if _, err := New(filepath.Join(t.TempDir(), "no", "day"), Options{}); err == nil || !strings.Contains(err.Error(), "expected one that is there") {
		t.Errorf("error %v", err)
	}
}

func TestAddDoesNotAllocate(t *testing.T) {
	r, err := New(filepath.Join(t.TempDir(), "day"), Options{Sync: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	s := sentence(0)
	if n := testing.AllocsPerRun(200, func() { r.Add(startNs, s) }); n > 0.1 {
		t.Errorf("%g allocations a sentence", n)
	}
}

// Whatever sentences a stream holds, and whenever they come: what is recorded
// reads back as the same sentences with the same times.
func FuzzRecording(f *testing.F) {
	f.Add(append(sentence(0), sentence(1)...), arrival(0))
	f.Add([]byte("1714564800.25;$GPGGA,1234$GPRMC,1\x00*00\n\\s:a*48\\$P*50$GPHDT,1.5,T\r#"), int64(0))
	f.Fuzz(func(t *testing.T, stream []byte, arrivalNs int64) {
		r := &Recorder{}
		var want [][]byte
		at := max(arrivalNs, 1, -(arrivalNs + 1)) // 0 is no time
		sc := nmea.NewScanner(bytes.NewReader(stream))
		for sc.Scan() && len(want) < 1000 {
			r.Add(at, sc.Bytes())
			want = append(want, bytes.Clone(sc.Bytes()))
		}
		if lines := bytes.Count(r.queue, []byte("\n")); lines != len(want) {
			t.Fatalf("%d lines for %d sentences", lines, len(want))
		}
		back := nmea.NewScanner(bytes.NewReader(r.queue))
		for i := range want {
			if !back.Scan() || !bytes.Equal(back.Bytes(), want[i]) || back.ArrivalNs() != at {
				t.Fatalf("%q of %d was recorded and read as %q of %d", want[i], at, back.Bytes(), back.ArrivalNs())
			}
		}
		if c := back.Counts(); back.Scan() || c.SkippedBytes != 0 {
			t.Fatalf("the recording holds more: %+v", c)
		}
	})
}
