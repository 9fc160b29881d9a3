package device

import "fmt"

// Connection is how two devices hang on each other, CNN.
type Connection struct {
	DeviceA, ConnectorA string
	DeviceB, ConnectorB string
}

// Hitch is what a machine hangs on, ISO 11783-11 DDI 157.
type Hitch int32

// The hitches by their numbers; 0 and others are not known.
const (
	Drawbar     Hitch = 1 // ISO 6489-3: trailed
	SemiMounted Hitch = 2 // three-point, with wheels that steer
	Mounted     Hitch = 3 // three-point
	HitchHook   Hitch = 4 // ISO 6489-1: trailed
	Clevis      Hitch = 5 // ISO 6489-2: trailed
	PitonHitch  Hitch = 6 // ISO 6489-4: trailed
)

// Trailed reports whether the machine turns about its hitch.
func (h Hitch) Trailed() bool { return h == Drawbar || h >= HitchHook && h <= PitonHitch }

// At is where a section is.
type At struct {
	Element string
	// XM and YM are its middle, metres forward and right of the tractor's turning
	// point, the middle of the rear axle; with Geometry.Tractor "" they are
	// from the implement's own reference point.
	XM, YM, WidthM float64
	// DropNs and LiftNs are the times that the controller was told, DDI 205 and 206,
	// from command to effect. They hold where LeadsKnown.
	DropNs, LiftNs int64
	LeadsKnown     bool
}

// Geometry is where the parts of a machine are, as far as its description and
// its logs say.
type Geometry struct {
	Sections []At // left to right
	// Tractor is the id of the device whose reference point x and y count from; "" is
	// none: then x is from the implement's own reference point.
	Tractor string
	Hitch   Hitch
	// HitchXM is the tractor's connector forward of the turning point, negative behind.
	HitchXM float64
	// PivotM is from the implement's connector to the axle that it turns about,
	// positive backwards; 0: not told.
	PivotM float64
	// AntennaXM, AntennaYM and AntennaZM are the antenna's place from the turning point,
	// forward, right, and above the ground as far as the reference point is on it.
	AntennaXM, AntennaYM, AntennaZM float64
	AntennaKnown                    bool
	// SetpointDelayMs and ActualDelayMs are the latencies that the implement tells of
	// itself, DDI 142 and 143; -1: not told.
	SetpointDelayMs, ActualDelayMs int32
	// Unsure is what was taken to be or is missing, a sentence each.
	Unsure []string
}

// Locate returns where these section elements of device id are. Devices are those
// of the set; connections those of the task.
func Locate(devices []*Device, connections []Connection, id string, sectionIDs []string, v Values) Geometry {
	g := Geometry{SetpointDelayMs: -1, ActualDelayMs: -1}
	self := find(devices, id)
	if self == nil {
		return g
	}
	dx, dy := g.chain(devices, connections, self, v)
	missingX := 0
	for _, s := range sectionIDs {
		at := At{Element: s}
		x, ok := self.OffsetMm(s, OffsetX, v)
		if !ok {
			missingX++
		}
		y, _ := self.OffsetMm(s, OffsetY, v)
		w, ok := self.WidthMm(s, v)
		if !ok && self.Find(s) != nil && self.Find(s).Type != Section {
			w = self.widest(v)
		}
		at.XM, at.YM, at.WidthM = dx+float64(x)/1000, dy+float64(y)/1000, float64(w)/1000
		on, onOK := self.Number(s, OnTime, v)
		off, offOK := self.Number(s, OffTime, v)
		if onOK && offOK {
			at.DropNs, at.LiftNs, at.LeadsKnown = int64(on)*1e6, int64(off)*1e6, true
		}
		g.Sections = append(g.Sections, at)
	}
	if missingX > 0 {
		g.Unsure = append(g.Unsure, fmt.Sprintf("%d of %d sections have no offset forward (DDI 134); 0 is taken", missingX, len(sectionIDs)))
	}
	for _, e := range self.Elements {
		if x, ok := self.value(self.byID[e.ID], SetpointDelay, v); ok && g.SetpointDelayMs < 0 {
			g.SetpointDelayMs = x
		}
		if x, ok := self.value(self.byID[e.ID], ActualDelay, v); ok && g.ActualDelayMs < 0 {
			g.ActualDelayMs = x
		}
	}
	return g
}

// widest returns the largest width that any element of the device has: that of a device
// without sections.
func (d *Device) widest(v Values) int32 {
	var most int32
	for i := range d.Elements {
		if w, ok := d.WidthMm(d.Elements[i].ID, v); ok {
			most = max(most, w)
		}
	}
	return most
}

func find(devices []*Device, id string) *Device {
	for _, d := range devices {
		if d.ID == id {
			return d
		}
	}
	return nil
}

// chain returns by how much the reference point of device self is ahead of and
// right of the tractor's: the sum over the connections between them of
//
//	x(connector of the one in front) − x(connector of the one behind),
//
// offsets being absolute in each device (ISO 11783-10, connectors).
func (g *Geometry) chain(devices []*Device, connections []Connection, self *Device, v Values) (dxM, dyM float64) {
	type link struct{ near, far, device string }
	at := func(d *Device, connector string, ddi uint16) float64 {
		x, ok := d.OffsetMm(connector, ddi, v)
		if !ok && ddi == OffsetX {
			g.Unsure = append(g.Unsure, fmt.Sprintf("connector %s of %s has no offset forward (DDI 134); 0 is taken", connector, d.ID))
		}
		return float64(x) / 1000
	}
	seen := map[string]bool{self.ID: true}
	for here := self; here != nil; {
		var next []link
		for _, c := range connections {
			if c.DeviceB == here.ID {
				c = Connection{c.DeviceB, c.ConnectorB, c.DeviceA, c.ConnectorA}
			}
			if c.DeviceA == here.ID && !seen[c.DeviceB] && find(devices, c.DeviceB) != nil {
				next = append(next, link{c.ConnectorA, c.ConnectorB, c.DeviceB})
			}
		}
		if len(next) == 0 && here == self {
			if l, ok := sameHitch(devices, here, v); ok {
				g.Unsure = append(g.Unsure, fmt.Sprintf("nothing says what %s hangs on; taken is %s, which has the same type of connector and the antenna", here.ID, l.DeviceB))
				next = append(next, link{l.ConnectorA, l.ConnectorB, l.DeviceB})
			}
		}
		if len(next) == 0 {
			break
		}
		// Of several neighbours the one with the antenna is the tractor.
		chosen := next[0]
		for _, l := range next {
			if len(find(devices, l.device).Of(Navigation)) > 0 {
				chosen = l
				break
			}
		}
		front := find(devices, chosen.device)
		x := at(front, chosen.far, OffsetX)
		dxM += x - at(here, chosen.near, OffsetX)
		dyM += at(front, chosen.far, OffsetY) - at(here, chosen.near, OffsetY)
		if here == self {
			if t, ok := here.Number(chosen.near, ConnectorType, v); ok {
				g.Hitch = Hitch(t)
			}
			if p, ok := here.Number(chosen.near, PivotX, v); ok {
				g.PivotM = -float64(p) / 1000
			}
		}
		g.Tractor, g.HitchXM = front.ID, x
		seen[front.ID] = true
		if g.antenna(front, v) {
			break
		}
		here = front
	}
	if !g.AntennaKnown && g.Tractor == "" && g.antenna(self, v) {
		g.Tractor = self.ID // it drives itself
	}
	if g.AntennaKnown && g.AntennaXM == 0 && g.AntennaYM == 0 && g.AntennaZM == 0 {
		g.Unsure = append(g.Unsure, "the antenna's offsets are all 0, as where nobody entered them")
	}
	if g.Tractor == "" {
		g.Unsure = append(g.Unsure, fmt.Sprintf("nothing says what %s hangs on: how far its sections are behind the rear axle is not known", self.ID))
	} else if !g.AntennaKnown {
		g.Unsure = append(g.Unsure, fmt.Sprintf("%s does not say where the antenna is", g.Tractor))
	}
	return dxM, dyM
}

// PivotX is the DDI of how far the axle that a trailed implement turns about is from
// its connector, mm, x forward.
const PivotX = 264

// antenna notes where the antenna of d is, and reports whether d has one.
func (g *Geometry) antenna(d *Device, v Values) bool {
	for _, n := range d.Of(Navigation) {
		x, ok := d.OffsetMm(n, OffsetX, v)
		if !ok {
			continue
		}
		y, _ := d.OffsetMm(n, OffsetY, v)
		z, _ := d.OffsetMm(n, OffsetZ, v)
		g.AntennaXM, g.AntennaYM, g.AntennaZM = float64(x)/1000, float64(y)/1000, -float64(z)/1000
		g.AntennaKnown = true
		return true
	}
	return false
}

// sameHitch returns the one connection of d to a device with an antenna where both
// connectors have the same type.
func sameHitch(devices []*Device, d *Device, v Values) (Connection, bool) {
	var found []Connection
	for _, near := range d.Of(Connector) {
		t, ok := d.Number(near, ConnectorType, v)
		if !ok || t == 0 {
			continue
		}
		for _, front := range devices {
			if front == d || len(front.Of(Navigation)) == 0 {
				continue
			}
			for _, far := range front.Of(Connector) {
				if u, ok := front.Number(far, ConnectorType, v); ok && u == t {
					found = append(found, Connection{d.ID, near, front.ID, far})
				}
			}
		}
		if len(found) > 8 {
			break
		}
	}
	if len(found) != 1 {
		return Connection{}, false
	}
	return found[0], true
}
