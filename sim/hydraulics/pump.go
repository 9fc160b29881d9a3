// How the oil of one pump is divided among the sections that ask for it at the same time.

package hydraulics

import (
	"cmp"
	"math"
	"slices"
)

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
	b.ask(t)
	level := b.level()
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
		if v != s.speedMps {
			b.move(i, t, h, v)
			s.plan()
		}
	}
	b.plan()
}

// ask finds what each section would move with at t, and what it asks of the pump.
func (b *Bank) ask(t int64) {
	rises, falls, any := false, false, false // one before does
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
	b.pump.asked(any, t)
	if b.mixed {
		slices.SortFunc(b.byCap, func(x, y int16) int {
			p, q := &b.sections[x], &b.sections[y]
			return cmp.Or(cmp.Compare(p.asks/p.kind.cylinder, q.asks/q.kind.cylinder), cmp.Compare(x, y))
		})
	}
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
