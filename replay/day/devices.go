// The devices of a task whose work states were logged, as a user tells them apart.

package day

import (
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/sections"
)

// Device is what a task tells of a device whose work states were logged. Names that people gave
// to devices are not read.
type Device struct {
	ID, Element     string // as --device takes them
	Kind            string // what it is; "" = not told
	Sections        int
	WidthM          float64 // of all sections; 0 = not told
	Changes         int     // of work states
	FromNs, UntilNs int64   // first and last change, UTC; 0 without
	Ha              float64 // driven over in work
}

// String is a device in half a sentence.
func (v *Device) String() string {
	said := v.ID + " " + v.Element
	if v.Kind != "" {
		said += ", " + v.Kind
	}
	if v.Sections > 1 {
		said += fmt.Sprintf(", %d sections", v.Sections)
	} else {
		said += ", one section"
	}
	if v.WidthM > 0 {
		said += fmt.Sprintf(", %.4g m", v.WidthM)
	}
	if v.Changes == 0 {
		return said + ", no change of work state"
	}
	return said + fmt.Sprintf(", %d changes from %s to %s UTC, %.2f ha", v.Changes, clockTime(v.FromNs), clockTime(v.UntilNs)[len("2006-01-02 "):], v.Ha)
}

// mostDevices is for how many devices of a task the logs are read again.
const mostDevices = 12

// Devices lists the devices of a task whose work states were logged, the one that changed most
// first.
func Devices(s *taskdata.Set, task string) []Device {
	t := s.Task(task)
	if t == nil {
		return nil
	}
	var list []Device
	for i := range t.Banks {
		if i == mostDevices {
			break
		}
		d, err := s.Day(taskdata.Options{TaskID: task, DeviceID: t.Banks[i].DeviceID, Element: t.Banks[i].Element})
		if err != nil || d.Bank == nil {
			continue
		}
		list = append(list, deviceOf(s, d))
	}
	return list
}

// deviceOf is the device whose work states a day has.
func deviceOf(s *taskdata.Set, t *taskdata.Day) Device {
	v := Device{ID: t.Bank.DeviceID, Element: t.Bank.Element, Sections: len(t.Bank.Sections), Changes: len(t.Actual.Changes)}
	if x := s.Device(v.ID); x != nil {
		v.Kind = x.Kind
	}
	widthM := make([]float64, v.Sections)
	for i, x := range t.Geometry.Sections {
		widthM[i] = max(0, x.WidthM)
		v.WidthM += widthM[i]
	}
	if v.Changes > 0 {
		v.FromNs, v.UntilNs = t.Actual.Changes[0].AtNs, t.Actual.Changes[v.Changes-1].AtNs
	}
	v.Ha = drivenHa(t.Fixes, t.Actual.Work(), widthM)
	return v
}

// drivenHa is what sections of these widths drove over in work. Ground that was driven over
// twice counts twice.
func drivenHa(fixes []nmea.Fix, work []sections.WorkChange, widthM []float64) float64 {
	const mostGapNs = 2e9
	on, k := make([]bool, len(widthM)), 0
	onM, m2 := 0.0, 0.0
	for i := 1; i < len(fixes); i++ {
		f := &fixes[i]
		for ; k < len(work) && work[k].TimeNs <= f.TimeNs; k++ {
			if c := work[k]; int(c.Section) < len(on) && on[c.Section] != c.On {
				on[c.Section] = c.On
				if c.On {
					onM += widthM[c.Section]
				} else {
					onM -= widthM[c.Section]
				}
			}
		}
		if dt := f.TimeNs - fixes[i-1].TimeNs; dt <= mostGapNs && !math.IsNaN(f.SpeedMps) {
			m2 += float64(onM * f.SpeedMps * float64(dt) * 1e-9)
		}
	}
	return max(0, m2) / 1e4
}
