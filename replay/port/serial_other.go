//go:build !linux && !windows

// Serial lines where github.com/tarm/serial needs cgo, as on macOS and FreeBSD.

package port

import (
	"fmt"
	"io"

	"go.bug.st/serial"
)

// parities are the library's names of each parity.
var parities = [...]serial.Parity{NoParity: serial.NoParity, OddParity: serial.OddParity, EvenParity: serial.EvenParity}

// openSerial opens and sets a serial line. A close interrupts what is read from it.
func (p *Port) openSerial() (io.ReadWriteCloser, error) {
	s, stop := &p.spec, serial.OneStopBit
	if s.Stop == 2 {
		stop = serial.TwoStopBits
	}
	port, err := serial.Open(s.Addr, &serial.Mode{BaudRate: s.Baud, DataBits: int(s.Data), Parity: parities[s.Parity], StopBits: stop})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.Addr, err)
	}
	return port, nil
}
