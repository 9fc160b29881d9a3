//go:build unix

// This file lets one program at a time write a set of files.

package files

import (
	"errors"
	"os"
	"syscall"
	"time"
)

// lockWait is far longer than a set of files takes to be written.
const lockWait = time.Minute

// lockDir keeps other programs from putting a set of files into dir until unlock
// is called or this program ends, even if it is killed. It waits for them. On a
// file system without locks it does nothing.
func lockDir(dir string) (unlock func(), err error) {
	f, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	for until := time.Now().Add(lockWait); ; time.Sleep(10 * time.Millisecond) {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case errors.Is(err, syscall.EINTR):
		case !errors.Is(err, syscall.EWOULDBLOCK):
			return func() { f.Close() }, nil
		case time.Now().After(until):
			f.Close()
			return nil, errors.New("another liftbench is writing there; wait for it, or stop it")
		}
	}
}
