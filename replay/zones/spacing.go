// How far apart the machine passed beside itself: its working width, where that
// is not known.

package zones

import (
	"math"
	"slices"
)

const (
	sampleM  = 4.0  // strokes are looked at so often along the way
	widestM  = 40.0 // the widest machine
	besideAt = 10 * radPerDeg
)

// pair is two strokes that run side by side.
type pair struct {
	a, b    int // numbers of strokes, a < b
	asideM  float64
	samples int
	all     []float64 // distances along the way, m
}

// pairs finds which strokes run side by side within reachM with none between
// them, and how far apart.
func (n *near) pairs(reachM float64) []pair {
	type key struct{ a, b int }
	aside := map[key][]float64{}
	var order []key
	for k := range n.w.strokes {
		s := &n.w.strokes[k]
		for i := s.from; i < s.to; i = max(i+1, n.w.ahead(i, sampleM)) {
			var to [2]int
			var nearest [2]float64
			n.beside(i, reachM, besideAt, 3*reachM+30, func(m int, asideM float64, _ int) {
				side := 0
				if asideM < 0 {
					side = 1
				}
				if d := math.Abs(asideM); d > 0.8 && (nearest[side] == 0 || d < nearest[side]) {
					nearest[side], to[side] = d, m
				}
			})
			for side, d := range nearest {
				if d == 0 {
					continue
				}
				x := key{min(k, to[side]), max(k, to[side])}
				if aside[x] == nil {
					order = append(order, x)
				}
				aside[x] = append(aside[x], d)
			}
		}
	}
	var out []pair
	for _, x := range order {
		if list := aside[x]; len(list) >= 4 {
			out = append(out, pair{x.a, x.b, median(list), len(list), list})
		}
	}
	return out
}

// spacingOf returns the distance between neighbours that is met most, its standard
// deviation from place to place, and how many pairs say so; 0 if they do not agree
// on one.
func spacingOf(pairs []pair) (meanM, sdM float64, count int) {
	var all []float64
	for _, p := range pairs {
		for range p.samples {
			all = append(all, p.asideM)
		}
	}
	if len(all) < 10 {
		return 0, 0, 0
	}
	slices.Sort(all)
	mode := modeOf(all)
	var list, places []float64
	for _, p := range pairs {
		if math.Abs(p.asideM/mode-1) < 0.2 && p.samples >= 6 {
			list = append(list, p.asideM)
			places = append(places, p.all...)
		}
	}
	if len(list) < 2 {
		return 0, 0, 0
	}
	// The median and the spread about it, so that a pair that is off does not count.
	meanM = median(list)
	for i := range places {
		places[i] = math.Abs(places[i] - meanM)
	}
	return meanM, max(1.4826*median(places), 0.005), len(list)
}

// modeOf returns where a sorted sample lies most densely: its half that takes
// the least room, in relation to its size, again and again.
func modeOf(sorted []float64) float64 {
	for len(sorted) > 3 {
		half := (len(sorted) + 1) / 2
		best, at := math.Inf(1), 0
		for i := 0; i+half <= len(sorted); i++ {
			if room := math.Log(sorted[i+half-1] / sorted[i]); room < best {
				best, at = room, i
			}
		}
		sorted = sorted[at : at+half]
	}
	return sorted[len(sorted)/2]
}

// median returns the median; 0 of nothing. The list is sorted.
func median(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	n := len(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}
