// Command cinterface is the controller as a library for C, built with
// -buildmode=c-archive. sections.h beside it says what each function does.
package main

// #include "sections.h"
import "C"

import (
	"runtime/cgo"
	"strings"
	"unsafe"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/field"
)

func main() {}

// controller is what a handle stands for. Its slice is kept, so that a tick allocates
// nothing.
type controller struct {
	*sections.Controller
	batch []sections.Setpoint
}

func of(handle C.uintptr_t) *controller { return cgo.Handle(handle).Value().(*controller) }

//export sections_new
func sections_new(setup *C.sections_setup, message *C.char, room C.int32_t) C.uintptr_t {
	c, err := build(setup)
	if err != nil {
		if room > 0 {
			text := unsafe.Slice((*byte)(unsafe.Pointer(message)), int(room))
			text[copy(text[:room-1], err.Error())] = 0
		}
		return 0
	}
	return C.uintptr_t(cgo.NewHandle(c))
}

var (
	mounts = map[C.int32_t]sections.Mount{C.SECTIONS_REAR: sections.RearRigid, C.SECTIONS_FRONT: sections.FrontRigid, C.SECTIONS_TRAILED: sections.Trailed}
	rules  = map[C.int32_t]sections.EdgeRule{C.SECTIONS_EVEN: sections.Even, C.SECTIONS_CROP_FIRST: sections.CropFirst, C.SECTIONS_WEED_FIRST: sections.WeedFirst}
)

func build(s *C.sections_setup) (*controller, error) {
	m := &sections.Machine{
		Mount:     mounts[s.mount],
		AntennaXM: float64(s.antenna_forward_m), AntennaYM: float64(s.antenna_right_m),
		HitchBehindM: float64(s.hitch_behind_m), DrawbarM: float64(s.drawbar_m),
	}
	if s.count > 0 && s.count <= sections.MaxSections {
		for _, p := range unsafe.Slice(s.places, int(s.count)) {
			m.Sections = append(m.Sections, sections.Section{XM: float64(p.forward_m), YM: float64(p.right_m), WidthM: float64(p.width_m)})
		}
	}
	f, err := field.Read(strings.NewReader(C.GoString(s.field_geojson)), "field", field.Options{})
	if err != nil {
		return nil, err
	}
	set := sections.DefaultSettings()
	set.Rule = rules[s.edge_rule]
	set.LiftLead, set.DropLead = sections.Lead{DeadNs: int64(s.lift_lead_ns)}, sections.Lead{DeadNs: int64(s.drop_lead_ns)}
	for _, x := range []struct {
		to   *int64
		from C.int64_t
	}{{&set.TickNs, s.tick_ns}, {&set.MaxAgeNs, s.max_age_ns}, {&set.HoldNs, s.hold_ns}} {
		if x.from != 0 {
			*x.to = int64(x.from)
		}
	}
	c, err := sections.New(m, f, set)
	if err != nil {
		return nil, err
	}
	return &controller{c, make([]sections.Setpoint, 0, sections.MaxSections)}, nil
}

//export sections_free
func sections_free(handle C.uintptr_t) { cgo.Handle(handle).Delete() }

//export sections_take
func sections_take(handle C.uintptr_t, fix *C.sections_fix) {
	f := nmea.EmptyFix()
	f.TimeNs, f.Dated, f.Quality = int64(fix.time_ns), true, nmea.Quality(fix.quality)
	f.LatDeg, f.LonDeg = float64(fix.latitude_deg), float64(fix.longitude_deg)
	f.SpeedMps, f.CourseDeg, f.HeadingDeg = float64(fix.speed_mps), float64(fix.course_deg), float64(fix.heading_deg)
	of(handle).Fix(&f)
}

//export sections_tick
func sections_tick(handle C.uintptr_t, now C.int64_t, out *C.sections_setpoint, room C.int32_t) C.int32_t {
	c := of(handle)
	if int(room) < len(c.Gate().Machine.Sections) {
		return -1
	}
	c.batch = c.Tick(int64(now), c.batch[:0])
	list := unsafe.Slice(out, int(room))
	for i, s := range c.batch {
		list[i] = C.sections_setpoint{due_ns: C.int64_t(s.DueNs), section: C.int32_t(s.Section)}
		if s.On {
			list[i].on = 1
		}
	}
	return C.int32_t(len(c.batch))
}

//export sections_save
func sections_save(handle C.uintptr_t, state *C.uint8_t, room C.int32_t) C.int32_t {
	b := of(handle).AppendState(nil)
	if len(b) <= int(room) {
		copy(unsafe.Slice((*byte)(unsafe.Pointer(state)), int(room)), b)
	}
	return C.int32_t(len(b))
}

//export sections_restore
func sections_restore(handle C.uintptr_t, state *C.uint8_t, size C.int32_t) C.int32_t {
	if size < 0 || of(handle).Restore(C.GoBytes(unsafe.Pointer(state), C.int(size))) != nil {
		return -1
	}
	return 0
}
