// The forms, small: what each line says, and what is told of damage.

package trace

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"liftbench/sim/campaign"
)

// seen is what a trace gives, in short.
func seen(t *testing.T, trace string) (*Scanner, string) {
	t.Helper()
	s := NewScanner(strings.NewReader(trace))
	var b strings.Builder
	for s.Next() {
		f := s.Frame()
		b.WriteString(strings.TrimSpace(asPrinted(&f, 0)) + "; ")
	}
	return s, b.String()
}

func TestForms(t *testing.T) {
	for _, c := range []struct {
		name, trace string
		form        Form
		clock       Clock
		frames      string
		counts      Counts
	}{
		{"log: all kinds", "(1666164652.190000) can0 0CCB80F7#23002201FFFFFFFF\r\n(1666164652.190001) can0 123#R4 R\n(1666164652.2) can0 123##1AABB\n(1666164652.3) can0 20000004#0000\n(1666164652.4) can0 7FF# T\n",
			CandumpLog, UTC, "1666164652190000 ccb80f7 x 8 23002201ffffffff; 1666164652190001 123 rs 4; 1666164652400000 7ff s 0; ", Counts{Frames: 3, FD: 1, Errors: 1}},
		{"log: from zero", "(0000000000.352000) v 123#01\n(0000000000.353000) v 123#02\n", CandumpLog, FromStart, "352000 123 s 1 01; 353000 123 s 1 02; ", Counts{Frames: 2}},
		{"log: from the frame before", "(0.000000) v 123#01\n(0.3) v 123#02\n(0.100000) v 123#03\n", CandumpLog, FromStart, "0 123 s 1 01; 300000 123 s 1 02; 400000 123 s 1 03; ", Counts{Frames: 3}},
		{"screen: no times", "# said first\n  can0  09F8017F   [2]  E8 AC\n  can0  123   [0]  remote request\n  can0  09F8017F  [12]  00 01 02 03 04 05 06 07 08 09 0A 0B\n",
			CandumpScreen, NoClock, "0 9f8017f x 2 e8ac; 0 123 rs 0; ", Counts{Frames: 2, FD: 1}},
		{"screen: dates", " (2022-10-19 07:30:52.190000)  can0  RX - -  123   [1]  07   '.'\n", CandumpScreen, Local, "1666164652190000 123 s 1 07; ", Counts{Frames: 1}},
		{"screen: old", "<0x18eeff01> [2] 05 a0\n", CandumpScreen, NoClock, "0 18eeff01 x 2 05a0; ", Counts{Frames: 1}},
		{"log: a line cut by the end of the power", "(1666164652.190000) can0 123#01\n(1666164652.19", CandumpLog, UTC, "1666164652190000 123 s 1 01; ", Counts{Frames: 1, Malformed: 1}},
		{"ASC: decimal, from the line before", "date Die M\xe4r 3 10:06:13.191 PM 2026\nbase dec timestamps relative\n 0.5 1 200 Rx d 2 1 255\n 0.1 1 Statistic: D 1\n 0.1 2 ErrorFrame\n 0.3 1 291x Tx r 8\n",
			ASC, Local, "1772575573691000 c8 s 2 01ff; 1772575574191000 123 rx 8; ", Counts{Frames: 2, Errors: 1, Other: 1}},
		{"ASC: the trigger's date", "date Wed Oct 19 07:30:52 2022\nbase hex timestamps absolute\nBegin Triggerblock Mit Okt 19 07:30:53.5 2022\n 1.25 1 C8 Rx d 1 0F Length = 1\n 1.5 1 C8 TxRq d 1 0F\n",
			ASC, Local, "1666164654750000 c8 s 1 0f; ", Counts{Frames: 1, Other: 1}},
		{"TRC 1.1", ";$FILEVERSION=1.1\n;$STARTTIME=44548.5\n 1) 1.4 Tx 00000100 2 00 01\n 2) 2.0 Warng FFFFFFFF 4 00 00 00 08 BUSHEAVY\n 3) 3.0 Rx 0704 1 RTR\n",
			TRC, Local, "1639828800001400 100 x 2 0001; 1639828800003000 704 rs 1; ", Counts{Frames: 2, Other: 1}},
		{"TRC 1.0 with a start", ";####\n;    Start time: 18.12.2021 14:28:07.062\n   1)  100  0100  1  0A\n", TRC, Local, "1639837687162000 100 s 1 0a; ", Counts{Frames: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, frames := seen(t, c.trace)
			if s.Form() != c.form || s.Clock() != c.clock || frames != c.frames || s.Counts() != c.counts || s.Err() != nil {
				t.Errorf("%s, clock %s, %+v, %v %v\n%s\nexpected %s, %s, %+v\n%s", s.Form(), s.Clock(), s.Counts(), s.Err(), s.Warnings(), frames, c.form, c.clock, c.counts, c.frames)
			}
		})
	}
}

func TestNotATrace(t *testing.T) {
	for name, c := range map[string]struct{ trace, want string }{
		"nothing":        {"", "empty"},
		"NMEA":           {"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\n", `begins with "$GPGGA`},
		"CSV":            {"time,section,actual\n2026-05-13T08:00:00Z,1,1\n", "expected candump"},
		"Ethernet":       {"\xd4\xc3\xb2\xa1\x02\x00\x04\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x04\x00\x01\x00\x00\x00", "link type 1; expected 227"},
		"TRC of another": {";$FILEVERSION=3.0\n;\n", `version "3.0"`},
	} {
		s, _ := seen(t, c.trace)
		if err := s.Err(); !errors.Is(err, ErrForm) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v; expected %q in it", name, err, c.want)
		}
	}
}

// What is cut short or damaged is read as far as it goes, and told with its
// place.
func TestDamage(t *testing.T) {
	blf := string(objects(1000))
	e := invented(100)["pcap"]
	pcap := string(e.head) + string(e.body)
	for _, c := range []struct {
		name, trace string
		frames      int64
		malformed   int64
		err         string
	}{
		{"BLF whole", blf, 1000, 0, ""},
		{"BLF cut inside its second container", blf[:len(blf)-40], 990, 0, "ends inside a container, after byte"},
		{"BLF with rubbish between containers", blf[:headerBLF] + "rubbish" + blf[headerBLF:], 1000, 1, ""},
		{"pcap whole", pcap, 100, 0, ""},
		{"pcap cut", pcap[:len(pcap)-5], 99, 0, "ends inside a packet, after byte"},
		{"pcap of a length that is a lie", pcap[:24+32] + strings.Repeat("\xff", 64), 1, 0, "damaged there"},
	} {
		s, _ := seen(t, c.trace)
		n, err := s.Counts(), s.Err()
		if c.err == "" && (err != nil || n.Frames != c.frames) || c.err != "" && (!errors.Is(err, ErrIncomplete) || !strings.Contains(err.Error(), c.err)) || n.Malformed != c.malformed || n.Frames < c.frames {
			t.Errorf("%s: %+v, %v, %v; expected %d frames, %d malformed, error %q", c.name, n, err, s.Warnings(), c.frames, c.malformed, c.err)
		}
	}
	s, _ := seen(t, "(1666164652.19) can0 123#01\nrubbish\n(1666164652.19) can0 123#012\n")
	if w := s.Warnings(); len(w) != 2 || w[0].Line != 2 || w[0].Offset != 28 || !strings.Contains(w[1].String(), `line 3: "(1666164652.19) can0 123#012"; expected a frame as candump writes it`) {
		t.Errorf("warnings %v; expected lines 2 and 3", w)
	}
	// A line that never ends takes no memory.
	s = NewScanner(strings.NewReader("(1666164652.19) can0 123#01\n" + strings.Repeat("x", 20<<20) + "\n(1666164652.20) can0 123#02\n"))
	for s.Next() {
	}
	if s.Counts() != (Counts{Frames: 2, Malformed: 1}) || len(s.buf) > 2*blockBytes {
		t.Errorf("%+v, %d bytes of memory; expected 2 frames, one line left out", s.Counts(), len(s.buf))
	}
}

// Times of BLF count units of 10 µs or of 1 ns from the start, a date with
// milliseconds.
func TestUnitsOfBLF(t *testing.T) {
	for unit, want := range map[byte]int64{1: 600_000 * 10_000, 2: 600_000} {
		b := objects(2)
		inner := inner(2)
		for i := range 2 {
			inner[48*i+16] = unit
		}
		b = append(b[:headerBLF:headerBLF], inner...) // objects may also stand in the file as they are
		frames, s := read(t, b)
		const start = 1778659200_250_000_000 // 2026-05-13T08:00:00.25
		if len(frames) != 2 || frames[0].TimeNs != start || frames[1].TimeNs != start+want || s.Clock() != Local {
			t.Errorf("unit %d: %+v; expected two frames, %d ns apart", unit, frames, want)
		}
	}
}

// A trace of ten hours keeps its frames to the end, in milliseconds and in
// seconds.
func TestTenHours(t *testing.T) {
	for name, trace := range map[string]string{
		"TRC 1.1": ";$FILEVERSION=1.1\n;$STARTTIME=46155\n 1) 9223371.9 Rx 09F8011C 1 00\n 2) 9223372.1 Rx 09F8011C 1 00\n 3) 36000000.5 Rx 09F8011C 1 00\n",
		"ASC":     "date Wed May 13 00:00:00 2026\nbase hex timestamps absolute\n 9223.3719 1 9F8011Cx Rx d 1 00\n 9223.3721 1 9F8011Cx Rx d 1 00\n 36000.0005 1 9F8011Cx Rx d 1 00\n",
	} {
		frames, s := read(t, []byte(trace))
		if len(frames) != 3 || s.Counts().Malformed > 0 || frames[2].TimeNs != 1778666400_000_500_000 {
			t.Errorf("%s: %+v, %v; expected three frames, the last at 10 h and half a millisecond", name, frames, s.Warnings())
		}
	}
}

// Each line is read as if none like it had come before, in every form, whatever
// digits or letters change.
func TestLikeTheFirst(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 5))
	heads := map[string]string{
		"ASC":  "date Wed May 13 07:30:52 2026\nbase hex  timestamps absolute\n",
		"ASCr": "date Wed May 13 07:30:52 2026\nbase hex  timestamps relative\n",
		"1.0":  ";$FILEVERSION=1.0\n", "1.1": ";$FILEVERSION=1.1\n", "1.3": ";$FILEVERSION=1.3\n", "2.0": ";$FILEVERSION=2.0\n", "2.1": ";$FILEVERSION=2.1\n",
	}
	for _, c := range []struct{ name, head, line string }{
		{"log", "", "(1666164652.190000) can0 0CCB80F7#23002201FFFFFFFF"},
		{"log, 11 bits, CR", "", "(1666164652.190000) can0 0CB#230022 R\r"},
		{"log, from the start", "", "(0000000000.862000) vcan0 09F20101#83000000007F7FFF"},
		{"log, nothing", "", "(0000000000.862000) vcan0 09F20101#"},
		{"log, many digits", "", "(1666164652.19000012) can0 0CCB80F7#23_8"},
		{"screen", "", " (1666164652.190000)  can0  09F8011C   [8]  CD 74 35 1F 0D FC C9 04"},
		{"screen, a date", "", " (2022-10-19 07:30:52.190000)  can0  09F8011C   [7]  CD 74 35 1F 0D FC C9"},
		{"screen, text", "", " (000.190000)  can0  RX - -  123   [3]  CD 74 35   '.t5'"},
		{"screen, no time", "", "  can0  09F8011C   [4]  CD 74 35 1F"},
		{"screen, old", "", "<0x18eeff01> [8] 05 a0 be 1c 00 a0 a0 c0"},
		{"ASC", "ASC", "   3.098426 1  18EBFF00x       Rx   d 8 01 A0 00 A6 00 FF FF FF"},
		{"ASC, 11 bits", "ASC", "  17.876708 2  6F9             Tx   d 5 05 0C 00 00 00  Length = 240015 BitCount = 124 ID = 1785\r"},
		{"ASC, short", "ASCr", " 0.1 1 1x Rx d 1 01"},
		{"ASC, nothing", "ASCr", " 0.1 1 1x Rx d 0 "},
		{"TRC 1.0", "1.0", "     1)     17535  00000100  8  00 01 02 03 04 05 06 07"},
		{"TRC 1.1", "1.1", "    11)     21097.1  Tx     09F8011C  8  00 01 02 03 04 05 06 07 "},
		{"TRC 1.3", "1.3", "     7)     19705.200 1  Tx        0000 -  8    00 01 02 03 04 05 06 07"},
		{"TRC 2.0", "2.0", "      3     17700.300 DT 00000100 Tx 3  00 01 02"},
		{"TRC 2.1", "2.1", "      3     17700.300 DT 1  09F8011C Rx -  8    00 01 02 03 04 05 06 07\r"},
	} {
		t.Run(c.name, func(t *testing.T) {
			const others = "0123456789ABCDEFabcdef0123456789 .,:xRTd'#()\t\r\xe4\x80"
			same := []byte(heads[c.head] + strings.Repeat(c.line+"\n", 9) + strings.Repeat("\n", windowBytes))
			if frames, s := read(t, same); len(frames) != 9 || len(s.text.shapes) != 1 {
				t.Errorf("%d frames, %d shapes; expected 9 of one shape; %v", len(frames), len(s.text.shapes), s.Warnings())
			}
			for range campaign.Times(100, 3000, 100_000) {
				trace := []byte(heads[c.head] + c.line + "\n")
				for range 8 {
					line := []byte(c.line)
					for range r.IntN(5) {
						at := r.IntN(len(line))
						if strings.IndexByte("0123456789ABCDEFabcdef", line[at]) >= 0 && r.IntN(8) > 0 {
							line[at] = others[r.IntN(10+6*r.IntN(2))]
						} else if r.IntN(3) == 0 {
							line[at] = others[r.IntN(len(others))]
						}
					}
					trace = append(append(trace, line...), '\n')
				}
				trace = append(trace, bytes.Repeat([]byte("\n"), windowBytes)...)
				fast, slow := told(trace, false), told(trace, true)
				if !reflect.DeepEqual(fast, slow) {
					t.Fatalf("%s\nby its shape %+v\nword by word %+v", bytes.TrimSpace(trace), fast, slow)
				}
			}
		})
	}
}

// told returns all that a trace gives; forgetful, as if each line were the first.
func told(trace []byte, forgetful bool) (all struct {
	frames   []Frame
	counts   Counts
	warnings []Warning
	channels []string
	clock    Clock
	err      error
}) {
	s := NewScanner(bytes.NewReader(trace))
	for s.Next() {
		all.frames = append(all.frames, s.Frame())
		if forgetful {
			s.text.shapes = nil
		}
	}
	all.counts, all.warnings, all.channels, all.clock, all.err = s.Counts(), s.Warnings(), s.Channels(), s.Clock(), s.Err()
	return all
}

func TestQuickAsSlow(t *testing.T) {
	e := invented(3000)["candump log"]
	frames, _ := read(t, e.body)
	for i, line := range bytes.Split(bytes.TrimSpace(e.body), []byte("\n")) {
		var f Frame
		name, ok := ParseCandump(line, &f)
		if !ok || string(name) != "can0" || f != frames[i] {
			t.Fatalf("line %d is %+v; the scanner has %+v", i+1, f, frames[i])
		}
		if again := AppendCandump(nil, "can0", &f); string(again) != string(line)+"\n" {
			t.Fatalf("%s is written %s", line, again)
		}
	}
}
