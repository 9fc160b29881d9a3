// Fields of the sentences that say how well, and when: GST, GSA, ZDA.

package nmea

import "math"

// gst: time, RMS of the ranges, 1 sigma of the ellipse's major axis and minor
// axis, bearing of the major axis, 1 sigma of latitude, longitude, height.
//
// Without the latter the ellipse gives them: with the bearing θ of the major
// axis a, σ_north² = a²cos²θ + b²sin²θ and σ_east² = a²sin²θ + b²cos²θ.
func (s *Sentence) gst(f *fields) {
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

// gsa: M or A, 1 no fix 2 2D 3 3D, twelve satellites, PDOP, HDOP, VDOP,
// system.
func (s *Sentence) gsa(f *fields) {
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
	s.PDOP = f.positive()
	s.HDOP = f.positive()
	s.VDOP = f.positive()
}

// zda: time, day, month, year, local zone hours, minutes. The zone says
// nothing of UTC and is left.
func (s *Sentence) zda(f *fields) {
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
