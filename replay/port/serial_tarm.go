//go:build linux || windows

package port

import "github.com/tarm/serial"

// parities are the library's names of each parity.
var parities = [...]serial.Parity{NoParity: serial.ParityNone, OddParity: serial.ParityOdd, EvenParity: serial.ParityEven}

// config is the serial line as github.com/tarm/serial takes it.
func (s *Spec) config() *serial.Config {
	return &serial.Config{Name: s.Addr, Baud: s.Baud, Size: s.Data, Parity: parities[s.Parity], StopBits: serial.StopBits(s.Stop)}
}
