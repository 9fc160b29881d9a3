//go:build unix

// This file lets only one program at a time write a journal.

package sweep

import (
	"errors"
	"os"
	"syscall"
)

// lock keeps other programs from writing the journal until f is closed or this
// program ends, even if it is killed.
func lock(f *os.File) error {
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return errors.New("is being written by another liftbench; wait for it, or stop it")
	}
	return nil
}
