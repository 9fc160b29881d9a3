// Sentences that give accuracy, and date: GST, GSA, ZDA.

package nmea

import "math"

// decodeGST reads time, RMS of the ranges, standard deviation along the error
// ellipse's major and minor axis, bearing of the major axis, and standard
// deviation of latitude, longitude and height.
//
// Where latitude and longitude are empty, they follow from the ellipse: with
// semi-axes a and b, and θ the bearing of a,
// σ_north² = a²cos²θ + b²sin²θ and σ_east² = a²sin²θ + b²cos²θ.
func (s *Sentence) decodeGST(f *fields) {
	s.TimeOfDayNs = f.timeOfDay()
	f.skip(1)
	major, minor := f.positive(), f.positive()
	bearing := f.float()
	s.SigmaNorthM = f.positive()
	s.SigmaEastM = f.positive()
	s.SigmaHeightM = f.positive()
	if math.IsNaN(s.SigmaNorthM) && math.IsNaN(s.SigmaEastM) {
		sin, cos := math.Sincos(bearing * math.Pi / 180)
		s.SigmaNorthM = math.Hypot(major*cos, minor*sin)
		s.SigmaEastM = math.Hypot(major*sin, minor*cos)
	}
}

// decodeGSA reads M or A (manual or automatic), 1, 2 or 3 (no fix, 2D, 3D), the
// numbers of up to twelve satellites, PDOP, HDOP, VDOP and the system. Of the
// DOPs it keeps HDOP.
func (s *Sentence) decodeGSA(f *fields) {
	switch f.letter() {
	case 0, 'M', 'A':
	default:
		f.bad = true
	}
	switch f.letter() {
	case 0:
	case '1':
		s.Status = StatusVoid
	case '2', '3':
		s.Status = StatusValid
	default:
		f.bad = true
	}
	for range 12 {
		if x := f.number(); x.given() {
			s.Satellites++
		}
	}
	f.positive()
	s.HDOP = f.positive()
	f.positive()
}

// decodeZDA reads time, day, month, year, and hours and minutes of the local
// time zone. It ignores the zone: time and date are UTC.
func (s *Sentence) decodeZDA(f *fields) {
	s.TimeOfDayNs = f.timeOfDay()
	day, month, year := f.number(), f.number(), f.number()
	if !day.given() || !month.given() || !year.given() {
		return
	}
	if day.decimals+month.decimals+year.decimals > 0 ||
		year.whole < 1970 || year.whole > 2261 || !validDate(year.whole, month.whole, day.whole) {
		f.bad = true
		return
	}
	s.DateNs = daysFromCivil(year.whole, month.whole, day.whole) * nsPerDay
}
