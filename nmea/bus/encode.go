// This file writes a fix as the frames in which a receiver sends it by NMEA 2000,
// the inverse of Parse. A number that a fix does not have is sent as not
// available. The priorities are those of canboat's samples.

package bus

import (
	"encoding/binary"
	"math"

	"go.einride.tech/can"

	"liftbench/nmea"
)

func frame(priority uint32, p PGN, source uint8, data []byte) can.Frame {
	f := can.Frame{ID: priority<<26 | uint32(p)<<8 | uint32(source), Length: uint8(len(data)), IsExtended: true}
	copy(f.Data[:], data)
	return f
}

// integer returns v·perUnit rounded, or notAvailable where v is NaN or too
// large.
func integer(v, perUnit float64, notAvailable int64) int64 {
	r := math.Round(v * perUnit)
	if !(math.Abs(r) < float64(notAvailable)-1) {
		return notAvailable
	}
	return int64(r)
}

// PositionFrame returns the fix's place, PGN 129025: 1e-7°, 11 mm.
func PositionFrame(f *nmea.Fix, source uint8) can.Frame {
	lat, lon := f.LatDeg, f.LonDeg
	if !f.HasPosition() {
		lat, lon = nan, nan
	}
	var b [8]byte
	binary.LittleEndian.PutUint32(b[:], uint32(integer(lat, 1e7, math.MaxInt32)))
	binary.LittleEndian.PutUint32(b[4:], uint32(integer(lon, 1e7, math.MaxInt32)))
	return frame(2, Position, source, b[:])
}

// MotionFrame returns the fix's course, from true north, and speed, PGN 129026:
// 1e-4 rad and 0.01 m/s. sid, 0 to 252, is the same in all messages of an
// instant.
func MotionFrame(f *nmea.Fix, source, sid uint8) can.Frame {
	b := [8]byte{0: sid, 1: 0xFC, 6: 0xFF, 7: 0xFF}
	binary.LittleEndian.PutUint16(b[2:], uint16(integer(f.CourseDeg, math.Pi/180*1e4, math.MaxUint16)))
	binary.LittleEndian.PutUint16(b[4:], uint16(integer(f.SpeedMps, 100, math.MaxUint16)))
	return frame(2, Motion, source, b[:])
}

// TimeFrame returns the fix's time, PGN 126992: 0.1 ms.
func TimeFrame(f *nmea.Fix, source, sid uint8) can.Frame {
	b := [8]byte{0: sid, 1: 0xF0} // GPS
	putTime(b[2:], f)
	return frame(3, SystemTime, source, b[:])
}

// putTime puts days since 1970 and 0.1 ms of the day into six bytes.
func putTime(b []byte, f *nmea.Fix) {
	day, ofDay := uint16(math.MaxUint16), uint32(math.MaxUint32)
	if f.Dated {
		inDay := nmea.TimeOfDayNs(f.TimeNs)
		day, ofDay = uint16((f.TimeNs-inDay)/nsPerDay), uint32(inDay/100_000)
	}
	binary.LittleEndian.PutUint16(b, day)
	binary.LittleEndian.PutUint32(b[2:], ofDay)
}

// AppendEpoch appends what a receiver sends at each epoch: place and motion.
func AppendEpoch(frames []can.Frame, f *nmea.Fix, source, sid uint8) []can.Frame {
	return append(frames, PositionFrame(f, source), MotionFrame(f, source, sid))
}

// GNSSFrames is the number of frames of a message of AppendGNSS.
const GNSSFrames = 7

// AppendGNSS appends the frames of the whole fix, PGN 129029: time, place to
// 1e-16°, height, quality, satellites. sequence counts the sender's messages;
// its low three bits are sent.
func AppendGNSS(frames []can.Frame, f *nmea.Fix, source, sid, sequence uint8) []can.Frame {
	var b [43]byte
	b[0] = sid
	putTime(b[1:], f)
	lat, lon := f.LatDeg, f.LonDeg
	if !f.HasPosition() {
		lat, lon = nan, nan
	}
	binary.LittleEndian.PutUint64(b[7:], uint64(integer64(lat)))
	binary.LittleEndian.PutUint64(b[15:], uint64(integer64(lon)))
	height := int64(math.MaxInt64)
	if h := f.HeightM; math.Abs(h) < 1e6 {
		height = int64(math.Round(h * 1e6))
	}
	binary.LittleEndian.PutUint64(b[23:], uint64(height))
	b[31] = method(f.Quality) << 4
	b[32] = 0xFC
	b[33] = min(f.Satellites, 252)
	binary.LittleEndian.PutUint16(b[34:], uint16(integer(float64(f.HDOP), 100, math.MaxInt16)))
	binary.LittleEndian.PutUint16(b[36:], math.MaxInt16) // PDOP: a fix has none
	binary.LittleEndian.PutUint32(b[38:], uint32(integer(f.GeoidM, 100, math.MaxInt32)))
	b[42] = 0 // reference stations

	first := [8]byte{0: sequence << 5, 1: byte(len(b))}
	copy(first[2:], b[:6])
	frames = append(frames, frame(3, GNSS, source, first[:]))
	for i := byte(1); i < GNSSFrames; i++ {
		next := [8]byte{sequence<<5 | i, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}
		copy(next[1:], b[6+7*(int(i)-1):])
		frames = append(frames, frame(3, GNSS, source, next[:]))
	}
	return frames
}

// integer64 returns degrees in units of 1e-16.
func integer64(deg float64) int64 {
	if !(math.Abs(deg) <= 180) {
		return math.MaxInt64
	}
	return int64(math.Round(deg * 1e16))
}

// method is the inverse of Message.setMethod.
func method(q nmea.Quality) uint8 {
	switch q {
	case nmea.Autonomous:
		return 1
	case nmea.Differential:
		return 2
	case nmea.PPS:
		return 3
	case nmea.RTKFixed:
		return 4
	case nmea.RTKFloat:
		return 5
	case nmea.Estimated:
		return 6
	case nmea.ManualInput:
		return 7
	case nmea.Simulator:
		return 8
	}
	return 0
}
