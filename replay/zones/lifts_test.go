// Fields without headland rounds: what lifts and drops alone tell.

package zones_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/replay/zones"
)

var lie = regexp.MustCompile(`Lifts lie ([0-9.]+) ± ([0-9.]+) m farther (out|in) than drops`)

// No round is driven; lifts and drops are late by one time. The ends of the body lie
// within the interval that is stated, whatever the time: it moves lifts and drops to
// opposite sides. How far they lie apart is twice the way driven in that time.
func TestLiftsAlone(t *testing.T) {
	inside, points, told, days := 0, 0, 0, 0
	for seed := range 16 {
		rng := rand.New(rand.NewPCG(uint64(seed), 78))
		tr := drawField(rng, "plain")
		d := &driver{rng: rng, t: tr, radiusM: 5 + 2*rng.Float64()}
		d.blocks()
		lateS := 0.5 * float64(seed%3)
		fixes, changes := record(rng, d.way, rtk10, lateS)
		var rec zones.Recording
		for k := range fixes {
			rec.Add(&fixes[k])
		}
		day := rec.Day()
		day.WidthM, day.Changes = tr.widthM, changes
		f, err := zones.Find(day)
		if err != nil {
			t.Errorf("field %d: %v", seed, err)
			continue
		}
		if f.Rounds != 0 || len(f.Blocks) != 1 || f.Blocks[0].From != zones.Lifts {
			t.Errorf("field %d: %d rounds, %d blocks", seed, f.Rounds, len(f.Blocks))
			continue
		}
		days++
		block := &f.Blocks[0]
		var found []orb.LineString
		for _, p := range block.Polygons {
			for _, r := range p {
				found = append(found, orb.LineString(r))
			}
		}
		ring := tr.blocks[0].ring
		for i := 1; i < len(ring); i++ {
			// The ends of the rows, not the sides: across them by more than 45°.
			if slant := math.Abs(math.Remainder(bearingOf(ring[i-1], ring[i])-tr.blocks[0].bearing, math.Pi)); slant < math.Pi/4 {
				continue
			}
			length := dist(ring[i-1], ring[i])
			for m := tr.widthM; m < length-tr.widthM; m += 2 {
				e, n := rec.Plane.ToPlane(geodetic(toward(ring[i-1], ring[i], m)))
				near := math.Inf(1)
				for _, l := range found {
					near = min(near, planar.DistanceFrom(l, orb.Point{e, n}))
				}
				points++
				if near <= block.SureM {
					inside++
				}
			}
		}
		if block.SureM > 5 {
			var way orb.LineString
			for i := range rec.Samples {
				way = append(way, orb.Point{rec.Samples[i].EastM, rec.Samples[i].NorthM})
			}
			var edge orb.LineString
			for _, p := range ring {
				e, n := rec.Plane.ToPlane(geodetic(p))
				edge = append(edge, orb.Point{e, n})
			}
			draw(t, fmt.Sprintf("lifts-%d", seed), []orb.LineString{way}, []orb.LineString{edge}, found, nil)
		}
		// The sentence, against how far the machine went in that time.
		at := func(timeNs int64) orb.Point {
			i := sort.Search(len(fixes)-1, func(i int) bool { return fixes[i+1].TimeNs > timeNs })
			e, n := rec.Plane.ToPlane(fixes[i].LatDeg, fixes[i].LonDeg)
			return orb.Point{e, n}
		}
		var lifts, drops []float64
		for _, c := range changes {
			m := dist(at(c.TimeNs), at(c.TimeNs-int64(lateS*1e9)))
			if c.On {
				drops = append(drops, m)
			} else {
				lifts = append(lifts, m)
			}
		}
		slices.Sort(lifts)
		slices.Sort(drops)
		want := lifts[len(lifts)/2] + drops[len(drops)/2]
		text := strings.Join(f.Sentences(), " ")
		said := "nothing"
		if m := lie.FindStringSubmatch(text); m != nil {
			by, _ := strconv.ParseFloat(m[1], 64)
			sure, _ := strconv.ParseFloat(m[2], 64)
			if m[3] == "in" {
				by = -by
			}
			said = fmt.Sprintf("%.1f ± %.1f m", by, sure)
			if math.Abs(by-want) <= sure+0.3 { // rounded, and the receiver speaks every 0.3 m
				told++
			}
		} else if strings.Contains(text, "Lifts and drops lie equally far out") && lateS == 0 {
			told++
		}
		t.Logf("field %d, late by %.1f s: lifts farther out by %s, true %.2f m; border ± %.2f m", seed, lateS, said, want, block.SureM)
	}
	t.Logf("%d of %d points of the rows' ends within the interval; %d of %d days with the right distance from drops to lifts", inside, points, told, days)
	if inside*100 < 92*points {
		t.Errorf("%d of %d points of the rows' ends lie within the interval; want 92 %% at least", inside, points)
	}
	if told*10 < 9*days {
		t.Errorf("%d of %d days with the right distance from drops to lifts", told, days)
	}
}
