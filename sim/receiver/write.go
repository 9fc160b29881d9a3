// This file writes a drive as NMEA 0183 sentences. Memory does not grow with the
// length of the drive.

package receiver

import (
	"bufio"
	"io"
	"strconv"
	"time"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// Write writes the sentences of a receiver on a machine that drives along track.
// With a Params.Stamp in front of each sentence, a reader can measure the age
// of each fix on arrival.
func Write(w io.Writer, track motion.Track, plane *geodesy.Plane, machine *sections.Machine, p Params) error {
	r, err := New(track, plane, machine, p)
	if err != nil {
		return err
	}
	out := bufio.NewWriterSize(w, 1<<16)
	var buf []byte
	for r.Scan() {
		buf = r.Append(buf[:0])
		if _, err := out.Write(buf); err != nil {
			return err
		}
	}
	return out.Flush()
}

// writable are the sentences that Params.Sentences may contain.
var writable = [...]nmea.Type{nmea.GGA, nmea.RMC, nmea.VTG, nmea.HDT, nmea.ZDA, nmea.GST}

// Append adds the current epoch's sentences to buf and returns it.
func (r *Receiver) Append(buf []byte) []byte {
	for _, t := range r.p.Sentences {
		buf = r.appendStamp(buf)
		switch t {
		case nmea.GGA:
			buf = nmea.AppendGGADigits(buf, &r.fix, r.p.MinuteDigits)
		case nmea.RMC:
			buf = nmea.AppendRMCDigits(buf, &r.fix, r.p.MinuteDigits)
		case nmea.VTG:
			buf = nmea.AppendVTG(buf, &r.fix)
		case nmea.HDT:
			buf = nmea.AppendHDT(buf, &r.fix)
		case nmea.ZDA:
			buf = nmea.AppendZDA(buf, &r.fix)
		case nmea.GST:
			buf = nmea.AppendGST(buf, &r.fix)
		}
	}
	return buf
}

func (r *Receiver) appendStamp(buf []byte) []byte {
	switch ns := r.fix.ArrivalNs; r.p.Stamp {
	case UnixStamp:
		buf = strconv.AppendInt(buf, (ns-mod(ns, 1e9))/1e9, 10)
		buf = append(buf, '.')
		fraction := mod(ns, 1e9)
		for unit := int64(1e8); unit > 0; unit /= 10 {
			buf = append(buf, byte('0'+fraction/unit%10))
		}
		buf = append(buf, ' ')
	case RFC3339Stamp:
		buf = time.Unix(0, ns).UTC().AppendFormat(buf, "2006-01-02T15:04:05.000000000Z07:00")
		buf = append(buf, ' ')
	}
	return buf
}
