//go:build !linux

package port

import (
	"fmt"
	"io"
)

// openCAN fails: only Linux has SocketCAN.
func (p *Port) openCAN() (io.ReadWriteCloser, error) {
	return nil, fmt.Errorf("interface %s: CAN interfaces are opened on Linux only", p.spec.Addr)
}
