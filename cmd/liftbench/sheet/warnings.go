// What the set-up sheet warns of, beside what its parts say as they are printed.

package sheet

import (
	"math"

	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/sim/receiver"
)

// commonPractice warns of what is outside the trade's usual range. Common
// practice, no source.
func (s *Sheet) commonPractice() {
	m := s.Machine
	if x := m.Rows.SpacingM; x < 0.25 || x > 0.80 {
		s.warn("Rows of %s m are unusual: 0.25 to 0.80 m is common.", wording.Trim(x))
	}
	if w := m.WidthM(); w > 12 {
		s.warn("A working width of %s m is unusual: 6, 9 and 12 m are common.", wording.Trim(w))
	}
	for _, d := range []struct {
		name string
		cm   float64
	}{{"working", m.Depth.WorkingCm}, {"effective", m.Depth.EffectiveCm}} {
		if math.Abs(d.cm-math.Round(d.cm*2)/2) > 1e-9 {
			s.warn("A %s depth of %s cm cannot be set on most hoes: steps are 0.5 cm.", d.name, wording.Trim(d.cm))
		}
	}
	if kmh := s.workKmh(); kmh > 15 {
		s.warn("%s km/h is above the top of hoes, 15 km/h; 5 to 8 are usual.", wording.Trim(kmh))
	} else if kmh < 5 || kmh > 8 {
		s.warn("%s km/h is outside the usual 5 to 8 km/h.", wording.Trim(kmh))
	}
	if t := m.Transport; t != nil {
		if t.WidthM > 3 {
			s.warn("%s m wide on the road: above the usual 3 m, subject to local law.", wording.Trim(t.WidthM))
		}
		if t.HeightM > 4 {
			s.warn("%s m high on the road: above the usual 4 m, subject to local law.", wording.Trim(t.HeightM))
		}
	}
	if s.Scenario == nil {
		return
	}
	s.Cold()
	if s.Scenario.Log == "" {
		s.receiver()
	}
}

// Cold warns of oil in which the machine's leads are wrong.
func (s *Sheet) Cold() {
	if s.Scenario.Spread.OilStartC == nil {
		return
	}
	p := s.Machine.Params()
	q := p
	q.OilTempDegC = *s.Scenario.Spread.OilStartC
	lift, drop := q.LiftTimeNs(1)-p.LiftTimeNs(1), q.DropTimeNs()-p.DropTimeNs()
	if max(lift, drop) < leadOffMs*1e6 {
		return
	}
	cm := func(ns int64) float64 { return float64(ns) * 1e-9 * s.workKmh() / 3.6 * 100 }
	s.warn("The oil starts at %s °C, the leads are for %s °C: at %s km/h a section alone lifts %.0f cm and drops %.0f cm late at first.",
		wording.Trim(q.OilTempDegC), wording.Trim(p.OilTempDegC), wording.Trim(s.workKmh()), cm(lift), cm(drop))
}

// receiver warns of errors that a run would not show, or that are larger than
// they look.
func (s *Sheet) receiver() {
	r, c := &s.Scenario.Receiver, &s.Machine.Controller
	if set, is := c.LatencyMs, r.LatencyMs; math.Abs(set-is) > leadOffMs {
		s.warn("The controller takes fixes as %s ms old, the receiver's are %s ms: at %s km/h that is %.0f cm.", wording.Trim(set), wording.Trim(is), wording.Trim(s.workKmh()), math.Abs(set-is)*1e-3*s.workKmh()/3.6*100)
	}
	if lsbCm := 100 * minuteM * math.Pow10(-r.MinuteDigits); lsbCm > coarseCm {
		s.warn("Positions with %s of a minute come in steps of %s cm; a receiver for this work writes 7 or more.", wording.Counted(r.MinuteDigits, "decimal"), wording.Trim(wording.RoundTo(lsbCm, 0.1)))
	}
	if r.Stamp == receiver.NoStamp {
		for _, k := range []struct {
			key string
			ms  float64
		}{{"jitter_ms", r.JitterMs}, {"clock_ahead_ms", r.ClockAheadMs}} {
			if k.ms != 0 {
				s.warn("receiver.%s changes nothing without arrival times: receiver.stamp is none.", k.key)
			}
		}
	}
	if r.OutagesPerH > 0 && r.ReckonedS > 0 && nmea.Quality(c.MinQuality).Rank() > nmea.Estimated.Rank() {
		s.warn("Positions carried on in an outage (quality 6) do not count: controller.min_quality is %d.", c.MinQuality)
	}
}

// minuteM is a minute of arc on a meridian: the nautical mile.
const minuteM = 1852.0

// coarseCm is a step of the position that shows beside RTK noise.
const coarseCm = 2
