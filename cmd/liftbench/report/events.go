// events.csv: one line for each lift and drop, for spreadsheets and plots.

package report

import (
	"io"
	"math"
	"strconv"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
)

// eventColumns is the heading. Times are UTC, RFC 3339. Errors are actual minus
// ideal, positive = late. An empty cell: there is no such figure.
const eventColumns = "time,section,move,match,ideal_time,actual_time,time_error_s,place_error_m," +
	"speed_mps,heading_deg,yaw_rate_deg_s,together,lat,lon,east_m,north_m\n"

// WriteEvents writes events.csv.
func WriteEvents(o *run.Outcome, w io.Writer) error {
	if _, err := io.WriteString(w, eventColumns); err != nil {
		return err
	}
	var b []byte
	for i := range o.Score.Events {
		e := &o.Score.Events[i]
		move := "lift"
		if e.On {
			move = "drop"
		}
		lat, lon := o.Field.Plane.ToGeodetic(e.EastM, e.NorthM)
		b = wording.AppendTime(b[:0], e.TimeNs())
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(e.Section)+1, 10)
		b = append(b, ',')
		b = append(b, move...)
		b = append(b, ',')
		b = append(b, e.Kind.String()...)
		b = append(b, ',')
		if e.IdealNs != 0 {
			b = wording.AppendTime(b, e.IdealNs)
		}
		b = append(b, ',')
		if e.ActualNs != 0 {
			b = wording.AppendTime(b, e.ActualNs)
		}
		b = appendCell(b, e.TimeErrorS, 6)
		b = appendCell(b, e.PlaceErrorM, 5)
		b = appendCell(b, e.SpeedMps, 4)
		b = appendCell(b, wording.BearingDeg(e.HeadingRad), 3)
		b = appendCell(b, e.YawRateRadPerS*180/math.Pi, 3)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(e.Together), 10)
		b = appendCell(b, lat, 9)
		b = appendCell(b, lon, 9)
		b = appendCell(b, e.EastM, 4)
		b = appendCell(b, e.NorthM, 4)
		b = append(b, '\n')
		if _, err := w.Write(b); err != nil {
			return err
		}
	}
	return nil
}

// appendCell appends a comma and x with so many decimals, or nothing for NaN.
func appendCell(b []byte, x float64, decimals int) []byte {
	b = append(b, ',')
	if math.IsNaN(x) {
		return b
	}
	return wording.AppendFixed(b, x, decimals)
}
