// What tractor and implement say of themselves on the bus when they connect.

package run

import (
	"math"

	"go.einride.tech/can"

	"liftbench/replay/taskdata/device"
	"liftbench/replay/trace/pool"
)

// describe returns the frames by which tractor and implement upload what they are to the
// task controller.
func describe(g *device.Geometry) []can.Frame {
	mm := func(m float64) int32 { return int32(math.Round(m * 1000)) }
	const whole, hitch, third = 1, 2, 3 // objects of either
	tractor := []device.Element{
		{Object: whole, Type: device.Whole, Number: 0},
		{Object: hitch, Parent: whole, Type: device.Connector, Number: 1, Properties: map[uint16]int32{
			device.OffsetX: mm(g.HitchXM), device.OffsetY: 0, device.ConnectorType: int32(g.Hitch)}},
		{Object: third, Parent: whole, Type: device.Navigation, Number: 2, Properties: map[uint16]int32{
			device.OffsetX: mm(g.AntennaXM), device.OffsetY: mm(g.AntennaYM), device.OffsetZ: -mm(g.AntennaZM)}},
	}
	behind := map[uint16]int32{device.OffsetX: 0, device.OffsetY: 0, device.ConnectorType: int32(g.Hitch)}
	if g.PivotM != 0 {
		behind[device.PivotX] = -mm(g.PivotM)
	}
	implement := []device.Element{
		{Object: whole, Type: device.Whole, Number: 0},
		{Object: hitch, Parent: whole, Type: device.Connector, Number: 2, Properties: behind},
		{Object: third, Parent: whole, Type: device.Function, Number: busElement},
	}
	for i := range g.Sections {
		s := &g.Sections[i]
		p := map[uint16]int32{device.OffsetX: mm(s.XM) - mm(g.HitchXM), device.OffsetY: mm(s.YM), device.Width: mm(s.WidthM)}
		if s.LeadsKnown {
			p[device.OnTime], p[device.OffTime] = int32(s.DropNs/1e6), int32(s.LiftNs/1e6)
		}
		implement = append(implement, device.Element{Object: third + 1 + i, Parent: third, Type: device.Section, Number: 3 + i, Properties: p})
	}
	frames := pool.Upload(nil, busTractor, busController, "tractor", tractor)
	return pool.Upload(frames, busImplement, busController, "implement", implement)
}
