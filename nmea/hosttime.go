// The time that a recorder writes at the start of a line, before the sentence:
//
//	2024-05-01T12:00:00.250Z $GPGGA,...
//	2024-05-01 14:00:00+02:00,$GPGGA,...
//	1714564800.250;$GPGGA,...
//
// It is a time of RFC 3339, or seconds since 1970 with or without a fraction. In
// the former a space may replace the T, and the fraction and the time zone may
// be missing; without a zone it is UTC. Spaces, tabs, commas, semicolons or
// colons separate it from the sentence.

package nmea

// reading is the result of looking for something at the start of the buffer.
type reading uint8

const (
	absent  reading = iota // there is something else
	present                // it is there
	cutOff                 // the buffer ends too soon to decide
)

// minUnixDigits is the least number of digits of seconds since 1970, so that a
// line number is not taken for a time. Nine digits mean 1973 or later.
const minUnixDigits = 9

// maxUnixS is the last whole second that fits in an int64 of nanoseconds, in the
// year 2262.
const maxUnixS = 9223372035

// parseHostTime reads a host time at the start of b and returns it in
// nanoseconds since 1970. It has n bytes with what separates it from the
// sentence or tag block.
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
	separated := false
	for !c.failed {
		switch c.peek() {
		case ' ', '\t', ',', ';', ':':
			separated = true
			c.i++
			continue
		case '$', '!', '\\':
			if separated {
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

// timeCursor reads a time byte by byte. Once it has failed it does not move.
type timeCursor struct {
	b      []byte
	i      int
	failed bool
	short  bool // it failed because there were no more bytes
}

// longestHostTime limits the length of a time with what separates it from the
// sentence.
const longestHostTime = 80

func (c *timeCursor) fail() { c.failed = true }

// peek returns the next byte, or 0 if there is none.
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

// digits reads up to limit digits and returns their value and how many there are.
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

// number reads exactly width digits, with a value from low to high.
func (c *timeCursor) number(width int, low, high int64) int64 {
	v, n := c.digits(width)
	if n != width || v < low || v > high {
		c.fail()
	}
	return v
}

// expect reads one byte, which must be a or b.
func (c *timeCursor) expect(a, b byte) {
	if got := c.peek(); got != a && got != b {
		c.fail()
		return
	}
	c.i++
}

// fraction reads a point and the digits after it, if there is one, and returns
// nanoseconds. It drops what is finer.
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

// rfc3339 reads a time from after its year, and returns nanoseconds since 1970.
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
