// This file writes what the bench says in lockstep and reads what a controller
// answers: the job, an instant with its sentences, setpoints, and that the
// instant has been answered.

package wire

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"go.einride.tech/can"

	"liftbench/sections"
	"liftbench/sections/field"
)

// LockstepVersion is the version of the words, which both sides say first.
const LockstepVersion = 1

// ErrAnswer is wrapped by the errors of ParseAnswer.
var ErrAnswer = errors.New("not an answer")

// LockstepJob is what a controller is told before the first instant.
type LockstepJob struct {
	Machine *sections.Machine
	Field   *field.Field
	// TickNs, LatencyNs and the leads, of a section that moves alone, are those
	// of the machine's settings.
	TickNs, LiftLeadNs, DropLeadNs, LatencyNs int64
	// Measured says that the recording has arrival times, so that LatencyNs is
	// not used.
	Measured bool
	// Paced says that sentences come in real time, not in lockstep.
	Paced bool
}

// AppendLockstepJob appends the job, from "job" to "start".
func AppendLockstepJob(b []byte, j *LockstepJob) []byte {
	mode := "lockstep"
	if j.Paced {
		mode = "paced"
	}
	b = fmt.Appendf(b, "job %d %s\nsections %d\n", LockstepVersion, mode, len(j.Machine.Sections))
	b = append(appendSeconds(append(b, "tick "...), j.TickNs), '\n')
	b = append(appendSeconds(append(b, "lead "...), j.LiftLeadNs), ' ')
	b = append(appendSeconds(b, j.DropLeadNs), '\n')
	b = appendSeconds(append(b, "latency "...), j.LatencyNs)
	if j.Measured {
		b = append(b, " measured\n"...)
	} else {
		b = append(b, " assumed\n"...)
	}
	b = fmt.Appendf(b, "antenna %.4f %.4f\n", j.Machine.AntennaXM, j.Machine.AntennaYM)
	for i, s := range j.Machine.Sections {
		b = fmt.Appendf(b, "section %d %.4f %.4f %.4f\n", i+1, s.XM, s.YM, s.WidthM)
	}
	for i := range j.Field.Zones {
		z := &j.Field.Zones[i]
		kind := z.Kind.String()
		if z.Unworked {
			kind = "left"
		}
		bearing := "-"
		if !math.IsNaN(z.RowBearingRad) {
			bearing = fmt.Sprintf("%.6f", z.RowBearingRad*180/math.Pi)
		}
		b = fmt.Appendf(b, "zone %s %s\n", kind, bearing)
		if z.Line != nil {
			n := 0
			z.Line.Path(func(_, _, _ float64) { n++ })
			b = fmt.Appendf(b, "row %d\n", n)
			z.Line.Path(func(e, north, _ float64) {
				lat, lon := j.Field.Plane.ToGeodetic(e, north)
				b = fmt.Appendf(b, "along %.9f %.9f\n", lat, lon)
			})
		}
		for _, polygon := range z.Polygons {
			for k, ring := range polygon {
				word := "outline"
				if k > 0 {
					word = "hole"
				}
				b = fmt.Appendf(b, "%s %d\n", word, len(ring))
				for _, p := range ring {
					lat, lon := j.Field.Plane.ToGeodetic(p[0], p[1])
					b = fmt.Appendf(b, "point %.9f %.9f\n", lat, lon)
				}
			}
		}
	}
	return append(b, "start\n"...)
}

// AppendNow appends the line with the instant that has come.
func AppendNow(b []byte, ns int64) []byte {
	return append(appendSeconds(append(b, "now "...), ns), '\n')
}

// Turn ends what the bench says at an instant, End what it says of a drive.
const (
	Turn = "turn\n"
	End  = "end\n"
)

// AppendReady appends a controller's answer to the job.
func AppendReady(b []byte) []byte { return fmt.Appendf(b, "ready %d\n", LockstepVersion) }

// AppendDone appends a controller's line that says that it has decided up to an
// instant.
func AppendDone(b []byte, ns int64) []byte {
	return append(appendSeconds(append(b, "done "...), ns), '\n')
}

// appendSeconds appends an instant or a duration with nine decimals, from 0 to
// the last second that is read again.
func appendSeconds(b []byte, ns int64) []byte {
	ns = min(max(ns, 0), lastSecond*1e9+999_999_999)
	b = append(appendUint(b, uint64(ns)/1e9, 1), '.')
	return appendUint(b, uint64(ns)%1e9, 9)
}

// AnswerKind says what a line from a controller is.
type AnswerKind uint8

const (
	Done       AnswerKind = iota // decided up to Answer.AtNs
	Ready                        // the job was understood
	OneSection                   // Answer.Setpoint
	AllStates                    // Answer.State, as a compact line
	OneFrame                     // Answer.Frame, as a line of candump
)

// Answer is one line from a controller.
type Answer struct {
	Kind     AnswerKind
	AtNs     int64
	Setpoint sections.Setpoint
	State    State
	Frame    can.Frame
}

// ParseAnswer parses one line, with or without its line end, into a, of which it
// sets Kind and what belongs to it. Its errors wrap ErrAnswer.
func ParseAnswer(line []byte, a *Answer) (err error) {
	line = trimLineEnd(line)
	word, rest, _ := bytes.Cut(line, []byte(" "))
	switch {
	case len(line) == 0:
		return fmt.Errorf("%w: an empty line", ErrAnswer)
	case string(word) == "done":
		var ok bool
		if a.AtNs, ok = ParseInstant(rest); !ok {
			return fmt.Errorf("%w: %.60q; expected done and an instant in seconds since 1970 with nine decimals", ErrAnswer, line)
		}
		a.Kind = Done
		return nil
	case string(word) == "ready":
		if v, ok := parseUint(rest); !ok || v != LockstepVersion {
			return fmt.Errorf("%w: %.60q; expected ready %d", ErrAnswer, line, LockstepVersion)
		}
		a.Kind = Ready
		return nil
	case line[0] == '{':
		a.Kind, err = OneSection, ParseJSON(line, &a.Setpoint)
	case line[0] == '$':
		a.Kind, err = AllStates, ParseLine(line, &a.State)
	case bytes.IndexByte(line, '[') > 0:
		a.Kind = OneFrame
		_, a.Frame, err = ParseCandump(line)
	default:
		return fmt.Errorf("%w: %.60q; expected setpoints as $PLBS, JSON or candump, or done", ErrAnswer, line)
	}
	if err != nil {
		return fmt.Errorf("%w: %w", ErrAnswer, err)
	}
	return nil
}

// ParseInstant parses the instant after "now" or "done".
func ParseInstant(f []byte) (ns int64, ok bool) {
	point := len(f) - 10
	if point < 1 || f[point] != '.' {
		return 0, false
	}
	s, ok1 := parseUint(f[:point])
	part, ok2 := digits(f[point+1:])
	return int64(s)*1e9 + int64(part), ok1 && ok2 && s <= lastSecond
}
