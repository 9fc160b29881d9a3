//go:build linux

// A serial line for tests: a pseudo-terminal under a name of its own, that can
// be unplugged and plugged in again.

package main

import (
	"fmt"
	"os"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// serialLine is the far end of a serial line.
type serialLine struct {
	t    testing.TB
	name string // of the near end, whatever pseudo-terminal it is

	mu  sync.Mutex
	far *os.File
}

func newSerialLine(t testing.TB, name string) *serialLine {
	l := &serialLine{t: t, name: name}
	l.plug()
	t.Cleanup(func() { l.end().Close() })
	return l
}

// plug makes a new pseudo-terminal stand under the name (pts(4)).
func (l *serialLine) plug() {
	l.t.Helper()
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		l.t.Error(err)
		return
	}
	ioctl := func(request uintptr, p *uint32) {
		raw, err := far.SyscallConn()
		if err != nil {
			l.t.Error(err)
			return
		}
		raw.Control(func(fd uintptr) {
			if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, fd, request, uintptr(unsafe.Pointer(p))); errno != 0 {
				l.t.Error(errno)
			}
		})
	}
	var unlocked, number uint32
	ioctl(syscall.TIOCSPTLCK, &unlocked)
	ioctl(syscall.TIOCGPTN, &number)
	os.Remove(l.name)
	if err := os.Symlink(fmt.Sprintf("/dev/pts/%d", number), l.name); err != nil {
		l.t.Error(err)
	}
	l.mu.Lock()
	l.far = far
	l.mu.Unlock()
}

// end is the far end as it is now.
func (l *serialLine) end() *os.File {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.far
}

// unplug takes the line away: whoever has it open is hung up.
func (l *serialLine) unplug() {
	l.end().Close()
	os.Remove(l.name)
}

// Write loses what nobody takes, as a serial line does.
func (l *serialLine) Write(b []byte) (int, error) {
	far := l.end()
	far.SetWriteDeadline(time.Now().Add(20 * time.Millisecond))
	return far.Write(b)
}
