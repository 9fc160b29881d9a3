// Tag blocks of NMEA 0183 version 4. A gateway puts one before a sentence, with a
// checksum of its own:
//
//	\s:r3669961,c:1714564800*hh\$GPGGA,...
//
// Only one of its parameters is used: c, the gateway's UTC time.

package nmea

// longestTagBlock limits the search for the closing backslash. IEC 61162-450
// allows 80 characters with both backslashes (from memory).
const longestTagBlock = 256

// parseTagBlock reads a tag block at the start of b. Its length n includes both
// backslashes; timeNs is 0 if it has no time. If b does not start like a tag
// block, r is absent. If it does, but the block is broken, r is present, ok is
// false and n is 1.
func parseTagBlock(b []byte) (timeNs int64, n int, ok bool, r reading) {
	// A parameter is a lower-case letter and a colon.
	for i, holds := range [...]func(c byte) bool{isBackslash, isLower, isColon} {
		if i >= len(b) {
			return 0, 0, false, cutOff
		}
		if !holds(b[i]) {
			return 0, 0, false, absent
		}
	}
	end := 1
	for {
		if end >= longestTagBlock {
			return 0, 1, false, present
		}
		if end >= len(b) {
			return 0, 0, false, cutOff
		}
		c := b[end]
		if c == '\\' {
			break
		}
		if c < 0x20 || c > 0x7E || c == '$' {
			return 0, 1, false, present
		}
		end++
	}
	body := b[1:end]
	star := len(body) - 3
	if star < 0 || body[star] != '*' {
		return 0, 1, false, present
	}
	want, isHex := hexByte(body[star+1], body[star+2])
	body = body[:star]
	if !isHex || want != sumOf(body) {
		return 0, 1, false, present
	}
	return tagTime(body), end + 1, true, present
}

// tagTime returns the value of parameter c in nanoseconds since 1970, or 0 if
// there is none. NMEA 0183 v4 gives it in whole seconds since 1970. Some gateways
// send milliseconds instead: a value from 10¹¹ on, which seconds reach only in
// the year 5138.
func tagTime(body []byte) (ns int64) {
	for i := 0; i < len(body); i++ {
		if i > 0 && body[i-1] != ',' || i+2 >= len(body) || body[i] != 'c' || body[i+1] != ':' {
			continue
		}
		var v int64
		n := 0
		for _, c := range body[i+2:] {
			if c == ',' {
				break
			}
			if c < '0' || c > '9' || n == 13 {
				return 0
			}
			v = v*10 + int64(c-'0')
			n++
		}
		if v >= 1e11 {
			if v > maxUnixS*1000 {
				return 0
			}
			return v * 1e6
		}
		if v > maxUnixS {
			return 0
		}
		return v * nsPerSecond
	}
	return 0
}

func isBackslash(c byte) bool { return c == '\\' }
func isLower(c byte) bool     { return c >= 'a' && c <= 'z' }
func isColon(c byte) bool     { return c == ':' }
