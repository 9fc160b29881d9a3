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

// hex8 returns the four bytes that eight hexadecimal digits stand for, the first
// in the low byte, and whether they are such digits. w holds the first digit in
// its low byte.
//
// A byte c < 0x80 is at least k if c + 0x80 - k has its top bit, without a carry
// into the next byte.
func hex8(w uint64) (uint32, bool) {
	low := w | 0x20*everyByte
	digit := (w + (0x80-'0')*everyByte) &^ (w + (0x80-'9'-1)*everyByte)
	letter := (low + (0x80-'a')*everyByte) &^ (low + (0x80-'f'-1)*everyByte)
	if (digit|letter)&^w&topBits != topBits {
		return 0, false
	}
	n := w&(0x0F*everyByte) + letter&topBits>>7*9
	v := (n<<4 | n>>8) & 0x00FF00FF00FF00FF
	v = (v | v>>8) & 0x0000FFFF0000FFFF
	return uint32(v | v>>16), true
}

// decimal8 returns the number that eight decimal digits stand for, and whether
// they are such digits. w holds the first digit in its low byte.
func decimal8(w uint64) (uint64, bool) {
	digit := (w + (0x80-'0')*everyByte) &^ (w + (0x80-'9'-1)*everyByte)
	if digit&^w&topBits != topBits {
		return 0, false
	}
	// Pairs, fours, eights: each step adds ten, a hundred, ten thousand times the
	// lower byte to the next.
	v := w & (0x0F * everyByte)
	v = (v*10 + v>>8) & 0x00FF00FF00FF00FF
	v = (v*100 + v>>16) & 0x0000FFFF0000FFFF
	return (v*10000 + v>>32) & 0xFFFFFFFF, true
}

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

// scaled returns a decimal number with a point and any number of decimals, such
// as 17535.4, in units of 10^-9 of the number's own. It drops what is finer. The number is below
// 9 223 372 036.
func scaled(b []byte) (int64, bool) {
	i, whole := 0, int64(0)
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		whole = whole*10 + int64(b[i]-'0')
		if whole > 9223372035 {
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
