// Sentences that give speed and direction: VTG, HDT, THS, ROT.

package nmea

const (
	// A knot is 1852 m/h (International System of Units brochure).
	mpsPerKnot = 1852.0 / 3600
	mpsPerKmh  = 1 / 3.6
)

// decodeVTG reads true course, T, magnetic course, M, knots, N, km/h, K and mode.
//
// It takes the speed from the knots, or from the km/h if they have more
// decimals.
func (s *Sentence) decodeVTG(f *fields) {
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
	s.decodeMode(f)
	// The mode of VTG concerns the movement. A fix without a speed is still a fix.
	s.Quality, s.HasQuality = NoFix, false
	if s.Status == StatusVoid {
		s.SpeedMps, s.CourseDeg = nan, nan
	}
}

// decodeHDT reads heading and T.
func (s *Sentence) decodeHDT(f *fields) {
	s.HeadingDeg = f.angle()
	f.unit('T')
}

// decodeTHS reads heading and mode: A autonomous, E estimated, M manual, S
// simulator, V not valid.
func (s *Sentence) decodeTHS(f *fields) {
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

// decodeROT reads the rate of turn in degrees per minute, negative to port, and
// the status.
func (s *Sentence) decodeROT(f *fields) {
	s.YawRateDegPerS = f.float() / 60
	s.decodeStatus(f)
	if s.Status == StatusVoid {
		s.YawRateDegPerS = nan
	}
}
