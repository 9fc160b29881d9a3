// Serial lines on Linux.

package port

import (
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"

	"github.com/tarm/serial"
)

// line is an open serial line. settings is the device as the serial library
// opened and set it; it is kept open, and nothing is read from it or written to
// it. File is the same device opened again for reading and writing; closing it
// interrupts both.
type line struct {
	*os.File
	settings io.Closer
}

func (l *line) Close() error {
	err := l.File.Close()
	return errors.Join(err, l.settings.Close())
}

// openSerial opens and sets a serial line. Of github.com/tarm/serial only
// OpenPort is used: it sets rate, data bits, parity, stop bits and raw mode, which
// belong to the device and stay for as long as it is open. The library's own
// reads and writes cannot be interrupted, so that Close would wait for a device
// that is silent or does not take what it is sent. Therefore the device is
// opened a second time, non-blocking, for reading and writing.
func (p *Port) openSerial() (io.ReadWriteCloser, error) {
	settings, err := serial.OpenPort(p.spec.config())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", p.spec.Addr, err)
	}
	f, err := os.OpenFile(p.spec.Addr, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		settings.Close()
		return nil, err
	}
	return &line{f, settings}, nil
}
