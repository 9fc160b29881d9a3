// Serial lines on Windows.

package port

import (
	"fmt"
	"io"
	"sync/atomic"
	"time"

	"github.com/tarm/serial"
)

// longestRead is how long a read of a silent line waits before it looks whether the
// line was closed: a read that waits cannot be interrupted.
const longestRead = 100 * time.Millisecond

// line is an open serial line, as COM3.
type line struct {
	*serial.Port
	closed atomic.Bool
}

// Read returns once bytes have come, or the line was closed.
func (l *line) Read(b []byte) (int, error) {
	for {
		n, err := l.Port.Read(b)
		switch {
		case n > 0 || err != nil:
			return n, err
		case l.closed.Load():
			return 0, io.EOF
		}
	}
}

// Close lets a waiting Read return.
func (l *line) Close() error {
	if l.closed.Swap(true) {
		return nil
	}
	return l.Port.Close()
}

// openSerial opens and sets a serial line.
func (p *Port) openSerial() (io.ReadWriteCloser, error) {
	c := p.spec.config()
	c.ReadTimeout = longestRead
	port, err := serial.OpenPort(c)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", p.spec.Addr, err)
	}
	return &line{Port: port}, nil
}
