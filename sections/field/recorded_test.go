// A headland cut from a boundary that was recorded point by point, 40 000 of them.

package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// recordedBoundary is a field of 2.2 by 1.4 km with a border that waves, recorded every
// 14 cm with an error of 2 cm, as GeoJSON.
func recordedBoundary(points int) string {
	rng := rand.New(rand.NewPCG(7, 7))
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[`)
	first := ""
	for i := range points {
		a := 2 * math.Pi * float64(i) / float64(points)
		r := 1 + 0.03*math.Sin(9*a) + 0.01*math.Sin(41*a)
		x, y := 1100*r*math.Cos(a)+0.02*rng.NormFloat64(), 700*r*math.Sin(a)+0.02*rng.NormFloat64()
		point := fmt.Sprintf("[%.9f,%.9f]", 11+x/74_500, 48+y/111_130)
		if i == 0 {
			first = point
		}
		b.WriteString(point + ",")
	}
	b.WriteString(first + "]]}}]}")
	return b.String()
}

// How long the cutting takes, and how long at most from one question whether it is still
// wanted to the next: whoever leaves waits no longer. Each way from one to the next is two
// calls of the library, which cannot be interrupted.
func BenchmarkHeadlandOf40000Points(b *testing.B) {
	text, degrees := recordedBoundary(40_000), 30.0
	longest := time.Duration(0)
	for b.Loop() {
		last := time.Now()
		stop := func() error {
			now := time.Now()
			longest, last = max(longest, now.Sub(last)), now
			return nil
		}
		if _, err := Read(strings.NewReader(text), "recorded.geojson", Options{HeadlandM: 18, RowBearingDeg: &degrees, Stop: stop}); err != nil {
			b.Fatal(err)
		}
		_ = stop()
	}
	b.ReportMetric(longest.Seconds(), "s/longest")
}
