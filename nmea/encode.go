// Fixes become sentences, with enough decimals that what a controller reads is
// the fix: 1e-8 minutes of arc are 0.02 mm, 1e-4 knots 0.05 mm/s.

package nmea

import "math"

// Each Append function adds one sentence with its checksum and CR LF to buf
// and returns it; it allocates only when buf is too short. The talker is GN.
// A field that is NaN, or too large for any receiver to say, is left empty, as
// is the date of a fix that is not Dated. Times have two decimals, three where
// they are no whole hundredth.

// AppendGGA adds time, position, quality, satellites, HDOP, height, geoid and
// age.
func AppendGGA(buf []byte, f *Fix) []byte { return AppendGGADigits(buf, f, minuteDigits) }

// AppendGGADigits is AppendGGA of a receiver that writes minutes of arc with
// another number of decimals, 1 to 9: with 4 of them its latitude comes in
// steps of 0.19 m.
func AppendGGADigits(buf []byte, f *Fix, digits int) []byte {
	buf, start := begin(buf, "$GNGGA,")
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
	return end(buf, start)
}

// AppendRMC adds time, date, position, speed and course, with the quality as a
// mode letter. Without a position or a quality the status is V.
func AppendRMC(buf []byte, f *Fix) []byte { return AppendRMCDigits(buf, f, minuteDigits) }

// AppendRMCDigits is to AppendRMC as AppendGGADigits is to AppendGGA.
func AppendRMCDigits(buf []byte, f *Fix, digits int) []byte {
	buf, start := begin(buf, "$GNRMC,")
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
	return end(append(buf, mode), start)
}

// AppendVTG adds course and speed, the latter in knots and km/h.
func AppendVTG(buf []byte, f *Fix) []byte {
	buf, start := begin(buf, "$GNVTG,")
	buf = appendBearing(buf, f.CourseDeg)
	buf = append(buf, ",T,,M,"...)
	buf = appendFixed(buf, f.SpeedMps/mpsPerKnot, 4, 1)
	buf = append(buf, ",N,"...)
	buf = appendFixed(buf, f.SpeedMps/mpsPerKmh, 4, 1)
	buf = append(buf, ",K,"...)
	return end(append(buf, f.modeLetter()), start)
}

// AppendHDT adds the true heading.
func AppendHDT(buf []byte, f *Fix) []byte {
	buf, start := begin(buf, "$GNHDT,")
	buf = appendBearing(buf, f.HeadingDeg)
	buf = append(buf, ",T"...)
	return end(buf, start)
}

// AppendZDA adds time and date.
func AppendZDA(buf []byte, f *Fix) []byte {
	buf, start := begin(buf, "$GNZDA,")
	buf = appendTime(buf, f.TimeNs)
	if !f.Dated {
		return end(append(buf, ",,,,,"...), start)
	}
	year, month, day := civilFromDays(dayOf(roundToMs(f.TimeNs)))
	buf = append(buf, ',')
	buf = appendDigits(buf, day, 2)
	buf = append(buf, ',')
	buf = appendDigits(buf, month, 2)
	buf = append(buf, ',')
	buf = appendDigits(buf, year, 4)
	return end(append(buf, ",00,00"...), start)
}

// AppendGST adds the standard deviations.
func AppendGST(buf []byte, f *Fix) []byte {
	buf, start := begin(buf, "$GNGST,")
	buf = appendTime(buf, f.TimeNs)
	buf = append(buf, ",,,,,"...)
	buf = appendFixed(buf, float64(f.SigmaNorthM), 4, 1)
	buf = append(buf, ',')
	buf = appendFixed(buf, float64(f.SigmaEastM), 4, 1)
	buf = append(buf, ',')
	buf = appendFixed(buf, float64(f.SigmaHeightM), 4, 1)
	return end(buf, start)
}

// modeLetter is the quality as NMEA 2.3 and later say it in RMC and VTG.
func (f *Fix) modeLetter() byte {
	const letters = "NADPRFEMS"
	if !f.onEarth() || int(f.Quality) >= len(letters) {
		return 'N'
	}
	return letters[f.Quality]
}

// onEarth reports whether latitude and longitude can be written.
func (f *Fix) onEarth() bool {
	return math.Abs(f.LatDeg) <= 90 && math.Abs(f.LonDeg) <= 180
}

// begin adds the head of a sentence and returns where it starts.
func begin(buf []byte, head string) (out []byte, start int) {
	return append(buf, head...), len(buf)
}

// end adds the checksum and the line end.
func end(buf []byte, start int) []byte {
	sum := sumOf(buf[start+1:])
	return append(buf, '*', upperHex[sum>>4], upperHex[sum&15], '\r', '\n')
}

// roundToMs rounds a time to the milliseconds that a sentence can hold.
func roundToMs(ns int64) int64 {
	const half = int64(500_000)
	if ns < 0 {
		ns -= 2*half - 1
	}
	return (ns + half) / (2 * half) * (2 * half)
}

// dayOf returns the days since 1970, rounded down.
func dayOf(ns int64) int64 { return (ns - TimeOfDayNs(ns)) / nsPerDay }

// appendTime adds hhmmss.ss or hhmmss.sss.
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

// minuteDigits is how many decimals of a minute of arc are written where
// nobody asks for fewer or more.
const minuteDigits = 8

// appendPosition adds four fields with a comma before each, empty without a
// latitude and longitude.
func appendPosition(buf []byte, f *Fix, digits int) []byte {
	if !f.onEarth() {
		return append(buf, ",,,,"...)
	}
	digits = min(max(digits, 1), 9)
	buf = appendCoordinate(append(buf, ','), f.LatDeg, digits, 2, 'N', 'S')
	return appendCoordinate(append(buf, ','), f.LonDeg, digits, 3, 'E', 'W')
}

// appendCoordinate adds dddmm. with so many digits after the point, and the
// hemisphere.
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

// appendBearing adds degrees in [0, 360) with four decimals.
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

// appendFixed adds v with a number of decimals and at least width digits
// before them; nothing for NaN and for what no receiver says.
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

// appendDigits adds n ≥ 0 with at least width digits.
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
