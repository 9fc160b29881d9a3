// This file writes and parses numbers. The parsers accept only the form that is
// written here, so that a parsed line can be written again byte for byte.

package wire

const hexDigits = "0123456789ABCDEF"

// appendUint appends v with at least width digits.
func appendUint(b []byte, v uint64, width int) []byte {
	var d [20]byte
	i := len(d)
	for v > 0 || len(d)-i < width {
		i--
		d[i] = '0' + byte(v%10)
		v /= 10
	}
	return append(b, d[i:]...)
}

// appendHex appends the last width hexadecimal digits of v.
func appendHex(b []byte, v uint32, width int) []byte {
	for shift := 4 * (width - 1); shift >= 0; shift -= 4 {
		b = append(b, hexDigits[v>>shift&15])
	}
	return b
}

// digits parses 1 to 18 decimal digits.
func digits(b []byte) (v uint64, ok bool) {
	if len(b) == 0 || len(b) > 18 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		v = v*10 + uint64(c-'0')
	}
	return v, true
}

// parseUint parses decimal digits without leading zeros.
func parseUint(b []byte) (v uint64, ok bool) {
	if len(b) > 1 && b[0] == '0' {
		return 0, false
	}
	return digits(b)
}

// parseHex parses one to eight upper-case hexadecimal digits.
func parseHex(b []byte) (v uint32, ok bool) {
	if len(b) == 0 || len(b) > 8 {
		return 0, false
	}
	for _, c := range b {
		switch {
		case c >= '0' && c <= '9':
			v = v<<4 | uint32(c-'0')
		case c >= 'A' && c <= 'F':
			v = v<<4 | uint32(c-'A'+10)
		default:
			return 0, false
		}
	}
	return v, true
}
