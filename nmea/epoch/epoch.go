// One epoch while it is assembled. Each sentence sets only what no sentence of
// higher rank has set, so that their order does not matter.

package epoch

import (
	"math"

	"liftbench/nmea"
)

// epoch is a fix while its sentences are added.
type epoch struct {
	fix         nmea.Fix
	timeOfDayNs int64
	position    bool // has a GGA, GNS, RMC or GLL
	void        bool // one of them has status V
	repeated    bool // a sentence came twice
	hasDate     bool // a sentence gave a date, not one of status V
	kinds       kindSet

	// Rank of the sentence that set each field of fix; 0 where none has.
	positionRank, qualityRank, detailRank uint8
	speedRank, courseRank                 uint8
	headingRank, yawRateRank              uint8
}

// Ranks of sentences that give the same quantity. The higher rank counts.
const (
	rankLeading = 1 // a sentence without a time, before the epoch's first that has one
	rankUntimed = 2 // a sentence without a time, after it
	rankGLL     = 3
	rankRMC     = 4
	rankGNS     = 5
	rankGGA     = 6
)

func (e *epoch) reset() {
	*e = epoch{fix: nmea.EmptyFix()}
}

// sameTime reports whether s has this epoch's time of day. Dates are not
// compared, because one may be wrong.
func (e *epoch) sameTime(s *nmea.Sentence) bool { return e.timeOfDayNs == s.TimeOfDayNs }

// hasGoodDate reports whether s has a date, and not status V: a receiver without
// a fix may send any date.
func hasGoodDate(s *nmea.Sentence) bool { return s.HasDate() && s.Status != nmea.StatusVoid }

// givesPosition reports whether s is of a type that gives a position.
func givesPosition(s *nmea.Sentence) bool {
	return s.Type == nmea.GGA || s.Type == nmea.GNS || s.Type == nmea.RMC || s.Type == nmea.GLL
}

// merge adds s to the epoch. A leading sentence has no time and came before the
// epoch's first sentence that has one.
func (e *epoch) merge(s *nmea.Sentence, leading bool) {
	e.kinds.add(s)
	if e.fix.ArrivalNs == 0 {
		e.fix.ArrivalNs = s.ArrivalNs
	}
	untimed := uint8(rankUntimed)
	if leading {
		untimed = rankLeading
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
		setRanked(&f.SpeedMps, &e.speedRank, s.SpeedMps, rankRMC)
		setRanked(&f.CourseDeg, &e.courseRank, s.CourseDeg, rankRMC)
	case nmea.GLL:
		e.mergePosition(s, rankGLL)
	case nmea.VTG:
		setRanked(&f.SpeedMps, &e.speedRank, s.SpeedMps, untimed)
		setRanked(&f.CourseDeg, &e.courseRank, s.CourseDeg, untimed)
	case nmea.HDT, nmea.THS:
		setRanked(&f.HeadingDeg, &e.headingRank, s.HeadingDeg, untimed)
	case nmea.ROT:
		setRanked(&f.YawRateDegPerS, &e.yawRateRank, s.YawRateDegPerS, untimed)
	case nmea.GSA:
		set(&f.HDOP, s.HDOP, false)
	case nmea.GST:
		set(&f.SigmaEastM, s.SigmaEastM, false)
		set(&f.SigmaNorthM, s.SigmaNorthM, false)
		set(&f.SigmaHeightM, s.SigmaHeightM, false)
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

// mergeDetail takes from GGA and GNS all but the position and the quality. GPGGA
// and GLGGA of one receiver may each count the satellites of their own
// constellation; the larger number is used.
func (e *epoch) mergeDetail(s *nmea.Sentence, rank uint8) {
	f := &e.fix
	outranks := rank > e.detailRank
	e.detailRank = max(e.detailRank, rank)
	if outranks && !math.IsNaN(s.HeightM) || math.IsNaN(f.HeightM) {
		f.HeightM = s.HeightM
	}
	if outranks && !math.IsNaN(s.GeoidM) || math.IsNaN(f.GeoidM) {
		f.GeoidM = s.GeoidM
	}
	set(&f.HDOP, s.HDOP, outranks)
	set(&f.AgeS, s.AgeS, outranks)
	f.Satellites = max(f.Satellites, s.Satellites)
}

// setRanked sets dst to v, and dstRank to rank, if rank is higher than dstRank.
// It does nothing if v is NaN.
func setRanked(dst *float64, dstRank *uint8, v float64, rank uint8) {
	if rank > *dstRank && !math.IsNaN(v) {
		*dst, *dstRank = v, rank
	}
}

// set sets dst to v if dst is NaN, or in any case with overwrite. It does
// nothing if v is NaN.
func set(dst *float32, v float64, overwrite bool) {
	if !math.IsNaN(v) && (overwrite || *dst != *dst) {
		*dst = float32(v)
	}
}

// kindSet is the set of kinds of sentences of an epoch. A kind is a type and a
// talker, such as RMC from GN. Receivers send fewer kinds than it has room for;
// it ignores further ones.
type kindSet struct {
	kinds [12]uint32
	n     uint8
}

func kind(s *nmea.Sentence) uint32 {
	return uint32(s.Type)<<16 | uint32(s.Talker[0])<<8 | uint32(s.Talker[1])
}

func (x *kindSet) has(s *nmea.Sentence) bool {
	k := kind(s)
	for _, have := range x.kinds[:x.n] {
		if have == k {
			return true
		}
	}
	return false
}

func (x *kindSet) hasType(t nmea.Type) bool {
	for _, have := range x.kinds[:x.n] {
		if nmea.Type(have>>16) == t {
			return true
		}
	}
	return false
}

func (x *kindSet) add(s *nmea.Sentence) {
	if int(x.n) < len(x.kinds) && !x.has(s) {
		x.kinds[x.n] = kind(s)
		x.n++
	}
}

// signature returns a number that is the same for two sets of the same kinds, in
// any order. GSA and ZDA are left out: receivers send them more rarely, and an
// epoch does not wait for them.
func (x *kindSet) signature() (sum uint32) {
	for _, k := range x.kinds[:x.n] {
		if t := nmea.Type(k >> 16); t != nmea.GSA && t != nmea.ZDA {
			// Mixed, so that sums of different kinds differ (from memory:
			// Appleby, MurmurHash3, fmix32).
			k = (k ^ k>>16) * 0x85EBCA6B
			k = (k ^ k>>13) * 0xC2B2AE35
			sum += k ^ k>>16
		}
	}
	return sum
}
