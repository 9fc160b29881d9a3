// Saving a record and taking it up again.

package worked

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Append appends what was worked to b: little-endian, rows of which nothing was worked
// left out.
func (r *Record) Append(b []byte) []byte {
	b = binary.LittleEndian.AppendUint32(b, uint32(len(r.passes)))
	b = binary.LittleEndian.AppendUint32(b, uint32(len(r.rows)))
	// Append fails only on types without a fixed size; there are none.
	b, _ = binary.Append(b, binary.LittleEndian, &r.back)
	b, _ = binary.Append(b, binary.LittleEndian, r.passes)
	for k := range r.rows {
		if w := &r.rows[k]; w.N > 0 {
			b = binary.LittleEndian.AppendUint32(b, uint32(k))
			b = binary.LittleEndian.AppendUint32(b, uint32(w.N))
			for _, l := range w.List[:w.N] {
				for _, v := range [...]int32{l.From, l.To, l.Pass} {
					b = binary.LittleEndian.AppendUint32(b, uint32(v))
				}
			}
		}
	}
	return b
}

// Restored returns a record of the same field and row spacing that holds what Append
// gave. r itself does not change.
func (r *Record) Restored(b []byte) (*Record, error) {
	in := bytes.NewReader(b)
	var counts [2]uint32
	if err := binary.Read(in, binary.LittleEndian, &counts); err != nil {
		return nil, fmt.Errorf("worked rows: %w", err)
	}
	if int(counts[0]) != len(r.passes) || int(counts[1]) != len(r.rows) {
		return nil, fmt.Errorf("%d rows in %d directions; this field has %d in %d", counts[1], counts[0], len(r.rows), len(r.passes))
	}
	out := &Record{spacingM: r.spacingM, rowsPerM: r.rowsPerM, rows: make([]row, len(r.rows)), passes: make([]pass, len(r.passes))}
	rest := out.rows
	for i, c := range r.classes {
		n := len(c.rows)
		out.classes = append(out.classes, class{RowClass: c.RowClass, rows: rest[:n], pass: &out.passes[i]})
		rest = rest[n:]
	}
	if err := errors.Join(binary.Read(in, binary.LittleEndian, &out.back), binary.Read(in, binary.LittleEndian, out.passes)); err != nil {
		return nil, fmt.Errorf("worked rows: %w", err)
	}
	for _, p := range out.passes {
		if math.Abs(p.RowM) > farthestM {
			return nil, fmt.Errorf("a row at %g m; expected a place in the field", p.RowM)
		}
	}
	for i := range out.classes {
		out.place(&out.classes[i])
	}
	for in.Len() > 0 {
		var head [2]uint32
		if err := binary.Read(in, binary.LittleEndian, &head); err != nil {
			return nil, fmt.Errorf("worked rows: %w", err)
		}
		if head[0] >= counts[1] || head[1] > mostStretches {
			return nil, fmt.Errorf("%d stretches of row %d; expected %d at most of one of %d rows", head[1], head[0], mostStretches, counts[1])
		}
		w := &out.rows[head[0]]
		w.N = int32(head[1])
		if err := binary.Read(in, binary.LittleEndian, w.List[:w.N]); err != nil {
			return nil, fmt.Errorf("worked rows: %w", err)
		}
	}
	return out, nil
}
