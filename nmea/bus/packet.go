// This file joins the frames of a fast packet (NMEA 2000): byte 0 holds a sequence
// number of three bits and the number of the frame, frame 0 the total length and
// six bytes, each other frame seven.

package bus

import "go.einride.tech/can"

const (
	mostPacketBytes = 6 + 31*7
	// mostOpen is how many packets may be open at once: as many as messages that
	// several senders interleave.
	mostOpen = 32
)

// openPacket is a packet whose frames are still coming.
type openPacket struct {
	key     uint32 // node and sequence; 0 is free
	age     uint32 // when its last frame came, in frames
	next    uint8  // number of the frame that must come
	length  uint8
	firstNs int64 // time of frame 0
	data    [mostPacketBytes]byte
}

// packets joins fast packets of one parameter group. A packet with a gap, or one
// that starts anew, is dropped and counted. It does not allocate.
type packets struct {
	open    [mostOpen]openPacket
	used    int
	frames  uint32
	dropped int64
}

// add takes a frame and returns the packet that it completes, with the time of
// its first frame. The data are valid until the next call.
func (p *packets) add(n Node, timeNs int64, f *can.Frame) (data []byte, firstNs int64, ok bool) {
	if f.Length < 2 {
		return nil, 0, false
	}
	number := f.Data[0] & 0x1F
	key := 1 + uint32(n.index())<<3 | uint32(f.Data[0]>>5) | 1<<20
	p.frames++
	var o *openPacket
	oldest := 0
	for i := range p.open[:p.used] {
		if p.open[i].key == key {
			o = &p.open[i]
			break
		}
		if p.frames-p.open[i].age > p.frames-p.open[oldest].age {
			oldest = i
		}
	}
	if number == 0 {
		if o != nil {
			if o.next > 0 {
				p.dropped++
			}
		} else if p.used < mostOpen {
			o = &p.open[p.used]
			p.used++
		} else {
			o = &p.open[oldest]
			if o.next > 0 {
				p.dropped++
			}
		}
		o.key, o.age, o.next, o.length, o.firstNs = key, p.frames, 1, f.Data[1], timeNs
		if o.length > mostPacketBytes {
			o.next = 0
			p.dropped++
			return nil, 0, false
		}
		copy(o.data[:6], f.Data[2:f.Length])
		if f.Length < 8 && int(f.Length)-2 < int(o.length) {
			o.next = 0
			p.dropped++
			return nil, 0, false
		}
		if o.length <= 6 {
			o.next = 0
			return o.data[:o.length], timeNs, true
		}
		return nil, 0, false
	}
	if o == nil || o.next == 0 {
		return nil, 0, false
	}
	at := 6 + 7*(int(number)-1)
	if number != o.next || at >= int(o.length) || int(f.Length) < 1+min(7, int(o.length)-at) {
		o.next = 0
		p.dropped++
		return nil, 0, false
	}
	copy(o.data[at:], f.Data[1:f.Length])
	o.next++
	o.age = p.frames
	if at+7 < int(o.length) {
		return nil, 0, false
	}
	o.next = 0
	return o.data[:o.length], o.firstNs, true
}
