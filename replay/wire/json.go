// This file writes and reads setpoints as lines of JSON.

package wire

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"liftbench/sections"
)

// ErrJSON is wrapped by the errors of ParseJSON.
var ErrJSON = errors.New("not a setpoint in JSON")

// AppendJSON appends one setpoint as a line:
//
//	{"due":"2031-05-11T06:16:27.250000000Z","section":3,"on":true,"reason":"border"}
//
// due is when the setpoint takes effect at the valve, UTC with nine decimals;
// section counts from 1 at the left; on is true to work and false to lift.
func AppendJSON(b []byte, s *sections.Setpoint) []byte {
	b = append(b, `{"due":"`...)
	b = time.Unix(0, s.DueNs).UTC().AppendFormat(b, "2006-01-02T15:04:05.000000000Z07:00")
	b = append(b, `","section":`...)
	b = appendUint(b, uint64(s.Section)+1, 1)
	b = append(b, `,"on":`...)
	if s.On {
		b = append(b, "true"...)
	} else {
		b = append(b, "false"...)
	}
	b = append(b, `,"reason":"`...)
	b = append(b, s.Reason.String()...)
	return append(b, "\"}\n"...)
}

// ParseJSON parses a line of AppendJSON. Its errors wrap ErrJSON and leave s
// unchanged.
func ParseJSON(line []byte, s *sections.Setpoint) error {
	var v struct {
		Due     *time.Time `json:"due"`
		Section *int       `json:"section"`
		On      *bool      `json:"on"`
		Reason  *string    `json:"reason"`
	}
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(&v); err != nil {
		return fmt.Errorf("%w: %w", ErrJSON, err)
	}
	if rest := bytes.TrimSpace(line[d.InputOffset():]); len(rest) > 0 {
		return fmt.Errorf("%w: %.20q after it; expected one to a line", ErrJSON, rest)
	}
	if v.Due == nil || v.Section == nil || v.On == nil || v.Reason == nil {
		return fmt.Errorf("%w: expected due, section, on and reason", ErrJSON)
	}
	if u := v.Due.Unix(); u < 0 || u > lastSecond {
		return fmt.Errorf("%w: due in the year %d; expected 1970 to 2262", ErrJSON, v.Due.Year())
	}
	if *v.Section < 1 || *v.Section > sections.MaxSections {
		return fmt.Errorf("%w: section %d; expected 1 to %d", ErrJSON, *v.Section, sections.MaxSections)
	}
	var reason sections.Reason
	if err := reason.UnmarshalText([]byte(*v.Reason)); err != nil {
		return fmt.Errorf("%w: reason %v", ErrJSON, err)
	}
	*s = sections.Setpoint{DueNs: v.Due.UnixNano(), Section: int16(*v.Section - 1), On: *v.On, Reason: reason}
	return nil
}
