// The comma-separated fields of a sentence, read in order and in fixed point:
// a number is taken as its whole part, its decimals as a whole number, and how
// many decimals there were. The one division at the end is correctly rounded,
// so a value is the float64 nearest to the decimal in the sentence.

package nmea

import (
	"encoding/binary"
	"math/bits"
)

// fields walks over the body of a sentence, between its start character and
// its '*'. Fields past the last one read as empty: older receivers leave the
// newer fields out. bad is set once a field holds what it may not.
type fields struct {
	b   []byte
	i   int // start of the next field; beyond len(b) when there is none
	bad bool
}

// maxDecimals is how many decimals count; further ones are read over. With
// eleven, a longitude in units of its last decimal of a minute is below 2⁵³.
const maxDecimals = 11

// maxWholeDigits bounds the whole part, so that nothing overflows.
const maxWholeDigits = 7

var (
	pow10  = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11}
	fpow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11}
)

// fixed is a decimal number without sign: whole + part/10^decimals. (It has
// four words because the compiler keeps no larger struct in registers.)
type fixed struct {
	whole, part int64
	digits      int // digits of the whole part
	decimals    int
}

// given reports whether the field was not empty.
func (x fixed) given() bool { return x.digits+x.decimals > 0 }

// value is the float64 nearest to the number.
func (x fixed) value() float64 {
	return float64(x.whole*pow10[x.decimals]+x.part) / fpow10[x.decimals]
}

// number reads a field that holds a number without sign, or nothing.
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

// skipBad marks the sentence and goes to the next field.
func (f *fields) skipBad() {
	f.bad = true
	f.skip(1)
}

// skip passes n fields unread.
func (f *fields) skip(n int) {
	for ; n > 0; n-- {
		for f.i < len(f.b) && f.b[f.i] != ',' {
			f.i++
		}
		f.i++
	}
}

// float reads a number with or without sign, NaN where the field is empty.
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

// positive reads a number without sign, NaN where the field is empty.
func (f *fields) positive() float64 {
	if x := f.number(); x.given() {
		return x.value()
	}
	return nan
}

// count reads a whole number up to 255, 0 where the field is empty.
func (f *fields) count() uint8 {
	x := f.number()
	if x.decimals > 0 || x.whole > 255 {
		f.bad = true
		return 0
	}
	return uint8(x.whole)
}

// letter reads a field of one character, 0 where it is empty. A field that
// holds more makes the sentence bad.
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

// text reads a field as it stands.
func (f *fields) text() []byte {
	start := min(f.i, len(f.b))
	f.skip(1)
	return f.b[start:min(f.i-1, len(f.b))]
}

// unit reads a field that holds the letter c or nothing.
func (f *fields) unit(c byte) {
	if got := f.letter(); got != c && got != 0 {
		f.bad = true
	}
}

// angle reads a bearing of 0 to 360 degrees into [0, 360).
func (f *fields) angle() float64 {
	v := f.positive()
	if v >= 360 {
		f.bad = f.bad || v > 360
		return 0
	}
	return v
}

// coordinate reads two fields, degrees and minutes as dddmm.mmm and the
// hemisphere's letter, as signed degrees.
//
// With N the number of units of the minutes' last decimal d,
// degrees = N / (60·10^d); N is below 2⁵³, so the quotient is the nearest
// float64.
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

// timeOfDay reads hhmmss.sss as nanoseconds since midnight, noTime where the
// field is empty. Second 60 is a leap second and reads as the next one.
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

// date reads ddmmyy as the midnight it starts with, noDate where the field is
// empty or all zeros. Years 80 to 99 are 1980 to 1999: GPS began in 1980.
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

// digitsAt reads the decimal digits at b[i:], at most eight, and returns how
// many there were.
//
// Eight bytes are read as one word, less '0' each. A byte above 9 shows in the
// top bit after adding 0x76 to it. The word is shifted so that zeros stand for
// the digits that are not there, and then neighbours are joined by twos, fours
// and eights (from memory: Lemire, "Quickly parsing eight digits", 2018).
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

// fewDigitsAt is digitsAt near the end of the memory behind b.
func fewDigitsAt(b []byte, i int) (v int64, n int) {
	for n < 8 && i+n < len(b) && b[i+n]-'0' <= 9 {
		v = v*10 + int64(b[i+n]-'0')
		n++
	}
	return v, n
}
