// One epoch in the making: what its sentences say is laid over one another by
// precedence, so that their order does not matter.

package epoch

import (
	"math"

	"liftbench/nmea"
)

// epoch is a Fix in the making.
type epoch struct {
	fix         nmea.Fix
	timeOfDayNs int64
	position    bool // has a GGA, GNS, RMC or GLL
	void        bool // one of them says V
	repeated    bool // a sentence came twice
	hasDate     bool // a sentence gave a date that may be used
	seen        seenSet

	// Precedence of what the fields hold so far; 0 is nothing.
	positionRank, qualityRank, detailRank uint8
	speedRank, courseRank                 uint8
	headingRank, yawRateRank              uint8
}

// Precedence, where several sentences say the same.
const (
	rankLead    = 1 // an untimed sentence that came before the timed ones
	rankUntimed = 2 // one that came after
	rankGLL     = 3
	rankRMC     = 4
	rankGNS     = 5
	rankGGA     = 6
)

func (e *epoch) reset() {
	*e = epoch{fix: nmea.EmptyFix()}
}

// sameTime reports whether s is of this epoch, by time of day: a date may be
// wrong.
func (e *epoch) sameTime(s *nmea.Sentence) bool { return e.timeOfDayNs == s.TimeOfDayNs }

// saysDate reports whether s gives a date that may be used: a receiver without
// a fix gives one that it made up.
func saysDate(s *nmea.Sentence) bool { return s.HasDate() && s.Status != nmea.StatusVoid }

// bearsPosition reports whether s is of a type that says where.
func bearsPosition(s *nmea.Sentence) bool {
	return s.Type == nmea.GGA || s.Type == nmea.GNS || s.Type == nmea.RMC || s.Type == nmea.GLL
}

// merge lays s over the epoch; lead says that it came before the epoch's first
// timed sentence.
func (e *epoch) merge(s *nmea.Sentence, lead bool) {
	e.seen.add(s)
	if e.fix.ArrivalNs == 0 {
		e.fix.ArrivalNs = s.ArrivalNs
	}
	untimed := uint8(rankUntimed)
	if lead {
		untimed = rankLead
	}
	f := &e.fix
	switch s.Type {
	case nmea.GGA:
		e.mergePosition(s, rankGGA)
		e.mergeDetail(s, rankGGA)
	case nmea.GNS:
		e.mergePosition(s, rankGNS)
		e.mergeDetail(s, rankGNS)
	case nmea.RMC:
		e.mergePosition(s, rankRMC)
		raise(&f.SpeedMps, &e.speedRank, s.SpeedMps, rankRMC)
		raise(&f.CourseDeg, &e.courseRank, s.CourseDeg, rankRMC)
	case nmea.GLL:
		e.mergePosition(s, rankGLL)
	case nmea.VTG:
		raise(&f.SpeedMps, &e.speedRank, s.SpeedMps, untimed)
		raise(&f.CourseDeg, &e.courseRank, s.CourseDeg, untimed)
	case nmea.HDT, nmea.THS:
		raise(&f.HeadingDeg, &e.headingRank, s.HeadingDeg, untimed)
	case nmea.ROT:
		raise(&f.YawRateDegPerS, &e.yawRateRank, s.YawRateDegPerS, untimed)
	case nmea.GSA:
		lay(&f.HDOP, s.HDOP, false)
	case nmea.GST:
		lay(&f.SigmaEastM, s.SigmaEastM, false)
		lay(&f.SigmaNorthM, s.SigmaNorthM, false)
		lay(&f.SigmaHeightM, s.SigmaHeightM, false)
	}
}

func (e *epoch) mergePosition(s *nmea.Sentence, rank uint8) {
	e.position = true
	e.void = e.void || s.Status == nmea.StatusVoid
	if rank > e.positionRank && !math.IsNaN(s.LatDeg) && !math.IsNaN(s.LonDeg) {
		e.fix.LatDeg, e.fix.LonDeg = s.LatDeg, s.LonDeg
		e.positionRank = rank
	}
	if rank > e.qualityRank && s.HasQuality {
		e.fix.Quality = s.Quality
		e.qualityRank = rank
	}
}

// mergeDetail takes what GGA and GNS say beside the position. Two receivers of
// one pair (GPGGA and GLGGA) count their own satellites; the larger number is
// the safer one to give for both.
func (e *epoch) mergeDetail(s *nmea.Sentence, rank uint8) {
	f := &e.fix
	over := rank > e.detailRank
	e.detailRank = max(e.detailRank, rank)
	if over && !math.IsNaN(s.HeightM) || math.IsNaN(f.HeightM) {
		f.HeightM = s.HeightM
	}
	if over && !math.IsNaN(s.GeoidM) || math.IsNaN(f.GeoidM) {
		f.GeoidM = s.GeoidM
	}
	lay(&f.HDOP, s.HDOP, over)
	lay(&f.AgeS, s.AgeS, over)
	f.Satellites = max(f.Satellites, s.Satellites)
}

// raise sets dst if v is a number of higher rank than what dst holds.
func raise(dst *float64, rank *uint8, v float64, r uint8) {
	if r > *rank && !math.IsNaN(v) {
		*dst, *rank = v, r
	}
}

// lay sets dst if v is a number, and dst is none or v goes over it.
func lay(dst *float32, v float64, over bool) {
	if !math.IsNaN(v) && (over || *dst != *dst) {
		*dst = float32(v)
	}
}

// seenSet is the kinds of sentence, by type and talker, of an epoch. Receivers
// send fewer kinds than it has room for; further ones are not noted.
type seenSet struct {
	kinds [12]uint32
	n     uint8
}

func kind(s *nmea.Sentence) uint32 {
	return uint32(s.Type)<<16 | uint32(s.Talker[0])<<8 | uint32(s.Talker[1])
}

func (x *seenSet) has(s *nmea.Sentence) bool {
	k := kind(s)
	for _, have := range x.kinds[:x.n] {
		if have == k {
			return true
		}
	}
	return false
}

func (x *seenSet) hasType(t nmea.Type) bool {
	for _, have := range x.kinds[:x.n] {
		if nmea.Type(have>>16) == t {
			return true
		}
	}
	return false
}

func (x *seenSet) add(s *nmea.Sentence) {
	if int(x.n) < len(x.kinds) && !x.has(s) {
		x.kinds[x.n] = kind(s)
		x.n++
	}
}

// signature is a number that two sets with the same kinds share, whatever
// their order. GSA and ZDA are left out: they come at a slower rate, and an
// epoch does not wait for them.
func (x *seenSet) signature() (sum uint32) {
	for _, k := range x.kinds[:x.n] {
		if t := nmea.Type(k >> 16); t != nmea.GSA && t != nmea.ZDA {
			// 2³²/φ, so that sums of different kinds differ (from memory:
			// Knuth, The Art of Computer Programming, 6.4).
			k *= 2654435769
			sum += k ^ k>>15
		}
	}
	return sum
}
