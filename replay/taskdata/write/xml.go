package write

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/device"
)

// Elements and attributes by their letters in ISO 11783-10. What the schema of version
// 4.3 requires is always written.
type (
	root struct {
		XMLName       xml.Name `xml:"ISO11783_TaskData"`
		VersionMajor  int      `xml:",attr"`
		VersionMinor  int      `xml:",attr"`
		Manufacturer  string   `xml:"ManagementSoftwareManufacturer,attr"`
		Version       string   `xml:"ManagementSoftwareVersion,attr"`
		Controller    string   `xml:"TaskControllerManufacturer,attr"`
		ControllerVer string   `xml:"TaskControllerVersion,attr"`
		Origin        int      `xml:"DataTransferOrigin,attr"`
		DVC           []dvc
		PFD           pfd
		TSK           tsk
	}
	dvc struct {
		A, B, C, D, F, G string `xml:",attr"`
		DET              []det
		DPD              []dpd
		DPT              []dpt
	}
	det struct {
		A, B, C, D, E, F string `xml:",attr"`
		DOR              []one
	}
	dpd struct {
		A, B, C, D, E string `xml:",attr"`
	}
	dpt struct {
		A, B, C, D string `xml:",attr"`
	}
	one struct {
		A string `xml:",attr"`
	}
	pfd struct {
		A, C, D string `xml:",attr"`
		PLN     []pln
		GGP     []ggp
	}
	pln struct {
		A   string `xml:",attr"`
		LSG []lsg
	}
	lsg struct {
		A   string `xml:",attr"`
		PNT []pnt
	}
	pnt struct {
		A, C, D string `xml:",attr"`
	}
	ggp struct {
		A   string `xml:",attr"`
		GPN gpn
	}
	gpn struct {
		A, C string `xml:",attr"`
		G    string `xml:",attr,omitempty"`
		LSG  lsg
	}
	tsk struct {
		A, B, E, G string `xml:",attr"`
		TIM        span
		DAN        []dan
		CNN        []cnn
		TLG        tlg
	}
	span struct {
		A, B, D string `xml:",attr"`
	}
	dan struct {
		A, C string `xml:",attr"`
	}
	cnn struct {
		A, B, C, D string `xml:",attr"`
	}
	tlg struct {
		A, C string `xml:",attr"`
	}
	header struct {
		XMLName xml.Name `xml:"TIM"`
		A, D    string   `xml:",attr"`
		PTN     position
		DLV     []column
	}
	// All fields of a position but PDOP are in every row.
	position struct {
		A, B, C, D, F, G, H, I string `xml:",attr"`
	}
	column struct {
		A, B, C string `xml:",attr"`
	}
)

// The elements by their ids.
const (
	tractorID, implementID = "DVC-1", "DVC-2"
	tractorConnector       = "DET-3"
	connector              = "DET-5"
	function               = "DET-6"
	firstSection           = 7
	// NAMEs of ISO 11783-5: industry group 2, device classes 1 tractor and 3 secondary
	// tillage, from memory; serial numbers 1 and 2.
	tractorName, implementName = "A002000000000001", "A006000000000002"
)

// describer makes the objects of one device.
type describer struct {
	dvc
	object int
}

func (d *describer) next() string {
	d.object++
	return strconv.Itoa(d.object)
}

// element adds an element and returns its object id.
func (d *describer) element(id string, t device.Type, what, parent string) string {
	o := d.next()
	d.DET = append(d.DET, det{A: id, B: o, C: strconv.Itoa(int(t)), D: what, E: strconv.Itoa(len(d.DET)), F: parent})
	return o
}

// property gives the last element a value.
func (d *describer) property(ddi, value int, what string) {
	o := d.next()
	d.DPT = append(d.DPT, dpt{A: o, B: hex(ddi), C: strconv.Itoa(value), D: what})
	last := &d.DET[len(d.DET)-1]
	last.DOR = append(last.DOR, one{o})
}

// logged gives the last element a value that the log tells on change.
func (d *describer) logged(ddi int, settable bool, what string) {
	o := d.next()
	p := "1" // of the default set
	if settable {
		p = "2"
	}
	d.DPD = append(d.DPD, dpd{A: o, B: hex(ddi), C: p, D: "8", E: what})
	last := &d.DET[len(d.DET)-1]
	last.DOR = append(last.DOR, one{o})
}

func newDescriber(id, what, name, label string) *describer {
	return &describer{dvc: dvc{A: id, B: what, C: "1", D: name, F: label, G: "FF000000006E65"}}
}

// root makes TASKDATA.XML.
func (d *Day) root() root {
	m := &d.Machine
	r := root{VersionMajor: 4, VersionMinor: 3, Manufacturer: "liftbench", Version: "1", Controller: "liftbench", ControllerVer: "1", Origin: 2, PFD: d.field()}
	first, last := d.span()
	r.TSK = tsk{A: "TSK1", B: "recorded day", E: "PFD1", G: "4", // completed
		TIM: span{local(first), local(last), "4"}, // effective time
		DAN: []dan{{implementName, implementID}}, TLG: tlg{"TLG00001", "1"}}
	hitch := 0
	if m.Tractor != "" {
		hitch = mm(m.HitchXM)
		t := newDescriber(tractorID, "tractor", tractorName, "00000000000001")
		whole := t.element("DET-1", device.Whole, "tractor", "0")
		if m.AntennaKnown {
			t.element("DET-2", device.Navigation, "antenna", whole)
			t.property(device.OffsetX, mm(m.AntennaXM), "x")
			t.property(device.OffsetY, mm(m.AntennaYM), "y")
			t.property(device.OffsetZ, -mm(m.AntennaZM), "z")
		}
		t.element(tractorConnector, device.Connector, "hitch", whole)
		t.property(device.OffsetX, hitch, "x")
		t.property(device.OffsetY, 0, "y")
		t.property(device.ConnectorType, int(m.Hitch), "type")
		r.DVC = append(r.DVC, t.dvc)
		r.TSK.DAN = append(r.TSK.DAN, dan{tractorName, tractorID})
		r.TSK.CNN = []cnn{{tractorID, tractorConnector, implementID, connector}}
	}
	i := newDescriber(implementID, "implement", implementName, "00000000000002")
	whole := i.element("DET-4", device.Whole, "implement", "0")
	i.element(connector, device.Connector, "hitch", whole)
	i.property(device.OffsetX, 0, "x")
	i.property(device.OffsetY, 0, "y")
	i.property(device.ConnectorType, int(m.Hitch), "type")
	if m.PivotM != 0 {
		i.property(device.PivotX, -mm(m.PivotM), "pivot x")
	}
	bar := i.element(function, device.Function, "bar", whole)
	for w := range d.words() {
		i.logged(device.ActualWord+w, false, "actual states")
		i.logged(device.SetpointWord+w, true, "setpoint states")
	}
	if m.SetpointDelayMs >= 0 {
		i.property(device.SetpointDelay, int(m.SetpointDelayMs), "latency of setpoints")
	}
	if m.ActualDelayMs >= 0 {
		i.property(device.ActualDelay, int(m.ActualDelayMs), "latency of states")
	}
	for k, s := range m.Sections {
		i.element(fmt.Sprintf("DET-%d", firstSection+k), device.Section, fmt.Sprintf("section %d", k+1), bar)
		i.property(device.OffsetX, mm(s.XM)-hitch, "x")
		i.property(device.OffsetY, mm(s.YM), "y")
		i.property(device.Width, mm(s.WidthM), "width")
		if s.LeadsKnown {
			i.property(device.OnTime, int(s.DropNs/1e6), "on time")
			i.property(device.OffTime, int(s.LiftNs/1e6), "off time")
		}
	}
	r.DVC = append(r.DVC, i.dvc)
	return r
}

// words is how many condensed words the sections need.
func (d *Day) words() int { return (len(d.Machine.Sections) + 15) / 16 }

// span is the first and last instant on the terminal's clock, ms since 1970.
func (d *Day) span() (first, last int64) {
	first, last = ms(d.Fixes[0].TimeNs), ms(d.Fixes[len(d.Fixes)-1].TimeNs)
	for _, list := range d.changes() {
		if n := len(list); n > 0 {
			first, last = min(first, ms(list[0].TimeNs)), max(last, ms(list[n-1].TimeNs))
		}
	}
	return first - ms(d.OffsetNs), last - ms(d.OffsetNs)
}

func local(ms int64) string { return time.UnixMilli(ms).UTC().Format("2006-01-02T15:04:05.000") }

func hex(ddi int) string { return fmt.Sprintf("%04X", ddi) }

func degrees(v float64) string { return strconv.FormatFloat(v, 'f', 9, 64) }

// polygonTypes are those of PLN by the kind of zone.
var polygonTypes = [...]string{taskdata.Boundary: "1", taskdata.Body: "9", taskdata.Headland: "10", taskdata.KeepOut: "6"}

func (d *Day) field() pfd {
	p := pfd{A: "PFD1", C: "field", D: strconv.FormatInt(int64(math.Round(max(d.AreaM2, 0))), 10)}
	for _, z := range d.Zones {
		out := pln{A: polygonTypes[z.Kind]}
		for k, ring := range z.Polygon {
			l := lsg{A: "2"}
			if k == 0 {
				l.A = "1"
			}
			for _, at := range ring {
				l.PNT = append(l.PNT, pnt{"2", degrees(at[1]), degrees(at[0])})
			}
			out.LSG = append(out.LSG, l)
		}
		p.PLN = append(p.PLN, out)
	}
	for k, g := range d.Guides {
		id := strconv.Itoa(k + 1)
		line := lsg{A: "5", PNT: []pnt{point("6", g.A)}}
		out := gpn{A: "GPN" + id, C: "2", G: strconv.FormatFloat(g.BearingDeg, 'f', 6, 64)}
		if g.A != g.B {
			line.PNT = append(line.PNT, point("7", g.B))
			out.C, out.G = "1", ""
		}
		out.LSG = line
		p.GGP = append(p.GGP, ggp{"GGP" + id, out})
	}
	return p
}

func point(kind string, at orb.Point) pnt { return pnt{kind, degrees(at[1]), degrees(at[0])} }

// header makes the header of the log.
func (d *Day) header() header {
	h := header{D: "4"}
	for w := range d.words() {
		h.DLV = append(h.DLV, column{hex(device.ActualWord + w), "", function}, column{hex(device.SetpointWord + w), "", function})
	}
	return h
}

// statuses are those of PTN attribute D by quality.
var statuses = [...]byte{
	nmea.NoFix: 0, nmea.Autonomous: 1, nmea.Differential: 2, nmea.PPS: 3, nmea.RTKFixed: 4, nmea.RTKFloat: 5,
	nmea.Estimated: 6, nmea.ManualInput: 7, nmea.Simulator: 8,
}
