// Package timelog decodes time logs of ISO 11783-10 task data: a header, which
// says what is recorded, and rows in binary.
package timelog

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// MaxColumns is how many columns a row can speak of: its index is one byte.
const MaxColumns = 256

// Fields are the fields of a position, as bits: ISO 11783-10, element PTN.
type Fields uint16

// The fields in the order in which a row has them. The letter is the attribute
// of PTN.
const (
	North      Fields = 1 << iota // A, 1e-7°
	East                          // B, 1e-7°
	Up                            // C, mm
	Status                        // D
	PDOP                          // E, 0.1
	HDOP                          // F, 0.1
	Satellites                    // G
	GPSTime                       // H, ms of the UTC day
	GPSDate                       // I, days since 1980-01-01
)

// bytes is how long each field is in a row, in the order of the bits.
var fieldBytes = [9]int{4, 4, 4, 1, 2, 2, 1, 4, 2}

// PGNBased is the DDI of a column that is a part of a message on the bus, told by
// PGN and bits, and no process data variable.
const PGNBased = 0xDFFE

// Column is one process data variable of a log, element DLV.
type Column struct {
	DDI     uint16 // ISO 11783-11 number
	Element string // id of the device element, DET…
	// PGN, StartBit and StopBit tell columns with DDI PGNBased apart.
	PGN               uint32
	StartBit, StopBit uint8
	// Constant columns have the same value in every row and are in none.
	Constant bool
	Value    int32
}

// Header says what a log records.
type Header struct {
	InRow   Fields // fields that every row has
	Fixed   Fields // fields that have the value in Row for the whole log
	Row     Row    // values of Fixed
	Columns []Column
	// Cut says where and why the XML ends before its end; "" = it does not. Columns are those
	// before: rows may speak of more.
	Cut string
	// Beyond is how many columns there are beyond MaxColumns: no row can speak of them.
	Beyond int
}

// Has reports whether rows have all of these fields, or the header has them.
func (h *Header) Has(f Fields) bool { return (h.InRow|h.Fixed)&f == f }

// ErrHeader is wrapped by errors about headers that cannot be used.
var ErrHeader = errors.New("not a time log header")

// ParseHeader reads the header of a log, the element TIM, from XML. An attribute
// that is there and empty is in every row, one with a value is constant, one that
// is absent is nowhere.
func ParseHeader(r io.Reader) (*Header, error) {
	var tim struct {
		XMLName xml.Name
		PTN     []struct {
			Attrs []xml.Attr `xml:",any,attr"`
		}
		DLV []struct {
			A string  `xml:"A,attr"`
			B *string `xml:"B,attr"`
			C string  `xml:"C,attr"`
			D string  `xml:"D,attr"`
			E string  `xml:"E,attr"`
			F string  `xml:"F,attr"`
		}
	}
	d := xml.NewDecoder(r)
	d.Strict = false
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	h := &Header{}
	if err := d.Decode(&tim); err != nil {
		if tim.XMLName.Local != "TIM" || len(tim.PTN)+len(tim.DLV) == 0 {
			return nil, fmt.Errorf("%w: at byte %d: %v", ErrHeader, d.InputOffset(), err)
		}
		h.Cut = fmt.Sprintf("byte %d: %v", d.InputOffset(), err)
	}
	if tim.XMLName.Local != "TIM" {
		return nil, fmt.Errorf("%w: found element %.20q, expected TIM", ErrHeader, tim.XMLName.Local)
	}
	if len(tim.PTN) > 0 {
		for _, a := range tim.PTN[0].Attrs {
			if err := h.field(a.Name.Local, a.Value); err != nil {
				return nil, err
			}
		}
	}
	for i, v := range tim.DLV {
		if i == MaxColumns {
			h.Beyond = len(tim.DLV) - i
			break
		}
		ddi, err := strconv.ParseUint(strings.TrimSpace(v.A), 16, 16)
		if err != nil {
			return nil, fmt.Errorf("%w: DLV %d has A=%.20q, expected a hexadecimal DDI", ErrHeader, i, v.A)
		}
		c := Column{DDI: uint16(ddi), Element: Name(v.C)}
		if v.B != nil && *v.B != "" {
			value, err := strconv.ParseInt(*v.B, 10, 32)
			if err != nil {
				return nil, fmt.Errorf("%w: DLV %d has B=%.20q, expected nothing or an integer", ErrHeader, i, *v.B)
			}
			c.Constant, c.Value = true, int32(value)
		}
		if c.DDI == PGNBased {
			// Bits that are no numbers make the column unknown, not the log.
			pgn, _ := strconv.ParseUint(v.D, 10, 18)
			from, _ := strconv.ParseUint(v.E, 10, 8)
			to, _ := strconv.ParseUint(v.F, 10, 8)
			c.PGN, c.StartBit, c.StopBit = uint32(pgn), uint8(from), uint8(to)
		}
		h.Columns = append(h.Columns, c)
	}
	return h, nil
}

// Name returns id where it is one that a machine wrote, such as DET-12: letters,
// digits, - and _, 32 at most. Anything else, which could be somebody's name,
// becomes "".
func Name(id string) string {
	if len(id) > 32 {
		return ""
	}
	for _, r := range id {
		if (r < 'A' || r > 'Z') && (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' && r != '_' {
			return ""
		}
	}
	return id
}

// field notes one attribute of PTN.
func (h *Header) field(letter, value string) error {
	k := strings.Index("ABCDEFGHI", letter)
	if k < 0 || len(letter) != 1 {
		return nil // of a manufacturer
	}
	f := Fields(1) << k
	if value == "" {
		h.InRow |= f
		return nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || !(x >= -1<<31 && x < 1<<32) {
		return fmt.Errorf("%w: PTN has %s=%.20q, expected nothing or a number", ErrHeader, letter, value)
	}
	h.Fixed |= f
	switch f {
	case North, East:
		// In XML positions are degrees (ISO 11783-10, table of PTN).
		if x < -180 || x > 180 {
			return fmt.Errorf("%w: PTN has %s=%.20q, expected degrees", ErrHeader, letter, value)
		}
		if f == North {
			h.Row.North = int32(x * 1e7)
		} else {
			h.Row.East = int32(x * 1e7)
		}
	case Up:
		h.Row.Up = int32(min(x, 1<<31-1))
	case Status:
		h.Row.Status = uint8(min(max(x, 0), 255))
	case PDOP:
		h.Row.PDOP = uint16(min(max(x*10, 0), 65535))
	case HDOP:
		h.Row.HDOP = uint16(min(max(x*10, 0), 65535))
	case Satellites:
		h.Row.Satellites = uint8(min(max(x, 0), 255))
	case GPSTime:
		h.Row.GPSTimeMs = uint32(max(x, 0))
	case GPSDate:
		h.Row.GPSDays = uint16(min(max(x, 0), 65535))
	}
	return nil
}
