// The journal of a study: the results of each bench, written when it ends and
// read again when the study is continued. If the program is killed, at most the
// last line is damaged.
//
// A journal is text. The first line describes the study. Each further line is
// one bench: its number, then its results in hexadecimal so that no digit is
// lost. Every line ends with the CRC-32C of its text.

package sweep

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// Head is the first line of a journal: it identifies the study and names what
// the rows contain.
type Head struct {
	Study   string `json:"study"` // fingerprint of everything that the results depend on
	Title   string `json:"title"`
	Program string `json:"program"` // version and Go release; part of Study
	// Processor is that of the computer that began the journal, as runtime.GOARCH.
	// Results are the same on every processor that they were compared on.
	Processor string   `json:"processor"`
	Plan      Plan     `json:"plan"`
	Shard     string   `json:"shard"`    // as Shard.String
	Measures  []string `json:"measures"` // names of the results
	Show      []string `json:"show"`     // those of them that figures show
}

// Row holds the results of one bench.
type Row struct {
	Number  int
	Results []float64 // in the order of Head.Measures; NaN = none
}

// Journal is a journal open for writing.
type Journal struct {
	file *os.File
	line []byte
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// ErrOtherStudy is wrapped by the errors of OpenJournal and Merge when a journal
// belongs to another study.
var ErrOtherStudy = errors.New("belongs to another study")

// OpenJournal opens the journal at path to continue the study that head
// describes, and returns the rows in it; if there is no journal it begins one. A
// last line that was not completely written is removed.
func OpenJournal(path string, head Head) (*Journal, []Row, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, nil, err
	}
	if err := lock(f); err != nil {
		f.Close()
		return nil, nil, err
	}
	found, rows, whole, err := scan(f)
	switch {
	case err == nil && whole == 0:
		err = begin(f, head)
	case err == nil && !found.same(&head):
		err = fmt.Errorf("%w: it was begun with other settings, another program version or another shard (%s); expected the same again, or another directory", ErrOtherStudy, found.begunBy())
	case err == nil:
		err = f.Truncate(whole)
	}
	if err == nil {
		_, err = f.Seek(0, io.SeekEnd)
	}
	if err != nil {
		f.Close()
		return nil, nil, err
	}
	return &Journal{file: f}, rows, nil
}

// begin writes the first line of a journal. An incomplete first line, left by a
// program that was killed, is replaced.
func begin(f *os.File, head Head) error {
	if err := f.Truncate(0); err != nil {
		return err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	line, err := json.Marshal(head)
	if err != nil {
		return err
	}
	if most := maxLine - len(" 01234567\n"); len(line) > most {
		return fmt.Errorf("the description of the study takes %d bytes; expected %d at most: vary fewer values", len(line), most)
	}
	_, err = f.Write(append(sealed(line), '\n'))
	return err
}

// begunBy says which program on which processor began a journal.
func (h *Head) begunBy() string {
	if h.Program == "" || h.Processor == "" {
		return "by a program that does not say its version"
	}
	return fmt.Sprintf("by %s on %s", h.Program, h.Processor)
}

func (h *Head) same(o *Head) bool {
	return h.Study == o.Study && h.Shard == o.Shard && slices.Equal(h.Measures, o.Measures) && slices.Equal(h.Show, o.Show) &&
		reflect.DeepEqual(h.Plan, o.Plan)
}

// ReadJournal reads a journal without locking or changing it.
func ReadJournal(path string) (Head, []Row, error) {
	f, err := os.Open(path)
	if err != nil {
		return Head{}, nil, err
	}
	defer f.Close()
	head, rows, whole, err := scan(f)
	if err == nil && whole == 0 {
		err = errors.New("holds no study")
	}
	return head, rows, err
}

// Write appends a row to the journal.
func (j *Journal) Write(r Row) error {
	b := strconv.AppendInt(j.line[:0], int64(r.Number), 10)
	for _, v := range r.Results {
		b = append(b, ' ')
		b = strconv.AppendFloat(b, v, 'x', -1, 64)
	}
	j.line = append(sealed(b), '\n')
	_, err := j.file.Write(j.line)
	return err
}

// Sync flushes the written rows to the disk, so that they survive a power cut.
func (j *Journal) Sync() error { return j.file.Sync() }

// Close flushes all rows to the disk and closes the journal.
func (j *Journal) Close() error { return errors.Join(j.file.Sync(), j.file.Close()) }

// sealed returns the line with its checksum appended.
func sealed(line []byte) []byte {
	return fmt.Appendf(line, " %08x", crc32.Checksum(line, castagnoli))
}

// maxLine is the most bytes that a line of a journal may have, enough for a
// thousand measures. A longer one is never held: it counts as damaged. maxDamaged is
// how many bytes a crash may leave at the end; a file with more is no journal.
const (
	maxLine    = 1 << 16
	maxDamaged = 64 << 20
)

// scan reads a journal from its start. whole is the length in bytes of its
// undamaged lines; it leaves out an incomplete last line and any bytes that a
// crash of the computer left at the end. A damaged line followed by a good one
// is an error, and so is a file that is not a journal, or one with more lines than the
// study has benches. What it holds in memory is bounded by maxLine and the benches of
// the plan.
func scan(f io.Reader) (head Head, rows []Row, whole int64, err error) {
	in := bufio.NewReaderSize(f, maxLine)
	damaged := 0      // number of the first damaged line; 0 = none
	damagedBytes := 0 // from there on
	for n := 1; ; n++ {
		line, readErr := in.ReadSlice('\n')
		if readErr == io.EOF {
			return head, rows, whole, nil
		}
		if readErr != nil && readErr != bufio.ErrBufferFull {
			return head, rows, whole, readErr
		}
		text, ok := unsealed(line)
		if ok && n == 1 {
			ok = json.Unmarshal(text, &head) == nil && head.Plan.Check() == nil
		} else if ok && damaged == 0 {
			var r Row
			if r, ok = row(text, &head); ok {
				rows = append(rows, r)
			}
			if len(rows) > head.Plan.Benches() {
				return head, nil, 0, fmt.Errorf("line %d is one more than the %d benches of the study; expected the journal as it was written: run the study again in another directory", n, head.Plan.Benches())
			}
		}
		if !ok {
			if damagedBytes += len(line); damagedBytes > maxDamaged {
				return head, nil, 0, fmt.Errorf("more than %d MiB after line %d are damaged; expected the journal as it was written: run the study again in another directory", maxDamaged>>20, max(damaged-1, 0))
			}
		}
		switch {
		case !ok && n == 1:
			return head, nil, 0, errors.New("is not the journal of a study")
		case !ok && damaged == 0:
			damaged = n
		case ok && damaged != 0:
			return head, nil, 0, fmt.Errorf("line %d is damaged; expected the journal as it was written: run the study again in another directory", damaged)
		case ok:
			whole += int64(len(line))
		}
	}
}

// unsealed returns a line without its checksum, and whether that is right.
func unsealed(line []byte) ([]byte, bool) {
	line = bytes.TrimSuffix(line, []byte("\n"))
	const sum = len(" 01234567")
	if len(line) < sum {
		return nil, false
	}
	text := line[:len(line)-sum]
	return text, bytes.Equal(sealed(slices.Clone(text)), line)
}

// row parses a line without its checksum. It reports false if the line cannot be
// a row of the study in head.
func row(text []byte, head *Head) (Row, bool) {
	words := strings.Fields(string(text))
	if len(words) != 1+len(head.Measures) {
		return Row{}, false
	}
	number, err := strconv.Atoi(words[0])
	if err != nil || number < 0 || number >= head.Plan.Benches() {
		return Row{}, false
	}
	r := Row{Number: number, Results: make([]float64, len(words)-1)}
	for i, w := range words[1:] {
		if r.Results[i], err = strconv.ParseFloat(w, 64); err != nil {
			return Row{}, false
		}
		if math.IsNaN(r.Results[i]) {
			r.Results[i] = math.NaN() // always the same bits
		}
	}
	return r, true
}
