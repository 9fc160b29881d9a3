//go:build !windows

package terminal

import "os"

// Prepare does nothing: every terminal here obeys escape codes.
func Prepare(...*os.File) {}
