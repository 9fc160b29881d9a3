// The receiver block of a scenario file, and the receiver that it describes.

package settings

import (
	"cmp"
	"slices"

	"liftbench/nmea"
	"liftbench/sim/receiver"
)

// Receiver is the receiver of a generated drive: its rate, errors and habits.
type Receiver struct {
	Preset          string         `key:"preset" words:"rtk-fixed|rtk-float|sbas|standalone" doc:"kind of solution, from which come the values of the keys that are absent"`
	RateHz          float64        `key:"rate_hz" unit:"Hz" min:"0.1" max:"100" doc:"positions a second"`
	LatencyMs       float64        `key:"latency_ms" unit:"ms" min:"0" max:"5000" doc:"from the instant of a position to its arrival"`
	JitterMs        float64        `key:"jitter_ms" unit:"ms" min:"0" max:"5000" doc:"the most that chance adds to the latency; told to the controller by a stamp alone"`
	LostShare       float64        `key:"lost_share" min:"0" max:"1" doc:"share of the positions that never arrive, each by chance"`
	ClockAheadMs    float64        `key:"clock_ahead_ms" unit:"ms" min:"-60000" max:"60000" doc:"how far the clock that stamps arrivals runs ahead of the receiver's, negative behind"`
	NoiseCm         float64        `key:"noise_cm" unit:"cm" min:"0" max:"10000" doc:"standard deviation of the position on each axis"`
	CorrelationS    float64        `key:"correlation_s" unit:"s" min:"0" max:"1000000" doc:"how long the position's error lasts"`
	WhiteShare      float64        `key:"white_share" min:"0" max:"1" doc:"share of the error's variance that is new at each position"`
	FloatsPerH      float64        `key:"floats_per_h" unit:"1/h" min:"0" max:"3600" doc:"float spells in an hour without one, at random"`
	FloatS          float64        `key:"float_s" unit:"s" above:"0" max:"86400" doc:"how long a float spell lasts on average, exponentially distributed"`
	FloatNoiseCm    float64        `key:"float_noise_cm" unit:"cm" above:"0" max:"10000" doc:"noise_cm during a float spell or fault"`
	FloatCorrS      *float64       `key:"float_correlation_s" unit:"s" min:"0" max:"1000000" doc:"correlation_s during one; the same when absent"`
	FloatWhiteShare *float64       `key:"float_white_share" min:"0" max:"1" doc:"white_share during one; the same when absent"`
	OutagesPerH     float64        `key:"outages_per_h" unit:"1/h" min:"0" max:"3600" doc:"outages in an hour without one, at random: no solution, as under trees"`
	OutageS         float64        `key:"outage_s" unit:"s" above:"0" max:"86400" doc:"how long an outage lasts on average, exponentially distributed"`
	ReckonedS       float64        `key:"outage_reckoned_s" unit:"s" min:"0" max:"86400" doc:"how long into an outage the receiver carries the position on (quality 6) before it has none"`
	DriftCmS        float64        `key:"outage_drift_cm_s" unit:"cm/s" min:"0" max:"10000" doc:"standard deviation on each axis of the speed at which such a position drifts off, constant in each outage"`
	RefixStepCm     float64        `key:"refix_step_cm" unit:"cm" min:"0" max:"10000" doc:"standard deviation on each axis of the offset with which a fix comes back after a float spell or an outage; it lasts until the next"`
	VelocityCmS     float64        `key:"velocity_noise_cm_s" unit:"cm/s" min:"0" max:"10000" doc:"standard deviation of the velocity on each axis"`
	MinCourseKmh    float64        `key:"min_course_kmh" unit:"km/h" above:"0" max:"36" doc:"speed below which the receiver knows no course"`
	HoldCourse      bool           `key:"hold_course" doc:"whether it repeats its last course there instead of leaving the field empty"`
	HeadingNoiseDeg float64        `key:"heading_noise_deg" unit:"°" min:"0" max:"180" doc:"standard deviation of the true heading in HDT"`
	SlopeDeg        float64        `key:"slope_deg" unit:"°" min:"0" max:"45" doc:"slope of the ground, on which the antenna leans downhill by its height times the sine"`
	DownhillDeg     float64        `key:"downhill_deg" unit:"°" min:"-360" max:"360" doc:"direction of the slope, downhill"`
	Quality         int            `key:"quality" min:"1" max:"8" doc:"GGA quality number out of faults"`
	Satellites      int            `key:"satellites" min:"1" max:"99" doc:"satellites used"`
	HDOP            float64        `key:"hdop" above:"0" max:"99.9" doc:"horizontal dilution of precision"`
	MinuteDigits    int            `key:"minute_digits" min:"1" max:"9" doc:"decimals of the minutes of latitude and longitude; with 4 a position comes in steps of 19 cm"`
	Sentences       []nmea.Type    `key:"sentences" words:"GGA|RMC|VTG|HDT|ZDA|GST" doc:"sentences of each epoch, in order"`
	Stamp           receiver.Stamp `key:"stamp" words:"none|unix|rfc3339" doc:"arrival time written before each sentence, from which the age of a fix can be measured"`
	Faults          []faultConfig  `key:"faults" doc:"times at which the receiver is not at its best; of two that overlap the later in the list holds, and all over spells and outages"`
}

// faultConfig is one fault.
type faultConfig struct {
	FromS float64            `key:"from_s" need:"yes" unit:"s" min:"0" max:"1000000" doc:"begin, from the start of the drive"`
	ToS   float64            `key:"to_s" need:"yes" unit:"s" above:"0" max:"1000000" doc:"end, from the start of the drive"`
	Kind  receiver.FaultKind `key:"kind" need:"yes" words:"float|no-fix|silence" doc:"float: quality 5 and more noise; no-fix: sentences without a position; silence: no sentences"`
}

// Params returns the receiver in SI.
func (r *Receiver) Params(seed uint64) receiver.Params {
	p := receiver.Params{
		RateHz:           r.RateHz,
		LatencyNs:        int64(r.LatencyMs * 1e6),
		JitterNs:         int64(r.JitterMs * 1e6),
		LostShare:        r.LostShare,
		ClockAheadNs:     int64(r.ClockAheadMs * 1e6),
		SigmaM:           r.NoiseCm / 100,
		CorrelationS:     r.CorrelationS,
		WhiteShare:       r.WhiteShare,
		FloatSigmaM:      r.FloatNoiseCm / 100,
		Floats:           receiver.Spells{PerHour: r.FloatsPerH, MeanS: r.FloatS},
		Outages:          receiver.Spells{PerHour: r.OutagesPerH, MeanS: r.OutageS},
		ReckonedS:        r.ReckonedS,
		DriftMps:         r.DriftCmS / 100,
		RefixSigmaM:      r.RefixStepCm / 100,
		VelocitySigmaMps: r.VelocityCmS / 100,
		MinCourseMps:     r.MinCourseKmh / 3.6,
		HoldCourse:       r.HoldCourse,
		HeadingSigmaDeg:  r.HeadingNoiseDeg,
		SlopeDeg:         r.SlopeDeg,
		DownhillDeg:      r.DownhillDeg,
		Quality:          nmea.Quality(r.Quality),
		Satellites:       uint8(r.Satellites),
		HDOP:             r.HDOP,
		MinuteDigits:     r.MinuteDigits,
		Sentences:        slices.Clone(r.Sentences),
		Stamp:            r.Stamp,
		Seed:             seed,
	}
	p.FloatCorrelationS, p.FloatWhiteShare = *cmp.Or(r.FloatCorrS, &r.CorrelationS), *cmp.Or(r.FloatWhiteShare, &r.WhiteShare)
	if r.FloatCorrS != nil && *r.FloatCorrS == 0 {
		p.FloatWhiteShare = 1 // both 0 stand for the others
	}
	for _, f := range r.Faults {
		p.Faults = append(p.Faults, receiver.Fault(f))
	}
	return p
}
