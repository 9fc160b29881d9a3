// The checksum of NMEA 0183: the exclusive or of all bytes between the start
// character and '*', both excluded, as two hexadecimal digits.

package nmea

import (
	"encoding/binary"
	"math/bits"
)

const (
	everyByte = 0x0101010101010101
	topBits   = 0x8080808080808080
)

// sumText returns the checksum of b[from:to], and to as end. If that text has a
// byte that no sentence may have (a control character, a byte above 0x7F or
// '$'), end is the index of the first of them and sum is 0. It reads eight bytes
// at a time, so len(b) must be at least to+7.
//
// A byte is below 0x20 if subtracting 0x20 borrows into its top bit. It is zero
// if subtracting 1 borrows and its top bit was clear. A borrow only affects
// higher bytes, so the lowest flag is always right (from memory: Warren,
// "Hacker's Delight", finding a zero byte).
func sumText(b []byte, from, to int) (sum byte, end int) {
	var acc uint64
	i := from
	for ; i+8 <= to; i += 8 {
		w := binary.LittleEndian.Uint64(b[i:])
		dollar := w ^ '$'*everyByte
		if bad := (w - 0x20*everyByte | w | (dollar-everyByte)&^dollar) & topBits; bad != 0 {
			return 0, i + bits.TrailingZeros64(bad)>>3
		}
		acc ^= w
	}
	if n := to - i; n > 0 {
		keep := uint64(1)<<(8*n) - 1
		w := binary.LittleEndian.Uint64(b[i:]) & keep
		padded := w | 0x20*everyByte&^keep
		dollar := padded ^ '$'*everyByte
		if bad := (padded - 0x20*everyByte | padded | (dollar-everyByte)&^dollar) & topBits; bad != 0 {
			return 0, i + bits.TrailingZeros64(bad)>>3
		}
		acc ^= w
	}
	acc ^= acc >> 32
	acc ^= acc >> 16
	acc ^= acc >> 8
	return byte(acc), to
}

// sumOf returns the checksum of b, of any length.
func sumOf(b []byte) (sum byte) {
	for _, c := range b {
		sum ^= c
	}
	return sum
}

// hexByte returns the value of two hexadecimal digits, upper or lower case.
func hexByte(hi, lo byte) (v byte, ok bool) {
	h, l := hexDigit[hi], hexDigit[lo]
	return h<<4 | l, h|l < 16
}

// hexDigit holds the value of each hexadecimal digit, 0xFF for any other byte.
var hexDigit = func() (t [256]byte) {
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

const upperHex = "0123456789ABCDEF"
