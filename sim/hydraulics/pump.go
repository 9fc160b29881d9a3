// How the oil of one pump is divided among the sections that ask for it at the same time.

package hydraulics

import "math"

// pump is what feeds all sections.
type pump struct {
	flowM3PerS float64
	wakeNs     int64 // how long it needs to wake; 0 = it never sleeps
	asleep     bool  // nobody asks
	wakesNs    int64 // when it gives oil, never if it does
}

// asked lets the pump fall asleep, or begin to wake at t.
func (p *pump) asked(any bool, t int64) {
	switch {
	case p.wakeNs == 0:
	case !any:
		p.asleep, p.wakesNs = true, never
	case p.asleep:
		p.asleep, p.wakesNs = false, t+p.wakeNs
	}
}

// gives is its flow.
func (p *pump) gives() float64 {
	if p.wakesNs != never {
		return 0
	}
	return p.flowM3PerS
}

// kind is what sections with the same cylinders have in common, without fault or deviation.
type kind struct {
	params   Params
	cylinder float64 // number of cylinders
	ring     float64 // what falling asks of the pump over what it gives back
	perFlow  float64 // tool speed in m/s for a flow of 1 m³/s
	lift     float64 // the most it takes when lifting, m³/s
	falls    []float64
}

// kinds returns those of n sections: one for all, or one for each.
func (p *Params) kinds(n int) []kind {
	if p.Cylinders == nil {
		n = 1
	}
	kinds := make([]kind, n)
	for i := range kinds {
		own := *p
		if p.Cylinders != nil {
			own = p.Of(i)
		}
		kinds[i] = kind{params: own, cylinder: own.count(), ring: own.ring(), perFlow: own.toolSpeedMps(1), falls: make([]float64, 0, len(p.heights()))}
	}
	return kinds
}

// piece returns in which piece of its way a tool is that falls from height h.
func (b *Bank) piece(h float64) int {
	k := len(b.ends) - 2
	for k > 0 && b.ends[k] >= h {
		k--
	}
	return k
}

// fallM3PerS returns what section i gives back when it falls from height h.
func (b *Bank) fallM3PerS(s *section, h float64) float64 {
	k := b.piece(h)
	q := s.kind.falls[k] * (1 + s.deviation.Flow) * (1 - s.fault.FlowLoss)
	if b.forwardMps > 0 && h > 0 && b.ends[k+1] <= b.params.WorkingDepthM {
		q = min(q, b.forwardMps*b.params.WorkingDepthM/b.params.BiteM/s.kind.perFlow)
	}
	return q
}

// share divides the pump's oil and sets every section's speed from t on.
func (b *Bank) share(t int64) {
	any := b.find(t)
	b.pump.asked(any || b.gas.fullM3 > 0 && b.gas.oilM3(t) < b.gas.fullM3, t)
	level := math.Inf(1)
	if b.gas.fullM3 == 0 || !b.discharge(t) {
		level = b.level()
	}
	heatW := 0.0
	for i := range b.sections {
		s := &b.sections[i]
		h := b.heightM(i, t)
		v := 0.0
		switch {
		case s.flow == 0:
		case !s.on:
			v = min(s.flow, s.kind.cylinder*level) * s.kind.perFlow
		case s.asks > 0:
			v = -min(s.flow, s.kind.cylinder*level/s.kind.ring) * s.kind.perFlow
		default:
			v = -s.flow * s.kind.perFlow
		}
		if b.tank.VolumeM3 > 0 && v != 0 {
			heatW += b.heatW(s, h, v/s.kind.perFlow)
		}
		if v != s.speedMps {
			b.move(i, t, h, v)
			s.plan()
		}
	}
	b.tank.warm(t, heatW)
	b.plan()
}

// heatW is what a section's oil takes up at a height with a flow into it, or out of it where negative.
func (b *Bank) heatW(s *section, h, flow float64) float64 {
	p := &s.kind.params
	if flow > 0 {
		return (p.PressurePa - p.LiftForceN/p.pistonM2()) * flow
	}
	k := b.piece(h)
	middle := (b.ends[k] + b.ends[k+1]) / 2
	return -((p.dropForceN(middle)-p.soilForceN(middle))/p.pistonM2() + float64(p.PressurePa*s.kind.ring)) * flow
}

// find finds what each section would move with at t, and what it asks of the pump. It reports whether any asks.
func (b *Bank) find(t int64) (any bool) {
	rises, falls := false, false // one before does
	for i := range b.sections {
		s := &b.sections[i]
		s.flow, s.asks = 0, 0
		switch h := b.heightM(i, t); {
		case s.on && h > b.bottomM:
			if falls && b.params.Sequence.lowering() {
				continue
			}
			falls = true
			s.flow = b.fallM3PerS(s, h)
			s.asks = s.flow * s.kind.ring
		case !s.on && h < b.travelM:
			if rises && b.params.Sequence.lifting() {
				continue
			}
			rises = true
			s.flow, s.asks = s.liftCap, s.liftCap
		}
		any = any || s.asks > 0
	}
	if b.mixed {
		for k := 1; k < len(b.byCap); k++ { // which are mostly in order
			for j := k; j > 0 && b.eachAsks(j) < b.eachAsks(j-1); j-- {
				b.byCap[j], b.byCap[j-1] = b.byCap[j-1], b.byCap[j]
			}
		}
	}
	return any
}

// eachAsks is what each cylinder asks of the section at a place in byCap.
func (b *Bank) eachAsks(place int) float64 {
	s := &b.sections[b.byCap[place]]
	return s.asks / s.kind.cylinder
}

// level returns the most oil that any one cylinder gets, m³/s. The pump's flow is divided equally among
// the cylinders, as the same pressure drives oil into all, except that a section takes no more than it
// asks; what it leaves is divided equally among the others (water-filling).
// The result is infinite when the pump can supply all of them.
func (b *Bank) level() float64 {
	cylinders := 0.0 // not yet supplied
	for i := range b.sections {
		if s := &b.sections[i]; s.asks > 0 {
			cylinders += s.kind.cylinder
		}
	}
	rest := b.pump.gives()
	for _, i := range b.byCap {
		s := &b.sections[i]
		if s.asks == 0 {
			continue
		}
		if equal := rest / cylinders; s.asks > s.kind.cylinder*equal {
			return equal
		}
		rest -= s.asks
		cylinders -= s.kind.cylinder
	}
	return math.Inf(1)
}
