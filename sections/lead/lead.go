// Package lead is how long before a crossing a section is commanded.
package lead

import "fmt"

// MaxNs is the longest lead that is allowed: it bounds how far ahead the
// controller looks.
const MaxNs = 10e9

// Lead is how long before the crossing a command is given: DeadNs + MoveNs for
// a section that moves alone. The trade's turn-off and turn-on times are
// ISO 11783-11 DDI 206 (lift) and 205 (drop).
//
// A flow-aware lead also counts the sections about to move at once: where the
// pump feeds only FedAtOnce sections at full speed, n sections moving together
// each take max(1, n/FedAtOnce) times as long.
type Lead struct {
	DeadNs int64 // from the command until the tool starts to move
	MoveNs int64 // from then until it passes the effective depth, alone
	// TravelNs is the whole stroke, alone, between working depth and raised. With it
	// a lead is shorter for a tool that has not gone all the way, and a flow-aware
	// one counts a section until it is all the way up. 0 = not known: a tool is
	// taken to be all the way up or down.
	TravelNs int64
	// FedAtOnce is pump flow over the flow of one section at full speed;
	// 0 = the lead is fixed.
	FedAtOnce float64
}

// AloneNs returns the lead of a section that moves alone.
func (l *Lead) AloneNs() int64 { return l.DeadNs + l.MoveNs }

// LongestNs returns the lead when all of n sections move at once.
func (l *Lead) LongestNs(n int) int64 {
	return l.DeadNs + int64(float64(l.MoveNs)*l.Stretch(float64(n)))
}

// Stretch returns how many times as long a stroke takes with n sections
// moving at once.
func (l *Lead) Stretch(n float64) float64 {
	if l.FedAtOnce <= 0 {
		return 1
	}
	return max(1, n/l.FedAtOnce)
}

// Validate reports what cannot work about a lead of that name, as a sentence.
func (l *Lead) Validate(name string) error {
	seconds := func(ns int64) float64 { return float64(ns) * 1e-9 }
	if l.DeadNs < 0 || l.MoveNs < 0 || l.AloneNs() > MaxNs {
		return fmt.Errorf("%s %.3g s; expected 0 to %d s", name, seconds(l.AloneNs()), int64(MaxNs)/1e9)
	}
	if !(l.FedAtOnce >= 0) || l.FedAtOnce > 0 && (l.MoveNs == 0 || l.TravelNs < l.MoveNs) {
		return fmt.Errorf("%s: %g sections fed at once, whole stroke %.3g s; expected 0 or more sections, and a stroke no shorter than the part up to the effective depth, which is more than 0", name, l.FedAtOnce, seconds(l.TravelNs))
	}
	if t := l.TravelNs; t != 0 && t < l.MoveNs {
		return fmt.Errorf("%s: whole stroke %.3g s; expected 0, not known, or no less than the part up to the effective depth, %.3g s", name, seconds(t), seconds(l.MoveNs))
	}
	return nil
}

// Trim is what one section's leads are longer than those of the others, ns: its valve is
// later, or its hose longer. DDI 205 and 206 of ISO 11783-11 exist for each section.
type Trim struct {
	LiftNs, DropNs int64
}

// Of returns the lift and the drop lead with a trim.
func (t Trim) Of(lift, drop Lead) (Lead, Lead) {
	lift.DeadNs += t.LiftNs
	drop.DeadNs += t.DropNs
	return lift, drop
}

// Validate reports what cannot work about a trim of these leads, as a sentence: it may take
// off no more than the dead time, since a valve that has answered moves as the others do.
func (t Trim) Validate(lift, drop *Lead) error {
	for _, x := range []struct {
		name string
		ns   int64
		lead *Lead
	}{{"lift", t.LiftNs, lift}, {"drop", t.DropNs, drop}} {
		if least := -x.lead.DeadNs; x.ns < least || x.lead.AloneNs()+x.ns > MaxNs {
			return fmt.Errorf("%s lead longer by %.0f ms; expected %.0f to %.0f ms, for a dead time of %.0f ms and a lead of %.0f ms", x.name, float64(x.ns)*1e-6, float64(least)*1e-6,
				float64(MaxNs-x.lead.AloneNs())*1e-6, float64(x.lead.DeadNs)*1e-6, float64(x.lead.AloneNs())*1e-6)
		}
	}
	return nil
}
