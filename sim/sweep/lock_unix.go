//go:build unix

// One program at a time writes a journal.

package sweep

import (
	"errors"
	"os"
	"syscall"
)

// lock keeps other programs from the journal until f is closed or the program
// ends, however it ends.
func lock(f *os.File) error {
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return errors.New("is being written by another liftbench; wait for it, or stop it")
	}
	return nil
}
