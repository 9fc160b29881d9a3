// This file reads captures of SocketCAN: pcap and pcapng (the drafts of the
// IETF's opsawg working group, draft-ietf-opsawg-pcap and -pcapng) of link type
// 227, LINKTYPE_CAN_SOCKETCAN: identifier and flags as u32, big-endian, u8 length,
// u8 flags of CAN FD, two bytes, and the data.

package trace

import (
	"encoding/binary"
	"fmt"
	"math/bits"

	"go.einride.tech/can"
)

const (
	linkCAN  = 227
	linkPDUs = 252 // LINKTYPE_WIRESHARK_UPPER_PDU
)

// packetState is what captures carry from packet to packet.
type packetState struct {
	order      binary.ByteOrder
	nano       bool // pcap: fractions are nanoseconds
	interfaces []packetInterface
	foreign    uint32 // a link type that was met and is not CAN, less 1<<31
}

// packetInterface is an interface of pcapng.
type packetInterface struct {
	link      uint16
	channel   uint8
	binary    bool  // times are in 2^-exponent s, else in 10^-exponent s
	exponent  uint8 // of the unit of times
	offsetSec int64
}

// pcapMagic returns the byte order of a pcap file and whether its times have
// nanoseconds.
func pcapMagic(b []byte) (order binary.ByteOrder, nano, ok bool) {
	if len(b) < 4 {
		return nil, false, false
	}
	switch binary.BigEndian.Uint32(b) {
	case 0xA1B2C3D4:
		return binary.BigEndian, false, true
	case 0xA1B23C4D:
		return binary.BigEndian, true, true
	case 0xD4C3B2A1:
		return binary.LittleEndian, false, true
	case 0x4D3CB2A1:
		return binary.LittleEndian, true, true
	}
	return nil, false, false
}

// refuse ends a capture that holds no frames of CAN.
func (s *Scanner) refuse(link uint32) bool {
	if link == linkPDUs {
		return s.fail(fmt.Errorf("%w: %s of link type 252: Wireshark has turned another trace into packets of its own, without the frames as they were; give the trace that it was made of, or a capture of the CAN interface (link type 227)", ErrForm, s.form))
	}
	return s.fail(fmt.Errorf("%w: %s of link type %d; expected 227, a capture of a CAN interface", ErrForm, s.form, link))
}

func (s *Scanner) openPcap() bool {
	if !s.need(24) {
		return s.cutShort("inside its header")
	}
	h := s.buf[s.pos:s.end]
	p := &s.packet
	p.order, p.nano, _ = pcapMagic(h)
	s.clock = UTC
	if link := p.order.Uint32(h[20:]) & 0xFFFF; link != linkCAN {
		return s.refuse(link)
	}
	s.pos += 24
	s.channel([]byte("0"))
	return true
}

func (s *Scanner) nextPcap() bool {
	p := &s.packet
	for {
		if s.end-s.pos < 16 && !s.need(16) {
			return s.endOfPackets()
		}
		h := s.buf[s.pos:s.end]
		seconds, fraction, length := p.order.Uint32(h), p.order.Uint32(h[4:]), p.order.Uint32(h[8:])
		if length > mostRecordBytes-16 {
			return s.fail(fmt.Errorf("%w: pcap: a packet of %d bytes at byte %d; the file is damaged there, and the frames up to there were read", ErrIncomplete, length, s.at()))
		}
		if !s.need(16 + int(length)) {
			return s.cutShort("inside a packet")
		}
		if !p.nano {
			fraction = uint32(min(uint64(fraction)*1000, 1<<32-1))
		}
		packet := s.buf[s.pos+16 : s.pos+16+int(length)]
		offset := s.at()
		s.pos += 16 + int(length)
		if s.framePacket(packet, offset) {
			s.frame.TimeNs = int64(seconds)*1e9 + round(int64(fraction))
			s.counts.Frames++
			return true
		}
	}
}

// endOfPackets ends a capture whose next record has no whole header.
func (s *Scanner) endOfPackets() bool {
	if s.end > s.pos || s.source.err != nil {
		return s.cutShort("inside the header of a packet")
	}
	s.next = ended
	if s.counts.Frames == 0 && s.packet.foreign > 0 {
		return s.refuse(s.packet.foreign &^ (1 << 31))
	}
	return false
}

// framePacket reads a packet of link type 227 and reports whether it is a data
// or remote frame. It counts what is not.
func (s *Scanner) framePacket(b []byte, offset int64) bool {
	if len(b) < 8 {
		s.malformed(offset, "a packet is too short for a CAN frame", nil)
		return false
	}
	id := binary.BigEndian.Uint32(b)
	length := b[4]
	switch {
	case id&flagError != 0:
		s.counts.Errors++
		return false
	case b[5]&0x04 != 0 || len(b) >= 72 || b[4]&0x80 != 0: // FD by its flag or its size; XL
		s.counts.FD++
		return false
	}
	f := can.Frame{ID: id & can.MaxExtendedID, IsExtended: id&flagExtended != 0, IsRemote: id&flagRemote != 0, Length: length}
	if length > 8 || !f.IsExtended && f.ID > can.MaxID || !f.IsRemote && len(b) < 8+int(length) {
		s.malformed(offset, "a packet is no CAN frame: length or identifier too large", nil)
		return false
	}
	if !f.IsRemote {
		copy(f.Data[:length], b[8:])
	}
	s.frame.Frame = f
	return true
}

// The blocks of pcapng that matter.
const (
	blockSection   = 0x0A0D0D0A
	blockInterface = 1
	blockSimple    = 3
	blockPacket    = 6
)

const mostInterfaces = 256

func (s *Scanner) nextPcapng() bool {
	p := &s.packet
	for {
		if s.end-s.pos < 12 && !s.need(12) {
			return s.endOfPackets()
		}
		offset := s.at()
		h := s.buf[s.pos:s.end]
		if binary.BigEndian.Uint32(h) == blockSection {
			switch binary.BigEndian.Uint32(h[8:]) {
			case 0x1A2B3C4D:
				p.order = binary.BigEndian
			case 0x4D3C2B1A:
				p.order = binary.LittleEndian
			default:
				return s.fail(fmt.Errorf("%w: pcapng: a section without byte order at byte %d", ErrForm, offset))
			}
			p.interfaces = p.interfaces[:0]
		}
		kind, length := p.order.Uint32(h), p.order.Uint32(h[4:])
		if length < 12 || length > mostRecordBytes {
			return s.fail(fmt.Errorf("%w: pcapng: a block of %d bytes at byte %d; the file is damaged there, and the frames up to there were read", ErrIncomplete, length, offset))
		}
		if !s.need(int(length)) {
			return s.cutShort("inside a block")
		}
		body := s.buf[s.pos+8 : s.pos+int(length)-4]
		s.pos += int(length)
		switch kind {
		case blockInterface:
			if !s.interfacePcapng(body) {
				return false
			}
		case blockPacket:
			if s.packetPcapng(body, offset) {
				s.counts.Frames++
				return true
			}
		case blockSimple:
			s.malformed(offset, "a packet without a time was left out", nil)
		}
	}
}

// interfacePcapng reads an interface description. It returns false where the
// trace is refused for it.
func (s *Scanner) interfacePcapng(b []byte) bool {
	p := &s.packet
	if len(b) < 8 || len(p.interfaces) == mostInterfaces {
		s.malformed(s.at(), "an interface that cannot be read, or one too many, was left out", nil)
		return true
	}
	i := packetInterface{link: p.order.Uint16(b), exponent: 6}
	if i.link == linkPDUs {
		return s.refuse(linkPDUs)
	}
	name := fmt.Appendf(nil, "%d", len(p.interfaces))
	for b = b[8:]; len(b) >= 4; {
		code, n := p.order.Uint16(b), int(p.order.Uint16(b[2:]))
		if code == 0 || 4+n > len(b) {
			break
		}
		value := b[4 : 4+n]
		switch {
		case code == 2 && n > 0:
			name = value
		case code == 9 && n == 1:
			i.binary, i.exponent = value[0]&0x80 != 0, value[0]&0x7F
		case code == 14 && n == 8:
			i.offsetSec = int64(p.order.Uint64(value))
		}
		b = b[min(len(b), 4+(n+3)&^3):]
	}
	if i.link == linkCAN {
		s.channel(name)
		i.channel = s.frame.Channel
	}
	p.interfaces = append(p.interfaces, i)
	return true
}

func (s *Scanner) packetPcapng(b []byte, offset int64) bool {
	p := &s.packet
	if len(b) < 20 {
		s.malformed(offset, "a packet's block is too short", nil)
		return false
	}
	n, length := p.order.Uint32(b), p.order.Uint32(b[12:])
	if int64(n) >= int64(len(p.interfaces)) || int64(length) > int64(len(b)-20) {
		s.malformed(offset, "a packet of an unknown interface, or longer than its block", nil)
		return false
	}
	i := &p.interfaces[n]
	if i.link != linkCAN {
		s.counts.Other++
		p.foreign = 1<<31 | uint32(i.link)
		return false
	}
	ns, ok := i.timeNs(uint64(p.order.Uint32(b[4:]))<<32 | uint64(p.order.Uint32(b[8:])))
	if !ok {
		s.malformed(offset, "a packet's time is too large", nil)
		return false
	}
	if !s.framePacket(b[20:20+length], offset) {
		return false
	}
	s.frame.TimeNs, s.frame.Channel = round(ns), i.channel
	return true
}

// timeNs returns a time of the interface in nanoseconds since 1970, and whether
// it is one that they can hold.
func (i *packetInterface) timeNs(t uint64) (int64, bool) {
	var ns uint64
	switch {
	case i.binary:
		hi, lo := bits.Mul64(t, 1e9)
		if i.exponent > 63 || hi>>i.exponent != 0 {
			return 0, false
		}
		ns = lo >> i.exponent
		if i.exponent > 0 {
			ns |= hi << (64 - i.exponent)
		}
	case i.exponent <= 9:
		scale := uint64(1)
		for range 9 - i.exponent {
			scale *= 10
		}
		hi, lo := bits.Mul64(t, scale)
		if hi != 0 {
			return 0, false
		}
		ns = lo
	default:
		for e := i.exponent; e > 9; e-- {
			t /= 10
		}
		ns = t
	}
	const most = 9e9 // seconds, in the year 2255
	if ns > most*1e9 || i.offsetSec > most || i.offsetSec < -most {
		return 0, false
	}
	total := i.offsetSec + int64(ns/1e9)
	if total > most || total < 0 {
		return 0, false
	}
	return total*1e9 + int64(ns%1e9), true
}
