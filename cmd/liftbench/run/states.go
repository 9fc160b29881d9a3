// Work states as CSV, as states.Read reads them.

package run

import (
	"sort"
	"strconv"

	"liftbench/cmd/liftbench/wording"
	"liftbench/sections"
)

// AppendStates appends what the sections were told and what their tools did,
// in order of time; a setpoint stands before what the tool does at the same
// instant.
func AppendStates(b []byte, told []sections.Setpoint, did []sections.WorkChange) []byte {
	type row struct {
		sections.WorkChange
		setpoint bool
	}
	rows := make([]row, 0, len(told)+len(did))
	for _, s := range told {
		rows = append(rows, row{sections.WorkChange{TimeNs: s.DueNs, Section: s.Section, On: s.On}, true})
	}
	for _, c := range did {
		rows = append(rows, row{c, false})
	}
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].TimeNs < rows[j].TimeNs })
	b = append(b, "time,section,setpoint,actual\n"...)
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
		b = append(b, '\n')
	}
	return b
}
