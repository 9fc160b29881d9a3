// Setpoints on their way out: at once, or when they are due.

package live

import (
	"slices"

	"liftbench/replay/port"
	"liftbench/replay/wire"
	"liftbench/sections"
	"liftbench/sections/enum"
)

// Form is how setpoints are written.
type Form uint8

const (
	JSON    Form = iota // wire.AppendJSON: a line for each setpoint, when decided
	Line                // wire.AppendLine: the state of all sections, when due and once a second
	Candump             // wire.AppendCandump: the same as frames
)

var formNames = []string{JSON: "json", Line: "line", Candump: "candump"}

// String returns the name that files and messages use: json, line or candump.
func (f Form) String() string { return enum.Name(formNames, f) }

// MarshalText returns the same name, or an error for a value that has none.
func (f Form) MarshalText() ([]byte, error) { return enum.Text(formNames, f) }

// UnmarshalText sets f to the value of that name.
func (f *Form) UnmarshalText(text []byte) error { return enum.Set(f, formNames, text) }

// Output is one place that setpoints go to.
type Output struct {
	Port *port.Port
	Form Form
}

const (
	// repeatNs is how often a state is sent though nothing changed.
	repeatNs = 1e9
	// togetherNs is how far apart setpoints may be due to go out in one line:
	// 1 mm at 7 km/h.
	togetherNs = 500_000
)

// outputs hands setpoints on.
type outputs struct {
	to    []Output
	state wire.State
	// waiting are setpoints that are not due yet, in order of their due times.
	waiting  []sections.Setpoint
	repeatNs int64 // when the state is sent again
	everyNs  int64
	buf      []byte
	// setNs is added to every time that is sent: how far the receiver's clock was
	// set, where that agrees with the host's since and did not before.
	setNs int64
}

func newOutputs(to []Output, n int, pace float64) outputs {
	return outputs{
		to: to, state: wire.NewState(n), everyNs: int64(repeatNs * pace),
		waiting: make([]sections.Setpoint, 0, 4*sections.MaxSections),
		buf:     make([]byte, 0, 4096),
	}
}

// add takes setpoints that were decided at nowNs.
func (o *outputs) add(nowNs int64, decided []sections.Setpoint) {
	for _, s := range decided {
		o.tell(s)
	}
	o.sendDue(nowNs)
}

// tell sends a setpoint as JSON, and queues it for the other forms.
func (o *outputs) tell(s sections.Setpoint) {
	o.wait(s)
	s.DueNs += o.setNs
	o.buf = wire.AppendJSON(o.buf[:0], &s)
	o.send(JSON)
}

// wait queues a setpoint until it is due. A later decision on a section takes
// the place of earlier ones that are due no sooner.
func (o *outputs) wait(s sections.Setpoint) {
	o.waiting = slices.DeleteFunc(o.waiting, func(w sections.Setpoint) bool {
		return w.Section == s.Section && w.DueNs >= s.DueNs
	})
	i := len(o.waiting)
	for i > 0 && o.waiting[i-1].DueNs > s.DueNs {
		i--
	}
	o.waiting = slices.Insert(o.waiting, i, s)
}

// sendDue sends what is due at nowNs, or the state again when it is time.
func (o *outputs) sendDue(nowNs int64) {
	for len(o.waiting) > 0 && o.waiting[0].DueNs <= nowNs {
		o.sendTogether(nowNs, o.waiting[0].DueNs+togetherNs)
	}
	if nowNs >= o.repeatNs {
		if o.state.DueNs == 0 {
			o.state.DueNs = nowNs
		}
		o.sendState(nowNs)
	}
}

// sendTogether sends one state with all that is due up to untilNs.
func (o *outputs) sendTogether(nowNs, untilNs int64) {
	o.state.DueNs = o.waiting[0].DueNs
	n := 0
	for ; n < len(o.waiting) && o.waiting[n].DueNs <= untilNs; n++ {
		o.state.Set(int(o.waiting[n].Section), o.waiting[n].On)
	}
	o.waiting = slices.Delete(o.waiting, 0, n)
	o.sendState(nowNs)
}

// finish sends at once what still waits, and the state.
func (o *outputs) finish(nowNs int64) {
	if len(o.waiting) > 0 {
		o.sendTogether(nowNs, o.waiting[len(o.waiting)-1].DueNs)
	}
	o.sendState(nowNs)
}

// lift sends what lifts every section that is in work, or is about to be,
// whatever the controller says of it.
func (o *outputs) lift(nowNs int64) {
	for i := range o.state.Sections {
		coming := slices.ContainsFunc(o.waiting, func(s sections.Setpoint) bool { return int(s.Section) == i && s.On })
		if o.state.On(i) || coming {
			o.tell(sections.Setpoint{DueNs: nowNs, Section: int16(i), Reason: sections.HeldUp})
		}
	}
	if len(o.waiting) > 0 {
		o.finish(nowNs)
	}
}

// next returns when sendDue has something to do.
func (o *outputs) next() int64 {
	if len(o.waiting) > 0 {
		return min(o.waiting[0].DueNs, o.repeatNs)
	}
	return o.repeatNs
}

func (o *outputs) sendState(nowNs int64) {
	o.repeatNs = nowNs + o.everyNs
	o.state.DueNs += o.setNs
	defer func() { o.state.DueNs -= o.setNs }()
	o.buf = wire.AppendLine(o.buf[:0], &o.state)
	o.send(Line)
	for _, to := range o.to {
		if to.Form == Candump {
			o.buf = wire.AppendCandump(o.buf[:0], to.Port.Interface(), &o.state)
			to.Port.Send(o.buf)
		}
	}
	o.state.Seq++
}

// send hands what is in buf to every output of this form.
func (o *outputs) send(f Form) {
	for _, to := range o.to {
		if to.Form == f {
			to.Port.Send(o.buf)
		}
	}
}
