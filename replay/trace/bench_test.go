package trace

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"testing"
)

// endless repeats a trace after its header.
type endless struct {
	head, body []byte
	i          int
}

func (e *endless) Read(b []byte) (int, error) {
	if len(e.head) > 0 {
		n := copy(b, e.head)
		e.head = e.head[n:]
		return n, nil
	}
	n := copy(b, e.body[e.i:])
	e.i += n
	if e.i == len(e.body) {
		e.i = 0
	}
	return n, nil
}

// invented returns a trace of n frames in each text form and as pcap.
func invented(n int) map[string]*endless {
	forms := map[string]*endless{}
	var log, screen, asc, trc, pcap []byte
	for i := range n {
		id := 0x09F8011C + uint32(i%7)<<8
		bytesOf := fmt.Sprintf("% X", binary.LittleEndian.AppendUint64(nil, uint64(i)*0x9E3779B97F4A7C15))
		log = fmt.Appendf(log, "(%010d.%06d) can0 %08X#%s\n", 1770000000+i/1500, i%1500*600, id, bytes.ReplaceAll([]byte(bytesOf), []byte(" "), nil))
		screen = fmt.Appendf(screen, " (%010d.%06d)  can0  %08X   [8]  %s\n", 1770000000+i/1500, i%1500*600, id, bytesOf)
		asc = fmt.Appendf(asc, "%11.6f 1  %Xx        Rx   d 8 %s\n", float64(i)*600e-6, id, bytesOf)
		trc = fmt.Appendf(trc, "%7d %13.3f DT 1  %08X Rx -  8    %s\n", i, float64(i)*0.6, id, bytesOf)
		pcap = binary.LittleEndian.AppendUint32(pcap, uint32(1770000000+i/1500))
		pcap = append(binary.LittleEndian.AppendUint32(pcap, uint32(i%1500*600)), 16, 0, 0, 0, 16, 0, 0, 0)
		pcap = append(binary.BigEndian.AppendUint32(pcap, id|1<<31), 8, 0, 0, 0)
		pcap = binary.LittleEndian.AppendUint64(pcap, uint64(i))
	}
	forms["candump log"] = &endless{body: log}
	forms["candump screen"] = &endless{body: screen}
	forms["ASC"] = &endless{head: []byte("date Wed May 13 07:30:52 2026\nbase hex  timestamps absolute\n"), body: asc}
	forms["TRC"] = &endless{head: []byte(";$FILEVERSION=2.1\n;$STARTTIME=46155.3131\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n"), body: trc}
	forms["pcap"] = &endless{head: []byte("\xd4\xc3\xb2\xa1\x02\x00\x04\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x04\x00\xe3\x00\x00\x00"), body: pcap}
	return forms
}

// A frame costs so much, without an allocation.
func BenchmarkScanner(b *testing.B) {
	for name, e := range invented(20000) {
		b.Run(name, func(b *testing.B) {
			s := NewScanner(e)
			s.Next()
			b.ReportAllocs()
			for b.Loop() {
				if !s.Next() {
					b.Fatal(s.Err())
				}
			}
		})
	}
}

func BenchmarkBLF(b *testing.B) {
	raw := file(b, data(b, "rows-32.blf"))
	s := NewScanner(bytes.NewReader(raw))
	b.ReportAllocs()
	for b.Loop() {
		if !s.Next() {
			s = NewScanner(bytes.NewReader(raw))
			s.Next()
		}
	}
}

func TestAllocations(t *testing.T) {
	for name, e := range invented(2000) {
		s := NewScanner(e)
		s.Next()
		if n := testing.AllocsPerRun(10, func() {
			for range 3000 {
				if !s.Next() {
					t.Fatal(name, s.Err())
				}
			}
		}); n > 0 {
			t.Errorf("%s: %v allocations in 3000 frames; expected none", name, n)
		}
		if c := s.Counts(); c.Malformed > 0 {
			t.Errorf("%s: %v", name, s.Warnings())
		}
	}
}
