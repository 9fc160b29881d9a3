//go:build unix

package loop

import (
	"os"
	"runtime"
	"syscall"
)

var (
	// ending are all signals that end a program written in Go which does not ask
	// for them, but SIGKILL and, on Linux, 32 to 34, which Go leaves to a C library.
	// A fault of the program's own comes as a panic; here it is sent from outside.
	ending = []os.Signal{
		syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT, syscall.SIGABRT,
		syscall.SIGILL, syscall.SIGTRAP, syscall.SIGBUS, syscall.SIGFPE, syscall.SIGSEGV, syscall.SIGSYS,
	}
	// passedOver are those for lesser reasons.
	passedOver = []os.Signal{syscall.SIGPIPE, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU}
)

func init() {
	if runtime.GOOS == "linux" {
		ending = append(ending, syscall.Signal(16)) // SIGSTKFLT (signal(7)); another signal elsewhere
	}
}
