// One epoch as a line: JSON or CSV, the same values under the same names.

package report

import (
	"math"
	"strconv"
	"time"

	"liftbench/nmea"
)

// FixColumns are the columns of both forms, in order.
const FixColumns = "time,arrival,lat,lon,height_m,geoid_m,quality,quality_text,satellites,hdop," +
	"sigma_east_m,sigma_north_m,sigma_height_m,speed_mps,speed_kmh,course_deg,heading_deg,yaw_rate_deg_s,age_s\n"

// AppendFixJSON appends an epoch as one line of JSON.
func AppendFixJSON(b []byte, f *nmea.Fix) []byte {
	b = append(b, `{"time":"`...)
	b = appendFixTime(b, f)
	b = append(b, `","arrival":`...)
	if f.ArrivalNs != 0 {
		b = append(b, '"')
		b = appendInstant(b, f.ArrivalNs)
		b = append(b, '"')
	} else {
		b = append(b, "null"...)
	}
	number := func(key string, x float64, decimals, bits int) {
		b = append(b, key...)
		if math.IsNaN(x) {
			b = append(b, "null"...)
			return
		}
		b = strconv.AppendFloat(b, x, 'f', decimals, bits)
	}
	number(`,"lat":`, f.LatDeg, degreeDecimals, 64)
	number(`,"lon":`, f.LonDeg, degreeDecimals, 64)
	number(`,"height_m":`, f.HeightM, -1, 64)
	number(`,"geoid_m":`, f.GeoidM, -1, 64)
	b = append(b, `,"quality":`...)
	b = strconv.AppendUint(b, uint64(f.Quality), 10)
	b = append(b, `,"quality_text":"`...)
	b = append(b, f.Quality.String()...)
	b = append(b, `","satellites":`...)
	b = strconv.AppendUint(b, uint64(f.Satellites), 10)
	number(`,"hdop":`, float64(f.HDOP), -1, 32)
	number(`,"sigma_east_m":`, float64(f.SigmaEastM), sigmaDecimals, 32)
	number(`,"sigma_north_m":`, float64(f.SigmaNorthM), sigmaDecimals, 32)
	number(`,"sigma_height_m":`, float64(f.SigmaHeightM), sigmaDecimals, 32)
	number(`,"speed_mps":`, f.SpeedMps, speedDecimals, 64)
	number(`,"speed_kmh":`, f.SpeedMps*3.6, speedDecimals, 64)
	number(`,"course_deg":`, f.CourseDeg, angleDecimals, 64)
	number(`,"heading_deg":`, f.HeadingDeg, angleDecimals, 64)
	number(`,"yaw_rate_deg_s":`, f.YawRateDegPerS, angleDecimals, 64)
	number(`,"age_s":`, float64(f.AgeS), -1, 32)
	return append(b, "}\n"...)
}

// AppendFixCSV appends an epoch as one line of CSV.
func AppendFixCSV(b []byte, f *nmea.Fix) []byte {
	b = appendFixTime(b, f)
	b = append(b, ',')
	if f.ArrivalNs != 0 {
		b = appendInstant(b, f.ArrivalNs)
	}
	number := func(x float64, decimals, bits int) {
		b = append(b, ',')
		if !math.IsNaN(x) {
			b = strconv.AppendFloat(b, x, 'f', decimals, bits)
		}
	}
	number(f.LatDeg, degreeDecimals, 64)
	number(f.LonDeg, degreeDecimals, 64)
	number(f.HeightM, -1, 64)
	number(f.GeoidM, -1, 64)
	b = append(b, ',')
	b = strconv.AppendUint(b, uint64(f.Quality), 10)
	b = append(b, ',')
	b = append(b, f.Quality.String()...)
	b = append(b, ',')
	b = strconv.AppendUint(b, uint64(f.Satellites), 10)
	number(float64(f.HDOP), -1, 32)
	number(float64(f.SigmaEastM), sigmaDecimals, 32)
	number(float64(f.SigmaNorthM), sigmaDecimals, 32)
	number(float64(f.SigmaHeightM), sigmaDecimals, 32)
	number(f.SpeedMps, speedDecimals, 64)
	number(f.SpeedMps*3.6, speedDecimals, 64)
	number(f.CourseDeg, angleDecimals, 64)
	number(f.HeadingDeg, angleDecimals, 64)
	number(f.YawRateDegPerS, angleDecimals, 64)
	number(float64(f.AgeS), -1, 32)
	return append(b, '\n')
}

// Decimals of computed values. Values that stand in the log are printed with
// the digits they have there (-1).
const (
	degreeDecimals = 10 // 1e-10 is 0.01 mm: minutes with 8 decimals lose nothing
	speedDecimals  = 4
	angleDecimals  = 4
	sigmaDecimals  = 4
)

// appendFixTime appends the time of an epoch: RFC 3339, or the time of day
// alone where the date is not known.
func appendFixTime(b []byte, f *nmea.Fix) []byte {
	if f.Dated {
		return appendInstant(b, f.TimeNs)
	}
	at := len(b)
	b = appendInstant(b, f.TimeNs)
	const date = len("1970-01-01T")
	b = append(b[:at], b[at+date:]...)
	return b[:len(b)-1] // without Z: no date, no zone to convert
}

// appendInstant appends a time in RFC 3339 with as many decimals as it has.
func appendInstant(b []byte, ns int64) []byte {
	return time.Unix(0, ns).UTC().AppendFormat(b, "2006-01-02T15:04:05.999999999Z")
}
