// The comma-separated fields of a sentence, read in order. A number is read as
// integers: its whole part, its decimals, and how many decimals there are. Only
// the division at the end is in floating point, and it is correctly rounded, so
// that the value is the float64 nearest to the number in the sentence.

package nmea

import (
	"encoding/binary"
	"math/bits"
)

// fields reads the fields of a sentence, from after its start character up to
// its '*'. Fields after the last one read as empty, because older receivers do
// not send the newer fields.
type fields struct {
	b   []byte
	i   int  // start of the next field; beyond len(b) when there is none
	bad bool // a field was not valid
}

// maxDecimals is how many decimals of a number are used; any more are ignored.
// With eleven, a longitude in units of the last decimal of its minutes is below
// 2⁵³.
const maxDecimals = 11

// maxWholeDigits limits the digits before the point, so that nothing overflows.
const maxWholeDigits = 7

var (
	pow10  = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11}
	fpow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11}
)

// fixed is a decimal number without a sign: whole + part/10^decimals. It has
// only four words because the compiler keeps no larger struct in registers.
type fixed struct {
	whole, part int64
	digits      int // digits of the whole part
	decimals    int
}

// given reports whether the field had a number.
func (x fixed) given() bool { return x.digits+x.decimals > 0 }

// value returns the float64 nearest to the number.
func (x fixed) value() float64 {
	return float64(x.whole*pow10[x.decimals]+x.part) / fpow10[x.decimals]
}

// number reads a field that has a number without a sign, or is empty.
func (f *fields) number() fixed {
	b, i := f.b, f.i
	whole := int64(0)
	start := i
	for i < len(b) && b[i]-'0' <= 9 {
		whole = whole*10 + int64(b[i]-'0')
		i++
	}
	digits := i - start
	var part int64
	decimals := 0
	if i < len(b) && b[i] == '.' {
		i++
		part, decimals = digitsAt(b, i)
		i += decimals
		if decimals == 8 {
			for ; i < len(b) && b[i]-'0' <= 9; i++ {
				if decimals < maxDecimals {
					part = part*10 + int64(b[i]-'0')
					decimals++
				}
			}
		}
		if digits+decimals == 0 {
			f.bad = true
		}
	}
	if i < len(b) && b[i] != ',' || digits > maxWholeDigits {
		f.skipBad()
		return fixed{}
	}
	f.i = i + 1
	return fixed{whole, part, digits, decimals}
}

// skipBad marks the sentence as bad and skips the rest of the field.
func (f *fields) skipBad() {
	f.bad = true
	f.skip(1)
}

// skip skips n fields.
func (f *fields) skip(n int) {
	for ; n > 0; n-- {
		for f.i < len(f.b) && f.b[f.i] != ',' {
			f.i++
		}
		f.i++
	}
}

// float reads a number with or without a sign. It returns NaN if the field is
// empty.
func (f *fields) float() float64 {
	negative := false
	if i := f.i; i < len(f.b) && (f.b[i] == '-' || f.b[i] == '+') {
		negative = f.b[i] == '-'
		f.i++
		if i+1 == len(f.b) || f.b[i+1] == ',' {
			f.bad = true
		}
	}
	x := f.number()
	switch {
	case !x.given():
		return nan
	case negative:
		return -x.value()
	}
	return x.value()
}

// positive reads a number without a sign. It returns NaN if the field is empty.
func (f *fields) positive() float64 {
	if x := f.number(); x.given() {
		return x.value()
	}
	return nan
}

// count reads a whole number up to 255. It returns 0 if the field is empty.
func (f *fields) count() uint8 {
	x := f.number()
	if x.decimals > 0 || x.whole > 255 {
		f.bad = true
		return 0
	}
	return uint8(x.whole)
}

// letter reads a field of one character. It returns 0 if the field is empty. A
// longer field makes the sentence bad.
func (f *fields) letter() byte {
	b, i := f.b, f.i
	switch {
	case i >= len(b) || b[i] == ',':
		f.i = i + 1
		return 0
	case i+1 == len(b) || b[i+1] == ',':
		f.i = i + 2
		return b[i]
	}
	f.skipBad()
	return 0
}

// text returns the bytes of a field.
func (f *fields) text() []byte {
	start := min(f.i, len(f.b))
	f.skip(1)
	return f.b[start:min(f.i-1, len(f.b))]
}

// unit reads a field that has the letter c or is empty.
func (f *fields) unit(c byte) {
	if got := f.letter(); got != c && got != 0 {
		f.bad = true
	}
}

// angle reads a bearing of 0 to 360 degrees. It returns 360 as 0.
func (f *fields) angle() float64 {
	v := f.positive()
	if v >= 360 {
		f.bad = f.bad || v > 360
		return 0
	}
	return v
}

// coordinate reads two fields, dddmm.mmm and the letter of the hemisphere, and
// returns degrees, negative if the letter is minus.
//
// If the minutes have d decimals and the coordinate is N units of the last
// decimal, it is N / (60·10^d) degrees. N is below 2⁵³, so the quotient is the
// nearest float64.
func (f *fields) coordinate(plus, minus byte, maxDeg int64) float64 {
	x := f.number()
	hemisphere := f.letter()
	if !x.given() {
		if hemisphere != 0 && hemisphere != plus && hemisphere != minus {
			f.bad = true
		}
		return nan
	}
	deg, min := x.whole/100, x.whole%100
	n := (deg*60+min)*pow10[x.decimals] + x.part
	if min >= 60 || n > maxDeg*60*pow10[x.decimals] {
		f.bad = true
		return nan
	}
	v := float64(n) / (60 * fpow10[x.decimals])
	switch hemisphere {
	case plus:
		return v
	case minus:
		return -v
	}
	f.bad = true
	return nan
}

// timeOfDay reads hhmmss.sss as nanoseconds since midnight. It returns noTime if
// the field is empty. Second 60, a leap second, is read as the second after it.
func (f *fields) timeOfDay() int64 {
	x := f.number()
	if !x.given() {
		return noTime
	}
	hour, minute, second := x.whole/10000, x.whole/100%100, x.whole%100
	if x.digits != 6 || hour > 23 || minute > 59 || second > 60 {
		f.bad = true
		return noTime
	}
	ns := (hour*3600 + minute*60 + second) * nsPerSecond
	if x.decimals <= 9 {
		return ns + x.part*pow10[9-x.decimals]
	}
	return ns + x.part/pow10[x.decimals-9]
}

// date reads ddmmyy and returns midnight at the start of that day, in
// nanoseconds since 1970. It returns noDate if the field is empty or all zeros.
// Years 80 to 99 are 1980 to 1999, because GPS began in 1980.
func (f *fields) date() int64 {
	x := f.number()
	if !x.given() || x.whole == 0 {
		return noDate
	}
	year := 2000 + x.whole%100
	if year >= 2080 {
		year -= 100
	}
	day, month := x.whole/10000, x.whole/100%100
	if x.decimals > 0 || x.digits != 6 || !validDate(year, month, day) {
		f.bad = true
		return noDate
	}
	return daysFromCivil(year, month, day) * nsPerDay
}

// digitsAt reads up to eight decimal digits at b[i:]. It returns their value and
// how many there are.
//
// It loads eight bytes as one word and takes '0' from each. Adding 0x76 sets the
// top bit of each byte that is not a digit. It then shifts the word so that
// missing digits become leading zeros, and joins neighbouring digits into pairs,
// pairs into fours and fours into eight (from memory: Lemire, "Quickly parsing
// eight digits", 2018).
func digitsAt(b []byte, i int) (v int64, n int) {
	if i+8 > cap(b) {
		return fewDigitsAt(b, i)
	}
	t := binary.LittleEndian.Uint64(b[i:i+8]) ^ '0'*everyByte
	n = min(bits.TrailingZeros64((t+0x76*everyByte|t)&topBits)>>3, len(b)-i)
	if n <= 0 {
		return 0, 0
	}
	t <<= (8 - n) * 8 & 63
	t = t*10 + t>>8
	t = t & 0x00FF00FF00FF00FF * (1 + 100<<16) >> 16 & 0x0000FFFF0000FFFF
	return int64(t * (1 + 10000<<32) >> 32), n
}

// fewDigitsAt does the same one byte at a time, near the end of b's memory, where
// eight bytes cannot be loaded.
func fewDigitsAt(b []byte, i int) (v int64, n int) {
	for n < 8 && i+n < len(b) && b[i+n]-'0' <= 9 {
		v = v*10 + int64(b[i+n]-'0')
		n++
	}
	return v, n
}
