//go:build unix

package loop

import (
	"os"
	"syscall"
)

var (
	// ending are all signals that end a program written in Go which does not ask
	// for them, but SIGKILL, and those that the kernel has no use for. Faults of
	// the program's own are panics and come as such; here they are sent from
	// outside.
	ending = []os.Signal{
		syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT, syscall.SIGABRT,
		syscall.SIGILL, syscall.SIGTRAP, syscall.SIGBUS, syscall.SIGFPE, syscall.SIGSEGV, syscall.SIGSYS,
	}
	passedOver = []os.Signal{syscall.SIGPIPE, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU}
)
