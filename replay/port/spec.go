// The names of ports.

package port

import "errors"

// Kind of a port.
type Kind uint8

const (
	Std       Kind = iota // - : standard input or output
	File                  // file:PATH : read to its end, or written anew
	Serial                // serial:DEVICE?baud=38400&data=8&parity=none&stop=1
	TCP                   // tcp:HOST:PORT : connects
	TCPListen             // tcp-listen:[HOST]:PORT : waits for peers; without HOST on loopback
	UDP                   // udp:HOST:PORT : sends there
	UDPListen             // udp-listen:[HOST]:PORT : receives; without HOST on loopback
	GPSD                  // gpsd:HOST:PORT : asks a gpsd for raw NMEA
	CAN                   // can:INTERFACE : SocketCAN, frames only
)

// Spec is the name of a port, parsed.
type Spec struct {
	Kind Kind
	Addr string // path, device, host:port or interface
	Baud int    // serial: 300 to 4000000; default 38400
	Data byte   // serial: 5 to 8
	Stop byte   // serial: 1 or 2
	// Parity of a serial line: 'N', 'O' or 'E'.
	Parity byte
}

// Parse reads the name of a port. Its errors say what was expected.
func Parse(name string) (Spec, error) { return Spec{}, errors.New("port: not built yet") }

// String returns the name that Parse reads.
func (s Spec) String() string { return s.Addr }

// Harmless reports whether whatever is written can reach nothing but a file,
// standard output or this computer: no machine can move by it.
func (s Spec) Harmless() bool { return s.Kind == Std || s.Kind == File }
