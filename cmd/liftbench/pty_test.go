//go:build campaign

// A serial line for tests: a pseudo-terminal under a name of its own, that can
// be unplugged and plugged in again.

package main

import (
	"fmt"
	"os"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// cable is the far end of a serial line.
type cable struct {
	t    testing.TB
	name string // of the near end, whatever pseudo-terminal it is
	far  *os.File
}

func newCable(t testing.TB, name string) *cable {
	c := &cable{t: t, name: name}
	c.plug()
	t.Cleanup(func() { c.far.Close() })
	return c
}

// plug makes a new pseudo-terminal stand under the name (pts(4)).
func (c *cable) plug() {
	c.t.Helper()
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		c.t.Error(err)
		return
	}
	ioctl := func(request uintptr, p *uint32) {
		raw, err := far.SyscallConn()
		if err != nil {
			c.t.Error(err)
			return
		}
		raw.Control(func(fd uintptr) {
			if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, fd, request, uintptr(unsafe.Pointer(p))); errno != 0 {
				c.t.Error(errno)
			}
		})
	}
	var unlocked, number uint32
	ioctl(syscall.TIOCSPTLCK, &unlocked)
	ioctl(syscall.TIOCGPTN, &number)
	os.Remove(c.name)
	if err := os.Symlink(fmt.Sprintf("/dev/pts/%d", number), c.name); err != nil {
		c.t.Error(err)
	}
	c.far = far
}

// unplug takes the line away: whoever has it open is hung up.
func (c *cable) unplug() {
	c.far.Close()
	os.Remove(c.name)
}

// Write loses what nobody takes, as a serial line does.
func (c *cable) Write(b []byte) (int, error) {
	c.far.SetWriteDeadline(time.Now().Add(20 * time.Millisecond))
	return c.far.Write(b)
}
