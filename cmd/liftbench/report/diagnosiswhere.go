// Where a day was late: which section, which way, which place.

package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"liftbench/cmd/liftbench/run"
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
func where(d *run.Diagnosis) []string {
	var out []string
	if d.Whole {
		out = append(out, "One state is recorded for the whole machine: sections cannot be told apart.")
	}
	for _, m := range moveNames {
		if s := whichSection(d, m.on); s != "" && !d.Whole {
			out = append(out, m.name+" by section: "+s)
		}
	}
	for _, m := range moveNames {
		if s := whichWay(d, m.on); s != "" {
			out = append(out, m.name+" by direction: "+s)
		}
	}
	if s := worst(d); s != "" {
		out = append(out, s)
	}
	return out
}

// moveNames are the two ways a section moves.
var moveNames = [...]struct {
	on   bool
	name string
}{{false, "Lifts"}, {true, "Drops"}}

// whichSection compares the sections' median place errors of one move.
func whichSection(d *run.Diagnosis, on bool) string {
	of := make([][]float64, len(d.Score.Sections))
	for i := range d.Events {
		if e := &d.Events[i]; e.Kind == score.Paired && e.On == on {
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
		return fmt.Sprintf("all alike, medians %s to %s cm.", signed(lo*100, 1), signed(hi*100, 1))
	}
	usual := sample.Median(slices.Clone(medians))
	furthest := 0
	for i, m := range medians {
		if math.Abs(m-usual) > math.Abs(medians[furthest]-usual) {
			furthest = i
		}
	}
	return fmt.Sprintf("section %d differs most, median %s cm; the median section has %s cm.",
		numbers[furthest], signed(medians[furthest]*100, 1), signed(usual*100, 1))
}

// The eight points of the compass.
var points = [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}

// whichWay compares the directions of travel, for one move.
func whichWay(d *run.Diagnosis, on bool) string {
	var of [len(points)][]float64
	for i := range d.Events {
		if e := &d.Events[i]; e.Kind == score.Paired && e.On == on {
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
	case m[worst]-m[best] <= alikeM:
		return fmt.Sprintf("all alike, medians %s to %s.", placeText(m[best]), placeText(m[worst]))
	case m[worst]-m[best] <= 2*math.Hypot(medianSE(of[worst], m[worst], d), medianSE(of[best], m[best], d)):
		return fmt.Sprintf("medians %s to %s, which differ by no more than their scatter explains.", placeText(m[best]), placeText(m[worst]))
	}
	return fmt.Sprintf("latest heading %s, median %s; earliest heading %s, %s.",
		points[worst], placeText(m[worst]), points[best], placeText(m[best]))
}

// medianSE is the standard error of the median of place errors, from their median absolute
// deviation, for normal errors. All sections of a crossing share its error.
func medianSE(errors []float64, median float64, d *run.Diagnosis) float64 {
	off := make([]float64, len(errors))
	for i, e := range errors {
		off[i] = math.Abs(e - median)
	}
	crossings := max(1, float64(len(errors))/float64(max(1, len(d.Score.Sections))))
	return 1.4826 * sample.Median(off) * math.Sqrt(math.Pi/2/crossings)
}

// metresFrom is the place error from which on it is told in m.
const metresFrom = 2.0

// placeText is a place error as the field measures it: in cm, or in m where it is metres.
func placeText(m float64) string {
	if math.Abs(m) >= metresFrom {
		return signed(m, 1) + " m"
	}
	return signed(m*100, 1) + " cm"
}

// worst describes the transition that was furthest off.
func worst(d *run.Diagnosis) string {
	var w *score.Event
	for i := range d.Events {
		if e := &d.Events[i]; e.Kind == score.Paired && (w == nil || math.Abs(e.PlaceErrorM) > math.Abs(w.PlaceErrorM)) {
			w = e
		}
	}
	if w == nil {
		return ""
	}
	move := "lift"
	if w.On {
		move = "drop"
	}
	if len(d.Score.Sections) > 1 {
		move += fmt.Sprintf(" of section %d", w.Section+1)
	}
	lat, lon := d.Field.Plane.ToGeodetic(w.EastM, w.NorthM)
	off := signed(w.PlaceErrorM*100, 0) + " cm"
	if math.Abs(w.PlaceErrorM) >= 1 {
		off = signed(w.PlaceErrorM, 1) + " m"
	}
	return fmt.Sprintf("Furthest off: the %s at %s, %s, at latitude %.6f, longitude %.6f.",
		move, time.Unix(0, w.IdealNs).UTC().Format("15:04:05"), off, lat, lon)
}
