// Time errors over the day.

package figure

import (
	"time"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// OverDay draws the time errors of all paired transitions over the time of day
// (UTC), with the median of each stretch of time as a line.
func OverDay(l language.Language, title string, events []score.Event) string {
	words := wordsIn(l)
	p := newPlot(words.Text("day"), words.Text("time error"))
	var errors []float64
	var first, last int64
	for i := range events {
		e := &events[i]
		if e.Kind != score.Paired {
			continue
		}
		if len(errors) == 0 {
			first = e.IdealNs
		}
		last = e.IdealNs
		errors = append(errors, e.TimeErrorS*1000)
	}
	span := max(last-first, 60e9)
	margin := span / 40
	// Seconds from the first transition: a float holds them exactly enough.
	at := func(ns int64) float64 { return float64(ns-first) * 1e-9 }
	p.x.min, p.x.max = at(first-margin), at(first+span+margin)
	p.y.min, p.y.max = scale(errors, 50)
	p.x.ticks = clockTicks(first, first-margin, first+span+margin)
	p.add(level(0))
	var m marks
	p.add(func(s *sheet, in *dataArea) {
		for i := range events {
			e := &events[i]
			if e.Kind != score.Paired {
				continue
			}
			o, _ := outcomeOf(e)
			if p := in.at(at(e.IdealNs), e.TimeErrorS*1000); in.Contains(p) {
				m.add(o, p, 2.6)
			}
		}
		m.draw(s)
		for _, run := range medians(events, first, span) {
			var line []orb.Point
			for _, q := range run {
				line = append(line, in.at(at(q.ns), q.ms))
			}
			s.stroke(fitLine, in.clipped(line))
		}
	})
	return withKey(words, title, p, &m, errors)
}

// median is the median time error of one stretch of time.
type median struct {
	ns int64 // its middle
	ms float64
}

// stretches is the number of stretches of time into which a day is cut.
const stretches = 24

// medians returns the medians of the stretches that hold enough transitions, in
// runs without a gap.
func medians(events []score.Event, first, span int64) [][]median {
	const enough = 3
	var in [stretches][]float64
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired {
			k := min((e.IdealNs-first)*stretches/(span+1), stretches-1)
			in[k] = append(in[k], e.TimeErrorS*1000)
		}
	}
	var runs [][]median
	open := false
	for k, ms := range in {
		if len(ms) < enough {
			open = false
			continue
		}
		m := median{first + span*int64(2*k+1)/(2*stretches), sample.Median(ms)}
		if !open {
			runs = append(runs, nil)
			open = true
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], m)
	}
	return runs
}

// clockTicks marks full minutes, hours or days from one instant to another, at
// most six of them, as seconds from origin.
func clockTicks(origin, fromNs, toNs int64) []tick {
	step := int64(0)
	for _, d := range []time.Duration{time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute,
		30 * time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour} {
		step = int64(d)
		if (toNs-fromNs)/step < 6 {
			break
		}
	}
	for (toNs-fromNs)/step >= 6 {
		step *= 2
	}
	layout := "15:04"
	if step >= int64(24*time.Hour) {
		layout = "2 Jan"
	}
	var out []tick
	for t := (fromNs + step - 1) / step * step; t <= toNs; t += step {
		out = append(out, tick{float64(t-origin) * 1e-9, time.Unix(0, t).UTC().Format(layout)})
	}
	return out
}
