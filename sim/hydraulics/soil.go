// This file is where the tool is in the soil. A tool's height counts from its
// lowest place: 0 at working depth, TravelM when raised.

package hydraulics

// TravelM returns how far a tool moves: raised height + working depth.
func (p *Params) TravelM() float64 { return p.RaisedM + p.WorkingDepthM }

// DepthM returns how deep a tool at heightM is in the soil, negative above it.
func (p *Params) DepthM(heightM float64) float64 { return p.WorkingDepthM - heightM }

// edgeM is the height of a tool at effective depth: in work at it and below,
// out of work above.
func (p *Params) edgeM() float64 { return p.WorkingDepthM - p.EffectiveDepthM }
