// Sentences that give a position: GGA, GNS, RMC, GLL. The lists of fields are
// those of NMEA 0183 v4.11, from memory; tests check them against go-nmea and
// gpsd.

package nmea

// decodeGGA reads time, latitude, N or S, longitude, E or W, quality,
// satellites, HDOP, height, M, geoid height, M, age of corrections and station.
func (s *Sentence) decodeGGA(f *fields) {
	s.TimeOfDayNs = f.timeOfDay()
	s.LatDeg = f.coordinate('N', 'S', 90)
	s.LonDeg = f.coordinate('E', 'W', 180)
	switch q := f.letter(); {
	case q == 0:
	case q >= '0' && q <= '8':
		s.Quality, s.HasQuality = Quality(q-'0'), true
	default:
		f.bad = true
	}
	s.Satellites = f.count()
	s.HDOP = f.positive()
	s.HeightM = f.float()
	f.unit('M')
	s.GeoidM = f.float()
	f.unit('M')
	s.AgeS = f.positive()
}

// decodeGNS reads time, latitude, N or S, longitude, E or W, one mode letter for
// each constellation, satellites, HDOP, height, geoid height, age of
// corrections, station and navigational status.
func (s *Sentence) decodeGNS(f *fields) {
	s.TimeOfDayNs = f.timeOfDay()
	s.LatDeg = f.coordinate('N', 'S', 90)
	s.LonDeg = f.coordinate('E', 'W', 180)
	best := 0
	for _, c := range f.text() {
		m := modes[c]
		if m.rank == 0 {
			f.bad = true
		}
		if int(m.rank) > best {
			best = int(m.rank)
			s.Quality, s.HasQuality = m.quality, true
		}
	}
	if s.HasQuality {
		s.Status = StatusValid
		if s.Quality == NoFix {
			s.Status = StatusVoid
		}
	}
	s.Satellites = f.count()
	s.HDOP = f.positive()
	s.HeightM = f.float()
	s.GeoidM = f.float()
	s.AgeS = f.positive()
}

// decodeRMC reads time, status, latitude, N or S, longitude, E or W, knots,
// course, date, magnetic variation, E or W, mode and navigational status.
func (s *Sentence) decodeRMC(f *fields) {
	s.TimeOfDayNs = f.timeOfDay()
	s.decodeStatus(f)
	s.LatDeg = f.coordinate('N', 'S', 90)
	s.LonDeg = f.coordinate('E', 'W', 180)
	s.SpeedMps = f.positive() * mpsPerKnot
	s.CourseDeg = f.angle()
	s.DateNs = f.date()
	f.skip(2)
	s.decodeMode(f)
}

// decodeGLL reads latitude, N or S, longitude, E or W, time, status and mode.
func (s *Sentence) decodeGLL(f *fields) {
	s.LatDeg = f.coordinate('N', 'S', 90)
	s.LonDeg = f.coordinate('E', 'W', 180)
	s.TimeOfDayNs = f.timeOfDay()
	s.decodeStatus(f)
	s.decodeMode(f)
}

// decodeStatus reads A (valid) or V (void).
func (s *Sentence) decodeStatus(f *fields) {
	switch f.letter() {
	case 0:
	case 'A':
		s.Status = StatusValid
	case 'V':
		s.Status = StatusVoid
	default:
		f.bad = true
	}
}

// decodeMode reads the mode letter, which NMEA 2.3 added, as a quality. Where it
// is missing, status A means a fix of quality Autonomous.
func (s *Sentence) decodeMode(f *fields) {
	c := f.letter()
	switch {
	case c != 0:
		m := modes[c]
		if m.rank == 0 {
			f.bad = true
		}
		s.Quality, s.HasQuality = m.quality, true
	case s.Status == StatusValid:
		s.Quality, s.HasQuality = Autonomous, true
	}
	switch {
	case s.HasQuality && s.Quality == NoFix:
		s.Status = StatusVoid
	case s.Status == StatusVoid:
		s.Quality, s.HasQuality = NoFix, true
	case s.HasQuality:
		s.Status = StatusValid
	}
}

// modes holds the mode letters of RMC, GLL, VTG and GNS. GNS has one letter for
// each constellation; that of the highest rank gives the quality of the fix, so
// that a constellation without a fix does not hide one that has it.
var modes = [256]struct {
	quality Quality
	rank    uint8
}{
	'N': {NoFix, 1},
	'V': {NoFix, 1},
	'S': {Simulator, 2},
	'M': {ManualInput, 3},
	'E': {Estimated, 4},
	'A': {Autonomous, 5},
	'D': {Differential, 6},
	'P': {PPS, 7},
	'F': {RTKFloat, 8},
	'R': {RTKFixed, 9},
}
