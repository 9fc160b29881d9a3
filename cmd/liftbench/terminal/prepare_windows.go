package terminal

import (
	"os"

	"golang.org/x/sys/windows"
)

// Prepare lets those of files that are consoles obey escape codes, as the status line
// needs them. Text reaches a console as UTF-16 whatever its code page is, by the os
// package. The window's shell sets its own mode again when the program has ended.
func Prepare(files ...*os.File) {
	for _, f := range files {
		var mode uint32
		if h := windows.Handle(f.Fd()); windows.GetConsoleMode(h, &mode) == nil {
			_ = windows.SetConsoleMode(h, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) // fails before Windows 10 alone, where Go does not run
		}
	}
}
