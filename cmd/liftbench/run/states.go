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
	return AppendPolled(b, told, did, nil, nil)
}

// AppendPolled is AppendStates of changes that lie within intervals, where these are known.
func AppendPolled(b []byte, told []sections.Setpoint, did []sections.WorkChange, toldWithin, didWithin []states.Poll) []byte {
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
	for _, p := range toldWithin {
		within[change{p.Section, p.AtNs, true}] = p.AtNs - p.AfterNs
	}
	for _, p := range didWithin {
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
		b = append(b, '\n')
	}
	return b
}
