// The ports of a command line: opened, reported on, and warned of where what
// goes out may move a machine.

package loop

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/web"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/live"
	"liftbench/replay/port"
)

// PortNames is the list of ports for the help of commands.
const PortNames = `Ports are named
  -                        standard input or output
  file:PATH
  serial:DEVICE?baud=38400&data=8&parity=none&stop=1
  tcp:HOST:PORT            connects, and again when the peer is gone
  tcp-listen:[HOST]:PORT   waits for peers; without HOST from this computer only
  udp:HOST:PORT            sends
  udp-listen:[HOST]:PORT   receives
  gpsd:HOST[:PORT]         asks a gpsd for NMEA
  can:INTERFACE            sends and receives frames by SocketCAN`

// parsePort reads the name that a flag gives.
func parsePort(flag, name string) (port.Spec, error) {
	s, err := port.Parse(name)
	if err != nil {
		return s, &failure.Usage{Msg: fmt.Sprintf("--%s: %v", flag, err)}
	}
	return s, nil
}

// OutSpec is one --out: [FORM=]PORT.
type OutSpec struct {
	Form live.Form
	Spec port.Spec
	name string // as the command line gives it
}

// ParseOut reads one --out. Without a form standard output and files get JSON,
// a CAN interface frames, and everything else the compact line.
func ParseOut(text string) (OutSpec, error) {
	o := OutSpec{name: text}
	form, name, given := strings.Cut(text, "=")
	if given && !strings.Contains(form, ":") {
		if err := o.Form.UnmarshalText([]byte(form)); err != nil {
			return o, &failure.Usage{Msg: fmt.Sprintf("--out %s: form %v", text, err)}
		}
	} else {
		name, given = text, false
	}
	var err error
	if o.Spec, err = parsePort("out", name); err != nil {
		return o, err
	}
	switch {
	case o.Spec.Kind == port.CAN && given && o.Form != live.Candump:
		return o, &failure.Usage{Msg: fmt.Sprintf("--out %s: a CAN interface takes candump only", text)}
	case o.Spec.Kind == port.CAN:
		o.Form = live.Candump
	case !given && o.Spec.Kind != port.Std && o.Spec.Kind != port.File:
		o.Form = live.Line
	}
	return o, nil
}

// Warn prints the safety words if one of the ports can reach more than a file
// or a program on this computer.
func Warn(c *terminal.Console, driven ...port.Spec) {
	for _, s := range driven {
		if !s.Harmless() {
			c.Say("%s", strings.TrimRight(wording.Wrap(s.String()+": ", "  ", web.Safety), "\n"))
			return
		}
	}
}

// openPort opens a port and reports on the console when its state changes, not
// at each attempt to connect.
func openPort(c *terminal.Console, ctx context.Context, name string, spec port.Spec, mode port.Mode, stdin io.Reader, stdout io.Writer) (*port.Port, error) {
	failing := false
	p, err := port.Open(ctx, spec, mode, port.Options{
		Stdin: stdin, Stdout: stdout,
		Events: func(e port.Event) {
			switch {
			case e.Kind == port.Connected && (e.Again || failing):
				c.Say("%s: there again (%s)", name, e.Peer)
			case e.Kind == port.Disconnected:
				c.Say("%s: %s is gone (%v); waiting for it", name, e.Peer, cmp.Or(e.Err, io.EOF))
			case e.Kind == port.Failed && !failing:
				c.Say("%s: %v; trying again", name, e.Err)
			}
			failing = e.Kind == port.Failed
		},
	})
	if err != nil {
		return nil, &failure.Input{File: name, Msg: strings.TrimPrefix(err.Error(), "port "+spec.String()+": "), Err: err}
	}
	return p, nil
}
