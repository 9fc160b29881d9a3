// Files that are made to harm: what is read of them is bounded, or an error says what is wrong.

package recording

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"time"

	"liftbench/replay/day"
	"liftbench/sections"
)

const (
	setHead = `<?xml version="1.0"?><ISO11783_TaskData VersionMajor="4" VersionMinor="3">`
	setTail = `</ISO11783_TaskData>`
	oneTask = `<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" E="0" F="0"/></DVC><TSK A="TSK1" G="4"><TLG A="TLG00001"/></TSK>`
	oneHead = `<TIM A=""><PTN A="" B=""/><DLV A="008D" B="" C="DET-1"/></TIM>`
)

// packed is a zip of files; a size after a name writes the text again until there are so many bytes.
func packed(t testing.TB, files ...any) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
	for i := 0; i < len(files); i += 3 {
		text, size := []byte(files[i+1].(string)), files[i+2].(int)
		h := zip.FileHeader{Name: files[i].(string), Method: zip.Store}
		if size > 0 {
			h.Method = zip.Deflate
		}
		w, err := z.CreateHeader(&h)
		if err != nil {
			t.Fatal(err)
		}
		for n := 0; ; {
			k, err := w.Write(text)
			if err != nil {
				t.Fatal(err)
			}
			if n += k; n >= size {
				break
			}
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// row is a row of a log with the state of one element, at a time of the day.
func row(ms uint32, index byte, value int32) string {
	var b [20]byte
	binary.LittleEndian.PutUint32(b[:], ms)
	binary.LittleEndian.PutUint16(b[4:], 15632)
	binary.LittleEndian.PutUint32(b[6:], 520000000)
	binary.LittleEndian.PutUint32(b[10:], 100000000+ms)
	b[14], b[15] = 1, index
	binary.LittleEndian.PutUint32(b[16:], uint32(value))
	return string(b[:])
}

func gzipped(t testing.TB, text string, size int) []byte {
	t.Helper()
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, gzip.BestSpeed)
	block := bytes.Repeat([]byte(text), 1+(1<<20)/len(text))
	for n := 0; n < size; n += len(block) {
		if _, err := w.Write(block); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// inflating is a BLF whose one container holds so many zeros and says that they are few.
func inflating(size int) []byte {
	b := make([]byte, 144)
	copy(b, "LOGG")
	binary.LittleEndian.PutUint32(b[4:], 144)
	var inner bytes.Buffer
	w, _ := zlib.NewWriterLevel(&inner, zlib.BestSpeed)
	zeros := make([]byte, 1<<20)
	for n := 0; n < size; n += len(zeros) {
		w.Write(zeros)
	}
	w.Close()
	h := make([]byte, 32)
	copy(h, "LOBJ")
	binary.LittleEndian.PutUint16(h[4:], 16)
	binary.LittleEndian.PutUint16(h[6:], 1)
	binary.LittleEndian.PutUint32(h[8:], uint32(32+inner.Len()))
	binary.LittleEndian.PutUint32(h[12:], 10)
	binary.LittleEndian.PutUint16(h[16:], 2)
	binary.LittleEndian.PutUint32(h[24:], 1000)
	return append(append(b, h...), inner.Bytes()...)
}

func TestHostile(t *testing.T) {
	const mb = 1 << 20
	entries := []any{"TASKDATA.XML", setHead + oneTask + setTail, 0}
	for k := range 50_000 {
		entries = append(entries, fmt.Sprintf("f%d", k), "", 0)
	}
	var rows strings.Builder
	for ms := range uint32(5000) {
		rows.WriteString(row(1000+100*ms, 0, int32(ms/50%2)))
	}
	// A ring of devices that hang on one another.
	var chain strings.Builder
	for k := 1; k <= 2000; k++ {
		fmt.Fprintf(&chain, `<DVC A="DVC-%d"><DET A="DET-%d" B="1" C="1" E="0" F="0"/><DET A="DET-%d" B="2" C="6" E="1" F="1"/></DVC>`, k, 2*k, 2*k+1)
	}
	chain.WriteString(`<TSK A="TSK1" G="4">`)
	for k := 1; k <= 2000; k++ {
		fmt.Fprintf(&chain, `<CNN A="DVC-%d" B="DET-%d" C="DVC-%d" D="DET-%d"/>`, k, 2*k+1, k%2000+1, 2*(k%2000+1)+1)
	}
	chain.WriteString(`<TLG A="TLG00001"/></TSK>`)
	for _, c := range []struct {
		name string
		data func() []byte
		want string // of the error; "" = it is read
	}{
		{"XML of 70 MB in a zip", func() []byte { return packed(t, "TASKDATA.XML", strings.Repeat(" ", mb), 70*mb) }, "holds more than"},
		{"a log of 40 MB in a zip", func() []byte {
			return packed(t, "TASKDATA.XML", setHead+oneTask+setTail, 0, "TLG00001.XML", oneHead, 0, "TLG00001.BIN", rows.String(), 40*mb)
		}, ""},
		{"a log of zeros", func() []byte {
			return packed(t, "TASKDATA.XML", setHead+oneTask+setTail, 0, "TLG00001.XML", oneHead, 0, "TLG00001.BIN", strings.Repeat("\x00", mb), 40*mb)
		}, ""},
		{"50 000 files in a zip", func() []byte { return packed(t, entries...) }, "no task with a usable time log"},
		{"elements 100 000 deep", func() []byte {
			return packed(t, "TASKDATA.XML", setHead+strings.Repeat("<TSK>", 100_000)+strings.Repeat("</TSK>", 100_000)+setTail, 0)
		}, ""},
		{"devices in a ring", func() []byte {
			return packed(t, "TASKDATA.XML", setHead+strings.ReplaceAll(chain.String(), "\n", "")+setTail, 0, "TLG00001.XML", strings.ReplaceAll(oneHead, "DET-1", "DET-2"), 0, "TLG00001.BIN", row(1000, 0, 1)+row(2000, 0, 0), 0)
		}, ""},
		{"a value beyond the header", func() []byte {
			return packed(t, "TASKDATA.XML", setHead+oneTask+setTail, 0, "TLG00001.XML", oneHead, 0, "TLG00001.BIN", row(1000, 0, 1)+row(1100, 9, 1)+row(1200, 0, 0), 0)
		}, ""},
		{"a trace of 60 MB in gzip, one instant", func() []byte { return gzipped(t, "(1666164652.190000) can0 09F8011C#0123456789ABCDEF\n", 60*mb) }, "no position on the bus"},
		{"gzip of zeros", func() []byte { return gzipped(t, "\x00", 60*mb) }, "taken for sentences"},
		{"a BLF that inflates to 40 MB", func() []byte { return inflating(40 * mb) }, "no position on the bus"},
		{"a line of 100 MB", func() []byte { return bytes.Repeat([]byte("(1666164652.190000) can0 "), 4*mb) }, "taken for sentences"},
	} {
		t.Run(c.name, func(t *testing.T) {
			data := c.data()
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			began := time.Now()
			d, err := Within(c.name, data, Choice{})
			took := time.Since(began)
			runtime.ReadMemStats(&after)
			t.Logf("%d bytes: %v, %d MB allocated in all, %v", len(data), took.Round(time.Millisecond), (after.TotalAlloc-before.TotalAlloc)/mb, err)
			if d == nil && err == nil {
				err = fmt.Errorf("taken for sentences")
			}
			if c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("%v, want %q", err, c.want)
			}
			if err != nil && len(err.Error()) > 2000 {
				t.Errorf("an error of %d bytes", len(err.Error()))
			}
			if most := uint64(500 * mb); after.TotalAlloc-before.TotalAlloc > most {
				t.Errorf("%d MB allocated", (after.TotalAlloc-before.TotalAlloc)/mb)
			}
		})
	}
}

// FuzzWithin takes anything as a recorded day, whatever its form.
func FuzzWithin(f *testing.F) {
	f.Add(packed(f, "TASKDATA.XML", setHead+oneTask+setTail, 0, "TLG00001.XML", oneHead, 0, "TLG00001.BIN", row(1000, 0, 1)+row(1100, 0, 1)+row(1200, 0, 0), 0))
	f.Add(gzipped(f, "(1666164652.190000) can0 09F8011C#0123456789ABCDEF\n", 100))
	f.Add([]byte("(1666164652.190000) can0 09F8011C#0123456789ABCDEF\n(1666164652.290000) can0 0CCB80F7#23008D0001000000\n(1666164652.390000) can0 0CCB80F7#23008D0000000000\n"))
	f.Add([]byte("date Wed Oct 19 07:30:52 2022\nbase hex timestamps absolute\n 0.1 1 09F8011Cx Rx d 8 01 02 03 04 05 06 07 08\n"))
	f.Add([]byte(";$FILEVERSION=2.1\n;$STARTTIME=44548.6028595139\n;$COLUMNS=N,O,T,B,I,d,L,D\n 1 10.0 DT 1 09F8011C Rx 8 01 02 03 04 05 06 07 08\n"))
	f.Add(inflating(1 << 10))
	f.Add([]byte("\xd4\xc3\xb2\xa1\x02\x00\x04\x00\x00\x00\x00\x00\x00\x00\x00\x00\xff\xff\x00\x00\xe3\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		for _, c := range []Choice{{}, {Device: "DVC-1 DET-1"}, {Sender: "28"}} {
			began := time.Now()
			d, err := Within("fuzzed", data, c)
			if took := time.Since(began); took > 20*time.Second {
				t.Fatalf("%v for %d bytes", took, len(data))
			}
			if err != nil || d == nil {
				continue
			}
			last := int64(0)
			for i := range d.Fixes {
				if i > 0 && d.Fixes[i].TimeNs < last {
					t.Fatalf("fix %d goes back in time", i)
				}
				last = d.Fixes[i].TimeNs
			}
			Tell("fuzzed", d, io.Discard)
			if d.Work == nil {
				continue
			}
			for _, n := range []int{1, 3, sections.MaxSections} {
				w, err := d.WorkOf(n)
				if err != nil {
					continue
				}
				for _, p := range append(w.ActualPolls, w.SetpointPolls...) {
					if p.AfterNs >= p.AtNs || int(p.Section) >= n {
						t.Fatalf("interval %+v of %d sections", p, n)
					}
				}
			}
			_ = day.NewSentences(d.Fixes)
		}
	})
}
