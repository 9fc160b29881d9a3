// Faults of the stream that no receiver of a generated drive has: a position that
// stands still, one that is elsewhere, a wrong date.

package suite

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"strings"
)

// spoiled are the drives whose stream has faults, by name. Each fault falls into a
// pass.
var spoiled = map[string]func(io.Reader) io.Reader{
	"faults/frozen": func(r io.Reader) io.Reader {
		return &spoiler{in: bufio.NewReader(r), change: func(s *spoiler, f []string) {
			lat, ok := latitude(f)
			if !ok {
				return
			}
			if s.epoch < 300 || s.epoch >= 360 {
				s.held = append(s.held[:0], f[lat:lat+4]...)
				return
			}
			copy(f[lat:], s.held)
		}}
	},
	"faults/jump": func(r io.Reader) io.Reader {
		return &spoiler{in: bufio.NewReader(r), change: func(s *spoiler, f []string) {
			// The second decimal of a minute of longitude: some 11 m each at 52 degrees.
			if lat, ok := latitude(f); ok && s.epoch >= 300 && s.epoch < 305 {
				x := []byte(f[lat+2])
				if k := bytes.IndexByte(x, '.') + 2; k < len(x) {
					x[k] = '0' + (x[k]-'0'+3)%10
				}
				f[lat+2] = string(x)
			}
		}}
	},
	"faults/wrong-date": func(r io.Reader) io.Reader {
		return &spoiler{in: bufio.NewReader(r), change: func(s *spoiler, f []string) {
			if s.epoch == 300 && strings.HasSuffix(f[0], "RMC") && len(f) > 9 && len(f[9]) == 6 {
				f[9] = f[9][:5] + string('0'+(f[9][5]-'0'+1)%10)
			}
		}}
	},
}

// latitude is the place of the latitude among the fields of a GGA or an RMC.
func latitude(f []string) (at int, ok bool) {
	switch {
	case strings.HasSuffix(f[0], "GGA") && len(f) > 6:
		return 2, true
	case strings.HasSuffix(f[0], "RMC") && len(f) > 7:
		return 3, true
	}
	return 0, false
}

// spoiler reads sentences and changes some of them.
type spoiler struct {
	in     *bufio.Reader
	change func(s *spoiler, fields []string)
	epoch  int // how many GGA came
	held   []string
	rest   []byte
}

func (s *spoiler) Read(b []byte) (int, error) {
	for len(s.rest) == 0 {
		line, err := s.in.ReadBytes('\n')
		if err != nil && len(line) == 0 {
			return 0, err
		}
		s.rest = s.spoil(line)
	}
	n := copy(b, s.rest)
	s.rest = s.rest[n:]
	return n, nil
}

func (s *spoiler) spoil(line []byte) []byte {
	text := strings.TrimRight(string(line), "\r\n")
	from, star := strings.IndexByte(text, '$'), strings.LastIndexByte(text, '*')
	if from < 0 || star < from {
		return line
	}
	f := strings.Split(text[from+1:star], ",")
	if strings.HasSuffix(f[0], "GGA") {
		s.epoch++
	}
	s.change(s, f)
	body, sum := strings.Join(f, ","), byte(0)
	for _, c := range []byte(body) {
		sum ^= c
	}
	return fmt.Appendf(nil, "%s$%s*%02X\r\n", text[:from], body, sum)
}
