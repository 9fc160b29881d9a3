// The table of attributes beside a shapefile.

package shapefile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// row is one row of the table. Its cells are in the order of the columns.
type row struct {
	deleted bool
	cells   []cell
}

type cell struct{ key, text string }

// maxColumns is the most that dBASE has.
const maxColumns = 255

// tableOf reads a table of dBASE III (level 5): a header of 32 bytes with the number of rows at
// 4, its own length at 8 and that of a row at 10; 32 bytes for each column, with its name in the first 11, its type
// at 11 and its width at 16; and rows of fixed width, which begin with an asterisk where
// they are deleted. nil has no rows.
func tableOf(data []byte) ([]row, error) {
	if data == nil {
		return nil, nil
	}
	cut := errors.New("the table (.dbf) is cut off; expected the .dbf of the same file")
	if len(data) < 33 {
		return nil, cut
	}
	count, head, width := binary.LittleEndian.Uint32(data[4:]), int(binary.LittleEndian.Uint16(data[8:])), int(binary.LittleEndian.Uint16(data[10:]))
	if count > maxRecords {
		return nil, fmt.Errorf("the table (.dbf) has %d rows; expected one field, of at most %d", count, maxRecords)
	}
	type column struct {
		name     string
		from, to int
	}
	var columns []column
	at := 1 // behind the mark of deletion
	for off := 32; ; off += 32 {
		if off >= len(data) {
			return nil, cut
		}
		if data[off] == '\r' {
			break
		}
		if off+32 > len(data) || len(columns) == maxColumns {
			return nil, cut
		}
		name, _, _ := bytes.Cut(data[off:off+11], []byte{0})
		c := column{text(name), at, at + int(data[off+16])}
		at = c.to
		columns = append(columns, c)
	}
	if at > width || head < 33 || head+int(count)*width > len(data) {
		return nil, cut
	}
	rows := make([]row, count)
	for i := range rows {
		r := data[head+i*width:][:width]
		rows[i].deleted = r[0] == '*'
		for _, c := range columns {
			value := text(r[c.from:c.to])
			if value != "" && strings.Trim(value, "*") != "" { // asterisks stand for no number
				rows[i].cells = append(rows[i].cells, cell{c.name, value})
			}
		}
	}
	return rows, nil
}

// text returns what a cell says. What is no UTF-8 is taken for Latin-1, in which tables are
// written where they do not say otherwise.
func text(b []byte) string {
	b = bytes.Trim(b, " \x00")
	if utf8.Valid(b) {
		return string(b)
	}
	runes := make([]rune, len(b))
	for i, c := range b {
		runes[i] = rune(c)
	}
	return string(runes)
}
