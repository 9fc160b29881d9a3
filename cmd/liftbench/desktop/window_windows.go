package desktop

import (
	"unsafe"

	"golang.org/x/sys/windows"
)

// windowOfOwn reports whether the console window was opened for this program alone, as
// a double click does; a shell would be in the same console. Without a console it is
// false.
func windowOfOwn() bool {
	var ids [2]uint32
	n, _, _ := windows.NewLazySystemDLL("kernel32.dll").NewProc("GetConsoleProcessList").Call(uintptr(unsafe.Pointer(&ids[0])), uintptr(len(ids)))
	return n == 1
}
