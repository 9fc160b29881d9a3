// Package suspect is what is found of a day before it is judged and put into words: each a
// cause with its size. It turns several that are one cause into one.
package suspect

import (
	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/clock"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/response"
	"liftbench/replay/diagnose/terms"
)

// Suspect is a cause before it is put into words.
type Suspect struct {
	terms.Term
	// Chosen is set if it is a term of the regression on a leg; otherwise it was found
	// beside that.
	Chosen         bool
	Leg            evidence.Leg
	Section        int // from 1; 0 = all
	Size           float64
	LateS          [2]float64 // of a slow section: its delay on lifts and on drops
	CI95           cause.Interval
	Crossings      int     // how many show it
	SumM2          float64 // m²: by how much it reduces the sum of squared errors
	Note           string  // a fact for the evidence
	Feeds          float64 // of a flow shortage: sections that the pump moves at full speed at once
	FeedsCI95      cause.Interval
	response.Words // the sentences, if they do not follow from the others
}

// Half is half of its interval.
func (s *Suspect) Half() float64 { return (s.CI95[1] - s.CI95[0]) / 2 }

// AsLead is a command's timing as an error of the lead on file.
func (s Suspect) AsLead() Suspect {
	s.Size, s.CI95 = -s.Size, cause.Interval{-s.CI95[1], -s.CI95[0]}
	return s
}

// Lateness is it as the clock needs to know it.
func (s *Suspect) Lateness() clock.Lateness {
	return clock.Lateness{Cause: string(s.Cause), SizeS: s.Size, OneMove: s.Moves != evidence.Both, Fades: s.Cause == cause.ColdOil, FromTold: s.Cause == cause.MachineSlow}
}

// said is a cause that the recorded changes show.
func said(c cause.Name, x response.Said) Suspect {
	return Suspect{
		Term: terms.Term{Cause: c, Moves: x.Kind}, Section: x.Section, Size: x.Size, CI95: x.CI95, Crossings: x.Asked,
		SumM2: x.SumM2, Words: x.Words,
	}
}

// OfHand is work by hand.
func OfHand(h *response.Hand) Suspect { return said(cause.ByHand, h.Said()) }

// OfOrder is sections under wrong numbers.
func OfOrder(o *response.Order) Suspect { return said(cause.SectionOrder, o.Said()) }

// OfUnmet is setpoints or borders without an answer.
func OfUnmet(u *response.Unmet) Suspect { return said(cause.DoesNotFollow, u.Said()) }

// OfSensor is a work state that is not what the tool does.
func OfSensor(s *response.Sensor) Suspect { return said(cause.Sensor, s.Said()) }
