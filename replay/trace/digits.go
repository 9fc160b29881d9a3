// This file reads numbers from text, eight characters at a time where the trace
// is large.

package trace

import (
	"encoding/binary"
	"math/bits"
)

const (
	everyByte = 0x0101010101010101
	topBits   = 0x8080808080808080
)

// digitsAt is where up to eight digits stand in a line.
type digitsAt struct {
	need  uint64 // the top bits of their bytes
	shift uint8  // moves the last digit to the top byte, in bits
	at    uint8
}

// digitsOf returns where digits stand in line, of which they are a part; they
// are eight at most and begin in its first 255 bytes.
func digitsOf(line, digits []byte) digitsAt {
	n := 8 * len(digits)
	if n == 0 {
		return digitsAt{shift: 64}
	}
	return digitsAt{need: topBits >> (64 - n), shift: uint8(64 - n), at: uint8(offset(line, digits))}
}

// decimal returns the number that the digits stand for, 0 for none, and bits
// that are not 0 if something else stands there.
func (d *digitsAt) decimal(w *window) (v int64, bad uint64) {
	x := load(w[d.at:])
	class := (x + (0x80-'0')*everyByte) &^ (x + (0x80-'9'-1)*everyByte) &^ x
	// Pairs, fours, eights: each step adds ten, a hundred, ten thousand times the
	// lower part to the next.
	x = x & (0x0F * everyByte) << d.shift
	x = (x*10 + x>>8) & 0x00FF00FF00FF00FF
	x = (x*100 + x>>16) & 0x0000FFFF0000FFFF
	return int64((x*10000 + x>>32) & 0xFFFFFFFF), d.need &^ class
}

// hexadecimal is decimal for hexadecimal digits.
func (d *digitsAt) hexadecimal(w *window) (v uint32, bad uint64) {
	x, class := nibbles(load(w[d.at:]))
	return bits.ReverseBytes32(packed(x << d.shift)), d.need &^ class
}

// nibbles returns the values of hexadecimal digits, each in the byte of its
// digit, and the top bit of each byte that is one. What stands above the first
// other byte is not to be used.
//
// A byte c < 0x80 is at least k if c + 0x80 - k has its top bit, without a carry
// into the next byte.
func nibbles(w uint64) (values, class uint64) {
	low := w | 0x20*everyByte
	digit := (w + (0x80-'0')*everyByte) &^ (w + (0x80-'9'-1)*everyByte)
	letter := (low + (0x80-'a')*everyByte) &^ (low + (0x80-'f'-1)*everyByte)
	return w&(0x0F*everyByte) + letter&topBits>>7*9, (digit | letter) &^ w & topBits
}

// packed returns eight values below 16 as four bytes, the first value in the
// upper half of the low byte.
func packed(x uint64) uint32 {
	x = (x<<4 | x>>8) & 0x00FF00FF00FF00FF
	x = (x | x>>8) & 0x0000FFFF0000FFFF
	return uint32(x | x>>16)
}

// powersOf10 are as many as decimals are read at once, and one more.
var powersOf10 = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8}

// load returns the first eight bytes of b.
func load(b []byte) uint64 { return binary.LittleEndian.Uint64(b) }

// hexValue holds the value of each hexadecimal digit, 0xFF for any other byte.
var hexValue = func() (t [256]byte) {
	for i := range t {
		t[i] = 0xFF
	}
	for i := byte(0); i < 10; i++ {
		t['0'+i] = i
	}
	for i := byte(0); i < 6; i++ {
		t['A'+i], t['a'+i] = 10+i, 10+i
	}
	return t
}()

// number returns the value of one to nine digits of base 10 or 16.
func number(b []byte, base uint32) (uint32, bool) {
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	v := uint64(0)
	for _, c := range b {
		d := uint32(hexValue[c])
		if d >= base {
			return 0, false
		}
		v = v*uint64(base) + uint64(d)
	}
	return uint32(v), v <= 0xFFFFFFFF
}

// hexByte returns the value of two hexadecimal digits.
func hexByte(hi, lo byte) (byte, bool) {
	h, l := hexValue[hi], hexValue[lo]
	return h<<4 | l, h|l < 16
}

// mostSeconds is how many seconds have more nanoseconds than an int64 can hold.
const mostSeconds = 9223372036

// scaled returns a decimal number with a point and any number of decimals, such
// as 17535.4, in units of 10^-9 of the number's own. It drops what is finer. The number is below
// 9 223 372 036.
func scaled(b []byte) (int64, bool) {
	i, whole := 0, int64(0)
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		whole = whole*10 + int64(b[i]-'0')
		if whole >= mostSeconds {
			return 0, false
		}
	}
	if i == 0 {
		return 0, false
	}
	v := whole * 1e9
	if i == len(b) {
		return v, true
	}
	if b[i] != '.' || i+1 == len(b) {
		return 0, false
	}
	scale := int64(1e8)
	for _, c := range b[i+1:] {
		if c-'0' > 9 {
			return 0, false
		}
		v += int64(c-'0') * scale
		scale /= 10
	}
	return v, true
}

// mulDiv returns a·b/c, 0 where that is too large or c is 0.
func mulDiv(a, b, c uint64) uint64 {
	hi, lo := bits.Mul64(a, b)
	if hi >= c {
		return 0
	}
	q, _ := bits.Div64(hi, lo, c)
	return q
}

// fields splits b at blanks and tabs into the slices of to and returns their
// number; it ignores any beyond the length of to.
func fields(b []byte, to [][]byte) (n int) {
	for i := 0; i < len(b) && n < len(to); {
		for i < len(b) && (b[i] == ' ' || b[i] == '\t') {
			i++
		}
		start := i
		for i < len(b) && b[i] != ' ' && b[i] != '\t' {
			i++
		}
		if i > start {
			to[n] = b[start:i]
			n++
		}
	}
	return n
}

// round returns a time rounded to a microsecond.
func round(ns int64) int64 { return (ns + 500) / 1000 * 1000 }
