// Fields of the sentences that say where: GGA, GNS, RMC, GLL (NMEA 0183
// v4.11, field lists from memory; checked against go-nmea and gpsd in the
// tests).

package nmea

// gga: time, lat, N/S, lon, E/W, quality, satellites, HDOP, height, M, geoid,
// M, age, station.
func (s *Sentence) gga(f *fields) {
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

// gns: time, lat, N/S, lon, E/W, one mode letter for each constellation,
// satellites, HDOP, height, geoid, age, station, navigational status.
func (s *Sentence) gns(f *fields) {
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

// rmc: time, status, lat, N/S, lon, E/W, knots, course, date, magnetic
// variation, E/W, mode, navigational status.
func (s *Sentence) rmc(f *fields) {
	s.TimeOfDayNs = f.timeOfDay()
	s.status(f)
	s.LatDeg = f.coordinate('N', 'S', 90)
	s.LonDeg = f.coordinate('E', 'W', 180)
	s.SpeedMps = f.positive() * mpsPerKnot
	s.CourseDeg = f.angle()
	s.DateNs = f.date()
	f.skip(2)
	s.mode(f)
}

// gll: lat, N/S, lon, E/W, time, status, mode.
func (s *Sentence) gll(f *fields) {
	s.LatDeg = f.coordinate('N', 'S', 90)
	s.LonDeg = f.coordinate('E', 'W', 180)
	s.TimeOfDayNs = f.timeOfDay()
	s.status(f)
	s.mode(f)
}

// status reads A or V.
func (s *Sentence) status(f *fields) {
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

// mode reads the mode letter of NMEA 2.3 and later as a quality. Where it is
// missing, status A says no more than that there is a fix.
func (s *Sentence) mode(f *fields) {
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

// modes is the mode letters of RMC, GLL, VTG and GNS. Of a GNS sentence's
// letters the one of highest rank tells the quality of the fix: one
// constellation without fix does not spoil another's.
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
