// This file opens a CAN interface of the Linux kernel.

package port

import (
	"fmt"
	"io"
	"net"
	"os"

	"golang.org/x/sys/unix"
)

// openCAN opens the CAN interface that the port names.
func (p *Port) openCAN() (io.ReadWriteCloser, error) {
	name := p.spec.Addr
	i, err := net.InterfaceByName(name)
	if err != nil {
		return nil, fmt.Errorf("interface %s: %w", name, err)
	}
	fd, err := unix.Socket(unix.AF_CAN, unix.SOCK_RAW|unix.SOCK_CLOEXEC|unix.SOCK_NONBLOCK, unix.CAN_RAW)
	if err != nil {
		return nil, fmt.Errorf("interface %s: the kernel opens no CAN socket (is its module can_raw loaded?): %w", name, err)
	}
	f := os.NewFile(uintptr(fd), name) // closing it interrupts reads and writes, since it does not block
	if err := unix.Bind(fd, &unix.SockaddrCAN{Ifindex: i.Index}); err != nil {
		f.Close()
		return nil, fmt.Errorf("interface %s is no CAN interface: %w", name, err)
	}
	return &frames{ReadWriteCloser: f, name: name}, nil
}
