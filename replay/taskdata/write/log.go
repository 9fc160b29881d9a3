package write

import (
	"encoding/binary"
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/replay/taskdata/device"
	"liftbench/sections"
)

const (
	dayMs     = 86_400_000
	epochDays = 3652 // 1980-01-01 since 1970-01-01
)

// ms rounds nanoseconds.
func ms(ns int64) int64 {
	if ns < 0 {
		return -((-ns + 500_000) / 1_000_000)
	}
	return (ns + 500_000) / 1_000_000
}

func (d *Day) changes() [2][]sections.WorkChange {
	return [2][]sections.WorkChange{d.Actual, d.Setpoint}
}

// rows makes the binary rows: one for each fix, and one for each instant at which a state
// changes. That one repeats the last position and its GPS time, as terminals do.
func (d *Day) rows() ([]byte, error) {
	var (
		b       []byte
		words   [2][device.Words]uint32
		written [2][device.Words]bool
		lists   = d.changes()
		fix     nmea.Fix
		k       int
	)
	for h := range words {
		for w := range words[h] {
			words[h][w] = math.MaxUint32 // 11: not installed, not told
		}
	}
	fix.TimeNs = d.Fixes[0].TimeNs
	for k < len(d.Fixes) || len(lists[0]) > 0 || len(lists[1]) > 0 {
		at := int64(math.MaxInt64)
		if k < len(d.Fixes) {
			at = ms(d.Fixes[k].TimeNs)
		}
		for _, list := range lists {
			if len(list) > 0 {
				at = min(at, ms(list[0].TimeNs))
			}
		}
		for ; k < len(d.Fixes) && ms(d.Fixes[k].TimeNs) <= at; k++ {
			fix = d.Fixes[k]
		}
		var told []byte
		columns := 0
		for h := range lists {
			var differ [device.Words]bool
			for ; len(lists[h]) > 0 && ms(lists[h][0].TimeNs) <= at; lists[h] = lists[h][1:] {
				c := lists[h][0]
				w, shift := c.Section/16, 2*(c.Section%16)
				words[h][w] &^= 3 << shift
				if c.On {
					words[h][w] |= 1 << shift
				}
				differ[w] = true
			}
			for w := range d.words() {
				if differ[w] || !written[h][w] && len(d.changes()[h]) > 0 {
					told = binary.LittleEndian.AppendUint32(append(told, byte(2*w+h)), words[h][w])
					written[h][w] = true
					columns++
				}
			}
		}
		var err error
		if b, err = d.row(b, at, &fix); err != nil {
			return nil, err
		}
		b = append(append(b, byte(columns)), told...)
	}
	return b, nil
}

// row appends the time, UTC in ms, and the position.
func (d *Day) row(b []byte, utcMs int64, f *nmea.Fix) ([]byte, error) {
	le := binary.LittleEndian
	at := utcMs - ms(d.OffsetNs)
	days, gps := at/dayMs-epochDays, ms(f.TimeNs)
	if at < 0 || days < 0 || days > math.MaxUint16 || gps/dayMs < epochDays {
		return nil, fmt.Errorf("a row at %s; expected a time from 1980 to 2159", local(at))
	}
	b = le.AppendUint16(le.AppendUint32(b, uint32(at%dayMs)), uint16(days))
	north, east, status := 0.0, 0.0, byte(0)
	if f.HasPosition() {
		north, east, status = f.LatDeg, f.LonDeg, statuses[min(f.Quality, nmea.Simulator)]
	}
	b = le.AppendUint32(b, uint32(int32(math.Round(north*1e7))))
	b = le.AppendUint32(b, uint32(int32(math.Round(east*1e7))))
	up := 0
	if !math.IsNaN(f.HeightM) {
		up = mm(min(max(f.HeightM, -1e5), 1e6))
	}
	b = append(le.AppendUint32(b, uint32(int32(up))), status)
	hdop := uint16(0)
	if f.HDOP > 0 && f.HDOP < 6000 {
		hdop = uint16(math.Round(float64(f.HDOP) * 10))
	}
	satellites := f.Satellites
	if satellites == 0 {
		satellites = 255 // not available
	}
	b = append(le.AppendUint16(b, hdop), satellites)
	return le.AppendUint16(le.AppendUint32(b, uint32(gps%dayMs)), uint16(gps/dayMs-epochDays)), nil
}
