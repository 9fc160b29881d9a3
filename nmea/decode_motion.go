// Fields of the sentences that say which way and how fast: VTG, HDT, THS, ROT.

package nmea

const (
	// A knot is 1852 m/h (International System of Units brochure).
	mpsPerKnot = 1852.0 / 3600
	mpsPerKmh  = 1 / 3.6
)

// vtg: true course, T, magnetic course, M, knots, N, km/h, K, mode.
//
// Speed is taken from the knots, unless the km/h have more decimals.
func (s *Sentence) vtg(f *fields) {
	s.CourseDeg = f.angle()
	f.unit('T')
	f.skip(1)
	f.unit('M')
	knots := f.number()
	f.unit('N')
	kmh := f.number()
	f.unit('K')
	switch {
	case kmh.given() && (!knots.given() || kmh.decimals > knots.decimals):
		s.SpeedMps = kmh.value() * mpsPerKmh
	case knots.given():
		s.SpeedMps = knots.value() * mpsPerKnot
	}
	s.mode(f)
	// VTG speaks of the movement alone: a fix without speed is a fix.
	s.Quality, s.HasQuality = NoFix, false
	if s.Status == StatusVoid {
		s.SpeedMps, s.CourseDeg = nan, nan
	}
}

// hdt: heading, T.
func (s *Sentence) hdt(f *fields) {
	s.HeadingDeg = f.angle()
	f.unit('T')
}

// ths: heading, mode: A autonomous, E estimated, M manual, S simulator, V not
// valid.
func (s *Sentence) ths(f *fields) {
	s.HeadingDeg = f.angle()
	switch f.letter() {
	case 0, 'A', 'E', 'M', 'S':
		s.Status = StatusValid
	case 'V':
		s.Status = StatusVoid
		s.HeadingDeg = nan
	default:
		f.bad = true
	}
}

// rot: degrees per minute, negative to port, status.
func (s *Sentence) rot(f *fields) {
	s.YawRateDegPerS = f.float() / 60
	s.status(f)
	if s.Status == StatusVoid {
		s.YawRateDegPerS = nan
	}
}
