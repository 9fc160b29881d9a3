// Setpoints in each form, there and back.

package wire

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/nmea"
	"liftbench/sections"
)

func drawState(t *rapid.T) State {
	s := NewState(rapid.IntRange(1, sections.MaxSections).Draw(t, "sections"))
	s.Seq = rapid.Uint32().Draw(t, "seq")
	s.DueNs = rapid.Int64Range(0, lastSecond).Draw(t, "s")*1e9 + rapid.Int64Range(0, 999_999).Draw(t, "us")*1000
	for i := range s.Sections {
		s.Set(i, rapid.Bool().Draw(t, "on"))
	}
	return s
}

// Leftmost lowest, two bits each: sections 1 and 3 of four are 01 and, from
// the right, 01_00_01 = 11 hexadecimal; twelve places are 11.
func TestLine(t *testing.T) {
	s := NewState(4)
	s.Seq, s.DueNs = 17, 1_936_274_587_250_000_999
	s.Set(0, true)
	s.Set(2, true)
	s.Set(3, true)
	s.Set(3, false)
	line := string(AppendLine(nil, &s))
	if want := "$PLBS,17,4,1936274587.250000,FFFFFF11*10\r\n"; line != want {
		t.Errorf("line %q; expected %q", line, want)
	}
	sc := nmea.NewScanner(strings.NewReader("noise\x00" + line + line))
	n := 0
	for ; sc.Scan(); n++ {
		var got State
		if err := ParseLine(sc.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		if got.DueNs != 1_936_274_587_250_000_000 {
			t.Errorf("due %d; expected it rounded down to a microsecond", got.DueNs)
		}
		if !got.On(0) || got.On(1) || !got.On(2) || got.On(3) || got.At(4) != NoAction {
			t.Errorf("states %08X", got.Words[0])
		}
	}
	if n != 2 {
		t.Errorf("nmea.Scanner framed %d of 2 lines", n)
	}
}

func TestLineRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawState(t)
		var got State
		if err := ParseLine(AppendLine(nil, &s), &got); err != nil {
			t.Fatal(err)
		}
		if got != s {
			t.Fatalf("%+v came back as %+v", s, got)
		}
	})
}

// withSum gives a body its checksum.
func withSum(body string) string {
	return "$" + body + "*" + string(appendHex(nil, uint32(checksum([]byte(body))), 2))
}

func TestLineErrors(t *testing.T) {
	for name, c := range map[string]struct{ line, want string }{
		"empty":            {"", "expected $PLBS,"},
		"other":            {withSum("GPGGA,1"), "expected $PLBS,"},
		"no checksum":      {"$PLBS,17,4,1.000000,FFFFFF11", "no checksum"},
		"wrong checksum":   {"$PLBS,17,4,1.000000,FFFFFF11*00", "for this line"},
		"no sequence":      {withSum("PLBS,,4,1.000000,FFFFFF11"), "sequence number"},
		"leading zero":     {withSum("PLBS,01,4,1.000000,FFFFFF11"), "sequence number"},
		"no section":       {withSum("PLBS,1,0,1.000000,FFFFFF11"), "expected 1 to 256"},
		"too many":         {withSum("PLBS,1,257,1.000000,FFFFFF11"), "expected 1 to 256"},
		"no decimals":      {withSum("PLBS,1,4,1,FFFFFF11"), "six decimals"},
		"beyond int64":     {withSum("PLBS,1,4,9223372036.000000,FFFFFF11"), "six decimals"},
		"word too short":   {withSum("PLBS,1,4,1.000000,FF11"), "eight hexadecimal"},
		"lower case":       {withSum("PLBS,1,4,1.000000,ffffff11"), "eight hexadecimal"},
		"word missing":     {withSum("PLBS,1,17,1.000000,00000000"), "no word"},
		"word too many":    {withSum("PLBS,1,4,1.000000,FFFFFF11,FFFFFFFF"), "after the last word"},
		"bits beyond last": {withSum("PLBS,1,4,1.000000,0FFFFF11"), "beyond section 4"},
	} {
		t.Run(name, func(t *testing.T) {
			s := NewState(3)
			err := ParseLine([]byte(c.line), &s)
			if !errors.Is(err, ErrLine) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v; expected %q in it", err, c.want)
			}
			if s != NewState(3) {
				t.Error("an error changed the state")
			}
		})
	}
}

func TestJSON(t *testing.T) {
	in := sections.Setpoint{DueNs: 1_936_274_587_250_000_001, Section: 2, On: true}
	line := string(AppendJSON(nil, &in))
	if want := `{"due":"2031-05-11T14:03:07.250000001Z","section":3,"on":true,"reason":"border"}` + "\n"; line != want {
		t.Errorf("line %q; expected %q", line, want)
	}
	rapid.Check(t, func(t *rapid.T) {
		in := sections.Setpoint{
			DueNs:   rapid.Int64Range(0, lastSecond*1e9).Draw(t, "due"),
			Section: int16(rapid.IntRange(0, sections.MaxSections-1).Draw(t, "section")),
			On:      rapid.Bool().Draw(t, "on"),
			Reason:  sections.Reason(rapid.IntRange(0, int(sections.HeldDown)).Draw(t, "reason")),
		}
		var out sections.Setpoint
		if err := ParseJSON(AppendJSON(nil, &in), &out); err != nil || out != in {
			t.Fatalf("%+v came back as %+v, %v", in, out, err)
		}
	})
	for name, c := range map[string]struct{ line, want string }{
		"nothing":   {"", "EOF"},
		"not all":   {`{"section":3,"on":true,"reason":"border"}`, "expected due"},
		"unknown":   {`{"colour":3}`, "colour"},
		"section 0": {`{"due":"2031-05-11T06:16:27Z","section":0,"on":true,"reason":"border"}`, "expected 1 to 256"},
		"reason":    {`{"due":"2031-05-11T06:16:27Z","section":1,"on":true,"reason":"why"}`, "expected border, lost-fix"},
		"year":      {`{"due":"2531-05-11T06:16:27Z","section":1,"on":true,"reason":"border"}`, "year"},
		"two":       {line + line, "after it"},
	} {
		t.Run(name, func(t *testing.T) {
			var s sections.Setpoint
			if err := ParseJSON([]byte(c.line), &s); !errors.Is(err, ErrJSON) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v; expected %q in it", err, c.want)
			}
		})
	}
}

// Section 17 is the first of the second word, DDI 291 = 123 hexadecimal. The
// layout of the frame is from memory of ISO 11783-10.
func TestCandump(t *testing.T) {
	s := NewState(20)
	s.Set(0, true)
	s.Set(16, true)
	got := string(AppendCandump(nil, "can0", &s))
	want := "  can0  0CCBFFF7   [8]  03 00 22 01 01 00 00 00\n" +
		"  can0  0CCBFFF7   [8]  03 00 23 01 01 FF FF FF\n"
	if got != want {
		t.Errorf("frames\n%s; expected\n%s", got, want)
	}
	rapid.Check(t, func(t *rapid.T) {
		in := drawState(t)
		out := NewState(in.Sections)
		out.Seq, out.DueNs = in.Seq, in.DueNs
		for line := range strings.Lines(string(AppendCandump(nil, "vcan1", &in))) {
			ifname, f, err := ParseCandump([]byte(line))
			if err != nil || ifname != "vcan1" {
				t.Fatal(ifname, err)
			}
			if err := out.AddFrame(f); err != nil {
				t.Fatal(err)
			}
		}
		if in != out {
			t.Fatalf("%+v came back as %+v", in, out)
		}
	})
	for name, c := range map[string]struct{ line, want string }{
		"nothing":    {"", "expected one line of interface"},
		"two lines":  {"can0\n 0CCBFFF7 [8] 03 00 22 01 01 00 00 00", "expected one line of interface"},
		"identifier": {"can0 0CCBFF [0]", "eight hexadecimal"},
		"length":     {"can0 0CCBFFF7 [3] 00 00", "expected [2]"},
		"byte":       {"can0 0CCBFFF7 [2] 00 0", "two hexadecimal"},
		"no PGN":     {"can0 0CCAFFF7 [8] 03 00 22 01 01 00 00 00", "PGN 0xCB00"},
		"command":    {"can0 0CCBFFF7 [8] 02 00 22 01 01 00 00 00", "expected 3"},
		"DDI":        {"can0 0CCBFFF7 [8] 03 00 8D 00 01 00 00 00", "DDI 141"},
	} {
		t.Run(name, func(t *testing.T) {
			_, f, err := ParseCandump([]byte(c.line))
			if err == nil {
				err = s.AddFrame(f)
			}
			if !errors.Is(err, ErrFrame) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v; expected %q in it", err, c.want)
			}
		})
	}
}

func TestEncodingDoesNotAllocate(t *testing.T) {
	s := NewState(48)
	sp := sections.Setpoint{DueNs: 1_936_274_587_250_000_000, Section: 2, On: true}
	buf := make([]byte, 0, 4096)
	if n := testing.AllocsPerRun(100, func() {
		buf = AppendLine(buf[:0], &s)
		buf = AppendJSON(buf, &sp)
		buf = AppendCandump(buf, "can0", &s)
	}); n != 0 {
		t.Errorf("%g allocations; expected none", n)
	}
	line := AppendLine(nil, &s)
	if n := testing.AllocsPerRun(100, func() {
		if ParseLine(line, &s) != nil {
			t.Fatal("line refused")
		}
	}); n != 0 {
		t.Errorf("%g allocations to read a line; expected none", n)
	}
}

func BenchmarkAppendLine(b *testing.B) {
	s := NewState(48)
	s.DueNs = 1_936_274_587_250_000_000
	buf := make([]byte, 0, 256)
	b.ReportAllocs()
	for b.Loop() {
		buf = AppendLine(buf[:0], &s)
	}
}

func BenchmarkParseLine(b *testing.B) {
	s := NewState(48)
	s.DueNs = 1_936_274_587_250_000_000
	line := AppendLine(nil, &s)
	b.ReportAllocs()
	for b.Loop() {
		if err := ParseLine(line, &s); err != nil {
			b.Fatal(err)
		}
	}
}

// Whatever is read as a line is written as the same line.
func FuzzParseLine(f *testing.F) {
	s := NewState(20)
	f.Add(AppendLine(nil, &s))
	f.Add([]byte("$PLBS,17,4,1936274587.250000,FFFFFF11*10"))
	f.Add([]byte("$PLBS,,*00"))
	f.Fuzz(func(t *testing.T, line []byte) {
		var s State
		if ParseLine(line, &s) != nil {
			return
		}
		if got := AppendLine(nil, &s); string(trimLineEnd(got)) != string(trimLineEnd(line)) {
			t.Errorf("%q was read, and written as %q", line, got)
		}
	})
}

// Whatever is read as JSON is written as a line that says the same.
func FuzzParseJSON(f *testing.F) {
	f.Add(AppendJSON(nil, &sections.Setpoint{DueNs: 1_936_274_587_250_000_001, Section: 3, On: true, Reason: sections.LostFix}))
	f.Add([]byte(`{"due":"2031-05-11T06:16:27+02:00","section":1,"on":false,"reason":"border"} {}`))
	f.Add([]byte(`{"due":"2262-04-11T23:47:16.854775807Z","section":1e0,"on":null,"reason":"b\u006frder"}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		kept := sections.Setpoint{Section: -7}
		s := kept
		if err := ParseJSON(line, &s); err != nil {
			if !errors.Is(err, ErrJSON) || s != kept {
				t.Errorf("%q: %v, and %+v", line, err, s)
			}
			return
		}
		var again sections.Setpoint
		if text := AppendJSON(nil, &s); ParseJSON(text, &again) != nil || again != s {
			t.Errorf("%q was read as %+v, written as %q and read as %+v", line, s, text, again)
		}
	})
}

func FuzzParseCandump(f *testing.F) {
	s := NewState(20)
	f.Add(AppendCandump(nil, "can0", &s))
	f.Add([]byte("  can0  0CCBFFF7   [8]  03 00 22 01 01 00 00 00\n"))
	f.Fuzz(func(t *testing.T, line []byte) {
		ifname, frame, err := ParseCandump(line)
		if err != nil {
			return
		}
		if err := frame.Validate(); err != nil || ifname == "" {
			t.Errorf("%q was read as %q %v: %v", line, ifname, frame, err)
		}
		s, again := NewState(sections.MaxSections), NewState(sections.MaxSections)
		if s.AddFrame(frame) != nil {
			return
		}
		for text := range bytes.Lines(AppendCandump(nil, ifname, &s)) {
			name, frame, err := ParseCandump(text)
			if err != nil || name != ifname || again.AddFrame(frame) != nil {
				t.Errorf("%q was written as %q and read as %q %v: %v", line, text, name, frame, err)
			}
		}
		if again != s {
			t.Errorf("%q was read as %+v, written and read as %+v", line, s, again)
		}
	})
}
