// The judge: zones found on fields drawn at random, against the truth.

package zones_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/nmea"
	"liftbench/replay/zones"
	"liftbench/sim/campaign"
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

// tally is how the borders of one kind of field came out.
type tally struct {
	fields, refused    int
	body, bodyHits     int // points of the true border of the body, and how many the found one is near
	found, foundHits   int // the same from the found one to the true one
	outer, outerHits   int
	rows, rowsHits     int // directions of straight rows, within 0.5°
	curved, curvedHits int
	inside             int     // points of body and boundary within the interval that was stated
	worstRows          float64 // degrees
}

// judge finds the zones of one field and adds how they lie to the truth.
func (sum *tally) judge(t *testing.T, seed int, kind string, rc receiver, given bool) {
	rng := rand.New(rand.NewPCG(uint64(seed), 77))
	tr := drawField(rng, kind)
	fixes, _ := record(rng, plan(rng, tr), rc, 0)
	var rec zones.Recording
	for k := range fixes {
		rec.Add(&fixes[k])
	}
	name := fmt.Sprintf("%d %s, %d rounds of %g m", seed, kind, tr.rounds, tr.widthM)
	day := rec.Day()
	if given {
		day.WidthM = tr.widthM
	}
	sum.fields++
	f, err := zones.Find(day)
	if err != nil {
		sum.refused++
		t.Logf("%s: %v", name, err)
		return
	}
	toPlane := func(r orb.Ring) orb.Ring {
		var out orb.Ring
		for _, p := range r {
			e, n := rec.Plane.ToPlane(geodetic(p))
			out = append(out, orb.Point{e, n})
		}
		return out
	}
	var trueBody, foundBody, foundOuter []orb.Ring
	for _, b := range tr.blocks {
		trueBody = append(trueBody, toPlane(b.ring))
	}
	if tr.hole != nil {
		trueBody = append(trueBody, toPlane(tr.holeBody))
	}
	trueOuter := []orb.Ring{toPlane(tr.outline)}
	sureM := 0.0
	for _, b := range f.Blocks {
		for _, p := range b.Polygons {
			foundBody = append(foundBody, p...)
		}
		sureM = b.SureM
	}
	for _, p := range f.Boundary {
		foundOuter = append(foundOuter, p...)
	}
	near := func(line, others []orb.Ring, hits, of *int) string {
		if len(others) == 0 || len(line) == 0 {
			others = []orb.Ring{{{1e9, 1e9}, {1e9, 1e9}}}
		}
		share, worst, count := within(line, others, 0.3)
		if count > 0 {
			*hits += int(math.Round(share * float64(count)))
			*of += count
		}
		return fmt.Sprintf("%.3f (worst %.1f m)", share, worst)
	}
	text := "body " + near(trueBody, foundBody, &sum.bodyHits, &sum.body)
	if share, _, _ := within(trueBody, foundBody, 0.3); share < 0.97 {
		var driven orb.LineString
		for i := range rec.Samples {
			driven = append(driven, orb.Point{rec.Samples[i].EastM, rec.Samples[i].NorthM})
		}
		draw(t, fmt.Sprintf("%s-%g-%t-%d", kind, rc.rateHz, given, seed), []orb.LineString{driven}, lines(append(trueBody, trueOuter...)), lines(append(foundBody, foundOuter...)), f.Lines)
	}
	text += ", found " + near(foundBody, trueBody, &sum.foundHits, &sum.found)
	text += ", boundary " + near(trueOuter, foundOuter, &sum.outerHits, &sum.outer)
	if len(foundBody) > 0 {
		share, _, count := within(trueBody, foundBody, sureM)
		sum.inside += int(math.Round(share * float64(count)))
	}
	for _, tb := range tr.blocks {
		best, curved := math.Inf(1), false
		for _, b := range f.Blocks {
			curved = curved || b.Curved
			if !b.Curved {
				best = min(best, math.Abs(math.Remainder(tb.bearing-b.BearingRad, math.Pi))/radPerDeg)
			}
		}
		if tb.curved {
			sum.curved++
			if curved {
				sum.curvedHits++
			}
			continue
		}
		sum.rows++
		sum.worstRows = max(sum.worstRows, best)
		if best <= 0.5 {
			sum.rowsHits++
		}
	}
	t.Logf("%-40s rounds %d, %s, blocks %d, sure %.2f m %v", name, f.Rounds, text, len(f.Blocks), sureM, f.Unsure)
}

// Fields drawn at random, 5 of them, 20 with LIFTBENCH_CAMPAIGN=ci and 200 with full; the way over them driven and recorded: how near the
// found borders lie to the true ones, by points every 2 m.
func TestFields(t *testing.T) {
	count := campaign.Times(5, 20, 200)
	kinds := []string{"plain", "concave", "curved", "two directions", "hole"}
	rtk1 := rtk10
	rtk1.rateHz = 1
	float := rtk10
	float.quality, float.wanderM, float.whiteM = nmea.RTKFloat, 0.2, 0.02
	for _, tc := range []struct {
		name  string
		rc    receiver
		count int
		given bool
		least float64 // share of the borders' points within 0.3 m
	}{
		{"RTK 10 Hz", rtk10, count, true, 0.95},
		{"RTK 10 Hz, width not told", rtk10, count / 2, false, 0.95},
		{"RTK 1 Hz", rtk1, count / 2, true, 0.95},
		{"float 10 Hz", float, count / 2, true, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var all tally
			for k, kind := range kinds {
				t.Run(kind, func(t *testing.T) {
					var sum tally
					for i := k; i < tc.count; i += len(kinds) {
						sum.judge(t, i, kind, tc.rc, tc.given)
					}
					t.Logf("| %s | %s |", kind, &sum)
					all.add(&sum)
				})
			}
			t.Logf("| all | %s |", &all)
			for name, share := range map[string]float64{
				"body": float64(all.bodyHits) / float64(all.body), "found body": float64(all.foundHits) / float64(all.found),
				"boundary": float64(all.outerHits) / float64(all.outer),
			} {
				if share < tc.least {
					t.Errorf("%s: %.1f %% of the border within 0.3 m; want %.0f %%", name, 100*share, 100*tc.least)
				}
			}
			if all.rows-all.rowsHits > max(1, all.rows*3/100) {
				t.Errorf("%d of %d row directions within 0.5°", all.rowsHits, all.rows)
			}
		})
	}
}

func (sum *tally) add(o *tally) {
	sum.fields, sum.refused = sum.fields+o.fields, sum.refused+o.refused
	sum.body, sum.bodyHits = sum.body+o.body, sum.bodyHits+o.bodyHits
	sum.found, sum.foundHits = sum.found+o.found, sum.foundHits+o.foundHits
	sum.outer, sum.outerHits = sum.outer+o.outer, sum.outerHits+o.outerHits
	sum.rows, sum.rowsHits = sum.rows+o.rows, sum.rowsHits+o.rowsHits
	sum.curved, sum.curvedHits = sum.curved+o.curved, sum.curvedHits+o.curvedHits
	sum.inside += o.inside
	sum.worstRows = max(sum.worstRows, o.worstRows)
}

func (sum *tally) String() string {
	share := func(a, b int) string { return fmt.Sprintf("%.1f %%", 100*float64(a)/float64(max(b, 1))) }
	return fmt.Sprintf("%d | %d | %s | %s | %s | %s | %d of %d, worst %.2f° | %d of %d", sum.fields, sum.refused, share(sum.bodyHits, sum.body), share(sum.foundHits, sum.found),
		share(sum.outerHits, sum.outer), share(sum.inside, sum.body), sum.rowsHits, sum.rows, sum.worstRows, sum.curvedHits, sum.curved)
}
