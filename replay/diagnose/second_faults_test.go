// The faults of the second party: those that a regression over speed can find, and those
// that fool it. Each draws its size and says what a diagnosis must name.

package diagnose

import (
	"math"
	"slices"
)

// expected is what a trial's diagnosis must name.
type expected struct {
	cause   Cause
	move    string  // lift or drop; "" = not compared
	section int     // from 1; 0 = all; -1 = not compared
	size    float64 // NaN = not compared
	feeds   float64 // sections that the pump feeds; 0 = not compared
	piece   bool    // of a border
	hidden  bool    // by the rest of the drive
	always  bool    // must be named, whatever the day says it would have shown
}

func of(cause Cause, section int, size float64) expected {
	return expected{cause: cause, section: section, size: size}
}

// secondFault makes a trial faulty before it is driven, and its record after.
type secondFault struct {
	name string
	kind string // two of one kind cannot be on one drive
	make func(t *trial) []expected
}

// between draws a number.
func (t *trial) between(lo, hi float64) float64 { return lo + (hi-lo)*t.rng.Float64() }

// someFed draws how many sections a pump feeds, at most this share of them.
func (t *trial) someFed(most float64) float64 {
	n := float64(t.n)
	return t.between(max(1.5, n/4), most*n)
}

// addedS is by how much a pump that feeds so many makes a lift later for each other
// section, if all rise together.
func (t *trial) addedS(feeds float64) float64 {
	n := float64(t.n)
	return (n/feeds - 1) * (t.liftS - t.deadS) / (n - 1)
}

// either draws a number of either sign.
func (t *trial) either(lo, hi float64) float64 {
	return t.between(lo, hi) * float64(1-2*t.rng.IntN(2))
}

// commandCause is what late commands are called: if setpoints are not recorded, nobody
// can tell whether the command or the machine was late.
func (t *trial) commandCause(alone Cause) Cause {
	if t.recordsCommands {
		return CommandTiming
	}
	return alone
}

var nothingWrong = secondFault{"nothing wrong", "", func(*trial) []expected { return nil }}

// secondOld are faults that a regression over speed can find.
var secondOld = []secondFault{
	{"lift timing", "time", func(t *trial) []expected {
		size := t.either(0.1, 0.6)
		t.lateCommandS[0] = size
		return []expected{{cause: t.commandCause(LiftTiming), size: size}}
	}},
	{"drop timing", "time", func(t *trial) []expected {
		size := t.either(0.1, 0.6)
		t.lateCommandS[1] = size
		return []expected{{cause: t.commandCause(DropTiming), size: size}}
	}},
	// No position is older than not at all, and an offset of a clock and it are one number.
	{"latency", "clock", func(t *trial) []expected {
		size := t.between(0.1, 0.6)
		t.lateCommandS = [2]float64{size, size}
		return []expected{of(Latency, 0, size)}
	}},
	{"lifts take longer", "time", func(t *trial) []expected {
		size := t.between(0.1, 0.5)
		t.slowerS[0] = size
		if t.recordsCommands {
			return []expected{of(MachineSlow, 0, size)}
		}
		return []expected{of(LiftTiming, 0, size)}
	}},
	{"geometry", "place", func(t *trial) []expected {
		t.placeM = t.either(0.1, 0.6)
		return []expected{of(Geometry, 0, t.placeM)}
	}},
	{"lift geometry", "place", func(t *trial) []expected {
		t.placeByM[0] = t.either(0.1, 0.6)
		return []expected{of(LiftGeometry, 0, t.placeByM[0])}
	}},
	{"drop geometry", "place", func(t *trial) []expected {
		t.placeByM[1] = t.either(0.1, 0.6)
		return []expected{of(DropGeometry, 0, t.placeByM[1])}
	}},
	{"wrong border all around", "place", func(t *trial) []expected {
		size := t.either(0.1, 0.6)
		t.borderM = func(*shouldChange) float64 { return size }
		return []expected{of(WrongBorder, 0, size)}
	}},
	{"a piece of border wrong", "place", func(t *trial) []expected {
		size, first, many := t.either(0.25, 0.6), t.rng.IntN(t.passes-8), 5+t.rng.IntN(4)
		t.borderM = func(c *shouldChange) float64 {
			if pass := c.crossing / 2; c.northM > 0 && pass >= first && pass < first+many {
				return size
			}
			return 0
		}
		return []expected{{cause: WrongBorder, size: size, piece: true}}
	}},
	{"a slow section", "section", func(t *trial) []expected {
		s, size := t.rng.IntN(t.n), t.between(0.1, 0.6)
		t.slowS[s] = size
		return []expected{of(SlowSection, s+1, size)}
	}},
	{"cold oil", "oil", func(t *trial) []expected {
		t.oilS, t.tauS = t.between(0.25, 0.6), t.between(300, 900)
		return []expected{of(ColdOil, 0, t.oilS)}
	}},
	{"flow shortage, feeds one", "pump", func(t *trial) []expected {
		t.feeds, t.liftS = 1, t.deadS+t.between(0.1, 0.25) // several seconds late would be no lift
		return []expected{{cause: FlowShortage, size: t.addedS(1), feeds: 1}}
	}},
}

// secondNew are faults that fool a regression over speed, and what it is told.
var secondNew = []secondFault{
	{"a section follows nothing", "follow", func(t *trial) []expected {
		bad := t.rng.IntN(t.n)
		t.doesFollow = func(c *shouldChange) bool { return c.section != bad }
		return []expected{of(DoesNotFollow, bad+1, math.NaN())}
	}},
	{"a section misses some lifts", "follow", func(t *trial) []expected {
		bad, share := t.rng.IntN(t.n), 0.25+0.5*t.rng.Float64()
		t.doesFollow = func(c *shouldChange) bool { return c.section != bad || c.on || t.rng.Float64() >= share }
		return []expected{of(DoesNotFollow, bad+1, share)}
	}},
	{"the machine misses lifts", "follow", func(t *trial) []expected {
		share := 0.1 + 0.3*t.rng.Float64()
		t.doesFollow = func(c *shouldChange) bool { return c.on || t.rng.Float64() >= share }
		return []expected{of(DoesNotFollow, 0, share)}
	}},
	{"the machine misses whole drops", "follow", func(t *trial) []expected {
		share := 0.2 + 0.2*t.rng.Float64()
		missed := map[int]bool{}
		for k := range 2 * t.passes {
			missed[k] = t.rng.Float64() < share
		}
		t.doesFollow = func(c *shouldChange) bool { return !c.on || !missed[c.crossing] }
		return []expected{of(DoesNotFollow, 0, share)}
	}},
	{"sections in reverse order", "order", func(t *trial) []expected {
		commands := t.rng.IntN(2) == 0
		t.then = append(t.then, func() { t.relabel(func(s int) int { return t.n - 1 - s }, commands) })
		return []expected{of(SectionOrder, 0, math.NaN())}
	}},
	{"sections shifted by one", "order", func(t *trial) []expected {
		by := 1 - 2*t.rng.IntN(2)
		t.then = append(t.then, func() {
			t.relabel(func(s int) int { return (s + by + t.n) % t.n }, true)
		})
		return []expected{of(SectionOrder, 0, math.NaN())}
	}},
	{"sections shifted, one lost", "order", func(t *trial) []expected {
		by := 1 - 2*t.rng.IntN(2)
		if t.lost = 1; by > 0 {
			t.lost = t.n
		}
		t.then = append(t.then, func() {
			t.relabel(func(s int) int {
				if s += by; s < 0 || s >= t.n {
					return -1
				}
				return s
			}, true)
		})
		return []expected{of(SectionOrder, 0, math.NaN())}
	}},
	{"two sections exchanged", "order", func(t *trial) []expected {
		a := t.rng.IntN(t.n)
		b := (a + 1 + t.rng.IntN(t.n-1)) % t.n
		t.then = append(t.then, func() {
			t.relabel(func(s int) int {
				switch s {
				case a:
					return b
				case b:
					return a
				}
				return s
			}, true)
		})
		return []expected{of(SectionOrder, 0, math.NaN())}
	}},
	{"one section erratic", "scatter", func(t *trial) []expected {
		bad, sd := t.rng.IntN(t.n), 0.15+0.6*t.rng.Float64()
		t.jitter = func(c *shouldChange) float64 {
			if c.section != bad {
				return 0
			}
			return sd * t.rng.NormFloat64()
		}
		return []expected{of(Erratic, bad+1, sd)}
	}},
	{"all sections erratic", "scatter", func(t *trial) []expected {
		sd := 0.15 + 0.3*t.rng.Float64()
		t.scatterS = sd / math.Sqrt(float64(t.n))
		t.jitter = func(*shouldChange) float64 { return sd * t.rng.NormFloat64() }
		return []expected{of(Erratic, 0, sd)}
	}},
	{"the whole bar erratic", "scatter", func(t *trial) []expected {
		sd := 0.15 + 0.3*t.rng.Float64()
		t.scatterS = sd
		shared := map[int]float64{}
		for k := range 2 * t.passes {
			shared[k] = sd * t.rng.NormFloat64()
		}
		t.jitter = func(c *shouldChange) float64 { return shared[c.crossing] }
		return []expected{of(Erratic, 0, sd)}
	}},
	{"a sensor that blinks in mid-pass", "sensor", func(t *trial) []expected {
		bad, share := t.rng.IntN(t.n), 0.3+0.5*t.rng.Float64()
		t.then = append(t.then, func() {
			for _, pass := range t.passTimes {
				if t.rng.Float64() < share {
					at := pass[0] + (0.35+0.3*t.rng.Float64())*(pass[1]-pass[0])
					t.states = append(t.states, seenChange{bad, false, at}, seenChange{bad, true, at + 0.5 + 2*t.rng.Float64()})
				}
			}
		})
		return []expected{of(Sensor, bad+1, math.NaN())}
	}},
	{"a sensor that chatters", "sensor", func(t *trial) []expected {
		bad, share := t.rng.IntN(t.n), 0.3+0.6*t.rng.Float64()
		t.then = append(t.then, func() {
			for _, c := range slices.Clone(t.states) {
				if c.section != bad || t.rng.Float64() >= share {
					continue
				}
				at := c.atS
				for range 1 + t.rng.IntN(3) {
					at += 0.03 + 0.12*t.rng.Float64()
					t.states = append(t.states, seenChange{bad, !c.on, at})
					at += 0.03 + 0.12*t.rng.Float64()
					t.states = append(t.states, seenChange{bad, c.on, at})
				}
			}
		})
		return []expected{of(Sensor, bad+1, math.NaN())}
	}},
	{"a sensor that sticks for hours", "sensor", func(t *trial) []expected {
		bad := t.rng.IntN(t.n)
		t.then = append(t.then, func() {
			from := t.passTimes[t.passes/4][0] + 10
			to := t.passTimes[t.passes/4+t.passes/3][0] + 10
			t.states = slices.DeleteFunc(t.states, func(c seenChange) bool { return c.section == bad && c.atS > from && c.atS < to })
		})
		return []expected{of(Sensor, bad+1, math.NaN())}
	}},
	{"a pump that feeds some", "pump", func(t *trial) []expected {
		t.feeds = t.someFed(0.8)
		return []expected{{cause: FlowShortage, size: t.addedS(t.feeds), feeds: t.feeds}}
	}},
	{"such a pump for drops too", "pump", func(t *trial) []expected {
		t.feeds, t.pumpDrops = t.someFed(0.8), true
		return []expected{{cause: FlowShortage, size: t.addedS(t.feeds), feeds: t.feeds}}
	}},
	{"such a pump with an accumulator", "pump", func(t *trial) []expected {
		t.feeds, t.holdsS = t.someFed(0.6), t.between(0.2, 1)*(t.liftS-t.deadS)
		return []expected{{cause: FlowShortage, size: t.addedS(t.feeds), feeds: t.feeds}}
	}},
	{"lifts go on over a length after the setpoint", "place", func(t *trial) []expected {
		t.recordsCommands = true
		t.biteM[0] = t.between(0.1, 0.6)
		return []expected{of(LiftGeometry, 0, t.biteM[0])}
	}},
	{"drops go on over a length after the setpoint", "place", func(t *trial) []expected {
		t.recordsCommands = true
		t.biteM[1] = t.between(0.1, 0.6)
		return []expected{of(DropGeometry, 0, t.biteM[1])}
	}},
	{"both go on over a length after the setpoint", "place", func(t *trial) []expected {
		t.recordsCommands = true
		size := t.between(0.1, 0.6)
		t.biteM = [2]float64{size, size}
		return []expected{of(Geometry, 0, size)}
	}},
	{"one speed: lifts or drops off by a time", "speed", func(t *trial) []expected {
		return t.oneSpeed(secondOld[t.rng.IntN(2)].make(t))
	}},
	{"one speed: lifts late and drops early", "speed", func(t *trial) []expected {
		t.lateCommandS = [2]float64{t.between(0.1, 0.3), -t.between(0.1, 0.3)}
		return t.oneSpeed([]expected{of(t.commandCause(LiftTiming), 0, t.lateCommandS[0]), of(t.commandCause(DropTiming), 0, t.lateCommandS[1])})
	}},
	{"one speed: a place is wrong", "speed", func(t *trial) []expected {
		return t.oneSpeed(secondOld[4+t.rng.IntN(4)].make(t))
	}},
	{"the file's lead is wrong", "time", func(t *trial) []expected {
		t.recordsCommands = true
		w := t.rng.IntN(2)
		lead := t.lead(w == 1)
		t.fileS[w] = t.either(0.1, 0.7*(lead-t.deadS))
		return []expected{{cause: FileLead, move: [2]string{"lift", "drop"}[w], size: t.fileS[w]}}
	}},
	{"a clock off by fractions of a second", "clock", func(t *trial) []expected {
		return t.clockOff(t.either(0.15, 0.95))
	}},
	{"a clock off by seconds", "clock", func(t *trial) []expected {
		return t.clockOff(t.either(1.2, 40))
	}},
	{"a clock off by leap seconds", "clock", func(t *trial) []expected {
		return t.clockOff(float64(18 - 36*t.rng.IntN(2)))
	}},
	{"a clock off by hours", "clock", func(t *trial) []expected {
		return t.clockOff(3600 * float64((1+t.rng.IntN(3))*(1-2*t.rng.IntN(2))))
	}},
	{"a clock that drifts", "clock", func(t *trial) []expected {
		drift := t.either(0.5, 4)
		t.driftS = [2]float64{drift, drift}
		return t.clockOff(t.either(0, 5))
	}},
	{"work states' clock off by seconds, setpoints' right", "clock", func(t *trial) []expected {
		t.recordsCommands = true
		t.offsetS[1] = t.either(1.2, 20)
		return []expected{of(ClockOffset, 0, t.offsetS[1])}
	}},
	{"times sampled at 0.1 s", "grid", func(t *trial) []expected { return t.sampled(0.1) }},
	{"times sampled at 0.2 s", "grid", func(t *trial) []expected { return t.sampled(0.2) }},
	{"times sampled at 0.5 s", "grid", func(t *trial) []expected { return t.sampled(0.5) }},
	{"times sampled at 1 s", "grid", func(t *trial) []expected { return t.sampled(1) }},
	{"times rounded to 0.1 s", "grid", func(t *trial) []expected { t.stepS, t.rounded = 0.1, true; return nil }},
	{"times rounded to 1 s", "grid", func(t *trial) []expected { t.stepS, t.rounded = 1, true; return nil }},
	{"commands count the sections, the lead on file does not", "count", func(t *trial) []expected {
		t.recordsCommands, t.counts = true, true
		t.feeds = t.someFed(0.8)
		return []expected{{cause: FileLead, move: "lift", size: math.NaN()}}
	}},
}

// oneSpeed has all passes at nearly one speed. What is wrong must be named there all the same.
func (t *trial) oneSpeed(want []expected) []expected {
	t.spread = t.between(0, 0.02)
	for i := range want {
		want[i].always = true
	}
	return want
}

// clockOff sets the clock of both lists.
func (t *trial) clockOff(s float64) []expected {
	t.offsetS = [2]float64{s, s}
	return []expected{of(ClockOffset, 0, s)}
}

// sampled has changes seen at the next look.
func (t *trial) sampled(stepS float64) []expected {
	t.stepS, t.phaseS = stepS, stepS*t.rng.Float64()
	return nil
}
