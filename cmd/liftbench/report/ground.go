// ground.geojson: what became of the ground under each section, for any map
// program (RFC 7946).

package report

import (
	"io"
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
)

// GroundDecimals of a degree: 1e-8 is a millimetre.
const GroundDecimals = 8

// leastStripM2 is the least area of a strip that is drawn. The corners of a
// smaller one would round to a line, which is no polygon. The areas of a run
// count every strip.
const leastStripM2 = 1e-3

// WriteGround writes ground.geojson.
func WriteGround(o *run.Outcome, w io.Writer) error {
	if _, err := io.WriteString(w, "{\"type\": \"FeatureCollection\", \"features\": ["); err != nil {
		return err
	}
	var b []byte
	comma := false
	for i := range o.Score.Strips {
		s := &o.Score.Strips[i]
		if math.Abs(planar.Area(s.Ring)) < leastStripM2 {
			continue
		}
		b = b[:0]
		if comma {
			b = append(b, ',')
		}
		comma = true
		b = append(b, "\n{\"type\": \"Feature\", \"properties\": {\"section\": "...)
		b = strconv.AppendInt(b, int64(s.Section)+1, 10)
		b = append(b, ", \"ground\": \""...)
		b = append(b, s.Ground.String()...)
		b = append(b, "\", \"from\": \""...)
		b = wording.AppendTime(b, s.FromNs)
		b = append(b, "\", \"until\": \""...)
		b = wording.AppendTime(b, s.UntilNs)
		b = append(b, "\"}, \"geometry\": {\"type\": \"Polygon\", \"coordinates\": [["...)
		ring := s.Ring
		if ring.Orientation() == orb.CW {
			// RFC 7946, 3.1.6: exterior rings are counterclockwise.
			ring = slices.Clone(ring)
			ring.Reverse()
		}
		for j, p := range ring {
			if j > 0 {
				b = append(b, ", "...)
			}
			lat, lon := o.Field.Plane.ToGeodetic(p[0], p[1])
			b = append(b, '[')
			b = wording.AppendFixed(b, lon, GroundDecimals)
			b = append(b, ", "...)
			b = wording.AppendFixed(b, lat, GroundDecimals)
			b = append(b, ']')
		}
		b = append(b, "]]}}"...)
		if _, err := w.Write(b); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, "\n]}\n")
	return err
}
