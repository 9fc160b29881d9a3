// The judge: zones found on fields drawn at random, against the truth.

package zones_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/nmea"
	"liftbench/replay/zones"
)

var rtk10 = receiver{rateHz: 10, quality: nmea.RTKFixed, whiteM: 0.004, wanderM: 0.0143, steeredM: 0.03}

// within returns the share of points of a line, one every 2 m, that lie within m
// of some other line.
func within(line []orb.Ring, others []orb.Ring, m float64) (share float64, worst float64, count int) {
	hits := 0
	for _, r := range line {
		for i := 1; i < len(r); i++ {
			n := int(dist(r[i-1], r[i])/2) + 1
			for k := range n {
				p := r[i-1]
				if dist(r[i-1], r[i]) > 0 {
					p = toward(r[i-1], r[i], dist(r[i-1], r[i])*(float64(k)+0.5)/float64(n))
				}
				near := math.Inf(1)
				for _, o := range others {
					near = min(near, planar.DistanceFrom(orb.LineString(o), p))
				}
				worst = max(worst, near)
				count++
				if near <= m {
					hits++
				}
			}
		}
	}
	return float64(hits) / float64(count), worst, count
}

func TestFields(t *testing.T) {
	kinds := []string{"plain", "concave", "curved", "two directions", "hole"}
	count := 25
	if os.Getenv("LIFTBENCH_CAMPAIGN") == "full" {
		count = 200
	}
	for i := range count {
		if o := os.Getenv("ONLY"); o != "" && o != fmt.Sprint(i) {
			continue
		}
		kind := kinds[i%len(kinds)]
		rng := rand.New(rand.NewPCG(uint64(i), 77))
		tr := drawField(rng, kind)
		way := plan(rng, tr)
		fixes, _ := record(rng, way, rtk10, 0)
		var rec zones.Recording
		for k := range fixes {
			rec.Add(&fixes[k])
		}
		name := fmt.Sprintf("%d %s, %d rounds of %g m", i, kind, tr.rounds, tr.widthM)
		day := rec.Day()
		day.WidthM = tr.widthM
		f, err := zones.Find(day)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		toPlane := func(r orb.Ring) orb.Ring {
			var out orb.Ring
			for _, p := range r {
				e, n := rec.Plane.ToPlane(geodetic(p))
				out = append(out, orb.Point{e, n})
			}
			return out
		}
		var trueBody, foundBody, trueOuter, foundOuter []orb.Ring
		for _, b := range tr.blocks {
			trueBody = append(trueBody, toPlane(b.ring))
		}
		if tr.hole != nil {
			trueBody = append(trueBody, toPlane(tr.holeBody))
		}
		trueOuter = append(trueOuter, toPlane(tr.outline))
		for _, b := range f.Blocks {
			for _, p := range b.Polygons {
				foundBody = append(foundBody, p...)
			}
		}
		for _, p := range f.Boundary {
			foundOuter = append(foundOuter, p...)
		}
		a, worstA, _ := within(trueBody, foundBody, 0.3)
		b, worstB, _ := within(foundBody, trueBody, 0.3)
		c, worstC, _ := within(trueOuter, foundOuter, 0.3)
		off := ""
		for k, bl := range f.Blocks {
			best := math.Inf(1)
			for _, tb := range tr.blocks {
				best = min(best, math.Abs(math.Remainder(tb.bearing-bl.BearingRad, math.Pi))/radPerDeg)
			}
			off += fmt.Sprintf(" %d:%.2f°/%d", k, best, len(bl.Passes))
			if bl.Curved {
				off += "c"
			}
		}
		t.Logf("%-40s rounds %d spacing %.3f±%.3f body %.3f %.3f (%.1f %.1f) outer %.3f (%.1f) rows%s %v", name, f.Rounds, f.SpacingM, f.SpacingSD, a, b, worstA, worstB, c, worstC, off, f.Unsure)
	}
}
