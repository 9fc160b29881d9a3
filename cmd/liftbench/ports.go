// The ports of a command line: opened, reported on, and warned of where what
// goes out may move a machine.

package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/web"
	"liftbench/replay/live"
	"liftbench/replay/port"
)

// portNames is the list of ports for the help of commands.
const portNames = `Ports are named
  -                        standard input or output
  file:PATH
  serial:DEVICE?baud=38400&data=8&parity=none&stop=1
  tcp:HOST:PORT            connects, and again when the peer is gone
  tcp-listen:[HOST]:PORT   waits for peers; without HOST from this computer only
  udp:HOST:PORT            sends
  udp-listen:[HOST]:PORT   receives
  gpsd:HOST[:PORT]         asks a gpsd for NMEA
  can:INTERFACE            sends frames by SocketCAN`

// parsePort reads the name that a flag gives.
func parsePort(flag, name string) (port.Spec, error) {
	s, err := port.Parse(name)
	if err != nil {
		return s, &usageError{fmt.Sprintf("--%s: %v", flag, err)}
	}
	return s, nil
}

// outSpec is one --out: [FORM=]PORT.
type outSpec struct {
	form live.Form
	spec port.Spec
	name string // as the command line gives it
}

var formNames = [...]string{live.JSON: "json", live.Line: "line", live.Candump: "candump"}

// parseOut reads one --out. Without a form standard output and files get JSON,
// a CAN interface frames, and everything else the compact line.
func parseOut(text string) (outSpec, error) {
	o := outSpec{name: text}
	form, name, given := strings.Cut(text, "=")
	if given && !strings.Contains(form, ":") {
		known := false
		for f, n := range formNames {
			if n == form {
				o.form, known = live.Form(f), true
			}
		}
		if !known {
			return o, &usageError{fmt.Sprintf("--out %s: form %q; expected json, line or candump", text, form)}
		}
	} else {
		name, given = text, false
	}
	var err error
	if o.spec, err = parsePort("out", name); err != nil {
		return o, err
	}
	switch {
	case o.spec.Kind == port.CAN && given && o.form != live.Candump:
		return o, &usageError{fmt.Sprintf("--out %s: a CAN interface takes candump only", text)}
	case o.spec.Kind == port.CAN:
		o.form = live.Candump
	case !given && o.spec.Kind != port.Std && o.spec.Kind != port.File:
		o.form = live.Line
	}
	return o, nil
}

// warn prints the safety words where one of the ports can reach more than a
// file or a program on this computer.
func (c *console) warn(driven ...port.Spec) {
	for _, s := range driven {
		if !s.Harmless() {
			c.say("%s", strings.TrimRight(wrap(s.String()+": ", "  ", web.Safety), "\n"))
			return
		}
	}
}

// openPort opens a port that reports on the console what becomes of it: each
// change, not each attempt.
func (c *console) openPort(ctx context.Context, name string, spec port.Spec, mode port.Mode, stdin io.Reader, stdout io.Writer) (*port.Port, error) {
	failing := false
	p, err := port.Open(ctx, spec, mode, port.Options{
		Stdin: stdin, Stdout: stdout,
		Events: func(e port.Event) {
			switch {
			case e.Kind == port.Connected && (e.Again || failing):
				c.say("%s: there again (%s)", name, e.Peer)
			case e.Kind == port.Disconnected:
				c.say("%s: %s is gone (%v); waiting for it", name, e.Peer, cmp.Or(e.Err, io.EOF))
			case e.Kind == port.Failed && !failing:
				c.say("%s: %v; trying again", name, e.Err)
			}
			failing = e.Kind == port.Failed
		},
	})
	if err != nil {
		return nil, &inputError{file: name, msg: strings.TrimPrefix(err.Error(), "port "+spec.String()+": "), err: err}
	}
	return p, nil
}
