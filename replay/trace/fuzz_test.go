package trace

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"io"
	"reflect"
	"testing"
	"testing/iotest"
)

// check reads any bytes: no panic, frames that a bus can carry, the same frames
// when the bytes come one by one, memory that does not grow with a length that
// is only claimed.
func check(t *testing.T, b []byte) {
	read := func(r io.Reader) ([]Frame, *Scanner) {
		s := NewScanner(r)
		var frames []Frame
		for s.Next() {
			f := s.Frame()
			if err := f.Validate(); err != nil {
				t.Fatalf("%+v: %v", f, err)
			}
			if int(f.Channel) >= len(s.Channels()) {
				t.Fatalf("bus %d of %d", f.Channel, len(s.Channels()))
			}
			frames = append(frames, f)
			if len(frames) > 1000*len(b)+1000 {
				t.Fatal("more frames than bytes can hold")
			}
		}
		if err := s.Err(); err != nil && !errors.Is(err, ErrForm) && !errors.Is(err, ErrIncomplete) {
			t.Fatal(err)
		}
		if s.Next() {
			t.Fatal("a frame after the end")
		}
		return frames, s
	}
	whole, a := read(bytes.NewReader(b))
	bits, z := read(iotest.OneByteReader(bytes.NewReader(b)))
	if len(whole) != len(bits) || a.Counts() != z.Counts() || a.Clock() != z.Clock() {
		t.Fatalf("%d frames, %+v; byte by byte %d, %+v", len(whole), a.Counts(), len(bits), z.Counts())
	}
	for i := range whole {
		if whole[i] != bits[i] {
			t.Fatalf("frame %d is %+v; byte by byte %+v", i, whole[i], bits[i])
		}
	}
	if fast, slow := told(b, false), told(b, true); !reflect.DeepEqual(fast, slow) {
		t.Fatalf("%+v; as if each line were the first %+v", fast, slow)
	}
	if len(a.buf) > max(blockBytes, 4*len(b)) {
		t.Fatalf("%d bytes of memory for %d of trace", len(a.buf), len(b))
	}
}

func seeds(f *testing.F, name string) {
	if e := invented(20)[name]; e != nil { // longer than a window
		f.Add(append(append([]byte(nil), e.head...), e.body...))
	}
	f.Fuzz(check)
}

func FuzzCandump(f *testing.F) {
	for _, s := range []string{
		"(1666164652.190000) can0 0CCB80F7#23002201FFFFFFFF\r\n(1666164652.19) can1 123#R4 R\n(1.0) can0 123##1AABB\n(2.0) can0 20000004#0000\n",
		"# a comment\n  can0  09F8017F   [8]  E8 AC 51 19 BE AB 6D D5\n (000.100000)  can0  7FF   [2]  01 02   '..'\n",
		" (2022-10-19 07:30:52.190000)  can0  RX - -  123   [0]  remote request\n can0 123 [12]  00 00\n",
		"<0x18eeff01> [8] 05 a0 be 1c 00 a0 a0 c0\n", "(0.2) a 123#00\n(0.1) a 123#00\n", "\xef\xbb\xbf(0.2) a 123#\n",
	} {
		f.Add([]byte(s))
	}
	seeds(f, "candump log")
}

func FuzzASC(f *testing.F) {
	f.Add([]byte("date Mit Mär 3 10:06:13.191 PM 2027\nbase dec timestamps relative\nBegin Triggerblock Wed Oct 19 07:30:52 2022\n 0.1 1 200 Rx d 2 1 255\n 0.1 1 Statistic: D 1\n 0.1 2 ErrorFrame\n 0.1 1 123x Tx r 8\n 0.1 CANFD 1 Rx 300 1 0 8 8 11\n"))
	seeds(f, "ASC")
}

func FuzzTRC(f *testing.F) {
	f.Add([]byte(";$FILEVERSION=1.1\n;$STARTTIME=44548.6028595139\n 1) 17535.4 Tx 00000100 2 00 01\n 2) 17540.3 Warng FFFFFFFF 4 00 00 00 08 BUSHEAVY\n 3) 1.0 Rx 0704 1 RTR\n"))
	f.Add([]byte(";##\n; Start time: 18.12.2021 14:28:07.062.1\n 1) 17535 0100 1 00\n"))
	seeds(f, "TRC")
}

func FuzzPcap(f *testing.F) {
	f.Add([]byte("\x0a\x0d\x0d\x0a\x1c\x00\x00\x00\x4d\x3c\x2b\x1a\x01\x00\x00\x00\xff\xff\xff\xff\xff\xff\xff\xff\x1c\x00\x00\x00" +
		"\x01\x00\x00\x00\x1c\x00\x00\x00\xe3\x00\x00\x00\x00\x00\x00\x00\x09\x00\x01\x00\x09\x00\x00\x00\x1c\x00\x00\x00" +
		"\x06\x00\x00\x00\x30\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x10\x00\x00\x10\x00\x00\x00\x10\x00\x00\x00\x89\xf8\x01\x1c\x02\x00\x00\x00\x01\x02\x00\x00\x00\x00\x00\x00\x30\x00\x00\x00"))
	seeds(f, "pcap")
}

// inner returns n frames as objects of BLF.
func inner(n int) []byte {
	var inner []byte
	for i := range n {
		o := make([]byte, 48)
		copy(o, "LOBJ")
		binary.LittleEndian.PutUint16(o[4:], 32)
		binary.LittleEndian.PutUint16(o[6:], 1)
		binary.LittleEndian.PutUint32(o[8:], 48)
		binary.LittleEndian.PutUint32(o[12:], objectCAN2)
		binary.LittleEndian.PutUint32(o[16:], 2)
		binary.LittleEndian.PutUint64(o[24:], uint64(i)*600_000)
		o[32], o[35] = 1, 8
		binary.LittleEndian.PutUint32(o[36:], 0x89F8011C)
		inner = append(inner, o...)
	}
	return inner
}

// objects returns BLF with n frames, packed.
func objects(n int) []byte {
	b := make([]byte, headerBLF)
	copy(b, "LOGG")
	binary.LittleEndian.PutUint32(b[4:], headerBLF)
	for i, v := range []uint16{2026, 5, 3, 13, 8, 0, 0, 250} {
		binary.LittleEndian.PutUint16(b[40+2*i:], v)
	}
	inner := inner(n)
	// Two containers that share an object.
	for _, part := range [][]byte{inner[:len(inner)/2+5], inner[len(inner)/2+5:]} {
		var packed bytes.Buffer
		w := zlib.NewWriter(&packed)
		w.Write(part)
		w.Close()
		h := make([]byte, 32)
		copy(h, "LOBJ")
		binary.LittleEndian.PutUint16(h[4:], 16)
		binary.LittleEndian.PutUint16(h[6:], 1)
		binary.LittleEndian.PutUint32(h[8:], uint32(32+packed.Len()))
		binary.LittleEndian.PutUint32(h[12:], objectContainer)
		binary.LittleEndian.PutUint16(h[16:], 2)
		binary.LittleEndian.PutUint32(h[24:], uint32(len(part)))
		b = append(append(b, h...), packed.Bytes()...)
		b = append(b, make([]byte, (32+packed.Len())%4)...)
	}
	return b
}

func FuzzBLF(f *testing.F) {
	f.Add(objects(9))
	f.Add(objects(9)[:300])
	f.Fuzz(check)
}
