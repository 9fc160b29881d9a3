// Journals that are cut off at any byte, that two programs open, or that are
// refused.

package sweep

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// study returns a study whose benches take no time and whose results show which
// bench they belong to.
func study() Study {
	return Study{Plan: speedsAndOil(), Do: func(b Bench) ([]float64, error) {
		return []float64{b.Values[0] * float64(b.Seed), b.Values[1] / 3, math.NaN()}, nil
	}}
}

func headOf(s *Study) Head {
	return Head{Study: "abc", Title: "speeds", Plan: s.Plan, Shard: s.Shard.String(), Measures: []string{"a", "b", "c"}, Show: []string{"a"}}
}

// runTo runs a study with a journal at path.
func runTo(t *testing.T, s Study, path string) ([]Row, error) {
	t.Helper()
	j, done, err := OpenJournal(path, headOf(&s))
	if err != nil {
		return nil, err
	}
	rows, err := s.Run(context.Background(), done, j.Write, j.Sync)
	return rows, errors.Join(err, j.Close())
}

// text returns the rows as bytes, so that NaNs can be compared too.
func text(rows []Row) string {
	var b bytes.Buffer
	for _, r := range rows {
		for _, v := range r.Results {
			_ = b.WriteByte(byte(r.Number))
			_, _ = b.WriteString(string(rune(math.Float64bits(v)%0x10ffff)) + "|")
		}
	}
	return b.String()
}

func TestWorkersAndShardsDoNotMatter(t *testing.T) {
	one := study()
	one.Workers = 1
	want, err := runTo(t, one, filepath.Join(t.TempDir(), "j"))
	if err != nil || len(want) != one.Benches() {
		t.Fatalf("%d rows, %v", len(want), err)
	}
	for _, workers := range []int{2, 7, 100} {
		s := study()
		s.Workers = workers
		got, err := runTo(t, s, filepath.Join(t.TempDir(), "j"))
		if err != nil || text(got) != text(want) {
			t.Errorf("%d workers: other rows, %v", workers, err)
		}
	}
	dir := t.TempDir()
	var journals []string
	for part := 1; part <= 4; part++ {
		s := study()
		s.Shard = Shard{part, 4}
		path := filepath.Join(dir, string(rune('0'+part)))
		if _, err := runTo(t, s, path); err != nil {
			t.Fatal(err)
		}
		journals = append(journals, path)
	}
	if _, got, err := Merge(journals); err != nil || text(got) != text(want) {
		t.Errorf("merged: other rows, %v", err)
	}
	if _, _, err := Merge(journals[:3]); err == nil || !strings.Contains(err.Error(), "number 3 is the first that is missing") {
		t.Errorf("three of four shards: %v", err)
	}
}

// A study whose journal is cut off at any byte can be continued: it ends with the
// same rows, and no bench whose line was complete runs again.
func TestResumeFromAnyByte(t *testing.T) {
	dir := t.TempDir()
	whole := filepath.Join(dir, "whole")
	want, err := runTo(t, study(), whole)
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 60 {
		cut := rng.IntN(len(data) + 1)
		if i == 0 {
			cut = len(data)
		}
		path := filepath.Join(dir, "cut")
		if err := os.WriteFile(path, data[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		var ran atomic.Int64
		s := study()
		do := s.Do
		s.Do = func(b Bench) ([]float64, error) { ran.Add(1); return do(b) }
		got, err := runTo(t, s, path)
		if err != nil || text(got) != text(want) {
			t.Fatalf("cut at byte %d of %d: other rows, %v", cut, len(data), err)
		}
		lines := bytes.Count(data[:cut], []byte("\n"))
		if wantRan := s.Benches() - max(lines-1, 0); int(ran.Load()) != wantRan {
			t.Errorf("cut at byte %d: %d benches ran; want %d", cut, ran.Load(), wantRan)
		}
		_, rows, err := ReadJournal(path)
		if err != nil || len(rows) != s.Benches() {
			t.Errorf("cut at byte %d: %d rows in the journal, %v", cut, len(rows), err)
		}
	}
}

func TestJournalRefuses(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "j")
	if _, err := runTo(t, study(), path); err != nil {
		t.Fatal(err)
	}
	data, _ := os.ReadFile(path)
	damaged := slices.Clone(data)
	damaged[len(data)/2] ^= 1
	for _, c := range []struct {
		name, want string
		data       []byte
		change     func(*Study)
	}{
		{"other seeds", "belongs to another study", data, func(s *Study) { s.Seeds++ }},
		{"another shard", "belongs to another study", data, func(s *Study) { s.Shard = Shard{1, 2} }},
		{"a line in the middle", "is damaged", damaged, nil},
		{"no journal", "is not the journal of a study", []byte("speed,time\n1,2\n"), nil},
	} {
		if err := os.WriteFile(path, c.data, 0o644); err != nil {
			t.Fatal(err)
		}
		s := study()
		if c.change != nil {
			c.change(&s)
		}
		if _, err := runTo(t, s, path); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.name, err, c.want)
		}
		if left, _ := os.ReadFile(path); !bytes.Equal(left, c.data) {
			t.Errorf("%s: the journal was changed", c.name)
		}
	}
	s := study()
	j, _, err := OpenJournal(filepath.Join(dir, "busy"), headOf(&s))
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if _, _, err := OpenJournal(filepath.Join(dir, "busy"), headOf(&s)); err == nil || !strings.Contains(err.Error(), "another liftbench") {
		t.Errorf("a journal was opened twice: %v", err)
	}
}

func TestBenchThatFails(t *testing.T) {
	s := study()
	s.Workers = 3
	do := s.Do
	s.Do = func(b Bench) ([]float64, error) {
		// Later benches fail too, and earlier in time: the error names the one
		// with the lowest number.
		if b.Number == 11 {
			time.Sleep(20 * time.Millisecond)
		}
		if b.Number >= 11 {
			return nil, errors.New("the row is too short")
		}
		return do(b)
	}
	path := filepath.Join(t.TempDir(), "j")
	_, err := runTo(t, s, path)
	var failed *BenchError
	if !errors.As(err, &failed) || failed.Bench.Number != 11 || !strings.Contains(err.Error(), "speed = 8, oil = ") || !strings.Contains(err.Error(), "seed 101: the row is too short") {
		t.Fatalf("%v; want the bench with its settings", err)
	}
	s.Do = do
	rows, err := runTo(t, s, path) // what was done is kept
	if err != nil || len(rows) != s.Benches() {
		t.Errorf("%d rows, %v", len(rows), err)
	}
}

func TestStopAndWriteErrors(t *testing.T) {
	s := study()
	ctx, stop := context.WithCancelCause(context.Background())
	enough := errors.New("enough")
	n := 0
	rows, err := s.Run(ctx, nil, func(Row) error {
		if n++; n == 3 {
			stop(enough)
		}
		return nil
	}, func() error { return nil })
	if !errors.Is(err, enough) || len(rows) < 3 || len(rows) == s.Benches() {
		t.Errorf("%d rows, %v; want a few and the cause", len(rows), err)
	}
	full := errors.New("no space left")
	rows, err = s.Run(context.Background(), nil, func(Row) error { return full }, func() error { return nil })
	if !errors.Is(err, full) || len(rows) != 0 {
		t.Errorf("%d rows, %v; want none and the error", len(rows), err)
	}
}

// A journal says which program on which processor began it, and whoever is refused is
// told.
func TestJournalNamesItsProgram(t *testing.T) {
	s := study()
	path := filepath.Join(t.TempDir(), "j")
	head := headOf(&s)
	head.Program, head.Processor = "v1.2.3 go1.26", "arm64"
	j, _, err := OpenJournal(path, head)
	if err != nil {
		t.Fatal(err)
	}
	_ = j.Close()
	if got, _, err := ReadJournal(path); err != nil || got.Program != head.Program || got.Processor != head.Processor {
		t.Errorf("read back as %+v, %v", got, err)
	}
	head.Processor = "amd64"
	j, _, err = OpenJournal(path, head)
	if err != nil {
		t.Fatalf("another processor: %v", err) // results are the same there
	}
	_ = j.Close()
	head.Study = "other"
	if _, _, err := OpenJournal(path, head); !errors.Is(err, ErrOtherStudy) || !strings.Contains(err.Error(), "(by v1.2.3 go1.26 on arm64)") {
		t.Errorf("%v; want %v by whom", err, ErrOtherStudy)
	}
}

// endless is a journal's lines without end.
type endless struct{ line, rest []byte }

func (e *endless) Read(b []byte) (int, error) {
	if len(e.rest) == 0 {
		e.rest = e.line
	}
	n := copy(b, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

// However long a file is, a bounded part of it is read and held.
func TestJournalLimits(t *testing.T) {
	s := study()
	head := headOf(&s)
	path := filepath.Join(t.TempDir(), "j")
	j, _, err := OpenJournal(path, head)
	if err != nil {
		t.Fatal(err)
	}
	_ = j.Close()
	first, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	row := append(sealed([]byte("0 0x1p+00 0x1p+00 NaN")), '\n')
	for _, c := range []struct{ name, line, want string }{
		{"good lines", string(row), "is one more than the"},
		{"one line", "0", "more than 64 MiB after line 1 are damaged"},
		{"damaged lines", "0 0x1p+00 deadbeef\n", "more than 64 MiB after line 1 are damaged"},
	} {
		_, rows, _, err := scan(io.MultiReader(bytes.NewReader(first), &endless{line: []byte(c.line)}))
		if err == nil || !strings.Contains(err.Error(), c.want) || rows != nil {
			t.Errorf("%s without end: %v; want %q", c.name, err, c.want)
		}
	}
	if _, _, _, err := scan(&endless{line: []byte("0")}); err == nil || err.Error() != "is not the journal of a study" {
		t.Errorf("no journal: %v", err)
	}
	head.Title = strings.Repeat("x", maxLine)
	if _, _, err := OpenJournal(filepath.Join(t.TempDir(), "j"), head); err == nil || !strings.Contains(err.Error(), "the description of the study takes") {
		t.Errorf("a first line that could not be read again: %v", err)
	}
}

func FuzzJournal(f *testing.F) {
	s := study()
	path := filepath.Join(f.TempDir(), "j")
	j, _, err := OpenJournal(path, headOf(&s))
	if err != nil {
		f.Fatal(err)
	}
	_ = j.Write(Row{3, []float64{1, math.NaN(), math.Inf(1)}})
	_ = j.Close()
	data, _ := os.ReadFile(path)
	f.Add(data)
	f.Add(data[:len(data)-4])
	f.Add([]byte("{} 00000000\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		head, rows, whole, err := scan(bytes.NewReader(data))
		if err != nil {
			return
		}
		if whole < 0 || whole > int64(len(data)) {
			t.Fatalf("%d of %d bytes are whole", whole, len(data))
		}
		// What is whole reads the same alone.
		head2, rows2, whole2, err := scan(bytes.NewReader(data[:whole]))
		if err != nil || whole2 != whole || text(rows2) != text(rows) || !head2.same(&head) {
			t.Fatalf("the whole part reads otherwise: %v", err)
		}
	})
}
