// A second way to compute a lift, which shares nothing with the bank: the forces, pressures and flows of
// a handbook, integrated in small steps by the classical Runge-Kutta method of fourth order. Steps end where
// an equation changes: at the ends of the stroke, of the slot and of the soil, and where a valve moves.

package hydraulics

import (
	"math"
	"testing"

	"liftbench/sections"
)

// rod is one section: cylinders that are alike behind one valve.
type rod struct {
	cylinders          float64
	bore               float64 // m
	lift               float64 // N on each rod when it lifts
	raisedN, workingN  float64 // N on each rod when it lowers: raised, and at working depth
	deadUp, deadDown   float64 // s
	lost               float64 // share of its flow that is lost
	valve, told        bool    // true: down
	turns              float64 // when the valve goes where it was told to; +Inf = it is there
	x                  float64 // m of the rod above working depth; negative in the slot
	place              int     // which of its stretches it is in
	in                 bool    // in work
	flow, pump, heat   float64 // m³/s out of or into all its cylinders, of them from the pump; W
	wants, wantsOfPump float64
}

// plant is the lift with all that acts on it.
type plant struct {
	rods                               []rod
	stroke, travel, working, effective float64 // m
	pump, valve                        float64 // m³/s; valve 0 = none
	pressure                           float64 // Pa
	hose, hoseBore, orifice, cd        float64
	at40, at100, degC                  float64 // mm²/s, mm²/s, °C
	slot, wake                         float64 // m of the rod, s
	back                               float64 // Pa
	piston                             float64 // m, diameter of the rod where oil presses down too; 0 = it does not
	freeUp, freeDown                   bool    // no orifice that way
	oneUp, oneDown                     bool    // one after the other
	gas, precharge                     float64 // m³, Pa; 0 = no accumulator
	soil, bite, speed                  float64 // N at working depth, m of way, m/s
	tank, loss, air                    float64 // m³ (0 = temperature stays), W/K, °C
	oil                                float64 // m³ in the accumulator
	now, wakes                         float64 // s
	asleep                             bool
	empty, full                        bool // the accumulator, and it stays so
	lastDegC, lastMu                   float64
	changes                            []sections.WorkChange
	fullOil                            float64
}

// viscosity is Walther's equation through two points, by its logarithms to base e: with
// w = ln ln(ν + 0.7), w is a straight line over ln T.
func (p *plant) viscosity(degC float64) float64 {
	if degC == p.lastDegC && p.lastMu > 0 {
		return p.lastMu
	}
	w := func(v float64) float64 { return math.Log(math.Log(v + 0.7)) }
	k := math.Log
	share := (k(degC+273.15) - k(313.15)) / (k(373.15) - k(313.15))
	v := math.Exp(math.Exp(w(p.at40)+share*(w(p.at100)-w(p.at40)))) - 0.7
	p.lastDegC, p.lastMu = degC, 870*v*1e-6
	return p.lastMu
}

// passes is the flow that a pressure drives through a hose and an orifice: the positive root of
// a·Q² + b·Q - Δp = 0.
func (p *plant) passes(drop, degC float64, free bool) float64 {
	if drop <= 0 {
		return 0
	}
	b := 128 * p.viscosity(degC) * p.hose / (math.Pi * math.Pow(p.hoseBore, 4))
	area := p.cd * math.Pi * p.orifice * p.orifice / 4
	a := 870.0 / (2 * area * area)
	if free {
		return drop / b
	}
	return (math.Sqrt(b*b+4*a*drop) - b) / (2 * a)
}

// gasPressure is adiabatic, p·V^1.4 = constant, of the gas that the oil leaves room for.
func (p *plant) gasPressure(oil float64) float64 {
	return p.precharge * math.Pow(p.gas/(p.gas-oil), 1.4)
}

// stretches of a rod's way.
const (
	atBottom = iota
	inSlot
	inSoil // effective depth or deeper
	shallow
	inAir
	atTop
)

// limits are the ends of the stretch, as rod positions.
func (p *plant) limits(place int) (low, high float64) {
	lever := p.stroke / p.travel
	ends := [...]float64{-p.slot, -p.slot, 0, (p.working - p.effective) * lever, p.working * lever, p.stroke, p.stroke}
	return ends[place], ends[place+1]
}

// flows finds what goes into and out of every cylinder.
func (p *plant) flows(x []float64, oil, degC float64) {
	pressure := p.pressure
	if p.gas > 0 {
		pressure = p.gasPressure(oil)
	}
	up, down := false, false
	for i := range p.rods {
		r := &p.rods[i]
		area := math.Pi * r.bore * r.bore / 4
		r.flow, r.pump, r.heat, r.wants, r.wantsOfPump = 0, 0, 0, 0, 0
		switch {
		case !r.valve && r.place != atTop:
			if p.oneUp && up {
				continue
			}
			up = true
			q := r.cylinders * p.passes(pressure-r.lift/area, degC, p.freeUp)
			if p.valve > 0 {
				q = math.Min(q, p.valve)
			}
			r.wants = q * (1 - r.lost)
			r.wantsOfPump = r.wants
		case r.valve && r.place != atBottom:
			if p.oneDown && down {
				continue
			}
			down = true
			h := math.Max(x[i], 0) * p.travel / p.stroke
			force := r.workingN + (r.raisedN-r.workingN)*h/p.travel
			if r.place == inSoil || r.place == shallow {
				force -= p.soil * (p.working - h) / p.working
			}
			drop := force/area - p.back
			ring := 0.0
			if p.piston > 0 {
				ring = 1 - p.piston*p.piston/(r.bore*r.bore)
				drop += pressure * ring
			}
			q := r.cylinders * p.passes(drop, degC, p.freeDown)
			if ring > 0 && p.valve > 0 {
				q = math.Min(q, p.valve/ring)
			}
			q *= 1 - r.lost
			if p.bite > 0 && (r.place == inSoil || r.place == shallow) {
				q = math.Min(q, p.speed*p.working/p.bite*p.stroke/p.travel*area*r.cylinders)
			}
			r.wants, r.wantsOfPump = q, q*ring
		}
	}
	wanted := 0.0
	for i := range p.rods {
		wanted += p.rods[i].wantsOfPump
	}
	level := math.Inf(1)
	gives := p.gives()
	if p.gas > 0 && !p.empty {
		gives = math.Inf(1)
	}
	if wanted > gives {
		lo, hi := 0.0, wanted
		for range 50 {
			level = (lo + hi) / 2
			sum := 0.0
			for i := range p.rods {
				r := &p.rods[i]
				sum += math.Min(r.wantsOfPump, level*r.cylinders)
			}
			if sum < gives {
				lo = level
			} else {
				hi = level
			}
		}
	}
	for i := range p.rods {
		r := &p.rods[i]
		if r.wants == 0 {
			continue
		}
		share := 1.0
		if r.wantsOfPump > 0 {
			share = math.Min(1, level*r.cylinders/r.wantsOfPump)
		}
		r.flow, r.pump = r.wants*share, r.wantsOfPump*share
		area := math.Pi * r.bore * r.bore / 4
		if r.valve {
			h := math.Max(x[i], 0) * p.travel / p.stroke
			force := r.workingN + (r.raisedN-r.workingN)*h/p.travel
			if r.place == inSoil || r.place == shallow {
				force -= p.soil * (p.working - h) / p.working
			}
			r.heat = force/area*r.flow + pressure*r.pump
		} else {
			r.heat = (pressure - r.lift/area) * r.flow
		}
	}
}

// gives is the pump's flow, none while it sleeps.
func (p *plant) gives() float64 {
	if p.wake > 0 && (p.asleep || p.now < p.wakes) {
		return 0
	}
	return p.pump
}

// slope is the derivative of positions, oil and temperature.
func (p *plant) slope(y, dy []float64) {
	n := len(p.rods)
	p.flows(y[:n], y[n], y[n+1])
	taken, heat := 0.0, 0.0
	for i := range p.rods {
		r := &p.rods[i]
		area := math.Pi * r.bore * r.bore / 4
		dy[i] = r.flow / area / r.cylinders
		if r.valve {
			dy[i] = -dy[i]
		}
		taken += r.pump
		heat += r.heat
	}
	dy[n] = 0
	if p.gas > 0 {
		if dy[n] = p.gives() - taken; p.empty || p.full {
			dy[n] = 0
		}
	}
	dy[n+1] = 0
	if p.tank > 0 {
		dy[n+1] = (heat - p.loss*(y[n+1]-p.air)) / (870 * 1900 * p.tank)
	}
}

// rungeKutta takes one step from y and returns where it ends.
func (p *plant) rungeKutta(y []float64, dt float64, k *[5][]float64) []float64 {
	at, out := k[4], make([]float64, len(y))
	p.slope(y, k[0])
	for s, part := range [...]float64{0.5, 0.5, 1} {
		for j := range y {
			at[j] = y[j] + dt*part*k[s][j]
		}
		p.slope(at, k[s+1])
	}
	for j := range y {
		out[j] = y[j] + dt/6*(k[0][j]+2*k[1][j]+2*k[2][j]+k[3][j])
	}
	return out
}

// leaves reports whether any of the state is past what the step's equations hold for.
func (p *plant) leaves(y []float64) bool {
	for i := range p.rods {
		low, high := p.limits(p.rods[i].place)
		if moving := y[i] != p.rods[i].x; moving && (y[i] < low || y[i] > high) {
			return true
		}
	}
	n := len(p.rods)
	return p.gas > 0 && (y[n] < 0 || y[n] > p.fullOil)
}

// run integrates from rest, all in work or all raised, to an instant in s.
func (p *plant) run(inWork bool, points []sections.Setpoint, to, step float64) []sections.WorkChange {
	n := len(p.rods)
	p.asleep, p.now = true, 0
	if p.gas > 0 {
		p.fullOil = p.gas * (1 - math.Pow(p.precharge/p.pressure, 1/1.4))
		p.oil = p.fullOil
	}
	for i := range p.rods {
		r := &p.rods[i]
		r.valve, r.told, r.in, r.turns = inWork, inWork, inWork, math.Inf(1)
		r.x, r.place = p.stroke, atTop
		if inWork {
			r.x, r.place = -p.slot, atBottom
		}
	}
	var k [5][]float64
	for s := range k {
		k[s] = make([]float64, n+2)
	}
	y := make([]float64, n+2)
	for p.now < to {
		for len(points) > 0 && float64(points[0].DueNs)*1e-9 <= p.now {
			r := &p.rods[points[0].Section]
			if r.told = points[0].On; r.told {
				r.turns = float64(points[0].DueNs)*1e-9 + r.deadDown
			} else {
				r.turns = float64(points[0].DueNs)*1e-9 + r.deadUp
			}
			points = points[1:]
		}
		until := math.Min(p.now+step, to)
		if len(points) > 0 {
			until = math.Min(until, float64(points[0].DueNs)*1e-9)
		}
		for i := range p.rods {
			r := &p.rods[i]
			if r.turns <= p.now {
				r.valve, r.turns = r.told, math.Inf(1)
				p.enter(r)
			}
			until = math.Min(until, r.turns)
		}
		for i := range p.rods {
			y[i] = p.rods[i].x
		}
		y[n], y[n+1] = p.oil, p.degC
		p.empty = false
		p.flows(y[:n], p.oil, p.degC)
		wanted := 0.0
		for i := range p.rods {
			wanted += p.rods[i].wantsOfPump
		}
		asks := wanted > 0 || p.gas > 0 && p.oil < p.fullOil
		switch {
		case !asks:
			p.asleep = true
		case p.asleep:
			p.asleep, p.wakes = false, p.now+p.wake
		}
		p.empty = p.gas > 0 && p.oil <= 0 && wanted > p.gives()
		p.full = p.gas > 0 && p.oil >= p.fullOil && wanted <= p.gives()
		if p.now < p.wakes {
			until = math.Min(until, p.wakes)
		}
		dt := until - p.now
		next := p.rungeKutta(y, dt, &k)
		if p.leaves(next) {
			lo, hi := 0.0, dt
			for range 45 {
				mid := (lo + hi) / 2
				if p.leaves(p.rungeKutta(y, mid, &k)) {
					hi = mid
				} else {
					lo = mid
				}
			}
			dt = hi
			next = p.rungeKutta(y, dt, &k)
			p.now += dt
		} else {
			p.now = until
		}
		p.degC = next[n+1]
		if p.gas > 0 {
			if p.oil = next[n]; p.oil > p.fullOil*(1-1e-9) {
				p.oil = p.fullOil
			} else if p.oil < p.fullOil*1e-9 {
				p.oil = 0
			}
		}
		for i := range p.rods {
			r := &p.rods[i]
			low, high := p.limits(r.place)
			moved := next[i] != r.x
			r.x = next[i]
			if moved && (r.x < low || r.x > high) {
				p.pass(i, r, low, high)
			}
		}
	}
	return p.changes
}

// pass moves a rod that has come to the end of a stretch into the next one.
func (p *plant) pass(i int, r *rod, low, high float64) {
	if r.x > high {
		r.x = high
		r.place++
	} else {
		r.x = low
		r.place--
	}
	p.skip(r)
	if in := r.place <= inSoil; in != r.in {
		r.in = in
		p.changes = append(p.changes, sections.WorkChange{TimeNs: int64(math.Round(p.now * 1e9)), Section: int16(i), On: in})
	}
}

// skip goes past stretches without length.
func (p *plant) skip(r *rod) {
	for r.place > atBottom && r.place < atTop {
		if low, high := p.limits(r.place); high > low {
			return
		}
		if r.valve {
			r.place--
		} else {
			r.place++
		}
	}
}

// enter leaves an end of the way where the valve now leads away from it.
func (p *plant) enter(r *rod) {
	switch {
	case !r.valve && r.place == atBottom:
		r.place = inSlot
	case r.valve && r.place == atTop:
		r.place = inAir
	case !r.valve && r.x >= p.stroke: // it waited for its turn, and has not left
		r.place = atTop
	case r.valve && r.x <= -p.slot:
		r.place = atBottom
	}
	p.skip(r)
}

// usual is a plant as its cylinders are found on common row units (common practice, no source).
func usual(cylinders ...float64) *plant {
	p := &plant{stroke: 0.15, travel: 0.18, working: 0.03, effective: 0.015, pump: 40e-3 / 60, valve: 8e-3 / 60, pressure: 180e5,
		hose: 4, hoseBore: 0.008, orifice: 0.0025, cd: 0.6, at40: 46, at100: 6.8, degC: 45}
	for _, n := range cylinders {
		p.rods = append(p.rods, rod{cylinders: n, bore: 0.032, lift: 2500, raisedN: 1500, workingN: 1500, deadUp: 0.06, deadDown: 0.06})
	}
	return p
}

// The plant itself against what can be had by hand.
func TestPlant(t *testing.T) {
	area := math.Pi * 0.016 * 0.016
	up := func(p *plant, sectionsUp int) []sections.WorkChange {
		var points []sections.Setpoint
		for i := range sectionsUp {
			points = append(points, sections.Setpoint{Section: int16(i)})
		}
		return p.run(true, points, 20, 1e-3)
	}
	ms := func(c sections.WorkChange) float64 { return float64(c.TimeNs) * 1e-6 }
	t.Run("slot", func(t *testing.T) {
		plain, slotted := usual(1), usual(1)
		slotted.slot = 0.03
		got := ms(up(slotted, 1)[0]) - ms(up(plain, 1)[0])
		near(t, "30 mm at 8 L/min through 32 mm", got, 0.03*area/(8e-3/60)*1e3, 0.01)
		near(t, "30 mm, rounded", got, 181, 0.5)
	})
	t.Run("units", func(t *testing.T) {
		p := usual(2, 3, 4)
		p.valve = 12e-3 / 60
		out := up(p, 3)
		for i, want := range []float64{161, 211, 261} {
			near(t, "2, 3, 4 cylinders at 12 L/min", ms(out[i]), want, 0.6)
			near(t, "by hand", ms(out[i]), 60+float64(i+2)*0.0125*area/(12e-3/60)*1e3, 0.01)
		}
	})
	t.Run("accumulator", func(t *testing.T) {
		p := usual(1, 1, 1, 1)
		p.pump, p.gas, p.precharge = 8e-3/60, 0.0002, 100e5
		out := up(p, 4)
		// Four take 32 L/min of which the pump gives 8: until the oil is used up each gets all it can take.
		used := 0.0002 * (1 - math.Pow(100.0/180, 1/1.4)) / (24e-3 / 60)
		rise := 0.0125 * area / (8e-3 / 60)
		if used < rise {
			t.Fatalf("empty after %g s, out of work after %g", used, rise)
		}
		near(t, "out of work", ms(out[3]), 60+rise*1e3, 0.01)
	})
	t.Run("asleep", func(t *testing.T) {
		p := usual(1, 1)
		p.wake = 0.2
		out := p.run(true, []sections.Setpoint{{Section: 0}, {Section: 1, DueNs: 300e6}}, 20, 1e-3)
		rise := 0.0125 * area / (8e-3 / 60) * 1e3
		near(t, "first", ms(out[0]), 260+rise, 0.01)
		near(t, "second", ms(out[1]), 360+rise, 0.01)
	})
	t.Run("warming", func(t *testing.T) {
		p := usual(1)
		p.tank, p.degC = 0.04, 10
		up(p, 1)
		volume := area * 0.15
		near(t, "kelvin", p.degC-10, (180e5-2500/area)*volume/(870*1900*0.04), 1e-6)
	})
}
