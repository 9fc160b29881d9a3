// This file lets the oil warm by the work done with it.

package hydraulics

import (
	"math"

	"liftbench/sections/exact"
)

// Tank is the oil that work warms: what is throttled in lifting, (p - F/A)·Q, and what was lifted and is
// let down, F/A·Q, with all that the pump presses it down with. It loses heat to the air around. It begins at
// Params.OilTempDegC; the zero value has that temperature all the time.
type Tank struct {
	VolumeM3  float64 // of oil; 0 = its temperature stays
	LossWPerK float64 // heat lost for each kelvin above the air
	AirDegC   float64 // -30 to 60
}

// oilJPerKgK is the specific heat of mineral oil (from memory: 1.8 to 2.0 kJ/(kg·K)).
const oilJPerKgK = 1900

// JPerK is what warms the tank by a kelvin.
func (t *Tank) JPerK() float64 { return oilKgPerM3 * oilJPerKgK * t.VolumeM3 }

// LiftHeatJ is what a whole lift and the whole drop after it leave in the oil, of a section that meets no soil: what
// the pump did, less the lifting force along the way, and the lowering force along the way back.
func (p *Params) LiftHeatJ() float64 {
	lifted := p.count() * p.pistonM2() * p.StrokeM
	mean := float64((p.dropForceN(0) + p.DropForceN) / 2)
	return float64(p.count()*(mean-p.LiftForceN)*p.StrokeM) + float64(p.PressurePa*lifted*(1+p.ring()))
}

// warmed is the temperature of a tank. Between events the heat is constant, so from sinceNs on it is
// T∞ - (T∞ - sinceDegC)·exp(-t/τ) with T∞ = air + heat/loss and τ = ρ·c·V/loss, or on a straight line without
// a loss. The flows are computed with a temperature that is never more than tankStepK from it.
type warmed struct {
	Tank
	sinceNs   int64
	sinceDegC float64
	heatW     float64
	flowsDegC float64 // with which the flows are computed
	nextNs    int64   // when it has gone tankStepK away from it
}

// tankStepK is how far the temperature may go from that with which the flows are computed.
const tankStepK = 0.003

// begin starts at atNs with a temperature, and nothing that warms it.
func (w *warmed) begin(atNs int64, degC float64) {
	w.sinceNs, w.sinceDegC, w.heatW, w.flowsDegC = atNs, degC, 0, degC
	w.plan()
}

// degC is the temperature at t.
func (w *warmed) degC(t int64) float64 {
	seconds := float64(t-w.sinceNs) * 1e-9
	if w.LossWPerK == 0 {
		return w.sinceDegC + float64(w.heatW*seconds)/w.JPerK()
	}
	end := w.AirDegC + w.heatW/w.LossWPerK
	return end + float64((w.sinceDegC-end)*exact.Exp(-seconds*w.LossWPerK/w.JPerK()))
}

// warm sets the heat from t on.
func (w *warmed) warm(t int64, heatW float64) {
	if w.VolumeM3 == 0 || heatW == w.heatW {
		return
	}
	w.sinceDegC, w.sinceNs, w.heatW = w.degC(t), t, heatW
	w.plan()
}

// plan finds when the temperature leaves what the flows are computed with.
func (w *warmed) plan() {
	w.nextNs = never
	if w.VolumeM3 == 0 {
		return
	}
	slope := (w.heatW - float64(w.LossWPerK*(w.sinceDegC-w.AirDegC))) / w.JPerK()
	if slope == 0 {
		return
	}
	to := w.flowsDegC + math.Copysign(tankStepK, slope)
	if w.LossWPerK == 0 {
		w.nextNs = after(w.sinceNs, max(0, (to-w.sinceDegC)/slope))
		return
	}
	end := w.AirDegC + w.heatW/w.LossWPerK
	if share := (w.sinceDegC - end) / (to - end); share > 0 && math.Abs(to-end) < math.Abs(w.sinceDegC-end) {
		w.nextNs = after(w.sinceNs, exact.Log(share)*w.JPerK()/w.LossWPerK)
	}
}

// step takes for the flows what the temperature at t will soon be. It is not quite a step ahead, so that one
// that turns round at once takes a while to be a step away.
func (w *warmed) step(t int64) (degC float64) {
	now := w.degC(t)
	w.flowsDegC = now + math.Copysign(0.8*tankStepK, now-w.flowsDegC)
	w.sinceDegC, w.sinceNs = now, t
	w.plan()
	return w.flowsDegC
}

// OilDegC returns the present temperature of the oil.
func (b *Bank) OilDegC() float64 {
	if b.tank.VolumeM3 > 0 {
		return b.tank.degC(b.nowNs)
	}
	return b.kinds[0].params.OilTempDegC
}
