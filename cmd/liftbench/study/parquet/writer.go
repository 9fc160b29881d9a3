// Package parquet writes a table of numbers as an Apache Parquet file: 64-bit
// whole numbers and 64-bit floating-point numbers, of which some may be missing.
//
// A file is rows in groups. A group holds one chunk for each column, and each
// chunk is one page, plainly encoded and not compressed. The footer at the end
// of the file says where every chunk is. The format is that of
// https://github.com/apache/parquet-format (README.md, Encodings.md and
// src/main/thrift/parquet.thrift); its numbers are from memory and are checked
// in the tests by another program's reader.
package parquet

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Column is a column of the table.
type Column struct {
	Name string
	// Whole says that the column holds whole numbers and that none is missing
	// (INT64, required). Other columns hold floating-point numbers, any of which
	// may be missing (DOUBLE, optional).
	Whole bool
}

// groupRows is how many rows a group has. The writer holds one group in memory:
// 64 KiB a column.
const groupRows = 8192

// magic begins and ends a file.
const magic = "PAR1"

// createdBy is the program that a file says it was made by. It has no version,
// so that the same table is the same bytes whatever program wrote it.
const createdBy = "liftbench"

// Numbers of the format's enumerations.
const (
	physicalInt64  = 2
	physicalDouble = 5

	required = 0
	optional = 1

	plain = 0
	rle   = 3

	uncompressed = 0
	dataPage     = 0

	formatVersion = 1
)

// Writer writes a table to a stream.
type Writer struct {
	w       io.Writer
	name    string
	columns []Column
	cells   [][]float64 // of the present group, by column
	written int64       // bytes
	rows    int64       // in the groups that are written
	groups  []group
	page    []byte
	err     error
}

// group is what the footer says of one group.
type group struct {
	rows   int64
	chunks []chunk
}

// chunk is one column of one group.
type chunk struct {
	offset   int64 // of its page from the start of the file, in bytes
	bytes    int64
	nulls    int64
	min, max float64 // NaN if every number is missing
}

// NewWriter returns a writer of a table with these columns, at least one. name
// is the table's name in the file's schema.
func NewWriter(w io.Writer, name string, columns []Column) *Writer {
	return &Writer{w: w, name: name, columns: columns, cells: make([][]float64, len(columns))}
}

// Write writes a row, one number for each column; NaN is a missing number. A
// whole number must be exact in 64 bits of floating point (up to 2⁵³).
func (w *Writer) Write(row []float64) error {
	if len(row) != len(w.columns) {
		return fmt.Errorf("row of %d numbers; expected %d", len(row), len(w.columns))
	}
	for i, v := range row {
		if w.columns[i].Whole && !(math.Abs(v) <= 1<<53 && v == math.Trunc(v)) {
			return fmt.Errorf("column %s: found %g; expected a whole number", w.columns[i].Name, v)
		}
	}
	for i, v := range row {
		w.cells[i] = append(w.cells[i], v)
	}
	if len(w.cells[0]) == groupRows {
		w.flush()
	}
	return w.err
}

// Close writes the rows that are left and the footer. It does not close the
// stream.
func (w *Writer) Close() error {
	w.flush()
	w.start()
	footer := w.footer()
	footer = binary.LittleEndian.AppendUint32(footer, uint32(len(footer)))
	w.put(append(footer, magic...))
	return w.err
}

func (w *Writer) start() {
	if w.written == 0 {
		w.put([]byte(magic))
	}
}

func (w *Writer) put(b []byte) {
	if w.err != nil {
		return
	}
	n, err := w.w.Write(b)
	w.written += int64(n)
	w.err = err
}

// flush writes the rows held as a group.
func (w *Writer) flush() {
	if len(w.cells[0]) == 0 {
		return
	}
	w.start()
	g := group{rows: int64(len(w.cells[0])), chunks: make([]chunk, len(w.columns))}
	for i := range w.columns {
		g.chunks[i] = w.chunk(i)
		w.cells[i] = w.cells[i][:0]
	}
	w.rows += g.rows
	w.groups = append(w.groups, g)
}

// chunk writes the chunk of a column: its page's header, for an optional column
// one bit a row that says whether there is a number, and the numbers.
func (w *Writer) chunk(column int) chunk {
	cells, whole := w.cells[column], w.columns[column].Whole
	c := chunk{offset: w.written, min: math.NaN(), max: math.NaN()}
	page := w.page[:0]
	if !whole {
		page = appendPresence(page, cells)
	}
	for _, v := range cells {
		switch {
		case whole:
			page = binary.LittleEndian.AppendUint64(page, uint64(int64(v)))
		case math.IsNaN(v):
			c.nulls++
			continue
		default:
			page = binary.LittleEndian.AppendUint64(page, math.Float64bits(v))
		}
		if !(c.min <= v) { // smaller, or the first
			c.min = v
		}
		if !(c.max >= v) {
			c.max = v
		}
	}
	w.page = page

	var t thrift // PageHeader
	t.begin()
	t.i32(1, dataPage)
	t.i32(2, int32(len(page))) // uncompressed
	t.i32(3, int32(len(page))) // compressed
	t.beginField(5)            // DataPageHeader
	t.i32(1, int32(len(cells)))
	t.i32(2, plain)
	t.i32(3, rle) // definition levels
	t.i32(4, rle) // repetition levels
	t.end()
	t.end()
	w.put(t.b)
	w.put(page)
	c.bytes = int64(len(t.b) + len(page))
	return c
}

// appendPresence appends the definition levels of an optional column: a bit a
// row, 1 where the number is there, as one bit-packed run of the format's RLE
// hybrid encoding, behind its length in bytes.
func appendPresence(b []byte, cells []float64) []byte {
	start := len(b)
	b = append(b, 0, 0, 0, 0)
	eights := (len(cells) + 7) / 8
	b = binary.AppendUvarint(b, uint64(eights)<<1|1)
	bits := len(b)
	b = append(b, make([]byte, eights)...)
	for i, v := range cells {
		if !math.IsNaN(v) {
			b[bits+i/8] |= 1 << (i % 8)
		}
	}
	binary.LittleEndian.PutUint32(b[start:], uint32(len(b)-start-4))
	return b
}

// footer returns the file's metadata.
func (w *Writer) footer() []byte {
	var t thrift // FileMetaData
	t.begin()
	t.i32(1, formatVersion)
	t.list(2, typeStruct, 1+len(w.columns)) // SchemaElement
	t.begin()
	t.binary(4, w.name)
	t.i32(5, int32(len(w.columns)))
	t.end()
	for _, c := range w.columns {
		t.begin()
		t.i32(1, c.physical())
		t.i32(3, c.repetition())
		t.binary(4, c.Name)
		t.end()
	}
	t.i64(3, w.rows)
	t.list(4, typeStruct, len(w.groups))
	for i := range w.groups {
		w.describe(&t, &w.groups[i])
	}
	t.binary(6, createdBy)
	// The order of numbers is that of their type; without this, readers ignore
	// the least and greatest number of a chunk.
	t.list(7, typeStruct, len(w.columns)) // ColumnOrder
	for range w.columns {
		t.begin()
		t.beginField(1) // TypeDefinedOrder
		t.end()
		t.end()
	}
	t.end()
	return t.b
}

// describe appends a RowGroup.
func (w *Writer) describe(t *thrift, g *group) {
	t.begin()
	t.list(1, typeStruct, len(g.chunks)) // ColumnChunk
	total := int64(0)
	for i := range g.chunks {
		c, column := &g.chunks[i], &w.columns[i]
		total += c.bytes
		t.begin()
		t.i64(2, c.offset)
		t.beginField(3) // ColumnMetaData
		t.i32(1, column.physical())
		t.list(2, typeI32, 2)
		t.varint(plain)
		t.varint(rle)
		t.list(3, typeBinary, 1)
		t.text(column.Name)
		t.i32(4, uncompressed)
		t.i64(5, g.rows)
		t.i64(6, c.bytes) // uncompressed
		t.i64(7, c.bytes) // compressed
		t.i64(9, c.offset)
		c.statistics(t, column)
		t.end()
		t.end()
	}
	t.i64(2, total)
	t.i64(3, g.rows)
	t.i64(5, g.chunks[0].offset)
	t.i64(6, total)
	t.end()
}

// statistics appends a chunk's Statistics. A zero counts as -0 where it is the
// least and as +0 where it is the greatest, as the format demands.
func (c *chunk) statistics(t *thrift, column *Column) {
	t.beginField(12)
	t.i64(3, c.nulls)
	if !math.IsNaN(c.min) {
		least, greatest := math.Float64bits(c.min), math.Float64bits(c.max)
		switch {
		case column.Whole:
			least, greatest = uint64(int64(c.min)), uint64(int64(c.max))
		default:
			if c.min == 0 {
				least = math.Float64bits(math.Copysign(0, -1))
			}
			if c.max == 0 {
				greatest = math.Float64bits(0)
			}
		}
		t.binary(5, string(binary.LittleEndian.AppendUint64(nil, greatest)))
		t.binary(6, string(binary.LittleEndian.AppendUint64(nil, least)))
	}
	t.end()
}

func (c *Column) physical() int32 {
	if c.Whole {
		return physicalInt64
	}
	return physicalDouble
}

func (c *Column) repetition() int32 {
	if c.Whole {
		return required
	}
	return optional
}
