// Where a day was late: which section, which way, which place.

package report

import (
	"math"
	"slices"
	"time"

	"liftbench/cmd/liftbench/wording"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// A median of fewer transitions than this is not mentioned.
const fewestForMedian = 3

// alikeM: medians that differ by no more are called alike. It is twice what RTK
// repeats to (1.43 cm: Carballido et al. 2014, Appl. Eng. Agric.
// 30(3):361-366).
const alikeM = 0.03

// where says in a sentence each which sections, directions and places were
// furthest off, lifts and drops apart.
func (r *dayPage) where() []string {
	t := r.t
	var out []string
	if r.Whole {
		out = append(out, t.Text("where.whole"))
	} else {
		if s := r.whichSection(false); s != "" {
			out = append(out, t.Text("where.lifts.section", "what", s))
		}
		if s := r.whichSection(true); s != "" {
			out = append(out, t.Text("where.drops.section", "what", s))
		}
	}
	if s := r.whichWay(false); s != "" {
		out = append(out, t.Text("where.lifts.way", "what", s))
	}
	if s := r.whichWay(true); s != "" {
		out = append(out, t.Text("where.drops.way", "what", s))
	}
	if s := r.worst(); s != "" {
		out = append(out, s)
	}
	return out
}

// whichSection compares the sections' median place errors of one move.
func (r *dayPage) whichSection(on bool) string {
	of := make([][]float64, len(r.Score.Sections))
	for i := range r.Events {
		if e := &r.Events[i]; e.Kind == score.Paired && e.On == on {
			of[e.Section] = append(of[e.Section], e.PlaceErrorM)
		}
	}
	var medians []float64
	var numbers []int
	for i, errors := range of {
		if len(errors) >= fewestForMedian {
			medians, numbers = append(medians, sample.Median(errors)), append(numbers, i+1)
		}
	}
	if len(medians) < 2 {
		return ""
	}
	if lo, hi := slices.Min(medians), slices.Max(medians); hi-lo <= alikeM {
		return r.alike(lo, hi)
	}
	usual := sample.Median(slices.Clone(medians))
	furthest := 0
	for i, m := range medians {
		if math.Abs(m-usual) > math.Abs(medians[furthest]-usual) {
			furthest = i
		}
	}
	off := r.lengths(true, medians[furthest], usual)
	return r.t.Text("where.section", "section", numbers[furthest], "off", off[0], "usual", off[1])
}

// alike says that medians are.
func (r *dayPage) alike(lowM, highM float64) string {
	off := r.lengths(true, lowM, highM)
	return r.t.Text("where.alike", "low", off[0], "high", off[1])
}

// points are the eight points of the compass.
func (r *dayPage) points() [8]string {
	t := r.t
	return [...]string{t.Text("point.north"), t.Text("point.north-east"), t.Text("point.east"), t.Text("point.south-east"),
		t.Text("point.south"), t.Text("point.south-west"), t.Text("point.west"), t.Text("point.north-west")}
}

// whichWay compares the directions of travel, for one move.
func (r *dayPage) whichWay(on bool) string {
	points := r.points()
	var of [len(points)][]float64
	for i := range r.Events {
		if e := &r.Events[i]; e.Kind == score.Paired && e.On == on {
			k := int(math.Round(wording.BearingDeg(e.HeadingRad)/45)) % len(points)
			of[k] = append(of[k], e.PlaceErrorM)
		}
	}
	best, worst := -1, -1
	var m [len(points)]float64
	for k, errors := range of {
		if len(errors) < fewestForMedian {
			continue
		}
		m[k] = sample.Median(errors)
		if best < 0 || m[k] < m[best] {
			best = k
		}
		if worst < 0 || m[k] > m[worst] {
			worst = k
		}
	}
	switch {
	case best == worst:
		return ""
	case m[worst]-m[best] <= max(alikeM, 2*math.Hypot(r.medianSE(of[worst], m[worst]), r.medianSE(of[best], m[best]))):
		return r.alike(m[best], m[worst])
	}
	off := r.lengths(true, m[worst], m[best])
	return r.t.Text("where.way", "worst", points[worst], "late", off[0], "best", points[best], "early", off[1])
}

// medianSE is the standard error of the median of place errors in m, from their median absolute
// deviation, for normal errors. All sections of a crossing share its error.
func (r *dayPage) medianSE(errors []float64, median float64) float64 {
	off := make([]float64, len(errors))
	for i, e := range errors {
		off[i] = math.Abs(e - median)
	}
	crossings := max(1, float64(len(errors))/float64(max(1, len(r.Score.Sections))))
	return 1.4826 * sample.Median(off) * math.Sqrt(math.Pi/2/crossings)
}

// worst describes the transition that was furthest off.
func (r *dayPage) worst() string {
	t := r.t
	var w *score.Event
	for i := range r.Events {
		if e := &r.Events[i]; e.Kind == score.Paired && (w == nil || math.Abs(e.PlaceErrorM) > math.Abs(w.PlaceErrorM)) {
			w = e
		}
	}
	if w == nil {
		return ""
	}
	move := t.Text("worst.lift")
	several, section := len(r.Score.Sections) > 1, int(w.Section)+1
	switch {
	case w.On && several:
		move = t.Text("worst.drop.section", "section", section)
	case w.On:
		move = t.Text("worst.drop")
	case several:
		move = t.Text("worst.lift.section", "section", section)
	}
	lat, lon := r.Field.Plane.ToGeodetic(w.EastM, w.NorthM)
	off := r.lengths(true, w.PlaceErrorM)[0]
	return t.Text("where.worst", "move", move, "time", time.Unix(0, w.IdealNs).UTC().Format("15:04:05"), "off", off, "lat", t.Number(lat, 6), "lon", t.Number(lon, 6))
}
