// This file relates a tool's height to its depth in the soil. Heights count
// upward from working depth: 0 there, TravelM when raised.

package hydraulics

// TravelM returns how far a tool moves: raised height + working depth.
func (p *Params) TravelM() float64 { return p.RaisedM + p.WorkingDepthM }

// DepthM returns the depth of a tool at heightM below the ground's surface,
// negative when it is above.
func (p *Params) DepthM(heightM float64) float64 { return p.WorkingDepthM - float64(heightM) }

// effectiveM returns the height of a tool at effective depth. At this height and
// below a tool is in work.
func (p *Params) effectiveM() float64 { return p.WorkingDepthM - p.EffectiveDepthM }
