// Written tables against github.com/parquet-go/parquet-go: it reads them, and
// what it writes of the same table reads the same.

package parquet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
	"testing"

	reference "github.com/parquet-go/parquet-go"
	"pgregory.net/rapid"
)

// written is a table as this package writes it.
func written(t testing.TB, columns []Column, rows [][]float64) []byte {
	t.Helper()
	var b bytes.Buffer
	w := NewWriter(&b, "drives", columns)
	for _, r := range rows {
		if err := w.Write(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// byReference is the same table as the other program writes it. Its columns
// must be in the order of their names.
func byReference(t testing.TB, columns []Column, rows [][]float64) []byte {
	t.Helper()
	group := reference.Group{}
	for _, c := range columns {
		group[c.Name] = reference.Optional(reference.Leaf(reference.DoubleType))
		if c.Whole {
			group[c.Name] = reference.Leaf(reference.Int64Type)
		}
	}
	var b bytes.Buffer
	w := reference.NewWriter(&b, reference.NewSchema("drives", group))
	for _, r := range rows {
		row := make(reference.Row, len(r))
		for i, v := range r {
			switch {
			case columns[i].Whole:
				row[i] = reference.Int64Value(int64(v)).Level(0, 0, i)
			case math.IsNaN(v):
				row[i] = reference.NullValue().Level(0, 0, i)
			default:
				row[i] = reference.DoubleValue(v).Level(0, 1, i)
			}
		}
		if _, err := w.WriteRows([]reference.Row{row}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// read is what the other program reads: the schema and every row, in order.
func read(t testing.TB, file []byte) (schema string, rows []reference.Row, f *reference.File) {
	t.Helper()
	f, err := reference.OpenFile(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range f.RowGroups() {
		from := g.Rows()
		for {
			buf := make([]reference.Row, 100)
			n, err := from.ReadRows(buf)
			for _, r := range buf[:n] {
				rows = append(rows, r.Clone())
			}
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		from.Close()
	}
	return f.Schema().String(), rows, f
}

// check compares a table as written with the numbers and with what the other
// program writes.
func check(t testing.TB, columns []Column, rows [][]float64) *reference.File {
	t.Helper()
	schema, got, f := read(t, written(t, columns, rows))
	wantSchema, want, _ := read(t, byReference(t, columns, rows))
	if schema != wantSchema {
		t.Fatalf("schema %s\nwant   %s", schema, wantSchema)
	}
	if len(got) != len(rows) || len(want) != len(rows) || f.NumRows() != int64(len(rows)) {
		t.Fatalf("%d rows, by the other program %d; want %d", len(got), len(want), len(rows))
	}
	for i, r := range rows {
		for k, v := range r {
			g, w := got[i][k], want[i][k]
			same := g.IsNull() == math.IsNaN(v)
			switch {
			case columns[k].Whole:
				same = g.Int64() == int64(v)
			case !math.IsNaN(v):
				same = same && math.Float64bits(g.Double()) == math.Float64bits(v)
			}
			if !same || !reference.DeepEqual(g, w) || g.DefinitionLevel() != w.DefinitionLevel() || g.Column() != w.Column() {
				t.Fatalf("row %d, column %s: %v, by the other program %v; want %g", i, columns[k].Name, g, w, v)
			}
		}
	}
	return f
}

// Every number, missing number, column and row of drawn tables.
func TestWriter(t *testing.T) {
	awkward := []float64{math.NaN(), 0, math.Copysign(0, -1), math.Inf(1), math.Inf(-1), math.MaxFloat64, math.SmallestNonzeroFloat64, 0.1, -1e300}
	rapid.Check(t, func(rt *rapid.T) {
		columns := []Column{{Name: "a", Whole: rapid.Bool().Draw(rt, "whole")}}
		for i := range rapid.IntRange(0, 40).Draw(rt, "more columns") {
			columns = append(columns, Column{Name: fmt.Sprintf("b%03d %s", i, rapid.String().Draw(rt, "name")), Whole: rapid.Bool().Draw(rt, "whole")})
		}
		number := rapid.OneOf(rapid.SampledFrom(awkward), rapid.Float64())
		whole := rapid.OneOf(rapid.SampledFrom([]int64{0, 1, -1, 1 << 53, -1 << 53}), rapid.Int64Range(-1<<53, 1<<53))
		rows := make([][]float64, rapid.IntRange(0, 40).Draw(rt, "rows"))
		for i := range rows {
			for _, c := range columns {
				v := number.Draw(rt, "number")
				if c.Whole {
					v = float64(whole.Draw(rt, "whole number"))
				}
				rows[i] = append(rows[i], v)
			}
		}
		check(t, columns, rows)
	})
}

// Tables at the edges of a group: their rows, and what the footer says of each
// group.
func TestGroups(t *testing.T) {
	columns := []Column{{Name: "falling"}, {Name: "missing"}, {Name: "number", Whole: true}}
	for _, n := range []int{1, 7, 8, 9, groupRows - 1, groupRows, groupRows + 1, 2*groupRows + 5} {
		rows := make([][]float64, n)
		for i := range rows {
			rows[i] = []float64{-float64(i) / 8, math.NaN(), float64(i)}
			if i%3 == 0 {
				rows[i][0] = math.NaN()
			}
		}
		f := check(t, columns, rows)
		if got := len(f.RowGroups()); got != (n+groupRows-1)/groupRows {
			t.Fatalf("%d rows in %d groups", n, got)
		}
		for g, group := range f.Metadata().RowGroups {
			part := rows[g*groupRows : min((g+1)*groupRows, n)]
			for k, c := range group.Columns {
				s := c.MetaData.Statistics
				var numbers []float64
				for _, r := range part {
					if !math.IsNaN(r[k]) {
						numbers = append(numbers, r[k])
					}
				}
				if want := int64(len(part) - len(numbers)); s.NullCount != want || c.MetaData.NumValues != int64(len(part)) {
					t.Errorf("%d rows, group %d, %s: %+v; want %d missing", n, g, columns[k].Name, c.MetaData, want)
				}
				if len(numbers) == 0 {
					if s.MinValue != nil || s.MaxValue != nil {
						t.Errorf("%d rows, group %d: least and greatest of no number: %+v", n, g, s)
					}
					continue
				}
				least, greatest := reference.DoubleValue(slices.Min(numbers)), reference.DoubleValue(slices.Max(numbers))
				if columns[k].Whole {
					least, greatest = reference.Int64Value(int64(slices.Min(numbers))), reference.Int64Value(int64(slices.Max(numbers)))
				}
				if !bytes.Equal(s.MinValue, least.Bytes()) || !bytes.Equal(s.MaxValue, greatest.Bytes()) {
					t.Errorf("%d rows, group %d, %s: from %x to %x; want %x to %x", n, g, columns[k].Name, s.MinValue, s.MaxValue, least.Bytes(), greatest.Bytes())
				}
			}
		}
	}
}

// A zero may stand for either zero: the least is -0 and the greatest +0, as the
// format demands.
func TestZeros(t *testing.T) {
	for _, zero := range []float64{0, math.Copysign(0, -1)} {
		f := check(t, []Column{{Name: "zero"}}, [][]float64{{zero}, {zero}})
		s := f.Metadata().RowGroups[0].Columns[0].MetaData.Statistics
		if !bytes.Equal(s.MinValue, []byte{0, 0, 0, 0, 0, 0, 0, 0x80}) || !bytes.Equal(s.MaxValue, make([]byte, 8)) {
			t.Errorf("from %x to %x", s.MinValue, s.MaxValue)
		}
	}
}

func TestWriterErrors(t *testing.T) {
	columns := []Column{{Name: "point", Whole: true}, {Name: "speed"}}
	for _, c := range []struct {
		row  []float64
		want string
	}{
		{[]float64{1}, "row of 1 numbers; expected 2"},
		{[]float64{math.NaN(), 1}, "column point: found NaN; expected a whole number"},
		{[]float64{1.5, 1}, "column point: found 1.5; expected a whole number"},
		{[]float64{1 << 60, 1}, "column point: found 1.152921504606847e+18; expected a whole number"},
	} {
		if err := NewWriter(io.Discard, "drives", columns).Write(c.row); fmt.Sprint(err) != c.want {
			t.Errorf("row %v: %v; want %s", c.row, err, c.want)
		}
	}
	// A stream that ends is told once a group is full, and at the end.
	full := errors.New("disk full")
	w := NewWriter(writerFunc(func([]byte) (int, error) { return 0, full }), "drives", columns)
	for i := range groupRows {
		if err := w.Write([]float64{1, 2}); (err != nil) != (i == groupRows-1) {
			t.Fatalf("row %d: %v", i, err)
		}
	}
	if err := w.Close(); !errors.Is(err, full) {
		t.Errorf("closed: %v", err)
	}
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(b []byte) (int, error) { return f(b) }

// Memory does not grow with the rows, but for a few bytes a group.
func TestWriterMemory(t *testing.T) {
	columns := make([]Column, 10)
	for i := range columns {
		columns[i].Name = fmt.Sprint(i)
	}
	row := make([]float64, len(columns))
	w := NewWriter(io.Discard, "drives", columns)
	bytesOf := func(groups int) uint64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for range groups * groupRows {
			if err := w.Write(row); err != nil {
				t.Fatal(err)
			}
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	bytesOf(1)
	if b := bytesOf(50); b > 50*20_000 {
		t.Errorf("%d bytes allocated for 50 groups of 640 KiB; want at most 20 kB each", b)
	}
}
