//go:build !unix

package loop

import (
	"os"
	"syscall"
)

var (
	ending     = []os.Signal{syscall.SIGINT, syscall.SIGTERM}
	passedOver = []os.Signal{syscall.SIGPIPE}
)
