package timelog_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/replay/taskdata/timelog"
)

// header has every field of a position and so many columns.
func header(columns int) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?><TIM A="" D="4"><PTN A="" B="" C="" D="" E="" F="" G="" H="" I=""/>`)
	for k := range columns {
		fmt.Fprintf(&b, `<DLV A="%04X" B="" C="DET-%d"/>`, 0xA1, k)
	}
	b.WriteString("</TIM>")
	return b.String()
}

// row lays out a row as ISO 11783-10 has it.
func row(b []byte, ms uint32, day uint16, north, east int32, values ...int32) []byte {
	le := binary.LittleEndian
	b = le.AppendUint16(le.AppendUint32(b, ms), day)
	b = le.AppendUint32(le.AppendUint32(b, uint32(north)), uint32(east))
	b = le.AppendUint32(b, 100000) // up
	b = append(b, 4)
	b = le.AppendUint16(le.AppendUint16(b, 12), 7)
	b = append(b, 11)
	b = le.AppendUint16(le.AppendUint32(b, ms), day)
	b = append(b, byte(len(values)))
	for k, v := range values {
		b = le.AppendUint32(append(b, byte(k)), uint32(v))
	}
	return b
}

func parse(t testing.TB, text string) *timelog.Header {
	t.Helper()
	h, err := timelog.ParseHeader(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestRow(t *testing.T) {
	h := parse(t, header(3))
	data := row(nil, 27052200, 15632, 523597005, -80346125, 7, -9)
	s := timelog.NewScanner(h, data)
	if !s.Scan() {
		t.Fatal("no row")
	}
	r := *s.Row()
	// 15632 days after 1980-01-01 is 2022-10-19 (date -d '1980-01-01 +15632 days').
	if r.TimeNs != 1666164652200e6 || r.North != 523597005 || r.East != -80346125 || r.Up != 100000 || r.Status != 4 || r.PDOP != 12 || r.HDOP != 7 ||
		r.Satellites != 11 || r.GPSTimeMs != 27052200 || r.GPSDays != 15632 || fmt.Sprint(r.Values) != "[{0 7} {1 -9}]" {
		t.Errorf("%+v", r)
	}
	if s.Scan() {
		t.Error("a second row")
	}
}

// An attribute with a value is constant and not in the row, one that is absent is nowhere.
func TestHeaderForms(t *testing.T) {
	h := parse(t, `<TIM A=""><PTN A="" B="" D="1" E="1.5"/><DLV A="008D" B="1" C="DET-2"/><DLV A="dffe" B="" C="DET-3" D="129026" E="16" F="31"/></TIM>`)
	data := binary.LittleEndian.AppendUint16(binary.LittleEndian.AppendUint32(nil, 5), 15000)
	data = binary.LittleEndian.AppendUint32(data, 1)
	data = binary.LittleEndian.AppendUint32(data, 2)
	data = append(data, 0)
	s := timelog.NewScanner(h, data)
	if !s.Scan() || s.Row().North != 1 || s.Row().East != 2 || s.Row().Status != 1 || s.Row().PDOP != 15 {
		t.Errorf("%+v", s.Row())
	}
	if h.Has(timelog.GPSTime) || !h.Has(timelog.North|timelog.Status) {
		t.Errorf("fields %b, %b", h.InRow, h.Fixed)
	}
	if c := h.Columns[0]; c.DDI != 141 || !c.Constant || c.Value != 1 {
		t.Errorf("%+v", c)
	}
	if c := h.Columns[1]; c.DDI != timelog.PGNBased || c.PGN != 129026 || c.StartBit != 16 || c.StopBit != 31 || c.Constant {
		t.Errorf("%+v", c)
	}
}

func TestHeaderErrors(t *testing.T) {
	for text, want := range map[string]string{
		"":                                 "byte 0",
		"<TIM":                             "byte 4",
		"<XFC/>":                           "expected TIM",
		`<TIM><PTN A="x"/></TIM>`:          `A="x", expected nothing or a number`,
		`<TIM><PTN B="181"/></TIM>`:        "expected degrees",
		`<TIM><PTN D="NaN"/></TIM>`:        "expected nothing or a number",
		`<TIM><DLV A="10000" B=""/></TIM>`: "expected a hexadecimal DDI",
		`<TIM><DLV A="1" B="4e9"/></TIM>`:  "expected nothing or an integer",
	} {
		if _, err := timelog.ParseHeader(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, expected %q", text, err, want)
		}
	}
	h := parse(t, `<TIM><PTN A="" B=""/><DLV A="1" B="" C="DET-1"/><DLV A="2" B="`)
	if len(h.Columns) != 1 || !strings.HasPrefix(h.Cut, "byte ") {
		t.Errorf("cut short: %d columns, %q", len(h.Columns), h.Cut)
	}
	if h := parse(t, header(70000)); len(h.Columns) != 256 || h.Beyond != 70000-256 {
		t.Errorf("%d columns, %d beyond", len(h.Columns), h.Beyond)
	}
	for _, name := range []string{"Jane Doe", "DET 1", "Müller", strings.Repeat("x", 33)} {
		if timelog.Name(name) != "" {
			t.Errorf("%q is kept", name)
		}
	}
}

// Whatever is damaged in one place, the rows elsewhere are found, and nothing is found twice.
func TestDamage(t *testing.T) {
	h := parse(t, header(40))
	rapid.Check(t, func(t *rapid.T) {
		var data []byte
		starts := map[int64]int64{} // of each row: its time
		ends := map[int64]int64{}
		n := rapid.IntRange(12, 40).Draw(t, "rows")
		ms := uint32(rapid.IntRange(86_380_000, 86_399_000).Draw(t, "ms"))
		day := uint16(15632)
		for range n {
			values := rapid.SliceOfN(rapid.Int32(), 0, 20).Draw(t, "values")
			from := int64(len(data))
			data = row(data, ms, day, 52e7, 8e7, values...)
			starts[from] = (int64(day)+3652)*86400e9 + int64(ms)*1e6
			ends[from] = int64(len(data))
			if ms += 1000; ms >= 86_400_000 {
				ms, day = ms-86_400_000, day+1
			}
		}
		// Overwritten, inserted or removed in one place.
		at := rapid.IntRange(0, len(data)-1).Draw(t, "at")
		size := rapid.IntRange(1, 60).Draw(t, "size")
		junk := rapid.SliceOfN(rapid.Byte(), size, size).Draw(t, "junk")
		to, shift := min(at+size, len(data)), 0
		damaged := append([]byte(nil), data[:at]...)
		switch rapid.SampledFrom([]string{"overwrite", "insert", "remove"}).Draw(t, "how") {
		case "overwrite":
			damaged = append(append(damaged, junk[:to-at]...), data[to:]...)
		case "insert":
			to, shift = at, size
			damaged = append(append(damaged, junk...), data[at:]...)
		case "remove":
			shift = at - to
			damaged = append(damaged, data[to:]...)
		}
		s := timelog.NewScanner(h, damaged)
		found := map[int64]int64{}
		covered := int64(0)
		for s.Scan() {
			r := s.Row()
			found[r.Offset] = r.TimeNs
			covered += 31 + 5*int64(len(r.Values))
		}
		gaps, all := s.Gaps()
		for _, g := range gaps {
			covered += g.Length
		}
		if all == len(gaps) && covered != int64(len(damaged)) {
			t.Fatalf("rows and gaps make %d bytes of %d", covered, len(damaged))
		}
		// Rows before the damage, and from a few after it on, are all there.
		lost := 0
		for from, ns := range starts {
			switch {
			case ends[from] <= int64(at):
				if found[from] != ns {
					lost++
				}
			case from >= int64(to):
				if found[from+int64(shift)] != ns {
					lost++
				}
			}
		}
		// A damaged count may take the rest of one row with it.
		if lost > 1 {
			t.Fatalf("%d of %d undamaged rows are lost; gaps %v", lost, n, gaps)
		}
	})
}

// A pause of days is no damage; a date far off in one row is.
func TestDates(t *testing.T) {
	h := parse(t, header(1))
	var data []byte
	for k := range 20 {
		data = row(data, uint32(1000*k), 15632, 1, 2, 3)
	}
	paused := data
	for k := range 20 {
		paused = row(paused, uint32(1000*k), 15640, 1, 2, 3)
	}
	if n, gaps := count(h, paused); n != 40 || gaps != 0 {
		t.Errorf("paused: %d rows, %d gaps", n, gaps)
	}
	odd := row(append([]byte(nil), data...), 20000, 9999, 1, 2, 3)
	odd = append(odd, data...)
	if n, gaps := count(h, odd); n != 40 || gaps != 1 {
		t.Errorf("one odd date: %d rows, %d gaps; expected 40, 1", n, gaps)
	}
	if n, gaps := count(h, data[:len(data)-3]); n != 19 || gaps != 1 {
		t.Errorf("cut: %d rows, %d gaps; expected 19, 1", n, gaps)
	}
	bad := row(append([]byte(nil), data...), 20000, 15632, 1, 2, 3)
	bad[len(bad)-5] = 1 // a column beyond the header
	bad = append(bad, data...)
	if n, gaps := count(h, bad); n != 40 || gaps != 1 {
		t.Errorf("column beyond the header: %d rows, %d gaps; expected 40, 1", n, gaps)
	}
}

func count(h *timelog.Header, data []byte) (rows, gaps int) {
	s := timelog.NewScanner(h, data)
	for s.Scan() {
		rows++
	}
	_, gaps = s.Gaps()
	return rows, gaps
}

func TestNoAllocation(t *testing.T) {
	h := parse(t, header(8))
	var data []byte
	for k := range 1000 {
		data = row(data, uint32(100*k), 15632, int32(k), int32(k), 1, 2, 3)
	}
	s := timelog.NewScanner(h, data)
	if n := testing.AllocsPerRun(10, func() {
		s.Reset(h, data)
		for s.Scan() {
		}
	}); n != 0 {
		t.Errorf("%g allocations a log", n)
	}
}

func FuzzHeader(f *testing.F) {
	f.Add([]byte(header(3)))
	f.Add([]byte(`<TIM A=""><PTN A="" B="" D="1"/><DLV A="DFFE" B="" C="DET-3" D="129026" E="16" F="31"/>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := timelog.ParseHeader(bytes.NewReader(data))
		if err == nil && (len(h.Columns) > timelog.MaxColumns) {
			t.Fatalf("%+v", h)
		}
	})
}

func FuzzRows(f *testing.F) {
	var data []byte
	for k := range 5 {
		data = row(data, uint32(100*k), 15632, int32(k), int32(k), 1, 2)
	}
	f.Add(uint16(511), uint8(2), data)
	f.Add(uint16(3), uint8(0), data)
	f.Fuzz(func(t *testing.T, fields uint16, columns uint8, data []byte) {
		h := &timelog.Header{InRow: timelog.Fields(fields & 511), Columns: make([]timelog.Column, columns)}
		s := timelog.NewScanner(h, data)
		last := int64(-1)
		rows := 0
		for s.Scan() {
			if r := s.Row(); r.Offset <= last || r.Offset >= int64(len(data)) {
				t.Fatalf("row at %d after %d of %d", r.Offset, last, len(data))
			} else {
				last = r.Offset
			}
			for _, v := range s.Row().Values {
				if int(v.Column) >= len(h.Columns) {
					t.Fatal("column beyond the header")
				}
			}
			if rows++; rows > len(data) {
				t.Fatal("more rows than bytes")
			}
		}
	})
}

// What was found by drawing, each by itself.
func TestDamagedPlaces(t *testing.T) {
	// The GPS time in a row looks like the beginning of a row: where the first byte of the file is lost,
	// every row could be taken to begin there.
	h := parse(t, header(40))
	var data []byte
	for k := range 12 {
		data = row(data, uint32(86_380_000+1000*k), 15632, 52e7, 8e7)
	}
	if n, gaps := count(h, data[1:]); n != 11 || gaps != 1 {
		t.Errorf("first byte lost: %d rows, %d gaps; expected 11, 1", n, gaps)
	}
	// A count of values that is too large swallows the beginning of the next row, and that row is found all the same.
	h = parse(t, header(256))
	data = nil
	var last int
	for k := range 12 {
		if k == 6 {
			last = len(data)
		}
		data = row(data, uint32(86_380_000+1000*k), 15632, 52e7, 8e7, 1, 2)
	}
	data[last+30] = 6
	s := timelog.NewScanner(h, data)
	var at []int64
	for s.Scan() {
		at = append(at, s.Row().Offset/41)
	}
	if fmt.Sprint(at) != "[0 1 2 3 4 5 7 8 9 10 11]" {
		t.Errorf("a wrong count in row 6: rows %v", at)
	}
}
