// Work states as CSV, as states.Read reads them.

package run

import (
	"sort"
	"strconv"

	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/states"
	"liftbench/sections"
)

// AppendStates appends what the sections were told and what their tools did,
// in order of time; a setpoint stands before what the tool does at the same
// instant.
func AppendStates(b []byte, told []sections.Setpoint, did []sections.WorkChange) []byte {
	return appendStates(b, told, did, &states.Recorded{})
}

// AppendRecorded appends recorded states as CSV, as AppendStates does: with the intervals within which they
// changed, and the clock that stamped them, where these are known.
func AppendRecorded(b []byte, r *states.Recorded) []byte {
	told := make([]sections.Setpoint, len(r.Setpoints))
	for i, c := range r.Setpoints {
		told[i] = sections.Setpoint{DueNs: c.TimeNs, Section: c.Section, On: c.On}
	}
	return appendStates(b, told, r.Actuals, r)
}

// appendStates takes from known what is known of the times of told and did.
func appendStates(b []byte, told []sections.Setpoint, did []sections.WorkChange, known *states.Recorded) []byte {
	type row struct {
		sections.WorkChange
		setpoint bool
	}
	type change struct {
		section  int16
		ns       int64
		setpoint bool
	}
	within := map[change]int64{}
	for _, p := range known.SetpointPolls {
		within[change{p.Section, p.AtNs, true}] = p.AtNs - p.AfterNs
	}
	for _, p := range known.ActualPolls {
		within[change{p.Section, p.AtNs, false}] = p.AtNs - p.AfterNs
	}
	rows := make([]row, 0, len(told)+len(did))
	for _, s := range told {
		rows = append(rows, row{sections.WorkChange{TimeNs: s.DueNs, Section: s.Section, On: s.On}, true})
	}
	for _, c := range did {
		rows = append(rows, row{c, false})
	}
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].TimeNs < rows[j].TimeNs })
	b = append(b, "time,section,setpoint,actual"...)
	if len(within) > 0 {
		b = append(b, ",within_ms"...)
	}
	if known.OneClock {
		b = append(b, ",clock"...)
	}
	b = append(b, '\n')
	for _, r := range rows {
		b = wording.AppendTime(b, r.TimeNs)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(r.Section)+1, 10)
		state := byte('0')
		if r.On {
			state = '1'
		}
		if r.setpoint {
			b = append(b, ',', state, ',')
		} else {
			b = append(b, ',', ',', state)
		}
		if len(within) > 0 {
			b = append(b, ',')
			if ns := within[change{r.Section, r.TimeNs, r.setpoint}]; ns > 0 {
				b = strconv.AppendFloat(b, float64(ns)*1e-6, 'f', -1, 64)
			}
		}
		if known.OneClock {
			b = append(b, ",recorder"...)
		}
		b = append(b, '\n')
	}
	return b
}
