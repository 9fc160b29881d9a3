// A second party: drives of a machine that shares nothing with the simulator or with the
// other drives of these tests. A bar goes along straight passes, each section has an
// instant at which it should change, a command a lead before it, and a work state a
// travel time after the command. Lifts may share a pump.

package diagnose

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// seenChange is one recorded change of a section.
type seenChange struct {
	section int
	on      bool
	atS     float64
}

// shouldChange is when and how fast a section crosses a border.
type shouldChange struct {
	seenChange
	mps, eastM, northM, headingRad float64
	crossing                       int
}

// trial is one drive of the second party.
type trial struct {
	rng                *rand.Rand
	n                  int // sections
	passes             int
	liftS, dropS       float64 // leads, and travel times where nothing is wrong
	deadS              float64 // of a travel time, until the tool moves
	strokeS            float64 // from then until a tool is all the way up or down, alone
	spacingM, speedMps float64
	spread             float64      // the fastest pass is this much faster than the slowest, as a share of it
	noiseM             float64      // standard deviation of the position at a crossing
	firstS, toS        float64      // the first border, the end of the day
	passTimes          [][2]float64 // in which each pass is in work

	// What is wrong with the commands. Of two values the first is of lifts, the second of drops.
	lateCommandS [2]float64
	placeM       float64 // all too far on
	placeByM     [2]float64
	oneWay       bool                          // all passes to the north
	counts       bool                          // lifts are commanded for the pump that there is, which the lead on file does not know
	borderM      func(c *shouldChange) float64 // the controller has the border too far out

	// What is wrong with the machine.
	slowerS    [2]float64                    // takes longer than its lead
	biteM      [2]float64                    // goes on so far after it moved before its state changes
	slowS      []float64                     // by section
	oilS, tauS float64                       // slower at the start of the day, and how fast that fades
	feeds      float64                       // sections that the pump moves at full speed
	holdsS     float64                       // accumulator, in seconds of one section at full speed
	pumpDrops  bool                          // the pump drives drops too
	jitter     func(c *shouldChange) float64 // s
	scatterS   float64                       // of the jitter of all
	doesFollow func(c *shouldChange) bool

	should           []shouldChange
	commands, states []seenChange
	lost             int // the section whose record is lost, from 1; 0 = none
	recorder
}

// newTrial draws a machine and a day.
func newTrial(seed uint64) *trial {
	rng := rand.New(rand.NewPCG(seed, 4711))
	t := &trial{rng: rng, n: 4 + rng.IntN(9), passes: 16 + rng.IntN(25), liftS: 0.4 + 0.5*rng.Float64(), dropS: 0.4 + 0.6*rng.Float64()}
	t.recordsCommands = rng.IntN(2) == 0
	t.slowS = make([]float64, t.n)
	t.jitter = func(*shouldChange) float64 { return 0 }
	t.doesFollow = func(*shouldChange) bool { return true }
	t.borderM = func(*shouldChange) float64 { return 0 }
	t.spacingM = 0.5 + 1.5*rng.Float64()
	t.speedMps = 1 + 0.8*rng.Float64()
	t.deadS = 0.05 + 0.25*rng.Float64()
	t.strokeS = (max(t.liftS, t.dropS) - t.deadS) * (1 + 2*rng.Float64())
	t.spread = 0.5 + 0.7*rng.Float64()
	t.noiseM = 0.007 + 0.018*rng.Float64()
	t.feeds = math.Inf(1)
	return t
}

func (t *trial) lead(on bool) float64 {
	if on {
		return t.dropS
	}
	return t.liftS
}

// drive fills in the lists.
func (t *trial) drive() {
	now := 100.0
	lengthM := 60 + 60*t.rng.Float64()
	inWork := make([]bool, t.n)
	for p := range t.passes {
		mps := t.speedMps * (1 + t.spread*t.rng.Float64())
		north := p%2 == 0 || t.oneWay
		var times [2]float64
		for k, on := range []bool{true, false} {
			slant := 0.0
			if t.rng.Float64() < 0.7 {
				slant = 1.2*t.rng.Float64() - 0.6
			}
			times[k] = now + float64(k)*lengthM/mps
			var list []shouldChange
			for s := range t.n {
				side := (float64(s) - float64(t.n-1)/2) * t.spacingM
				c := shouldChange{seenChange: seenChange{s, on, times[k] + side*slant/mps}, mps: mps, eastM: float64(p)*float64(t.n)*t.spacingM + side, crossing: 2*p + k}
				c.northM = lengthM / 2
				if (k == 0) == north {
					c.northM = -c.northM
				}
				if !north {
					c.headingRad = math.Pi
				}
				list = append(list, c)
			}
			if len(t.should) == 0 {
				t.firstS = slices.MinFunc(list, func(a, b shouldChange) int { return cmp.Compare(a.atS, b.atS) }).atS
			}
			t.should = append(t.should, list...)
			t.cross(list, inWork)
		}
		t.passTimes = append(t.passTimes, times)
		now += lengthM/mps + 25 + 10*t.rng.Float64()
	}
	t.toS = now
}

// cross commands the changes of one crossing and lets the machine follow.
func (t *trial) cross(list []shouldChange, inWork []bool) {
	shared := t.noiseM * t.rng.NormFloat64()
	var goes []*shouldChange
	var starts []float64
	earlier := make([]float64, len(list))
	if t.counts && !list[0].on {
		earlier = t.plannedS(list)
	}
	for i := range list {
		c := &list[i]
		w, out := 0, 1.0
		if c.on {
			w, out = 1, -1
		}
		toldS := c.atS - t.lead(c.on) + (shared+t.placeM+t.placeByM[w]+out*t.borderM(c))/c.mps + t.lateCommandS[w] - earlier[i]
		t.commands = append(t.commands, seenChange{c.section, c.on, toldS})
		if t.doesFollow(c) && inWork[c.section] != c.on {
			inWork[c.section] = c.on
			goes, starts = append(goes, c), append(starts, toldS+t.deadS+t.slowS[c.section])
		}
	}
	on := list[0].on
	feeds, w := t.feeds, 0
	if on {
		w = 1
		if !t.pumpDrops {
			feeds = math.Inf(1)
		}
	}
	arrived := movedBy(starts, t.lead(on)-t.deadS, t.strokeS, feeds, bottle{t.holdsS})
	for i, c := range goes {
		cold := 0.0
		if t.tauS > 0 {
			cold = t.oilS * math.Exp(-(c.atS-t.firstS)/t.tauS)
		}
		answerS := arrived[i] + t.slowerS[w] + t.biteM[w]/c.mps + cold + 0.004*t.rng.NormFloat64() + t.jitter(c)
		t.states = append(t.states, seenChange{c.section, on, answerS})
	}
}

// plannedS is how much earlier than alone the lifts of a crossing must be told for the pump to
// have them up in time: those that begin earlier take oil from the others, so it is found in
// steps.
func (t *trial) plannedS(list []shouldChange) []float64 {
	alone := t.liftS - t.deadS
	earlier, starts := make([]float64, len(list)), make([]float64, len(list))
	for range 60 {
		for i := range list {
			starts[i] = list[i].atS - alone - earlier[i]
		}
		for i, at := range movedBy(starts, alone, t.strokeS, t.feeds, bottle{t.holdsS}) {
			earlier[i] += (at - list[i].atS) / 2
		}
	}
	return earlier
}
