// Package bus decodes what receivers say on a CAN bus, by NMEA 2000 and by
// J1939 and ISO 11783-7, and puts it into the same nmea.Fix as package epoch
// makes of NMEA 0183.
package bus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	"liftbench/nmea"
)

// PGN is a parameter group number (ISO 11783-3): what a frame or a message of
// several frames holds.
type PGN uint32

// The parameter groups that are decoded.
const (
	Position      PGN = 129025 // NMEA 2000: position, rapid update
	Motion        PGN = 129026 // NMEA 2000: course and speed over ground, rapid update
	GNSS          PGN = 129029 // NMEA 2000: GNSS position data, several frames
	SystemTime    PGN = 126992 // NMEA 2000: system time
	TimeAndDate   PGN = 129033 // NMEA 2000: time and date
	Heading       PGN = 127250 // NMEA 2000: vessel heading
	RateOfTurn    PGN = 127251 // NMEA 2000: rate of turn
	Variation     PGN = 127258 // NMEA 2000: magnetic variation
	VehiclePlace  PGN = 65267  // J1939-71: vehicle position
	VehicleMotion PGN = 65256  // J1939-71: vehicle direction and speed
	VehicleTime   PGN = 65254  // J1939-71: time and date
	Claim         PGN = 60928  // ISO 11783-5: address claimed, the sender's NAME
)

// The subjects by index, for tables.
const (
	position = iota
	motion
	gnss
	systemTime
	timeAndDate
	heading
	rateOfTurn
	variation
	vehiclePlace
	vehicleMotion
	vehicleTime
	claim
	subjects
)

var pgns = [subjects]PGN{Position, Motion, GNSS, SystemTime, TimeAndDate, Heading, RateOfTurn, Variation, VehiclePlace, VehicleMotion, VehicleTime, Claim}

// subjectOf returns the index of a parameter group, subjects if it is none of
// ours.
func subjectOf(p PGN) int {
	switch p {
	case Position:
		return position
	case Motion:
		return motion
	case GNSS:
		return gnss
	case SystemTime:
		return systemTime
	case TimeAndDate:
		return timeAndDate
	case Heading:
		return heading
	case RateOfTurn:
		return rateOfTurn
	case Variation:
		return variation
	case VehiclePlace:
		return vehiclePlace
	case VehicleMotion:
		return vehicleMotion
	case VehicleTime:
		return vehicleTime
	case Claim:
		return claim
	}
	return subjects
}

// Identify splits an identifier of 29 bits (ISO 11783-3): the parameter group,
// the sender's address, and the destination, 255 for all.
func Identify(id uint32) (p PGN, source, destination uint8) {
	p = PGN(id >> 8 & 0x3FFFF)
	source, destination = uint8(id), 0xFF
	if p>>8&0xFF < 240 {
		destination = uint8(p)
		p &^= 0xFF
	}
	return p, source, destination
}

// Message is what one message says. A floating-point field that it does not
// give, or gives as not available, is NaN; such an integer is 0.
type Message struct {
	PGN PGN

	LatDeg, LonDeg float64 // WGS 84
	HeightM        float64 // as the sender gives it: NMEA 2000 means the ellipsoid, a receiver whose place is known sent mean sea level
	GeoidM         float64 // mean sea level above the ellipsoid
	SpeedMps       float64
	CourseDeg      float64 // clockwise from north, [0, 360): true, or magnetic where Magnetic says so
	HeadingDeg     float64 // the same
	VariationDeg   float64 // magnetic north east of true north
	YawRateDegPerS float64 // positive when turning right
	HDOP           float32

	UTCNs      int64 // nanoseconds since 1970
	Name       uint64
	Satellites uint8
	Quality    nmea.Quality
	HasQuality bool
	HasUTC     bool
	Magnetic   bool // CourseDeg or HeadingDeg counts from magnetic north
}

// HasPosition reports whether latitude and longitude are there.
func (m *Message) HasPosition() bool { return !math.IsNaN(m.LatDeg) && !math.IsNaN(m.LonDeg) }

// ErrUnknown is returned by Parse for a parameter group that it does not decode,
// ErrShort for data that end too soon.
var (
	ErrUnknown = errors.New("a parameter group that is not decoded")
	ErrShort   = errors.New("a message that is too short")
)

var nan = math.NaN()

var emptyMessage = Message{
	LatDeg: nan, LonDeg: nan, HeightM: nan, GeoidM: nan, SpeedMps: nan, CourseDeg: nan, HeadingDeg: nan,
	VariationDeg: nan, YawRateDegPerS: nan, HDOP: float32(nan),
}

// shortest is how many bytes each message needs.
var shortest = [subjects]int{8, 6, 43, 8, 6, 8, 5, 6, 8, 8, 6, 8}

// Parse decodes the data of a message into m. The layouts of NMEA 2000 follow
// the public description in canboat, those of J1939-71 its scales and offsets
// from memory; tests compare NMEA 2000 with canboatjs. Numbers are little-endian;
// the largest value of a field means not available, the one below it an error.
func Parse(p PGN, data []byte, m *Message) error {
	subject := subjectOf(p)
	if subject == subjects {
		return ErrUnknown
	}
	if len(data) < shortest[subject] {
		return ErrShort
	}
	*m = emptyMessage
	m.PGN = p
	m.parse(subject, data)
	return nil
}

// parse decodes the data of a subject, which are long enough, into a message
// that is empty.
func (m *Message) parse(subject int, data []byte) {
	switch subject {
	case position:
		m.setPosition(degrees32(data), degrees32(data[4:]))
	case motion:
		m.Magnetic = data[1]&3 == 1
		m.CourseDeg = angle(data[2:])
		m.SpeedMps = unsigned16(data[4:], 100)
		if data[1]&3 > 1 {
			m.CourseDeg = nan // error, or no reference
		}
	case gnss:
		m.setDate(days(data[1:]), tenthMilliseconds(data[3:]))
		m.setPosition(degrees64(data[7:]), degrees64(data[15:]))
		if h := int64(binary.LittleEndian.Uint64(data[23:])); h < math.MaxInt64-1 {
			m.HeightM = float64(h) / 1e6
		}
		m.setMethod(data[31] >> 4)
		if n := data[33]; n < 0xFE {
			m.Satellites = n
		}
		m.HDOP = float32(signed16(data[34:], 100))
		m.GeoidM = signed32(data[38:], 100)
		if m.Quality == nmea.NoFix && m.HasQuality {
			m.LatDeg, m.LonDeg = nan, nan
		}
	case systemTime:
		// A crystal (5 and above) is no source of UTC.
		if data[1]&0x0F < 5 {
			m.setDate(days(data[2:]), tenthMilliseconds(data[4:]))
		}
	case timeAndDate:
		m.setDate(days(data), tenthMilliseconds(data[2:]))
	case heading:
		m.HeadingDeg = angle(data[1:])
		m.VariationDeg = signedAngle(data[5:])
		m.Magnetic = data[7]&3 == 1
		if data[7]&3 > 1 {
			m.HeadingDeg = nan
		}
		if d := signedAngle(data[3:]); m.Magnetic && !math.IsNaN(d) {
			m.HeadingDeg = wrap(m.HeadingDeg + d)
		}
	case rateOfTurn:
		if r := int32(binary.LittleEndian.Uint32(data[1:])); r < math.MaxInt32-1 {
			m.YawRateDegPerS = float64(r) * 3.125e-8 * 180 / math.Pi
		}
	case variation:
		m.VariationDeg = signedAngle(data[4:])
	case vehiclePlace:
		m.setPosition(vehicleDegrees(data), vehicleDegrees(data[4:]))
	case vehicleMotion:
		if c := binary.LittleEndian.Uint16(data); c <= mostVehicle16 {
			m.CourseDeg = wrap(float64(float64(c) / 128))
		}
		if v := binary.LittleEndian.Uint16(data[2:]); v <= mostVehicle16 {
			m.SpeedMps = float64(v) / 256 / 3.6
		}
		if h := binary.LittleEndian.Uint16(data[6:]); h <= mostVehicle16 {
			m.HeightM = float64(float64(h)*0.125) - 2500
		}
	case vehicleTime:
		m.setVehicleTime(data)
	case claim:
		m.Name = binary.LittleEndian.Uint64(data)
	}
}

// mostVehicle16 is the largest value of two bytes in J1939-71; those above are
// errors and not available. Of four bytes it is 0xFAFFFFFF.
const mostVehicle16 = 0xFAFF

func (m *Message) setPosition(lat, lon float64) {
	if lat >= -90 && lat <= 90 && lon >= -180 && lon <= 180 {
		m.LatDeg, m.LonDeg = lat, lon
	}
}

// setMethod takes the method of a GNSS position.
func (m *Message) setMethod(method uint8) {
	m.HasQuality = true
	switch method {
	case 1:
		m.Quality = nmea.Autonomous
	case 2:
		m.Quality = nmea.Differential
	case 3: // precise GNSS
		m.Quality = nmea.PPS
	case 4:
		m.Quality = nmea.RTKFixed
	case 5:
		m.Quality = nmea.RTKFloat
	case 6:
		m.Quality = nmea.Estimated
	case 7:
		m.Quality = nmea.ManualInput
	case 8:
		m.Quality = nmea.Simulator
	case 0, 14: // none, error
		m.Quality = nmea.NoFix
	default:
		m.HasQuality = false
	}
}

const nsPerDay = 86400 * 1e9

// days returns days since 1970, -1 if not available.
func days(b []byte) int64 {
	d := binary.LittleEndian.Uint16(b)
	if d >= 0xFFFE {
		return -1
	}
	return int64(d)
}

// tenthMilliseconds returns a time of day in nanoseconds, -1 if not available.
func tenthMilliseconds(b []byte) int64 {
	t := binary.LittleEndian.Uint32(b)
	if t > 86401*10000 { // a leap second lasts to 86401 s
		return -1
	}
	return int64(t) * 100_000
}

func (m *Message) setDate(days, ofDayNs int64) {
	if days > 0 && ofDayNs >= 0 {
		m.UTCNs, m.HasUTC = days*nsPerDay+ofDayNs, true
	}
}

// setVehicleTime takes quarters of a second, minute, hour, month, quarters of a
// day, year since 1985.
func (m *Message) setVehicleTime(b []byte) {
	s, min, h, month, day, year := int64(b[0]), int64(b[1]), int64(b[2]), int64(b[3]), (int64(b[4])-1)/4+1, int64(b[5])+1985
	if s >= 240 || min >= 60 || h >= 24 || month < 1 || month > 12 || b[4] < 1 || day > 31 || b[5] > 250 {
		return
	}
	at := time.Date(int(year), time.Month(month), int(day), int(h), int(min), 0, 0, time.UTC)
	if at.Day() == int(day) { // else the month has no such day
		m.UTCNs, m.HasUTC = at.UnixNano()+s*250e6, true
	}
}

func degrees32(b []byte) float64 {
	v := int32(binary.LittleEndian.Uint32(b))
	if v >= math.MaxInt32-1 {
		return nan
	}
	return float64(v) / 1e7
}

func degrees64(b []byte) float64 {
	v := int64(binary.LittleEndian.Uint64(b))
	if v >= math.MaxInt64-1 {
		return nan
	}
	return float64(v) / 1e16
}

func vehicleDegrees(b []byte) float64 {
	v := binary.LittleEndian.Uint32(b)
	if v > 0xFAFFFFFF {
		return nan
	}
	return float64(int64(v)-2_100_000_000) / 1e7
}

// angle returns 1e-4 rad in degrees, in [0, 360).
func angle(b []byte) float64 {
	v := binary.LittleEndian.Uint16(b)
	if v >= 0xFFFE {
		return nan
	}
	return wrap(float64(v) / 1e4 * 180 / math.Pi)
}

func signedAngle(b []byte) float64 { return signed16(b, 1e4) * 180 / math.Pi }

func wrap(deg float64) float64 {
	switch {
	case deg >= 360:
		return deg - 360
	case deg < 0:
		return deg + 360
	}
	return deg
}

func unsigned16(b []byte, perUnit float64) float64 {
	v := binary.LittleEndian.Uint16(b)
	if v >= 0xFFFE {
		return nan
	}
	return float64(v) / perUnit
}

func signed16(b []byte, perUnit float64) float64 {
	v := int16(binary.LittleEndian.Uint16(b))
	if v >= math.MaxInt16-1 {
		return nan
	}
	return float64(v) / perUnit
}

func signed32(b []byte, perUnit float64) float64 {
	v := int32(binary.LittleEndian.Uint32(b))
	if v >= math.MaxInt32-1 {
		return nan
	}
	return float64(v) / perUnit
}

// Node is a sender: the bus it sends on, counted from 0 as in the trace, and its
// address there.
type Node struct{ Channel, Address uint8 }

// String returns the address, with the bus if it is not the first.
func (n Node) String() string {
	if n.Channel > 0 {
		return fmt.Sprintf("address %d of bus %d", n.Address, n.Channel+1)
	}
	return fmt.Sprintf("address %d", n.Address)
}

// mostChannels is how many buses are told apart; frames of any beyond count to
// the last.
const mostChannels = 16

func nodeOf(channel, address uint8) Node { return Node{min(channel, mostChannels-1), address} }

func (n Node) index() int { return int(n.Channel)<<8 | int(n.Address) }
