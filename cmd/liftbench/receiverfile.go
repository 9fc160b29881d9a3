// The receiver block of a scenario file, and the receiver it stands for.

package main

import (
	"fmt"
	"time"

	"liftbench/nmea"
	"liftbench/sim/receiver"
)

// receiverConfig is what the receiver of a generated drive does.
type receiverConfig struct {
	RateHz          float64       `key:"rate_hz" unit:"Hz" min:"0.1" max:"100" doc:"positions a second"`
	LatencyMs       float64       `key:"latency_ms" unit:"ms" min:"0" max:"5000" doc:"from the instant of a position to its arrival"`
	JitterMs        float64       `key:"jitter_ms" unit:"ms" min:"0" max:"5000" doc:"the most that chance adds to the latency"`
	NoiseCm         float64       `key:"noise_cm" unit:"cm" min:"0" max:"10000" doc:"standard deviation of the position on each axis"`
	CorrelationS    float64       `key:"correlation_s" unit:"s" min:"0" max:"1000000" doc:"how long the position's error lasts"`
	WhiteShare      float64       `key:"white_share" min:"0" max:"1" doc:"share of the error's variance that is new at each position"`
	FloatNoiseCm    float64       `key:"float_noise_cm" unit:"cm" above:"0" max:"10000" doc:"standard deviation during a float fault"`
	VelocityCmS     float64       `key:"velocity_noise_cm_s" unit:"cm/s" min:"0" max:"10000" doc:"standard deviation of the velocity on each axis"`
	MinCourseKmh    float64       `key:"min_course_kmh" unit:"km/h" above:"0" max:"36" doc:"speed below which the receiver knows no course"`
	HoldCourse      bool          `key:"hold_course" doc:"whether it repeats its last course there instead of leaving the field empty"`
	HeadingNoiseDeg float64       `key:"heading_noise_deg" unit:"°" min:"0" max:"180" doc:"standard deviation of the true heading in HDT"`
	SlopeDeg        float64       `key:"slope_deg" unit:"°" min:"0" max:"45" doc:"slope of the ground, on which the antenna leans downhill"`
	DownhillDeg     float64       `key:"downhill_deg" unit:"°" min:"-360" max:"360" doc:"direction of the slope, downhill"`
	Quality         int           `key:"quality" min:"1" max:"8" doc:"GGA quality number out of faults"`
	Satellites      int           `key:"satellites" min:"1" max:"99" doc:"satellites used"`
	HDOP            float64       `key:"hdop" above:"0" max:"99.9" doc:"horizontal dilution of precision"`
	Sentences       []string      `key:"sentences" words:"GGA|RMC|VTG|HDT|ZDA|GST" doc:"sentences of each epoch, in order"`
	Stamp           string        `key:"stamp" words:"none|unix|rfc3339" doc:"arrival time written before each sentence, from which the age of a fix can be measured"`
	Faults          []faultConfig `key:"faults" doc:"times at which the receiver is not at its best; of two that overlap the later in the list holds"`
}

// faultConfig is one fault.
type faultConfig struct {
	FromS float64 `key:"from_s" need:"yes" unit:"s" min:"0" max:"1000000" doc:"begin, from the start of the drive"`
	ToS   float64 `key:"to_s" need:"yes" unit:"s" above:"0" max:"1000000" doc:"end, from the start of the drive"`
	Kind  string  `key:"kind" need:"yes" words:"float|no-fix|silence" doc:"float: quality 5 and more noise; no-fix: sentences without a position; silence: no sentences"`
}

var (
	stampNames = [...]string{receiver.NoStamp: "none", receiver.UnixStamp: "unix", receiver.RFC3339Stamp: "rfc3339"}
	faultNames = [...]string{receiver.Float: "float", receiver.NoFix: "no-fix", receiver.Silence: "silence"}
	spoken     = [...]nmea.Type{nmea.GGA, nmea.RMC, nmea.VTG, nmea.HDT, nmea.ZDA, nmea.GST}
)

// defaultReceiver is an RTK receiver at 10 Hz. Carballido et al. 2014 (Appl.
// Eng. Agric. 30(3):361-366) found a standard deviation of 1.43 cm between
// rows; how it is spread over time and the velocity's are our choice.
func defaultReceiver() receiverConfig {
	return receiverConfig{
		RateHz: 10, LatencyMs: 100,
		NoiseCm: 1.4, CorrelationS: 60, WhiteShare: 0.1, FloatNoiseCm: 30,
		VelocityCmS: 2, MinCourseKmh: 0.36,
		Quality: int(nmea.RTKFixed), Satellites: 16, HDOP: 0.7,
		Sentences: []string{"GGA", "RMC", "VTG"},
		Stamp:     stampNames[receiver.NoStamp],
	}
}

// params returns the receiver in SI.
func (r *receiverConfig) params(seed uint64) receiver.Params {
	p := receiver.Params{
		RateHz:           r.RateHz,
		LatencyNs:        int64(r.LatencyMs * 1e6),
		JitterNs:         int64(r.JitterMs * 1e6),
		SigmaM:           r.NoiseCm / 100,
		CorrelationS:     r.CorrelationS,
		WhiteShare:       r.WhiteShare,
		FloatSigmaM:      r.FloatNoiseCm / 100,
		VelocitySigmaMps: r.VelocityCmS / 100,
		MinCourseMps:     r.MinCourseKmh / 3.6,
		HoldCourse:       r.HoldCourse,
		HeadingSigmaDeg:  r.HeadingNoiseDeg,
		SlopeDeg:         r.SlopeDeg,
		DownhillDeg:      r.DownhillDeg,
		Quality:          nmea.Quality(r.Quality),
		Satellites:       uint8(r.Satellites),
		HDOP:             r.HDOP,
		Seed:             seed,
	}
	for _, name := range r.Sentences {
		for _, t := range spoken {
			if t.String() == name {
				p.Sentences = append(p.Sentences, t)
			}
		}
	}
	for i, name := range stampNames {
		if r.Stamp == name {
			p.Stamp = receiver.Stamp(i)
		}
	}
	for _, f := range r.Faults {
		fault := receiver.Fault{FromS: f.FromS, ToS: f.ToS}
		for i, name := range faultNames {
			if f.Kind == name {
				fault.Kind = receiver.FaultKind(i)
			}
		}
		p.Faults = append(p.Faults, fault)
	}
	return p
}

// checkDrive reports what of a drive to generate cannot be.
func (s *scenarioConfig) checkDrive() error {
	if y := s.Drive.Start.Year(); y < 1980 || y > 2200 {
		return s.doc.errorAt("drive.start", "drive.start: found %s; expected a year from 1980 to 2200", s.Drive.Start.Format(time.RFC3339))
	}
	for i, f := range s.Receiver.Faults {
		if f.ToS <= f.FromS {
			path := fmt.Sprintf("receiver.faults[%d].to_s", i)
			return s.doc.errorAt(path, "%s: found %g; expected more than from_s, %g s", path, f.ToS, f.FromS)
		}
	}
	return nil
}
