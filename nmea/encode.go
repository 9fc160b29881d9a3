// Sentences from a fix, with so many decimals that rounding does not matter: 1e-8
// minutes of arc are 0.02 mm, 1e-4 knots are 0.05 mm/s.
//
// Each Append function appends one sentence, with its checksum and CR LF, to buf
// and returns it. It allocates only if buf is too short. The talker is GN. A
// field is left empty if its number is NaN or too large for any receiver, and
// the date is left empty if the fix is not Dated. Times have two decimals, or
// three if they are not a whole hundredth of a second.

package nmea

import "math"

// AppendGGA appends a GGA sentence: time, position, quality, satellites, HDOP,
// height, geoid height and age of corrections. It allocates only if buf is too
// short. A field without a number is left empty.
func AppendGGA(buf []byte, f *Fix) []byte { return AppendGGADigits(buf, f, minuteDigits) }

// AppendGGADigits is like AppendGGA, but writes minutes of arc with so many
// digits after the point, 1 to 9, in place of 8. With 4 digits, latitude has
// steps of 0.19 m.
func AppendGGADigits(buf []byte, f *Fix, digits int) []byte {
	buf, start := beginSentence(buf, "$GNGGA,")
	buf = appendTime(buf, f.TimeNs)
	buf = appendPosition(buf, f, digits)
	quality := f.Quality
	if quality > Simulator {
		quality = NoFix
	}
	buf = append(buf, ',', '0'+byte(quality), ',')
	buf = appendDigits(buf, int64(f.Satellites), 2)
	buf = append(buf, ',')
	buf = appendFixed(buf, float64(f.HDOP), 2, 1)
	buf = append(buf, ',')
	buf = appendFixed(buf, f.HeightM, 4, 1)
	buf = append(buf, ",M,"...)
	buf = appendFixed(buf, f.GeoidM, 4, 1)
	buf = append(buf, ",M,"...)
	buf = appendFixed(buf, float64(f.AgeS), 1, 1)
	buf = append(buf, ',')
	return endSentence(buf, start)
}

// AppendRMC appends an RMC sentence: time, date, position, speed, course and the
// quality as a mode letter. The status is V if there is no position or the
// quality is NoFix.
func AppendRMC(buf []byte, f *Fix) []byte { return AppendRMCDigits(buf, f, minuteDigits) }

// AppendRMCDigits is like AppendRMC, but writes minutes of arc with so many
// digits after the point, 1 to 9, in place of 8.
func AppendRMCDigits(buf []byte, f *Fix, digits int) []byte {
	buf, start := beginSentence(buf, "$GNRMC,")
	buf = appendTime(buf, f.TimeNs)
	mode := f.modeLetter()
	if mode == 'N' {
		buf = append(buf, ",V"...)
	} else {
		buf = append(buf, ",A"...)
	}
	buf = appendPosition(buf, f, digits)
	buf = append(buf, ',')
	buf = appendFixed(buf, f.SpeedMps/mpsPerKnot, 4, 1)
	buf = append(buf, ',')
	buf = appendBearing(buf, f.CourseDeg)
	buf = append(buf, ',')
	if f.Dated {
		year, month, day := civilFromDays(dayOf(roundToMs(f.TimeNs)))
		buf = appendDigits(buf, day, 2)
		buf = appendDigits(buf, month, 2)
		buf = appendDigits(buf, (year%100+100)%100, 2)
	}
	buf = append(buf, ",,,"...)
	return endSentence(append(buf, mode), start)
}

// AppendVTG appends a VTG sentence: course, and speed in knots and km/h.
func AppendVTG(buf []byte, f *Fix) []byte {
	buf, start := beginSentence(buf, "$GNVTG,")
	buf = appendBearing(buf, f.CourseDeg)
	buf = append(buf, ",T,,M,"...)
	buf = appendFixed(buf, f.SpeedMps/mpsPerKnot, 4, 1)
	buf = append(buf, ",N,"...)
	buf = appendFixed(buf, f.SpeedMps/mpsPerKmh, 4, 1)
	buf = append(buf, ",K,"...)
	return endSentence(append(buf, f.modeLetter()), start)
}

// AppendHDT appends an HDT sentence: true heading.
func AppendHDT(buf []byte, f *Fix) []byte {
	buf, start := beginSentence(buf, "$GNHDT,")
	buf = appendBearing(buf, f.HeadingDeg)
	buf = append(buf, ",T"...)
	return endSentence(buf, start)
}

// AppendZDA appends a ZDA sentence: time and date.
func AppendZDA(buf []byte, f *Fix) []byte {
	buf, start := beginSentence(buf, "$GNZDA,")
	buf = appendTime(buf, f.TimeNs)
	if !f.Dated {
		return endSentence(append(buf, ",,,,,"...), start)
	}
	year, month, day := civilFromDays(dayOf(roundToMs(f.TimeNs)))
	buf = append(buf, ',')
	buf = appendDigits(buf, day, 2)
	buf = append(buf, ',')
	buf = appendDigits(buf, month, 2)
	buf = append(buf, ',')
	buf = appendDigits(buf, year, 4)
	return endSentence(append(buf, ",00,00"...), start)
}

// AppendGST appends a GST sentence: standard deviations of latitude, longitude
// and height.
func AppendGST(buf []byte, f *Fix) []byte {
	buf, start := beginSentence(buf, "$GNGST,")
	buf = appendTime(buf, f.TimeNs)
	buf = append(buf, ",,,,,"...)
	buf = appendFixed(buf, float64(f.SigmaNorthM), 4, 1)
	buf = append(buf, ',')
	buf = appendFixed(buf, float64(f.SigmaEastM), 4, 1)
	buf = append(buf, ',')
	buf = appendFixed(buf, float64(f.SigmaHeightM), 4, 1)
	return endSentence(buf, start)
}

// modeLetter returns the letter for the quality in RMC and VTG of NMEA 2.3 and
// later.
func (f *Fix) modeLetter() byte {
	const letters = "NADPRFEMS"
	if !f.onEarth() || int(f.Quality) >= len(letters) {
		return 'N'
	}
	return letters[f.Quality]
}

// onEarth reports whether latitude and longitude are in range, and not NaN.
func (f *Fix) onEarth() bool {
	return math.Abs(f.LatDeg) <= 90 && math.Abs(f.LonDeg) <= 180
}

// beginSentence appends the head of a sentence and returns where it starts.
func beginSentence(buf []byte, head string) (out []byte, start int) {
	return append(buf, head...), len(buf)
}

// endSentence appends the checksum and the line end.
func endSentence(buf []byte, start int) []byte {
	sum := sumOf(buf[start+1:])
	return append(buf, '*', upperHex[sum>>4], upperHex[sum&15], '\r', '\n')
}

// roundToMs rounds a time to whole milliseconds, the finest that is written.
func roundToMs(ns int64) int64 {
	const half = int64(500_000)
	if ns < 0 {
		ns -= 2*half - 1
	}
	return (ns + half) / (2 * half) * (2 * half)
}

// dayOf returns how many days a time is after 1970-01-01, rounded down.
func dayOf(ns int64) int64 { return (ns - TimeOfDayNs(ns)) / nsPerDay }

// appendTime appends hhmmss.ss or hhmmss.sss.
func appendTime(buf []byte, ns int64) []byte {
	ms := TimeOfDayNs(roundToMs(ns)) / 1e6
	s := ms / 1000
	buf = appendDigits(buf, s/3600*10000+s/60%60*100+s%60, 6)
	buf = append(buf, '.')
	if ms %= 1000; ms%10 != 0 {
		return appendDigits(buf, ms, 3)
	}
	return appendDigits(buf, ms/10, 2)
}

// minuteDigits is how many decimals of a minute of arc AppendGGA and AppendRMC
// write.
const minuteDigits = 8

// appendPosition appends latitude and longitude, four fields with a comma before
// each. They are empty if the position cannot be written.
func appendPosition(buf []byte, f *Fix, digits int) []byte {
	if !f.onEarth() {
		return append(buf, ",,,,"...)
	}
	digits = min(max(digits, 1), 9)
	buf = appendCoordinate(append(buf, ','), f.LatDeg, digits, 2, 'N', 'S')
	return appendCoordinate(append(buf, ','), f.LonDeg, digits, 3, 'E', 'W')
}

// appendCoordinate appends degrees, in so many digits (width), and minutes, with
// so many digits after the point (digits), then a comma and the hemisphere.
func appendCoordinate(buf []byte, deg float64, digits, width int, plus, minus byte) []byte {
	n := int64(math.Round(math.Abs(deg) * 60 * fpow10[digits]))
	perMinute := pow10[digits]
	minutes := n / perMinute
	buf = appendDigits(buf, minutes/60, width)
	buf = appendDigits(buf, minutes%60, 2)
	buf = append(buf, '.')
	buf = appendDigits(buf, n%perMinute, digits)
	if math.Signbit(deg) {
		return append(buf, ',', minus)
	}
	return append(buf, ',', plus)
}

// appendBearing appends degrees, brought into [0, 360), with four decimals.
func appendBearing(buf []byte, deg float64) []byte {
	if !(math.Abs(deg) < 1e9) {
		return buf
	}
	deg = math.Mod(deg, 360)
	if deg < 0 {
		deg += 360
	}
	if deg >= 359.99995 { // would be written as 360.0000
		deg = 0
	}
	return appendFixed(buf, deg, 4, 1)
}

// appendFixed appends v with so many decimals and at least width digits before
// the point. It appends nothing if v is NaN or beyond ±10⁷, which no receiver
// sends.
func appendFixed(buf []byte, v float64, decimals, width int) []byte {
	if !(math.Abs(v) < 1e7) {
		return buf
	}
	n := int64(math.Round(v * fpow10[decimals]))
	if n < 0 {
		buf = append(buf, '-')
		n = -n
	}
	buf = appendDigits(buf, n/pow10[decimals], width)
	buf = append(buf, '.')
	return appendDigits(buf, n%pow10[decimals], decimals)
}

// appendDigits appends n, which is not negative, with at least width digits.
func appendDigits(buf []byte, n int64, width int) []byte {
	var tmp [20]byte
	i := len(tmp)
	for n > 0 || width > 0 {
		i--
		tmp[i] = '0' + byte(n%10)
		n /= 10
		width--
	}
	return append(buf, tmp[i:]...)
}
