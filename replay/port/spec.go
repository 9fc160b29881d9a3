// This file parses and prints the names of ports.

package port

import (
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strconv"
	"strings"

	"liftbench/sections/enum"
)

// Kind of a port.
type Kind uint8

const (
	Std       Kind = iota // -
	File                  // file:PATH
	Serial                // serial:DEVICE?baud=38400&data=8&parity=none&stop=1
	TCP                   // tcp:HOST:PORT
	TCPListen             // tcp-listen:[HOST]:PORT
	UDP                   // udp:HOST:PORT
	UDPListen             // udp-listen:[HOST]:PORT
	GPSD                  // gpsd:HOST[:PORT]
	CAN                   // can:INTERFACE
)

// kinds holds, for each Kind, its name, the modes it supports and the form of
// the whole port name.
var kinds = [...]struct {
	scheme string
	modes  Mode
	form   string
}{
	Std:       {"-", Duplex, "-"},
	File:      {"file", In | Out, "file:PATH"},
	Serial:    {"serial", Duplex, "serial:DEVICE?baud=38400&data=8&parity=none&stop=1"},
	TCP:       {"tcp", Duplex, "tcp:HOST:PORT"},
	TCPListen: {"tcp-listen", Duplex, "tcp-listen:[HOST]:PORT"},
	UDP:       {"udp", Duplex, "udp:HOST:PORT"},
	UDPListen: {"udp-listen", In, "udp-listen:[HOST]:PORT"},
	GPSD:      {"gpsd", In, "gpsd:HOST[:PORT]"},
	CAN:       {"can", Duplex, "can:INTERFACE"},
}

// Spec is the parsed name of a port.
type Spec struct {
	Kind Kind
	Addr string // path, device, host:port or interface
	// For a serial line only.
	Baud   int  // bits per second, one of the rates that the system supports; default 38400
	Data   byte // data bits, 5 to 8; default 8
	Parity Parity
	Stop   byte // stop bits, 1 or 2; default 1
}

// Parity says what the parity bit of a serial line makes of the number of ones.
type Parity uint8

const (
	NoParity Parity = iota // there is no parity bit
	OddParity
	EvenParity
)

var parityNames = []string{NoParity: "none", OddParity: "odd", EvenParity: "even"}

// String returns the name in the name of a port: none, odd or even.
func (p Parity) String() string { return enum.Name(parityNames, p) }

// MarshalText returns the same name, or an error for a value that has none.
func (p Parity) MarshalText() ([]byte, error) { return enum.Text(parityNames, p) }

// UnmarshalText sets p to the value of that name.
func (p *Parity) UnmarshalText(text []byte) error { return enum.Set(p, parityNames, text) }

const (
	loopback = "127.0.0.1"
	gpsdPort = "2947" // registered with IANA for gpsd
)

// Parse parses the name of a port:
//
//	file:PATH               a file, read to its end or overwritten
//	serial:DEVICE?baud=38400&data=8&parity=none&stop=1
//	                        a serial line; a setting that is left out has the
//	                        value shown here; parity is none, odd or even
//	tcp:HOST:PORT           connects to HOST
//	tcp-listen:[HOST]:PORT  accepts peers; for input, a new peer replaces the last
//	udp:HOST:PORT           sends to HOST, one line in each datagram
//	udp-listen:[HOST]:PORT  receives datagrams
//	gpsd:HOST[:PORT]        reads a receiver's sentences from gpsd; port 2947
//	can:INTERFACE           SocketCAN; takes and gives lines in the form of candump
//	-                       standard input or output
//
// A port that listens without HOST can be reached from this computer only. The
// error says what was found and what was expected.
func Parse(name string) (Spec, error) {
	if name == "-" {
		return Spec{Kind: Std, Addr: "-"}, nil
	}
	scheme, rest, found := strings.Cut(name, ":")
	for k := range kinds {
		if !found || kinds[k].scheme != scheme || Kind(k) == Std {
			continue
		}
		s := Spec{Kind: Kind(k), Addr: rest}
		if err := s.complete(); err != nil {
			return Spec{}, fmt.Errorf("port %s: %w; expected %s", name, err, kinds[k].form)
		}
		return s, nil
	}
	forms := make([]string, len(kinds))
	for k := range kinds {
		forms[k] = kinds[k].form
	}
	return Spec{}, fmt.Errorf("port %q: expected one of %s", name, strings.Join(forms, ", "))
}

// complete checks the part of the name after the scheme and fills in defaults.
func (s *Spec) complete() error {
	switch s.Kind {
	case Serial:
		return s.completeSerial()
	case TCP, UDP, TCPListen, UDPListen, GPSD:
		if s.Kind == GPSD && !strings.Contains(s.Addr, ":") {
			s.Addr += ":" + gpsdPort
		}
		host, port, err := net.SplitHostPort(s.Addr)
		if err != nil {
			return fmt.Errorf("%q has no port", s.Addr)
		}
		if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 || n == 0 && !s.listens() {
			return fmt.Errorf("port %q", port)
		}
		if host == "" {
			if !s.listens() {
				return fmt.Errorf("no host")
			}
			host = loopback
		}
		s.Addr = net.JoinHostPort(host, port)
	}
	if s.Addr == "" {
		return fmt.Errorf("nothing after the colon")
	}
	return nil
}

func (s *Spec) listens() bool { return s.Kind == TCPListen || s.Kind == UDPListen }

// bauds are the rates, in bits per second, that receivers use and for which
// Linux has a constant.
var bauds = [...]int{300, 600, 1200, 1800, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400, 460800, 500000, 576000, 921600, 1000000}

func (s *Spec) completeSerial() error {
	device, settings, _ := strings.Cut(s.Addr, "?")
	if device == "" {
		return fmt.Errorf("no device")
	}
	s.Addr, s.Baud, s.Data, s.Stop = device, 38400, 8, 1
	q, err := url.ParseQuery(settings)
	if err != nil {
		return fmt.Errorf("settings %q", settings)
	}
	for key, values := range q {
		v := values[len(values)-1]
		ok := false
		switch key {
		case "baud":
			for _, b := range bauds {
				if strconv.Itoa(b) == v {
					s.Baud, ok = b, true
				}
			}
			if !ok {
				return fmt.Errorf("baud %q is none of %v", v, bauds)
			}
		case "data":
			if ok = len(v) == 1 && v[0] >= '5' && v[0] <= '8'; ok {
				s.Data = v[0] - '0'
			}
		case "stop":
			if ok = v == "1" || v == "2"; ok {
				s.Stop = v[0] - '0'
			}
		case "parity":
			ok = s.Parity.UnmarshalText([]byte(v)) == nil
		}
		if !ok {
			return fmt.Errorf("setting %s=%q", key, v)
		}
	}
	return nil
}

// String returns a name that Parse reads as s.
func (s Spec) String() string {
	switch s.Kind {
	case Std:
		return "-"
	case Serial:
		return fmt.Sprintf("serial:%s?baud=%d&data=%d&parity=%s&stop=%d", s.Addr, s.Baud, s.Data, s.Parity, s.Stop)
	}
	return kinds[s.Kind].scheme + ":" + s.Addr
}

// Harmless reports whether what is sent can reach nothing but a file, standard
// output or another program on this computer. Anything else may move a
// machine.
func (s Spec) Harmless() bool {
	switch s.Kind {
	case Std, File, GPSD, UDPListen:
		return true
	case TCP, TCPListen, UDP:
		host, _, err := net.SplitHostPort(s.Addr)
		if err != nil {
			return false
		}
		ip, err := netip.ParseAddr(host)
		return host == "localhost" || err == nil && ip.IsLoopback()
	}
	return false
}
