// Fields of the compact protocol of Apache Thrift, in which a Parquet file's
// headers and footer are written (specification "thrift-compact-protocol.md" of
// Apache Thrift; its numbers are from memory).

package parquet

import "encoding/binary"

// Types of a field, as they stand in the low half of its first byte.
const (
	typeI32    = 5
	typeI64    = 6
	typeBinary = 8
	typeList   = 9
	typeStruct = 12
)

// thrift appends fields to a buffer. The fields of a struct are appended in
// the order of their ids, since each is written as the step from the one before.
type thrift struct {
	b     []byte
	last  int   // id of the last field in the present struct
	outer []int // last of the structs around it
}

// field appends the head of a field. Steps of more than 15 ids would need a
// second form; no struct here has so many fields.
func (t *thrift) field(id, kind int) {
	t.b = append(t.b, byte((id-t.last)<<4|kind))
	t.last = id
}

// varint appends a whole number in the zigzag form: 0, -1, 1, -2 … become 0, 1,
// 2, 3 …, written in groups of 7 bits, the lowest first.
func (t *thrift) varint(v int64) {
	t.b = binary.AppendVarint(t.b, v)
}

func (t *thrift) i32(id int, v int32) {
	t.field(id, typeI32)
	t.varint(int64(v))
}

func (t *thrift) i64(id int, v int64) {
	t.field(id, typeI64)
	t.varint(v)
}

// text appends a string without a field of its own, as in a list.
func (t *thrift) text(s string) {
	t.b = binary.AppendUvarint(t.b, uint64(len(s)))
	t.b = append(t.b, s...)
}

func (t *thrift) binary(id int, s string) {
	t.field(id, typeBinary)
	t.text(s)
}

// list appends the head of a list; n elements of that type must follow it.
func (t *thrift) list(id, kind, n int) {
	t.field(id, typeList)
	if n < 15 {
		t.b = append(t.b, byte(n<<4|kind))
		return
	}
	t.b = append(t.b, byte(15<<4|kind))
	t.b = binary.AppendUvarint(t.b, uint64(n))
}

// begin starts a struct that is an element of a list or a file's head; end ends
// it.
func (t *thrift) begin() {
	t.outer = append(t.outer, t.last)
	t.last = 0
}

// beginField starts a struct that is a field.
func (t *thrift) beginField(id int) {
	t.field(id, typeStruct)
	t.begin()
}

func (t *thrift) end() {
	t.b = append(t.b, 0)
	t.last = t.outer[len(t.outer)-1]
	t.outer = t.outer[:len(t.outer)-1]
}
