// This file writes the true drive as a table, to compare the receiver with.

package receiver

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// truthHeader names the columns of WriteTruth: the tractor's turning point.
const truthHeader = "time,east_m,north_m,lat_deg,lon_deg,heading_deg,tool_heading_deg,speed_mps,yaw_rate_deg_s\n"

// WriteTruth writes the true poses of track as CSV with a header line: at the
// epochs of a receiver with rateHz, or, if rateHz is 0, the poses of track
// themselves.
func WriteTruth(w io.Writer, track motion.Track, plane *geodesy.Plane, rateHz float64) error {
	out := bufio.NewWriterSize(w, 1<<16)
	out.WriteString(truthHeader) // bufio keeps the first error for Flush
	var buf []byte
	row := func(p *motion.Pose) {
		lat, lon := plane.ToGeodetic(p.EastM, p.NorthM)
		buf = time.Unix(0, p.TimeNs).UTC().AppendFormat(buf[:0], time.RFC3339Nano)
		for _, c := range [...]struct {
			v        float64
			decimals int
		}{
			{p.EastM, 5}, {p.NorthM, 5}, {lat, 10}, {lon, 10},
			{degrees(p.HeadingRad), 6}, {degrees(p.ToolHeadingRad), 6},
			{p.SpeedMps, 6}, {p.YawRateRadPerS * 180 / math.Pi, 6},
		} {
			buf = append(buf, ',')
			buf = strconv.AppendFloat(buf, c.v, 'f', c.decimals, 64)
		}
		out.Write(append(buf, '\n'))
	}
	switch {
	case rateHz == 0:
		for i := range track {
			row(&track[i])
		}
	case len(track) == 0:
	case !(rateHz >= minRateHz && rateHz <= maxRateHz):
		return fmt.Errorf("rate %g Hz; expected %g to %g, or 0 for every pose", rateHz, minRateHz, maxRateHz)
	default:
		cursor := 0
		times := newTimes(track[0].TimeNs, rateHz)
		for ns := times.next(); ns <= track[len(track)-1].TimeNs; ns = times.next() {
			p := track.At(ns, &cursor)
			row(&p)
		}
	}
	return out.Flush()
}
