// Times at standstill, by stopwatch or by counted frames of a video: dead time, stroke, and how many
// sections the pump feeds.

package tape

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"liftbench/replay/diagnose/regress"
)

// Event is what was seen after a command.
type Event uint8

// The events, with the way that the tool has gone by then.
const (
	Moves  Event = iota // it begins to rise
	Out                 // its tip leaves the ground
	Raised              // it is all the way up
	Falls               // it begins to come down
	In                  // its tip touches the ground
	Depth               // it is at working depth
)

var eventNames = []string{Moves: "moves", Out: "out", Raised: "raised", Falls: "falls", In: "in", Depth: "depth"}

// StillReading is one time from a command to an event.
type StillReading struct {
	Row      int
	Event    Event
	Sections int // commanded at once; 0 = all
	Seconds  float64
	SDs      float64 // how far such a reading scatters, s
	Oil      Oil
	OilC     *float64
}

// StopwatchSDs is how far a person's stopwatch scatters, start and stop together (common practice, no
// source).
const StopwatchSDs = 0.1

// frameSD is the standard deviation of a difference between two frames, each of which shows its event
// anything up to a frame late: ±1/2 frame at either end.
var frameSD = 1 / math.Sqrt(6)

var sectionWords = map[string]int{"one": 1, "two": 2, "all": 0, "alle": 0, "tous": 0, "": 1}

// still reads a row that was timed at standstill.
func (t *table) still() (StillReading, error) {
	r := StillReading{Row: t.row}
	word := strings.ToLower(t.text("event"))
	at := -1
	for i, name := range eventNames {
		if name == word {
			at = i
		}
	}
	if at < 0 {
		return r, fmt.Errorf("event: found %q; expected %s", word, strings.Join(eventNames, ", "))
	}
	r.Event = Event(at)
	word = strings.ToLower(t.text("sections"))
	n, ok := sectionWords[word]
	if !ok {
		var err error
		if n, err = strconv.Atoi(word); err != nil || n < 1 || n > 256 {
			return r, fmt.Errorf("sections: found %q; expected how many were commanded at once: one, two, all or a number", word)
		}
	}
	r.Sections = n
	seconds, err := t.number("time_s", 0.001, 600)
	if err != nil {
		return r, err
	}
	counted, err := t.number("frames", 0, 100000)
	if err != nil {
		return r, err
	}
	fps, err := t.number("fps", 1, 10000)
	if err != nil {
		return r, err
	}
	switch {
	case seconds != nil:
		r.Seconds, r.SDs = *seconds, StopwatchSDs
	case counted == nil:
		return r, errors.New("time_s: found nothing; expected seconds from the command, or frames and fps")
	case fps == nil:
		return r, errors.New("fps: found nothing; expected the frames a second that the video has")
	default:
		r.Seconds, r.SDs = *counted / *fps, frameSD / *fps
	}
	r.OilC, r.Oil, err = t.oil()
	return r, err
}

// Heights is how far the tool goes, and how many sections there are.
type Heights struct {
	WorkingM, RaisedM float64
	Sections          int // 0 = not known
}

// Within is a quantity and its 95 % interval.
type Within struct {
	Known bool
	Value float64
	CI95  [2]float64
}

// Still is what times at standstill tell, of one state of the oil.
type Still struct {
	Oil       string   // cold, warm, or a temperature; empty = nothing said
	OilC      *float64 // the mean temperature
	Count     int
	LiftDeadS Within // from the command to the first movement
	StrokeS   Within // of one section alone, from working depth to raised
	StrokeAll Within // of all at once
	DropDeadS Within
	FallS     Within // from raised to working depth
	// Fed is how many sections the pump feeds at full speed. FedAll: as many as were moved, or more;
	// then only the lower end means something.
	Fed    Within
	FedAll bool
	// The times of a machine file's hydraulics.measured.
	LiftS, RaisedS, DropS, LiftAllS Within
	CannotTell                      []Doubt
}

// AtStandstill tells what the times say, for each state of the oil: cold, warm, or temperatures within
// 10 K of each other. The time of an event is the dead time plus the way by the speed,
// t = d + h/u: a line over the height, with one slope for each number of sections.
func AtStandstill(list []StillReading, h Heights) []Still {
	var out []Still
	for _, g := range byOil(list) {
		s := Still{Count: len(g.list), Oil: g.name, OilC: g.oilC}
		s.lift(g.list, h)
		s.drop(g.list, h)
		out = append(out, s)
	}
	return out
}

type oilGroup struct {
	name string
	oilC *float64
	list []StillReading
}

// byOil parts readings by the state of the oil.
func byOil(list []StillReading) []oilGroup {
	var out []oilGroup
	for _, o := range []Oil{OilUnknown, OilCold, OilWarm} {
		var own []StillReading
		for _, r := range list {
			if r.OilC == nil && r.Oil == o {
				own = append(own, r)
			}
		}
		if own != nil {
			name := o.String()
			if o == OilUnknown {
				name = ""
			}
			out = append(out, oilGroup{name: name, list: own})
		}
	}
	var warm []StillReading
	for _, r := range list {
		if r.OilC != nil {
			warm = append(warm, r)
		}
	}
	sort.SliceStable(warm, func(i, j int) bool { return *warm[i].OilC < *warm[j].OilC })
	for len(warm) > 0 {
		n, sum := 0, 0.0
		for n < len(warm) && *warm[n].OilC <= *warm[0].OilC+10 {
			sum += *warm[n].OilC
			n++
		}
		mean := sum / float64(n)
		out = append(out, oilGroup{fmt.Sprintf("%.0f °C", mean), &mean, warm[:n]})
		warm = warm[n:]
	}
	return out
}

// lift finds dead time and strokes of a lift.
func (s *Still) lift(list []StillReading, h Heights) {
	whole := h.WorkingM + h.RaisedM
	heights := map[Event]float64{Moves: 0, Out: h.WorkingM, Raised: whole}
	var own []StillReading
	groups := map[int]bool{}
	for _, r := range list {
		if r.Event > Raised {
			continue
		}
		if r.Sections == 0 {
			r.Sections = h.Sections // 0 where nobody said: a group of its own
		}
		own = append(own, r)
		if r.Event != Moves {
			groups[r.Sections] = true
		}
	}
	if own == nil {
		s.CannotTell = append(s.CannotTell, Doubt{About: LiftUntimed})
		return
	}
	var numbers []int
	for n := range groups {
		numbers = append(numbers, n)
	}
	sort.Ints(numbers)
	if len(numbers) > 1 && numbers[0] == 0 { // all, last
		numbers = append(numbers[1:], 0)
	}
	cols := make([][]float64, 1+len(numbers))
	y := make([]float64, len(own))
	for c := range cols {
		cols[c] = make([]float64, len(own))
	}
	for i, r := range own {
		y[i], cols[0][i] = r.Seconds/r.SDs, 1/r.SDs
		for k, n := range numbers {
			if r.Sections == n {
				cols[1+k][i] = heights[r.Event] / r.SDs
			}
		}
	}
	f, ok := regress.FitKnown(cols, y, 1, upTo(len(cols))...)
	if !ok {
		s.CannotTell = append(s.CannotTell, Doubt{About: LiftTogether})
		return
	}
	sum := func(weights ...float64) Within { return combine(&f, weights) }
	z := func(k int, m float64) []float64 {
		w := make([]float64, len(cols))
		w[0], w[1+k] = 1, m
		return w
	}
	s.LiftDeadS = sum(append([]float64{1}, make([]float64, len(numbers))...)...)
	one, most := -1, -1
	for k, n := range numbers {
		if n == 1 {
			one = k
		} else {
			most = k
		}
	}
	if one >= 0 {
		w := z(one, whole)
		w[0] = 0
		s.StrokeS = sum(w...)
		s.LiftS, s.RaisedS = sum(z(one, h.WorkingM)...), sum(z(one, whole)...)
	}
	if most >= 0 && (numbers[most] == 0 || numbers[most] == h.Sections) {
		w := z(most, whole)
		w[0] = 0
		s.StrokeAll = sum(w...)
		s.LiftAllS = sum(z(most, h.WorkingM)...)
	}
	if one < 0 || most < 0 || numbers[most] == 0 {
		s.CannotTell = append(s.CannotTell, Doubt{About: PumpUntimed})
		return
	}
	s.fed(&f, 1+one, 1+most, numbers[most])
}

// fed finds how many sections the pump feeds: n at once take longer than one by n over that many.
// The interval is one of the logarithm of the ratio of both strokes.
func (s *Still) fed(f *regress.Fit, one, all, n int) {
	a, b := f.Beta[one], f.Beta[all]
	if !(a > 0 && b > 0) {
		s.CannotTell = append(s.CannotTell, Doubt{About: PumpShort})
		return
	}
	variance := f.Inv.At(one, one)/(a*a) + f.Inv.At(all, all)/(b*b) - 2*f.Inv.At(one, all)/(a*b)
	half := regress.Quantile(0.05, f.DF) * f.Sigma * math.Sqrt(max(0, variance))
	k := float64(n) * a / b
	s.Fed = Within{true, k, [2]float64{k * math.Exp(-half), k * math.Exp(half)}}
	s.FedAll = s.Fed.CI95[1] >= float64(n)
}

// drop finds dead time and fall of a drop.
func (s *Still) drop(list []StillReading, h Heights) {
	whole := h.WorkingM + h.RaisedM
	falls := map[Event]float64{Falls: 0, In: h.RaisedM, Depth: whole}
	cols := make([][]float64, 2)
	var y []float64
	only := true
	for _, r := range list {
		if r.Event <= Raised {
			continue
		}
		only = only && r.Event == In
		y = append(y, r.Seconds/r.SDs)
		cols[0] = append(cols[0], 1/r.SDs)
		cols[1] = append(cols[1], falls[r.Event]/r.SDs)
	}
	if y == nil {
		s.CannotTell = append(s.CannotTell, Doubt{About: DropUntimed})
		return
	}
	if f, ok := regress.FitKnown(cols, y, 1, 0, 1); ok {
		s.DropDeadS, s.FallS = combine(&f, []float64{1, 0}), combine(&f, []float64{0, whole})
		s.DropS = combine(&f, []float64{1, h.RaisedM})
		return
	}
	s.CannotTell = append(s.CannotTell, Doubt{About: DropTogether})
	if f, ok := regress.FitKnown(cols, y, 1, 0); ok && only {
		s.DropS = combine(&f, []float64{1})
	}
}

// combine is a sum of coefficients with weights, and its interval.
func combine(f *regress.Fit, weights []float64) Within {
	w := Within{Known: true}
	for i, x := range weights {
		w.Value += x * f.Beta[i]
	}
	half := regress.Quantile(0.05, f.DF) * f.Sigma * math.Sqrt(regress.Quadratic(f.Inv, weights))
	w.CI95 = [2]float64{w.Value - half, w.Value + half}
	return w
}
