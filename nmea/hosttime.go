// A recorder's own time at the head of a line, before the sentence:
//
//	2024-05-01T12:00:00.250Z $GPGGA,...
//	2024-05-01 14:00:00+02:00,$GPGGA,...
//	1714564800.250;$GPGGA,...
//
// RFC 3339 (a space may stand for the T, the fraction and the zone may be left
// out; no zone is UTC) or seconds since 1970 with or without fraction. Spaces,
// tabs, commas, semicolons or a colon divide it from the sentence.

package nmea

// reading is how far a look at the head of the buffer came.
type reading uint8

const (
	absent  reading = iota // it is something else
	present                // read to its end
	cutOff                 // the buffer ends before it can be told
)

// minUnixDigits keeps a counter at the head of the line from being taken for
// a time: nine digits are 1973 or later.
const minUnixDigits = 9

// maxUnixS is the last whole second that an int64 of nanoseconds holds, in
// the year 2262.
const maxUnixS = 9223372035

// parseHostTime reads a host time with what divides it from the sentence, up
// to the sentence's own first byte: n bytes.
func parseHostTime(b []byte) (ns int64, n int, r reading) {
	c := timeCursor{b: b}
	v, digits := c.digits(12)
	switch {
	case digits == 4 && c.peek() == '-':
		ns = c.rfc3339(v)
	case digits >= minUnixDigits && v <= maxUnixS:
		ns = v*nsPerSecond + c.fraction()
	default:
		c.fail()
	}
	divided := false
	for !c.failed {
		switch c.peek() {
		case ' ', '\t', ',', ';', ':':
			divided = true
			c.i++
			continue
		case '$', '!', '\\':
			if divided {
				return ns, c.i, present
			}
		}
		c.fail()
	}
	if c.short {
		return 0, 0, cutOff
	}
	return 0, 0, absent
}

// timeCursor walks over a time; once it failed it stands still. short says
// that it failed for want of more bytes.
type timeCursor struct {
	b             []byte
	i             int
	failed, short bool
}

// longestHostTime bounds the look ahead: a time and what divides it.
const longestHostTime = 80

func (c *timeCursor) fail() { c.failed = true }

// peek returns the next byte, 0 where there is none.
func (c *timeCursor) peek() byte {
	if c.failed {
		return 0
	}
	if c.i >= longestHostTime {
		c.failed = true
		return 0
	}
	if c.i >= len(c.b) {
		c.failed, c.short = true, true
		return 0
	}
	return c.b[c.i]
}

// digits reads up to limit digits and returns how many there were.
func (c *timeCursor) digits(limit int) (v int64, n int) {
	for n < limit {
		d := c.peek() - '0'
		if d > 9 {
			break
		}
		v = v*10 + int64(d)
		n++
		c.i++
	}
	return v, n
}

// number reads exactly width digits and checks their range.
func (c *timeCursor) number(width int, low, high int64) int64 {
	v, n := c.digits(width)
	if n != width || v < low || v > high {
		c.fail()
	}
	return v
}

func (c *timeCursor) expect(a, b byte) {
	if got := c.peek(); got != a && got != b {
		c.fail()
		return
	}
	c.i++
}

// fraction reads a point and digits, if there, as nanoseconds; what is finer
// is left out.
func (c *timeCursor) fraction() (ns int64) {
	if c.peek() != '.' {
		return 0
	}
	c.i++
	scale := nsPerSecond / 10
	for n := 0; ; n++ {
		d := c.peek() - '0'
		if d > 9 {
			if n == 0 {
				c.fail()
			}
			return ns
		}
		ns += int64(d) * scale
		scale /= 10
		c.i++
	}
}

// rfc3339 reads the rest of a time after its year, as ns since 1970.
func (c *timeCursor) rfc3339(year int64) int64 {
	c.expect('-', '-')
	month := c.number(2, 1, 12)
	c.expect('-', '-')
	day := c.number(2, 1, 31)
	if c.failed || year < 1970 || year >= 2262 || !validDate(year, month, day) {
		c.fail()
		return 0
	}
	if c.peek() == ' ' {
		c.i++
	} else {
		c.expect('T', 't')
	}
	hour := c.number(2, 0, 23)
	c.expect(':', ':')
	minute := c.number(2, 0, 59)
	c.expect(':', ':')
	second := c.number(2, 0, 60)
	ns := c.fraction()
	ns += (daysFromCivil(year, month, day)*86400 + hour*3600 + minute*60 + second) * nsPerSecond
	switch sign := c.peek(); sign {
	case 'Z', 'z':
		c.i++
	case '+', '-':
		c.i++
		zone := c.number(2, 0, 23) * 60
		if c.peek() == ':' {
			c.i++
		}
		zone += c.number(2, 0, 59)
		if sign == '-' {
			zone = -zone
		}
		ns -= zone * 60 * nsPerSecond
	}
	return ns
}
